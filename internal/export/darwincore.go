package export

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

	"tussock/internal/survey"
)

// Where the terms of a Darwin Core archive are defined.
const (
	dwc = "http://rs.tdwg.org/dwc/terms/"
	dc  = "http://purl.org/dc/terms/"
)

// What leaves a Darwin Core archive, said in each event.
const (
	withheld = "Ranch, owner, pasture, line and nest names, notes, and the way to each nest are withheld. Ids are made with a secret."
	general  = "No coordinates were taken. The place is given as the cooperative's whole area."
	protocol = "Simulated nests: three hen's eggs from a shop in a clump in one plant, left without warmth or cover, looked at about day 14 and day 28"
	beltWay  = "Clumps big enough to nest in, counted on a belt of measured length and width along the transect"
)

// DarwinCore returns a Darwin Core archive with metadata in EML 2.2: an event each for the season, the transect, the
// nest and the look, linked by parentEventID, with what was measured beside them. It names no place and nobody, and is
// the form in which a ranch's rows can be handed on.
func (r Ranch) DarwinCore() ([]byte, error) {
	a := r.archive()
	m := r.meta(false)
	m.title = "Simulated nests of one ranch of " + r.Cooperative
	m.meaning = a.meaning()
	return darwinCore(m, darwinCoreHow, described{
		id:          r.id("archive"),
		abstract:    []string{m.meaning, limits(), fmt.Sprintf("%d simulated nests. %s %s", a.nests, general, withheld)},
		info:        "The eggs are hen's eggs from a shop: they stand as occurrences of nothing. The only occurrences are animals that a trail camera caught at a simulated nest.",
		maintenance: "Made again from the owner's rows whenever they ask. Ids stay the same.",
		coverage:    a.coverage(), steps: nestSteps(), tables: a.tables(),
	})
}

// darwinCore packs tables, the core first, with meta.xml and eml.xml.
func darwinCore(m meta, how string, d described) ([]byte, error) {
	var files []file
	for _, t := range d.tables {
		data, err := csvOf(t)
		if err != nil {
			return nil, fmt.Errorf("export a Darwin Core archive: %w", err)
		}
		files = append(files, file{t.name + ".csv", data})
	}
	return pack(m, how, append([]file{
		{"meta.xml", archiveMeta(d.tables)},
		{"eml.xml", eml(d, m, files)},
	}, files...))
}

const darwinCoreHow = `A Darwin Core archive: meta.xml says which column is which term, eml.xml describes the data in EML 2.2.
An empty cell is “nobody wrote it down”. The eggs are hen's eggs from a shop and stand as occurrences of nothing; the only
occurrences are animals that a trail camera caught.
`

// An archive gathers the rows of a Darwin Core archive.
type archive struct {
	event, measurement, occurrence table
	first, last                    survey.Date
	nests                          int
	animals                        []survey.Predator
}

func (a archive) tables() []table { return []table{a.event, a.measurement, a.occurrence} }

func (a archive) meaning() string {
	return "Simulated nests on one ranch: season, transect, nest and look as events, with the state at each look, the signs found at taken nests and the clumps counted on belts as measurements."
}

var eventColumns = []column{
	{name: "eventID", kind: text, en: "Event id", es: "Clave del evento", meaning: "Names the event; stays the same from one export to the next.", needed: true, unique: true, term: dwc + "eventID"},
	{name: "parentEventID", kind: text, en: "Parent event", es: "Evento superior", meaning: "The event this one is part of: season, transect, nest, look.", term: dwc + "parentEventID"},
	{name: "eventType", kind: word, en: "Kind of event", es: "Clase de evento", meaning: "What the event is.", needed: true, choices: []string{"season", "transect", "simulated nest", "look", "belt"}, term: dwc + "eventType"},
	{name: "eventDate", kind: text, en: "Date", es: "Fecha", meaning: "A day or an interval of days, ISO 8601.", term: dwc + "eventDate"},
	{name: "year", kind: year, en: "Season", es: "Temporada", meaning: "The season's year.", needed: true, term: dwc + "year"},
	{name: "samplingProtocol", kind: text, en: "Method", es: "Método", meaning: "How it was done.", needed: true, term: dwc + "samplingProtocol"},
	{name: "sampleSizeValue", kind: number, en: "Sample size", es: "Tamaño de la muestra", meaning: "In sampleSizeUnit.", least: ptr(0), term: dwc + "sampleSizeValue"},
	{name: "sampleSizeUnit", kind: word, en: "Unit of sample size", es: "Unidad de la muestra", meaning: "What the sample size counts.", choices: []string{"simulated nests", "eggs", "acres"}, term: dwc + "sampleSizeUnit"},
	{name: "samplingEffort", kind: text, en: "Effort", es: "Esfuerzo", meaning: "How much was done.", term: dwc + "samplingEffort"},
	{name: "habitat", kind: text, en: "Habitat", es: "Hábitat", meaning: "What the nest sits in; a plant that the sheet names in its own word is “other plant”.", term: dwc + "habitat"},
	{name: "eventRemarks", kind: text, en: "Remarks", es: "Observaciones", meaning: "What the figures are not.", term: dwc + "eventRemarks"},
	{name: "dataGeneralizations", kind: text, en: "Made less exact", es: "Generalizado", meaning: "What was made less exact.", needed: true, term: dwc + "dataGeneralizations"},
	{name: "informationWithheld", kind: text, en: "Withheld", es: "Reservado", meaning: "What was left out.", needed: true, term: dwc + "informationWithheld"},
	{name: "accessRights", kind: text, en: "Rights", es: "Derechos", meaning: "What may be done with the row.", needed: true, term: dc + "accessRights"},
}

