package intake

import (
	"fmt"
	"strings"

	"tussock/internal/sheet"
	"tussock/internal/survey"
)

// A nestKey names a nest by the numbers its names have in this reading.
type nestKey struct {
	ranch, site, transect, nest uint32
	season                      int32
}

// work is what is known of a nest while the batch is being read.
type work struct {
	key         nestKey
	first, last int32 // its looks, -1 for none
	table       int32 // the table its row, or its first look, stands in
	second      mark  // what a second person found at the last visit, from a table of nests
	who         int32 // who made the visit read last
	cause       mark  // an end that no animal brought, from lost_how or guess
	eggsSet     int8  // 0 where not written down
	ownRow      bool  // a table of nests has a row for it
	dead        bool  // refused
	fromGuess   bool  // the cause stood where a predator is asked for
	seasonOpen  bool  // the row of a check gave no season
}

// A look is one visit as it was written.
type look struct {
	on     survey.Date // 0 where a blank has none
	row    int32
	next   int32
	table  int32
	column uint16
	mark   mark
	eggs   int8  // -1 where not said
	second mark  // what a second person found
	who    int32 // who looked, by reader.people; 0 where not said
}

// identity reads what names a nest, and says so where something is missing.
func (r *reader) identity(t *table, row *sheet.Row) (key nestKey, ok bool) {
	key.ranch, ok = r.ranch(t, row)
	site, _ := r.shared(t, row, roleSite)
	if oneOf(fold(site), "wholeranch", "ranchoentero", "todoelrancho") {
		site = ""
	}
	key.site = r.names[nameSite].of(site)

	transect, col := r.shared(t, row, roleTransect)
	if transect == "" {
		transect = t.line
	}
	if transect == "" {
		r.refuse(t.named1(row, col, "transect"), "", r.Say("The transect (line) is blank. Please write its number or name."))
		ok = false
	}
	key.transect = r.names[nameTransect].of(transect)

	if t.at[roleNest] >= 0 {
		nest := t.text(row, roleNest)
		if nest == "" {
			r.refuse(t.named1(row, t.at[roleNest], "nest"), "", r.Say("The nest has no number here. Please write its number within the transect."))
			ok = false
		}
		key.nest = r.names[nameNest].of(nest)
	}
	return key, ok
}

// named1 is a cell whose column may not stand in the sheet.
func (t *table) named1(row *sheet.Row, col int, name string) survey.Cell {
	c := t.cell(row.Number, col)
	if c.Column == "" {
		c.Column = name
	}
	return c
}

// nestRow reads one row of a table of nests.
func (r *reader) nestRow(t *table, row *sheet.Row) {
	key, named := r.identity(t, row)
	season, ok := r.season(t, row)
	substrate, plant, substrateOK := r.substrate(t, row)
	set, setOK := r.setOn(t, row, season)
	if !substrateOK && t.at[roleSubstrate] < 0 {
		substrate, substrateOK = r.noSubstrate(t, row)
	}
	ok = ok && substrateOK && setOK
	if season == 0 {
		season = r.seasonOf(set)
	}
	key.season = int32(season)

	first := int32(len(r.looks))
	if !r.pairLooks(t, row, season, set) {
		ok = false
	}
	if !named { // what the row is about cannot be told, so nothing is hung on it
		r.looks = r.looks[:first]
		return
	}
	i, fresh := r.place(t, row, key, first, set, substrate, ok)
	if i < 0 {
		r.looks = r.looks[:first]
		return
	}
	n, w := &r.out.Data.Nests[i], &r.work[i]
	if fresh || !w.ownRow {
		n.Substrate, n.SetOn = substrate, set
		if n.From.File == "" || !w.ownRow {
			n.From = t.cell(row.Number, -1)
			w.table = int32(t.index)
		}
		if plant != "" {
			n.Plant = plant
		}
	}
	w.ownRow = true
	w.dead = w.dead || !ok
	r.attach(t, row, i)
	r.chain(i, first)
}

// seasonOf is the season of a nest that names none: the year it was set.
func (r *reader) seasonOf(set survey.Date) int {
	if set == 0 {
		return r.opt.Season
	}
	return set.Year()
}

