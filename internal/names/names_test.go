package names_test

import (
	"errors"
	"strings"
	"testing"

	"tussock/internal/errs"
	"tussock/internal/names"
)

// A name is what it looks like. The hidden characters are those of UAX #9 (direction), UAX #44 (ignorable by default) and UAX #14 (line
// breaks).
func TestName(t *testing.T) {
	for typed, want := range map[string]string{
		"  Hollin   Fork ": "Hollin Fork", "Bar Q (north)": "Bar Q (north)", "Pen\u0303a": "Peña", "7": "7", "": "",
		"Ilse’s “Home” place": "Ilse’s “Home” place", "Ngo\u0302\u0301": "Ngố", "Łukasz Ørn-Þór": "Łukasz Ørn-Þór", "Mª José": "Mª José", "½ Circle & Sons, #2": "½ Circle & Sons, #2", strings.Repeat("é", 80): strings.Repeat("é", 80),
	} {
		if got, err := names.Name(typed); err != nil || got != want {
			t.Errorf("%q: got %q, %v; want %q", typed, got, err, want)
		}
	}
	for _, typed := range []string{
		"Hollin\nFork", "Hollin\u2028Fork", "Hollin\u2029Fork", "Hollin\rFork", "Hollin\u0085Fork", "\u202eFork", "Fork\u202c", "a\u2066b", "a\u200eb", "a\u061cb",
		"Hol\u200blin", "Hol\u200dlin", "Hol\u2060lin", "Hol\u00adlin", "\ufeffHollin\ufeff x", "Hol\u034flin", "Hollin\u3164", "Hollin\ufe0f", "Hollin\u2800", "Hollin\x00", "Hollin\x1b[31m",
		"H\u0301\u0302\u0303\u0304", "–", "…", " ( ) ", strings.Repeat("é", 81), "\U000e0041x", "\ue000x",
		"Ꮖlse Ꮩarrow", "ɪʟsᴇ ᴠᴀʀʀᴏᴡ", "Ɨłşê Ʋąɍɍøw", "ɩɭʂɛ ʋɑɾɾɔɯ", "Ilsе Varrow", "Ιlse Varrow", "Ｉｌｓｅ", "𝐈𝐥𝐬𝐞", "Ⓘlse", "🅸lse", "I͟lse⃝", "ſlse", "ǀlse", "שלום", "Жук", "٤", "①",
	} {
		if got, err := names.Name(typed); !errors.Is(err, errs.Invalid) {
			t.Errorf("%q is taken as %q", typed, got)
		}
	}
	if _, err := names.Source(strings.Repeat("x", 200)); err != nil {
		t.Error(err)
	}
	if _, err := names.Source(strings.Repeat("x", 201)); !errors.Is(err, errs.Invalid) {
		t.Error("a source of 201 letters is taken")
	}
	if got, err := names.Text(" Yes.\r\n\u202eNo.\u2028\n"); got != "Yes.\nNo." || err != nil {
		t.Errorf("a text: %q, %v", got, err)
	}
	if _, err := names.Text("Yes.\nAt ᴍɪʟʟᴡʜᴇᴇʟ."); !errors.Is(err, errs.Invalid) {
		t.Error("a text with small capitals is taken")
	}
	for name, fine := range map[string]bool{"Ilse Varrow": true, "Teasel Bottom lost 47 of 100": false, "Ilse Varrow ½": false, "Ilse 2": false} {
		if _, err := names.Person(name); (err == nil) != fine {
			t.Errorf("a person %q: %v", name, err)
		}
	}
	for text, has := range map[string]bool{"Write to ilse@example.org.": true, "ilse @ example.org": true, "5 nests @ 2.50 each": false, "@ the creek": false} {
		if names.Address(text) != has {
			t.Errorf("an address in %q: not %v", text, has)
		}
	}
	for person, tells := range map[string]bool{"Teasel Bottom lost half": true, "Rosa of Teasel Bottom Ranch": true, "Teasel Bottom": false, "Mrs. Teasel Bottom": false, "Tom Bottom": false} {
		if names.Tells(person, "Teasel Bottom Ranch") != tells {
			t.Errorf("%q tells of the ranch: not %v", person, tells)
		}
	}
	if got := names.Visible("Una\u202e Dale\n"); got != "Una Dale" {
		t.Errorf("visible: %q", got)
	}
}

// A name is found however it is written, and not in words that only begin like it.
func TestGives(t *testing.T) {
	for _, tt := range []struct {
		name  string
		in    []string
		notIn []string
	}{
		{"Hollin Fork", []string{"Hollin Fork ranch", "I.V. at H0llin Fork", "HOLLIN-FORK", "Hol\u200blin Fork", "Hóllin Förk", "HollinFork’s nests", "H o l l i n  F o r k", "HoIIin Fork", "Hollin\nFork", "the fork, Hollin", "(Hollin) [Fork]", "Ho11in Fork", "Hollin Ranch Fork", "xHollinFork2026", "aHollin Forka"},
			[]string{"Hollin", "Fork", "Hollins Forks", "South fork of the creek", ""}},
		{"Hollin Fork Ranch, LLC", []string{"Hollin Fork", "hollin fork land and cattle"}, []string{"the ranch", "LLC"}},
		{"Ilse Varrow", []string{"Varrow, Ilse", "varrow ilse", "ILSE  VARROW", "Ilse Varrows", "Ilse Varrovv", "IlseVarrow"}, []string{"Ilse V.", "I. V.", "Varrow"}},
		{"Varrow", []string{"Mrs. Varrow lost hers", "the Varrow place", "V-a-r-r-o-w", "the Varrows"}, []string{"arrow", "Varroway"}},
		{"Meadow Ranch", []string{"Meadow", "Meadow place"}, []string{"meadowlark", "ranch"}},
		{"The Ranch", []string{"the ranch"}, []string{"a ranch", "there"}},
		{"Modern Corner", []string{"Modem Comer"}, []string{"modern"}},
	} {
		for _, text := range tt.in {
			if !names.Gives(text, tt.name) {
				t.Errorf("%q is not found in %q", tt.name, text)
			}
		}
		for _, text := range tt.notIn {
			if names.Gives(text, tt.name) {
				t.Errorf("%q is found in %q", tt.name, text)
			}
		}
	}
	for name, want := range map[string]string{"Ilse Varrow": "Varrow", "Varrow, Ilse": "Varrow", "Ilse": "", "Ilse M. Poe": "", "Person 1": "", "": "", ",": ""} {
		if got := names.Family(name); got != want {
			t.Errorf("the family name of %q: %q, want %q", name, got, want)
		}
	}
}