var measurementColumns = []column{
	{name: "eventID", kind: text, en: "Event id", es: "Clave del evento", meaning: "The event measured.", needed: true},
	{name: "measurementID", kind: text, en: "Measurement id", es: "Clave de la medición", meaning: "Names the measurement.", needed: true, unique: true, term: dwc + "measurementID"},
	{name: "measurementType", kind: text, en: "What", es: "Qué", meaning: "What was measured.", needed: true, term: dwc + "measurementType"},
	{name: "measurementValue", kind: text, en: "Value", es: "Valor", meaning: "As a word or a number.", needed: true, term: dwc + "measurementValue"},
	{name: "measurementUnit", kind: text, en: "Unit", es: "Unidad", meaning: "Of a number.", term: dwc + "measurementUnit"},
	{name: "measurementMethod", kind: text, en: "How", es: "Cómo", meaning: "How it was told.", term: dwc + "measurementMethod"},
}

var occurrenceColumns = []column{
	{name: "eventID", kind: text, en: "Event id", es: "Clave del evento", meaning: "The simulated nest at which the animal was caught on camera.", needed: true},
	{name: "occurrenceID", kind: text, en: "Occurrence id", es: "Clave del registro", meaning: "Names the occurrence.", needed: true, unique: true, term: dwc + "occurrenceID"},
	{name: "basisOfRecord", kind: word, en: "Basis", es: "Base", meaning: "How the animal was seen.", needed: true, choices: []string{"MachineObservation"}, term: dwc + "basisOfRecord"},
	{name: "occurrenceStatus", kind: word, en: "Status", es: "Estado", meaning: "It was there.", needed: true, choices: []string{"present"}, term: dwc + "occurrenceStatus"},
	{name: "scientificName", kind: text, en: "Scientific name", es: "Nombre científico", meaning: "The lowest taxon that the sheet's word settles.", needed: true, term: dwc + "scientificName"},
	{name: "taxonRank", kind: text, en: "Rank", es: "Rango", meaning: "Of the scientific name.", needed: true, term: dwc + "taxonRank"},
	{name: "kingdom", kind: text, en: "Kingdom", es: "Reino", meaning: "Animalia.", needed: true, term: dwc + "kingdom"},
	{name: "vernacularName", kind: text, en: "Name", es: "Nombre", meaning: "As the sheet has it.", needed: true, term: dwc + "vernacularName"},
	{name: "identificationRemarks", kind: text, en: "How it was told", es: "Cómo se supo", meaning: "What settled the name.", needed: true, term: dwc + "identificationRemarks"},
}

// taxa gives the lowest taxon that each name settles. Names from memory, as common field guides have them; where the
// word covers several species, or their split is disputed, the rank above all of them.
var taxa = map[survey.Predator]struct{ name, rank string }{
	survey.Raccoon:   {"Procyon lotor", "species"},
	survey.Skunk:     {"Mephitidae", "family"},
	survey.Opossum:   {"Didelphis virginiana", "species"},
	survey.Coyote:    {"Canis latrans", "species"},
	survey.Fox:       {"Canidae", "family"},
	survey.Bobcat:    {"Lynx rufus", "species"},
	survey.Badger:    {"Taxidea taxus", "species"},
	survey.Armadillo: {"Dasypus", "genus"},
	survey.Hog:       {"Sus scrofa", "species"},
	survey.Bird:      {"Aves", "class"},
	survey.Snake:     {"Serpentes", "suborder"},
	survey.Rodent:    {"Rodentia", "order"},
}