// add makes a nest without visits.
func (r *reader) add(t *table, row *sheet.Row, key nestKey) int32 {
	i := int32(len(r.out.Data.Nests))
	r.out.Data.Nests = append(r.out.Data.Nests, survey.Nest{
		Ranch: r.names[nameRanch].text[key.ranch], Site: r.names[nameSite].text[key.site], Season: int(key.season),
		Transect: r.names[nameTransect].text[key.transect], Number: r.names[nameNest].text[key.nest],
		EggsLeft: -1, From: t.cell(row.Number, -1),
	})
	r.work = append(r.work, work{key: key, first: -1, last: -1, table: int32(t.index)})
	r.byKey[key] = i
	return i
}

// chain hangs the looks from first on to nest i.
func (r *reader) chain(i, first int32) {
	w := &r.work[i]
	for l := first; l < int32(len(r.looks)); l++ {
		r.looks[l].next = -1
		if w.last >= 0 {
			r.looks[w.last].next = l
		} else {
			w.first = l
		}
		w.last = l
	}
}

// place finds the nest a row of a table of nests is about, or makes it. A second row for the same nest is a question;
// -1 where the row is set aside.
func (r *reader) place(t *table, row *sheet.Row, key nestKey, firstLook int32, set survey.Date, substrate survey.Substrate, ok bool) (i int32, fresh bool) {
	i, seen := r.byKey[key]
	if !seen || r.work[i].dead {
		return r.add(t, row, key), true
	}
	if !ok {
		return -1, false
	}
	if !r.work[i].ownRow {
		return i, false
	}
	cell := t.cell(row.Number, t.at[roleNest])
	if r.same(i, firstLook, set, substrate) {
		if r.note(cell, "repeated", "", "", func(g *group) string {
			return capital(g.Say("%s repeats a nest word for word; we count it once.", g.where()))
		}) {
			return -1, false
		}
	}
	switch r.askDuplicate(cell, i, set) {
	case "first":
		return -1, false
	case "same":
		return i, false
	case "two":
		return r.second(t, row, key), true
	}
	n := &r.out.Data.Nests[i]
	r.refuse(cell, n.Number, capital(r.Say("%s stands twice, first in row %d, and the two rows differ. We kept the first. Is it the same nest looked at twice, or another nest with a slip in its number?", r.nest(n), n.From.Row)))
	return -1, false
}

func (r *reader) askDuplicate(cell survey.Cell, i int32, set survey.Date) string {
	n := &r.out.Data.Nests[i]
	name := r.nest(n) // now: nests move while they are settled
	first := n.From.Row
	return r.ask(cell, prompt{
		kind: "duplicate", place: fmt.Sprintf("%s\x00%s\x00%d\x00%s\x00%s", n.Ranch, n.Site, n.Season, n.Transect, n.Number), weight: MustAnswer, rest: r.Say("stand for a nest that stood before and differ from it"),
		text: func(g *group) string {
			return capital(g.Say("%s stands twice: in row %d and in %s. Are they two nests, or the same nest looked at twice? Until you say, only the first row counts.", name, first, g.where()))
		},
		choices: []Choice{{"two", r.Say("Two nests; a number slipped")}, {"same", r.Say("The same nest, looked at twice")}, {"first", r.Say("Count the first row only")}},
	})
}

// second makes another nest of the same number, called "4 (2)".
func (r *reader) second(t *table, row *sheet.Row, key nestKey) int32 {
	number := r.names[nameNest].text[key.nest]
	for n := 2; ; n++ {
		key.nest = r.names[nameNest].of(fmt.Sprintf("%s (%d)", number, n))
		if _, taken := r.byKey[key]; !taken {
			return r.add(t, row, key)
		}
	}
}

// same tells whether a row says of nest i what an earlier row said.
func (r *reader) same(i, firstLook int32, set survey.Date, substrate survey.Substrate) bool {
	n, w := &r.out.Data.Nests[i], &r.work[i]
	if n.SetOn != set || n.Substrate != substrate {
		return false
	}
	l := w.first
	for k := firstLook; k < int32(len(r.looks)); k++ {
		if l < 0 || r.looks[l].on != r.looks[k].on || r.looks[l].mark != r.looks[k].mark {
			return false
		}
		l = r.looks[l].next
	}
	return l < 0
}

