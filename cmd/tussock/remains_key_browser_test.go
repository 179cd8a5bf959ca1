package main

import (
	"errors"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"tussock/internal/postgres"
	"tussock/internal/survey"
)

// TestRemainsKey: a coordinator types a table with a fault, mends it where it stands, looks at it and sets it, without scripts; every page of it, and
// the mix that rests on it, is looked at as a phone and a desk have them, in both languages.
func TestRemainsKey(t *testing.T) {
	d := newKeyDesk(t, 3)
	d.db.As(t, d.owner, func(tx *postgres.Tx) error {
		rows := &survey.Data{}
		for i, bits := range []string{"halves", "halves", "near_whole", "halves", ""} {
			rows.Nests = append(rows.Nests, survey.Nest{Season: 2026, Transect: "1", Number: string(rune('1' + i)), Substrate: survey.Yucca, SetOn: survey.DateOf(2026, 5, 4), EggsLeft: -1,
				Visits: []survey.Visit{{On: survey.DateOf(2026, 5, 18), State: survey.Taken}}, Remains: &survey.Remains{Bits: bits}})
		}
		_, _, err := tx.Send(postgres.Sending{Ranch: d.ranch, File: "rows", Data: []byte("rows"), Rows: rows})
		return errors.Join(err)
	})
	script := axeScript(t)
	look := func(p *tab, name string) {
		t.Helper()
		for _, width := range []int64{360, 1280} {
			p.width(width)
			if wide := p.wide(); wide != "" {
				t.Errorf("%s at %d scrolls sideways, %s", name, width, wide)
			}
			p.shot(shotName(name, map[int64]string{360: "phone", 1280: "desk"}[width]))
		}
	}
	says := func(p *tab, want string) {
		t.Helper()
		if got := eval[string](p, `document.querySelector('main').innerText.replace(/\s+/g, ' ')`); !strings.Contains(got, want) {
			t.Errorf("%s does not say %q: %.2000s", p.path(), want, got)
		}
	}
	for language, w := range map[string]struct{ fault, ask, kept, source string }{
		"en": {"Line 3: “wolf” is no animal of the key.", "Is this the table?", "It counts for seasons that open from now on", "was counted at nests whose animal a camera settled: Cameras of the county."},
		"es": {"Línea 3: “wolf” no es un animal de la clave.", "¿Es esta la tabla?", "Cuenta para las temporadas que abran de ahora en adelante", "se contó en nidos de los que una cámara mostró el animal: Cameras of the county."},
	} {
		p := d.signedInAs(d.boss, language)
		p.visit("/cooperative/key")
		look(p, "key "+language)
		for _, grave := range p.axe(script) {
			t.Errorf("%s: %s", p.path(), grave)
		}
		p.do(chromedp.Click(`main details summary`), chromedp.SetValue("#source", "Cameras of the county"),
			chromedp.SetValue("#table", "sign,answer,animal,nests\nbits,halves,raccoon,3\nbits,halves,wolf,90\nbits,near_whole,skunk,10\n"))
		if resp, err := chromedp.RunResponse(p.ctx, chromedp.Click(chromedp.CSS(`form[action="/cooperative/key"] button:not(.quiet)`))); err != nil || resp == nil || resp.Status != 422 {
			t.Fatalf("a fault: %v, %v", resp, err)
		}
		says(p, w.fault)
		look(p, "key fault "+language)
		p.do(chromedp.SetValue("#table", strings.Replace(eval[string](p, `document.querySelector('#table').value`), "wolf", "skunk", 1)))
		p.submit(`form[action="/cooperative/key"] button:not(.quiet)`)
		says(p, w.ask)
		look(p, "key preview "+language)
		for _, grave := range p.axe(script) {
			t.Errorf("%s: %s", p.path(), grave)
		}
		p.submit(`form[action="/cooperative/key/set"] button`)
		says(p, w.kept)
		look(p, "key kept "+language)
		p.visit("/changes")
		look(p, "key changes "+language)

		owner := d.signedIn(language)
		for _, path := range []string{"/remains", "/ranch/" + string(d.ranch), "/key", "/quiz?set=1&n=1"} {
			owner.visit(path)
			says(owner, w.source)
			look(owner, "key owner "+strings.Split(path, "/")[1][:3]+" "+language)
		}
	}
}