func (r Ranch) archive() *archive {
	a := &archive{
		event: table{name: "event", en: "Events", es: "Eventos", meaning: "One row a season, transect, simulated nest, look or belt.", columns: eventColumns},
		measurement: table{name: "extendedmeasurementorfact", en: "Measurements", es: "Mediciones", meaning: "One row a thing measured or noted at an event.",
			columns: measurementColumns, links: []link{{"eventID", "event", "eventID"}}},
		occurrence: table{name: "occurrence", en: "Animals on camera", es: "Animales en cámara", meaning: "One row an animal that a trail camera caught at a simulated nest. Never an egg.",
			columns: occurrenceColumns, links: []link{{"eventID", "event", "eventID"}}},
	}
	nests, belts := r.nests(), r.belts()
	for _, s := range seasonsOf(nests, belts) {
		r.addSeason(a, s)
	}
	return a
}

// A season is the rows of one year, by transect.
type season struct {
	year      int
	transects []transect
}

type transect struct {
	key   survey.TransectKey
	nests []survey.Nest
	belts []numberedBelt
}

func seasonsOf(nests []survey.Nest, belts []numberedBelt) []season {
	found := map[survey.TransectKey]*transect{}
	at := func(k survey.TransectKey) *transect {
		if found[k] == nil {
			found[k] = &transect{key: k}
		}
		return found[k]
	}
	for _, n := range nests {
		t := at(n.Key())
		t.nests = append(t.nests, n)
	}
	for _, b := range belts {
		t := at(transectOf(&b.Belt))
		t.belts = append(t.belts, b)
	}
	var all []transect
	for _, t := range found {
		all = append(all, *t)
	}
	slices.SortFunc(all, func(a, b transect) int {
		return cmp.Or(cmp.Compare(a.key.Season, b.key.Season), compareTransects(a.key, b.key))
	})
	var list []season
	for _, t := range all {
		if len(list) == 0 || list[len(list)-1].year != t.key.Season {
			list = append(list, season{year: t.key.Season})
		}
		s := &list[len(list)-1]
		s.transects = append(s.transects, t)
	}
	return list
}

// An event is a row of the event table before it is laid out.
type event struct {
	id, parent, kind string
	from, to         survey.Date
	year             int
	protocol         string
	size             any
	unit             any
	effort           any
	habitat          any
	remarks          any
}

func (a *archive) add(r Ranch, e event) {
	rights := "Belongs to the ranch's owner; see eml.xml. No re-identification."
	a.event.rows = append(a.event.rows, []any{e.id, textOr(e.parent), e.kind, interval(e.from, e.to), e.year, e.protocol + "; " + r.maker(),
		e.size, e.unit, e.effort, e.habitat, e.remarks, general, withheld, rights})
	for _, d := range []survey.Date{e.from, e.to} {
		if d != 0 && (a.first == 0 || d < a.first) {
			a.first = d
		}
		a.last = max(a.last, d)
	}
}

// interval is an ISO 8601 day, or two with a slash between.
func interval(from, to survey.Date) any {
	switch {
	case from == 0 && to == 0:
		return nil
	case from == 0 || from == to:
		return to.String()
	case to == 0:
		return from.String()
	}
	return from.String() + "/" + to.String()
}

func (a *archive) measure(r Ranch, event, what, value, unit, how string) {
	id := r.id("measurement", event, what)
	a.measurement.rows = append(a.measurement.rows, []any{event, id, what, value, textOr(unit), textOr(how)})
}

func (r Ranch) addSeason(a *archive, s season) {
	id := r.seasonID(s.year)
	nests, looks := 0, 0
	var from, to survey.Date
	for _, t := range s.transects {
		f, l, n := span(t.nests)
		nests, looks = nests+len(t.nests), looks+n
		from, to = earlier(from, f), max(to, l)
	}
	a.nests += nests
	a.add(r, event{id: id, kind: "season", from: from, to: to, year: s.year, protocol: protocol, size: float64(nests), unit: "simulated nests",
		effort: fmt.Sprintf("%d transects, %d simulated nests, %d looks", len(s.transects), nests, looks), remarks: limits()})
	for _, t := range s.transects {
		r.addTransect(a, id, t)
	}
}

// span returns the first and the last day of the nests, and how often they were looked at.
func span(nests []survey.Nest) (from, to survey.Date, looks int) {
	for _, n := range nests {
		from, to = earlier(from, n.SetOn), max(to, n.SetOn)
		for _, v := range n.Visits {
			from, to, looks = earlier(from, v.On), max(to, v.On), looks+1
		}
	}
	return from, to, looks
}

// earlier returns the earlier of two days, of which zero is none.
func earlier(a, b survey.Date) survey.Date {
	if a == 0 || b == 0 {
		return max(a, b)
	}
	return min(a, b)
}