// substrate reads what the nest sits in; a plant's name gives both.
func (r *reader) substrate(t *table, row *sheet.Row) (s survey.Substrate, plant string, ok bool) {
	v, col := r.shared(t, row, roleSubstrate)
	if v == "" {
		if col >= 0 {
			r.refuse(t.named1(row, col, "substrate"), "", r.Say("What the nest sits in is not written down. Please fill in the substrate, such as bunchgrass or prickly pear."))
		}
		return "", "", false
	}
	s, plant = r.substrateWord(t, row, col, v)
	return s, plant, true
}

func (r *reader) substrateWord(t *table, row *sheet.Row, col int, v string) (s survey.Substrate, plant string) {
	if s, ok := t.substrates[v]; ok {
		return s, ""
	}
	if settled, ok := r.opt.Words["substrate/"+words(v)]; ok && settled != "" {
		if settled == "keep" {
			return r.own(v), ""
		}
		return survey.Substrate(settled), ""
	}
	cell := t.cell(row.Number, col)
	if known, ok := r.lex.substrate(v); ok {
		switch {
		case known.plain:
			if len(t.substrates) < 1000 {
				t.substrates[strings.Clone(v)] = known.substrate
			}
			return known.substrate, ""
		case known.plant:
			if r.note(cell, "plant", string(known.substrate), v, func(g *group) string {
				return r.Say("We read %s as %s and kept the plant's name too.", r.quoted(g.words), r.cover(known.substrate))
			}) {
				return known.substrate, strings.Clone(v)
			}
		case r.note(cell, "substrate", string(known.substrate), v, func(g *group) string {
			if len(g.words) > 1 {
				return r.Say("We put %s together as %s.", r.quoted(g.words), r.cover(known.substrate))
			}
			return r.Say("We read %s as %s.", r.quoted(g.words), r.cover(known.substrate))
		}):
			return known.substrate, ""
		}
		return r.own(v), ""
	}
	switch a := r.ask(cell, prompt{
		kind: "substrate", place: fold(v), weight: PleaseLook, byDefault: "keep", word: "substrate/" + words(v),
		rest: r.Say("have other words for what the nest sits in; each stands as a kind of its own"),
		text: func(g *group) string {
			return r.Say("“%s” is new to us as a place for a nest (%s). What is it most like? Until you say, it stands as a kind of its own.", short(string(r.own(v))), g.where())
		},
		choices: []Choice{
			{string(survey.Bunchgrass), capital(r.cover(survey.Bunchgrass))}, {string(survey.PricklyPear), r.Say("Prickly pear or other cactus")}, {string(survey.Yucca), capital(r.cover(survey.Yucca))},
			{string(survey.Shrub), capital(r.cover(survey.Shrub))}, {string(survey.Forb), r.Say("Forb or weed")}, {"keep", r.Say("A kind of its own")},
		},
	}); a {
	case "keep":
		return r.own(v), ""
	default:
		return survey.Substrate(a), strings.Clone(v)
	}
}

// own keeps a sheet's own word in the spelling in which it was first seen.
func (r *reader) own(v string) survey.Substrate {
	key := fold(v)
	if key == "" {
		key = v
	}
	s, ok := r.subs[key]
	if !ok {
		s = survey.Substrate(strings.Clone(v))
		r.subs[key] = s
	}
	return s
}

// noSubstrate asks once for a table that has no column for it.
func (r *reader) noSubstrate(t *table, row *sheet.Row) (survey.Substrate, bool) {
	if r.checksGive(t) {
		return "", true
	}
	cell := survey.Cell{File: t.File, Sheet: t.Name, Row: row.Number, Column: "substrate"}
	a := r.ask(cell, prompt{
		kind: "no-substrate", place: t.place(), weight: MustAnswer,
		text: func(g *group) string {
			return r.Say("The table of nests has no column for what each nest sits in. If all sat in the same, which was it? These rows wait for your answer.")
		},
		choices: []Choice{{string(survey.Bunchgrass), capital(r.cover(survey.Bunchgrass))}, {string(survey.PricklyPear), capital(r.cover(survey.PricklyPear))}, {string(survey.Yucca), capital(r.cover(survey.Yucca))}, {string(survey.Shrub), capital(r.cover(survey.Shrub))}, {string(survey.Forb), capital(r.cover(survey.Forb))}},
	})
	if a == "" {
		r.refuse(cell, "", r.Say("What the nest sits in is not written down. Please add a column “substrate”."))
	}
	return survey.Substrate(a), a != ""
}

// checksGive tells whether a table of checks in the batch may hold what a nest's own row does not.
func (r *reader) checksGive(t *table) bool { return t.kind == kindChecks }

// setOn reads the day of setting out.
func (r *reader) setOn(t *table, row *sheet.Row, season int) (survey.Date, bool) {
	v, col := r.shared(t, row, roleSetOn)
	if v == "" {
		problem := r.Say("The day the nest was set is not written down. Please fill in “set_on” with a date like 2025-05-12.")
		if t.Unworked(row.Number, col) {
			problem = r.Say("This cell holds a formula that has not been worked out. Please open the file in the spreadsheet program, save it and send it again.")
		}
		r.refuse(t.named1(row, col, "set_on"), "", problem)
		return 0, false
	}
	return r.date(t, row, col, v, season, 0)
}

// pairLooks reads the visits of a wide row.
func (r *reader) pairLooks(t *table, row *sheet.Row, season int, set survey.Date) bool {
	ok, any := true, false
	for k := range t.pairs {
		p := &t.pairs[k]
		raw, date := t.textAt(row, p.state), t.textAt(row, p.on)
		eggs := -1
		if p.eggs >= 0 {
			if n, counted := eggsIn(words(t.textAt(row, p.eggs))); counted {
				eggs = n
				if raw == "" {
					raw = t.textAt(row, p.eggs)
				}
			}
		}
		if raw == "" && date == "" && p.heading.form == dateBad {
			if t.Unworked(row.Number, p.state) {
				r.refuse(t.cell(row.Number, p.state), "", r.Say("This cell holds a formula that has not been worked out. Please open the file in the spreadsheet program, save it and send it again."))
				ok = false
			}
			if any {
				r.looks = append(r.looks, look{row: int32(row.Number), table: int32(t.index), column: uint16(p.state), mark: markBlank, eggs: -1})
			}
			continue
		}
		on, dated := r.lookDate(t, row, p, date, raw, season, set)
		s := r.state(t, row, p.state, raw)
		if s.mark == markSkipped {
			continue
		}
		if s.mark == markUnknown || !dated {
			ok = false
			continue
		}
		if raw != "" {
			p.filled++
			any = true
		} else if !any && p.heading.form != dateBad {
			continue
		}
		if eggs < 0 {
			eggs = s.eggs
		}
		r.looks = append(r.looks, look{on: on, row: int32(row.Number), table: int32(t.index), column: uint16(p.state), mark: s.mark, eggs: int8(eggs)})
	}
	return ok
}

func (r *reader) lookDate(t *table, row *sheet.Row, p *pair, date, raw string, season int, set survey.Date) (survey.Date, bool) {
	if date != "" && !isDitto(date) {
		return r.date(t, row, p.on, date, season, set)
	}
	if p.heading.form != dateBad {
		if p.heading.form == dateFull || p.heading.form == dateSerial {
			return r.plausible(t, row, p.state, t.cols[p.state].heading, p.heading.day)
		}
		return r.dateFrom(t, row, p.state, t.cols[p.state].heading, p.heading, season, set)
	}
	if raw == "" {
		return 0, true
	}
	col, name := p.on, fmt.Sprintf("check%d_on", p.number)
	if s := r.lex.state(raw, r.opt.Words); s.mark == markSkipped {
		return 0, true
	}
	r.refuse(t.named1(row, col, name), "", r.Say("The nest was found “%s”, but the day of that check is not written down. Please fill in the date.", short(raw)))
	return 0, false
}

// person numbers whoever looked, from 1; 0 where the sheet does not say.
func (r *reader) person(name string) int32 {
	name = fold(name)
	if name == "" {
		return 0
	}
	n, ok := r.people[name]
	if !ok {
		n = int32(len(r.people) + 1)
		r.people[strings.Clone(name)] = n
	}
	return n
}

// state reads a state cell, telling what was tidied.
func (r *reader) state(t *table, row *sheet.Row, col int, raw string) stateReading {
	s, ok := t.states[raw]
	if !ok {
		s = r.lex.state(raw, r.opt.Words)
		if len(t.states) < 5_000 {
			t.states[strings.Clone(raw)] = s
		}
	}
	switch s.mark {
	case markUnknown:
		r.refuse(t.cell(row.Number, col), raw, r.Say("“%s” is not a state we know; %s. Please use one of these words.", short(raw), r.states()))
	case markZero:
		t.file.zeros = true
	case markTaken, markIntact:
		t.file.counts = t.file.counts || s.eggs >= 2
	}
	if s.plain || s.mark <= markSkipped || s.mark >= markZero {
		return s
	}
	return r.stateTold(t, row, col, raw, s)
}