func (r Ranch) addTransect(a *archive, parent string, t transect) {
	id := r.transectID(t.key)
	from, to, _ := span(t.nests)
	a.add(r, event{id: id, parent: parent, kind: "transect", from: from, to: to, year: t.key.Season, protocol: protocol,
		size: float64(len(t.nests)), unit: "simulated nests", effort: fmt.Sprintf("%d simulated nests", len(t.nests))})
	for _, n := range t.nests {
		r.addNest(a, id, &n)
	}
	for _, b := range t.belts {
		r.addBelt(a, id, b)
	}
}

func (r Ranch) addNest(a *archive, parent string, n *survey.Nest) {
	id := r.nestID(n)
	from, to, looks := span([]survey.Nest{*n})
	var effort any
	if n.SetOn != 0 && to > n.SetOn {
		effort = fmt.Sprintf("%d days, %d looks", to-n.SetOn, looks)
	}
	a.add(r, event{id: id, parent: parent, kind: "simulated nest", from: from, to: to, year: n.Season, protocol: protocol, size: 3.0, unit: "eggs",
		effort: effort, habitat: habitat(n)})
	signs := n.Signs()
	for _, f := range survey.Features {
		if v := *f.Value(&signs); slices.Contains(f.Choices, v) {
			a.measure(r, id, "remains: "+f.Name, v, "", "signs at a taken nest, noted by the crew")
		}
	}
	if n.EggsLeft >= 0 {
		a.measure(r, id, "eggs left", strconv.Itoa(n.EggsLeft), "eggs", "counted at the last look")
	}
	last := n.SetOn
	for i, v := range n.Visits {
		look := r.lookID(n, i+1)
		a.add(r, event{id: look, parent: id, kind: "look", from: v.On, to: v.On, year: n.Season, protocol: protocol, habitat: habitat(n)})
		a.measure(r, look, "state of the simulated nest", string(v.State), "", "seen by the crew")
		if v.Second != "" {
			a.measure(r, look, "state seen by a second person", string(v.Second), "", "seen by another of the crew, looking alone")
		}
		if v.On > last && last != 0 {
			a.measure(r, look, "days since the look before", strconv.Itoa(int(v.On-last)), "days", "from the dates")
		}
		last = v.On
	}
	r.addAnimal(a, id, n)
}

// addAnimal adds what a trail camera proved. Signs and guesses prove no animal.
func (r Ranch) addAnimal(a *archive, nest string, n *survey.Nest) {
	if n.Camera == "" {
		return
	}
	name := n.Camera
	taxon, ok := taxa[name]
	if !ok {
		name, taxon.name, taxon.rank = survey.Other, "Animalia", "kingdom"
	}
	a.occurrence.rows = append(a.occurrence.rows, []any{nest, r.id("occurrence", nest), "MachineObservation", "present", taxon.name, taxon.rank, "Animalia",
		string(name), "Caught by a trail camera at a simulated nest; named by the crew."})
	if !slices.Contains(a.animals, name) {
		a.animals = append(a.animals, name)
	}
}

func (r Ranch) addBelt(a *archive, parent string, b numberedBelt) {
	id := r.beltID(&b.Belt, b.number)
	var size, unit any
	if acres := b.Acres(); acres > 0 {
		size, unit = acres, "acres"
	}
	a.add(r, event{id: id, parent: parent, kind: "belt", year: b.Season, protocol: beltWay, size: size, unit: unit})
	for _, m := range []struct {
		what string
		feet float64
	}{{"belt length", b.LengthFt}, {"belt width", b.WidthFt}} {
		if m.feet > 0 {
			a.measure(r, id, m.what, strconv.FormatFloat(m.feet, 'f', -1, 64), "ft", "")
		}
	}
	counts := map[string]int{}
	for s, n := range b.Counts {
		if s == survey.AnyCover {
			a.measure(r, id, "clumps", strconv.Itoa(n), "clumps", "counted on the belt, whatever their kind")
			continue
		}
		counts[cover(s)] += n
	}
	for _, c := range covers {
		if n, counted := counts[c]; counted {
			a.measure(r, id, "clumps: "+c, strconv.Itoa(n), "clumps", "counted on the belt")
		}
	}
}

// covers are the only words for plants that leave: a sheet's own word may name a place.
var covers = []string{string(survey.Bunchgrass), string(survey.PricklyPear), string(survey.Yucca), string(survey.Shrub), string(survey.Forb), "other plant"}

func cover(s survey.Substrate) string {
	if slices.Contains(covers, string(s)) {
		return string(s)
	}
	return "other plant"
}

// habitat says what the nest sits in, where that was written down.
func habitat(n *survey.Nest) any {
	if n.Substrate == "" {
		return nil
	}
	return "simulated nest in " + cover(n.Substrate)
}