func (r *reader) stateTold(t *table, row *sheet.Row, col int, raw string, s stateReading) stateReading {
	cell := t.cell(row.Number, col)
	if s.doubt {
		byDefault := markStates[s.mark]
		a := r.ask(cell, prompt{
			kind: "state", place: s.word, weight: PleaseLook, byDefault: string(byDefault), word: "state/" + s.word,
			text: func(g *group) string {
				if byDefault == survey.Taken {
					return r.Say("“%s” stands in %s. Were the eggs gone, or could the nest not be found again? We took it that the eggs were taken.", raw, g.where())
				}
				return r.Say("“%s” stands in %s. Were the eggs gone, or could the nest not be found again? We took it that the nest could not be found again.", raw, g.where())
			},
			choices: []Choice{{string(survey.Taken), r.Say("The eggs were gone")}, {string(survey.Lost), r.Say("The nest was not found again")}},
		})
		s.mark = stateMarks[survey.State(a)]
		return s
	}
	state := markStates[s.mark]
	if !r.note(cell, "state", string(state), raw, func(g *group) string {
		return r.Say("We read %s as %s.", r.quoted(g.words), r.found(state))
	}) {
		r.refuse(cell, raw, r.Say("“%s” is not a state we know; %s. Please use one of these words.", short(raw), r.states()))
		s.mark = markUnknown
	}
	return s
}

// checkRow reads one row of a table of checks.
func (r *reader) checkRow(t *table, row *sheet.Row) {
	key, ok := r.identity(t, row)
	season, seasonOK := r.season(t, row)
	ok = ok && seasonOK
	var set survey.Date
	if v := t.text(row, roleSetOn); v != "" && !isDitto(v) {
		d, dateOK := r.date(t, row, t.at[roleSetOn], v, season, 0)
		set, ok = d, ok && dateOK
	}
	var substrate survey.Substrate
	var plant string
	if v := t.text(row, roleSubstrate); v != "" && !isDitto(v) {
		substrate, plant = r.substrateWord(t, row, t.at[roleSubstrate], v)
	}
	on, l, lookOK := r.checkLook(t, row, season, set)
	if !ok || !lookOK {
		return
	}
	open := season == 0
	if open {
		season = r.seasonOf(set)
		if set == 0 {
			season = r.seasonOf(on)
		}
	}
	key.season = int32(season)

	i, seen := r.byKey[key]
	if !seen {
		i = r.add(t, row, key)
		r.work[i].seasonOpen = open && set == 0
	}
	n := &r.out.Data.Nests[i]
	if seen && set != 0 && n.SetOn != 0 && n.SetOn != set && !r.work[i].ownRow {
		if i = r.otherSet(t, row, key, i, set); i < 0 {
			return
		}
		n = &r.out.Data.Nests[i]
	}
	if !r.work[i].ownRow {
		if n.SetOn == 0 {
			n.SetOn = set
		}
		if n.Substrate == "" {
			n.Substrate, n.Plant = substrate, plant
		}
	}
	r.attach(t, row, i)
	if l.mark != markSkipped {
		first := int32(len(r.looks))
		r.looks = append(r.looks, l)
		r.chain(i, first)
	}
}

// otherSet handles a look that gives its nest another day of setting than the looks before it.
func (r *reader) otherSet(t *table, row *sheet.Row, key nestKey, i int32, set survey.Date) int32 {
	cell := t.cell(row.Number, t.at[roleNest])
	switch r.askDuplicate(cell, i, set) {
	case "first":
		return -1
	case "same":
		return i
	case "two":
		number := r.names[nameNest].text[key.nest]
		for k := 2; ; k++ {
			key.nest = r.names[nameNest].of(fmt.Sprintf("%s (%d)", number, k))
			j, taken := r.byKey[key]
			if !taken {
				j = r.add(t, row, key)
				r.out.Data.Nests[j].SetOn = set
			}
			if r.out.Data.Nests[j].SetOn == set {
				return j
			}
		}
	}
	n := &r.out.Data.Nests[i]
	r.refuse(cell, n.Number, capital(r.Say("%s stands twice: set on %s in row %d and on %s here. We kept the first. Is it another nest with a slip in its number, or did a date slip?", r.nest(n), n.SetOn, n.From.Row, set)))
	return -1
}

func (r *reader) checkLook(t *table, row *sheet.Row, season int, set survey.Date) (survey.Date, look, bool) {
	l := look{row: int32(row.Number), table: int32(t.index), eggs: -1}
	col := t.at[roleState]
	raw := t.textAt(row, col)
	if eggs, counted := eggsIn(words(t.text(row, roleEggsLeft))); counted {
		l.eggs = int8(eggs)
	}
	if col < 0 || raw == "" && l.eggs >= 0 {
		col = t.at[roleEggsLeft]
		raw = t.textAt(row, col)
	}
	if col >= 0 {
		l.column = uint16(col)
	}
	s := r.state(t, row, col, raw)
	l.mark = s.mark
	if s.eggs >= 0 {
		l.eggs = int8(s.eggs)
	}
	if v := t.text(row, roleSecond); v != "" {
		l.second = r.state(t, row, t.at[roleSecond], v).mark
	}
	l.who = r.person(t.text(row, roleWho))
	date, dateCol := t.text(row, roleCheckedOn), t.at[roleCheckedOn]
	if isDitto(date) {
		date, dateCol = r.shared(t, row, roleCheckedOn)
	} else if date != "" {
		t.last[dateCol] = date
	}
	if date == "" {
		if s.mark == markSkipped {
			return 0, l, true
		}
		r.refuse(t.named1(row, dateCol, "checked_on"), "", r.Say("The day of this check is not written down. Please fill in the date."))
		return 0, l, false
	}
	on, ok := r.date(t, row, dateCol, date, season, set)
	l.on = on
	if s.mark == markBlank && t.Unworked(row.Number, col) {
		r.refuse(t.cell(row.Number, col), "", r.Say("This cell holds a formula that has not been worked out. Please open the file in the spreadsheet program, save it and send it again."))
		ok = false
	}
	return on, l, ok && s.mark != markUnknown
}

// attach reads what else a row says of its nest: remains, guess, camera, the way back, notes.
func (r *reader) attach(t *table, row *sheet.Row, i int32) {
	n, w := &r.out.Data.Nests[i], &r.work[i]
	keep := func(into *string, ro role) {
		if t.at[ro] < 0 {
			return
		}
		if v := t.text(row, ro); v != "" {
			*into = r.text(v)
		}
	}
	keep(&n.Plant, rolePlant)
	keep(&n.Spot.Steps, roleSteps)
	keep(&n.Spot.Bearing, roleBearing)
	keep(&n.Spot.Text, roleSpot)
	keep(&n.Remains.Trace, roleTrace)
	if v := t.text(row, roleNotes); v != "" && v != n.Notes {
		n.Notes = r.joined(n.Notes, v)
	}
	if v := t.text(row, roleEggsSet); v != "" {
		if x, _, ok := number(v, false); ok && x >= 1 && x < 100 {
			w.eggsSet = int8(x)
		}
	}
	if t.kind == kindNests && t.at[roleEggsLeft] >= 0 {
		if left, ok := eggsIn(words(t.text(row, roleEggsLeft))); ok {
			n.EggsLeft = left
		}
	}
	for _, c := range t.notes {
		if t.cols[c].role == roleFeature {
			r.feature(t, row, c, n)
		}
	}
	if v := t.text(row, roleLostHow); v != "" {
		if s, ok := r.lex.cause(words(v)); ok {
			w.cause = stateMarks[s]
		} else if p, ok := r.lex.predator(words(v)); (!ok || p != "") && !oneOf(words(v), "animal", "predator", "depredador") {
			n.Guess = r.text(v)
		}
	}
	if v := t.text(row, roleSecond); v != "" && t.kind == kindNests {
		w.second = r.state(t, row, t.at[roleSecond], v).mark
	}
	if v := t.text(row, roleGuess); v != "" {
		r.guess(t, row, v, n, w)
	}
	if v := t.text(row, roleCamera); v != "" {
		r.camera(t, row, v, n, w)
	}
}

// maxText is how many bytes of a remark are kept.
const maxText = 2000

// text keeps one copy of what people write in their own words, so that a workbook that holds one long remark once
// and shows it in every row does not fill the memory.
func (r *reader) text(s string) string {
	if len(s) > maxText {
		s = strings.ToValidUTF8(s[:maxText], "") + "…"
	}
	if kept, ok := r.texts[s]; ok {
		return kept
	}
	s = strings.Clone(s)
	r.texts[s] = s
	return s
}

func (r *reader) joined(a, b string) string {
	if a == "" {
		return r.text(b)
	}
	return r.text(a + "; " + b)
}

func (r *reader) feature(t *table, row *sheet.Row, col int, n *survey.Nest) {
	raw := t.textAt(row, col)
	if raw == "" {
		return
	}
	f := survey.Features[t.cols[col].feature]
	v, ok := r.lex.remain(t.cols[col].feature, raw)
	if !ok {
		choices := []Choice{{"leave-out", r.Say("Leave it out")}}
		for _, c := range f.Choices {
			choices = append(choices, Choice{c, r.answer(f, c)})
		}
		v = r.ask(t.cell(row.Number, col), prompt{
			kind: "remains", place: f.Name + "\x00" + fold(raw), weight: PleaseLook, byDefault: "leave-out",
			rest: r.Say("have an answer about remains that we do not know; the nests count without it"),
			text: func(g *group) string {
				return r.Say("“%s” under “%s” (%s) is none of the answers we know: %s. The nest counts without it.", short(raw), t.cols[col].heading, g.where(), r.answers(f))
			},
			choices: choices,
		})
		if v == "leave-out" {
			return
		}
	}
	if v != "" {
		*f.Value(&n.Remains) = v
	}
}

// guess keeps the crew's own word. A cause that is no animal is moved to where it belongs when the nest is settled.
func (r *reader) guess(t *table, row *sheet.Row, v string, n *survey.Nest, w *work) {
	if s, ok := r.lex.cause(words(v)); ok {
		w.cause, w.fromGuess = stateMarks[s], true
	}
	n.Guess = r.text(v)
	lower := words(v)
	if strings.ContainsAny(lower, "?/") || strings.Contains(lower, " or ") || strings.Contains(lower, " o ") {
		r.note(t.cell(row.Number, t.at[roleGuess]), "guess", "", v, func(g *group) string {
			return r.Say("%s: good, we keep each as possible and settle on none. The signs at the nest decide how far they lean.", r.quoted(g.words))
		})
	}
}

// camera reads the predator a trail camera settled. Two animals, or a question mark, settle nothing.
func (r *reader) camera(t *table, row *sheet.Row, v string, n *survey.Nest, w *work) {
	cell := t.cell(row.Number, t.at[roleCamera])
	lower := words(v)
	if settled, ok := r.opt.Words["predator/"+lower]; ok && settled != "" {
		n.Camera = survey.Predator(settled)
		return
	}
	if p, ok := r.lex.predator(lower); ok {
		n.Camera = p
		return
	}
	if _, err := atoi(lower); err {
		return // days the camera worked
	}
	if s, ok := r.lex.cause(lower); ok {
		w.cause, w.fromGuess = stateMarks[s], true
		if n.Guess == "" {
			n.Guess = r.text(v)
		}
		return
	}
	if strings.ContainsAny(lower, "?/&+") || strings.Contains(lower, " or ") || strings.Contains(lower, " o ") || strings.Contains(lower, " and ") {
		if r.note(cell, "camera", "", v, func(g *group) string {
			return r.Say("The camera left it open (%s), so we keep that as a guess and settle on no animal.", r.quoted(g.words))
		}) && n.Guess == "" {
			n.Guess = r.text(v)
		}
		return
	}
	choices := make([]Choice, 0, len(survey.Predators))
	for _, p := range survey.Predators {
		choices = append(choices, Choice{string(p), capital(r.animal(p))})
	}
	n.Camera = survey.Predator(r.ask(cell, prompt{
		kind: "predator", place: lower, weight: PleaseLook, byDefault: string(survey.Other), word: "predator/" + lower,
		rest: r.Say("name animals on camera that we have no name for; they count as other animals"),
		text: func(g *group) string {
			return r.Say("“%s” on camera (%s) is an animal we have no name for. Which is it? Until you say, it counts as another animal.", short(v), g.where())
		},
		choices: choices,
	}))
	if n.Guess == "" {
		n.Guess = r.text(v)
	}
}
