package export

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/bulletin"
)

// The measures of the table of models.
var modelMeasures = []string{
	"survival_28_standardised", "yearly_hazard_ratio", "kendall_tau", "kendall_chance", "sen_slope", "hazard_ratio", "crossing_density", "gain_at_mark",
	"chance_cover_short", "chance_losses_high", "chance_lasting_well",
	"first_checks_on_day", "second_checks_on_day", "followed_to_known_end", "lost_from_view", "second_looks", "second_looks_that_agree", "ranches_with_open_questions",
}

var modelColumns = []column{
	seasonColumn,
	{name: "area", kind: text, en: "Area", es: "Zona", meaning: "The published place, see the table places; empty is the whole cooperative."},
	{name: "measure", kind: word, en: "Measure", es: "Medida", needed: true, choices: modelMeasures, meaning: "survival_28_standardised: survival to day 28 from the regional model, on the same footing, a fraction of 1; " +
		"yearly_hazard_ratio: the daily hazard of a year as a multiple of the year's before; kendall_tau, kendall_chance (p), sen_slope (a year, a fraction of 1): the Regional Kendall test with ranches as locations; " +
		"hazard_ratio: the daily hazard in substrate as a multiple of that in against, at density; crossing_density: where the two do alike, clumps an acre; " +
		"gain_at_mark: by how much survival to day 28 would differ were every site below 300 clumps an acre at 300, an association; chance_…: the probability of what seems to hold nests back; " +
		"first_checks_on_day and those after it: shares of checks, nests or ranches, how well the season was carried out."},
	{name: "of_season", kind: year, en: "Of season", es: "De la temporada", meaning: "The season that a standardised survival is of; else empty."},
	{name: "substrate", kind: text, en: "Nest cover", es: "Cobertura del nido", meaning: "Empty is all substrates in equal shares."},
	{name: "against", kind: text, en: "Against", es: "Frente a", meaning: "The substrate that another is held against."},
	{name: "density", kind: number, en: "Density", es: "Densidad", meaning: "Clumps an acre, all plants.", least: ptr(0)},
	{name: "estimate", kind: number, en: "Estimate", es: "Estimación", meaning: "Rounded; empty where it is not shown."},
	{name: "low", kind: number, en: "Low", es: "Mínimo", meaning: "Lower end of the 95 % interval, rounded outward."},
	{name: "high", kind: number, en: "High", es: "Máximo", meaning: "Upper end of the 95 % interval, rounded outward."},
	{name: "said", kind: text, en: "Said", es: "Dicho", meaning: "What the figure comes to in words: a trend's or a limit's verdict, or why there is no crossing."},
	{name: "entities", kind: word, en: "Landowners", es: "Dueños", meaning: "The band of the number of landowners behind the figure.", needed: true, choices: entityBands},
	nestsBehind, transectsBehind, beltsBehind,
}

// A Model is one figure from the regional models, or of how well the season was carried out, with its interval. Its
// columns are described in modelColumns.
type Model struct {
	Season    int      `json:"season"`
	Area      *string  `json:"area"`
	Measure   string   `json:"measure"`
	OfSeason  *int     `json:"of_season"`
	Substrate *string  `json:"substrate"`
	Against   *string  `json:"against"`
	Density   *float64 `json:"density"`
	bulletin.Value
	Said     *string `json:"said"`
	Entities string  `json:"entities"`
	bulletin.Basis
}

// Models lists the frozen figures, one number with its interval a row. What is not shown has no row.
func (b Bulletin) Models() ([]Model, error) {
	figures := slices.SortedFunc(slices.Values(b.Figures), func(x, y bulletin.Figure) int {
		return cmp.Or(strings.Compare(x.Kind, y.Kind), strings.Compare(label(x.Place), label(y.Place)))
	})
	list := []Model{}
	for _, f := range figures {
		if f.Season != b.Season {
			continue
		}
		rows, entities, basis, err := modelsIn(f)
		if err != nil {
			return nil, err
		}
		for _, m := range rows {
			if m.Estimate == nil && m.Low == nil && m.High == nil && m.Said == nil {
				continue
			}
			m.Season, m.Area, m.Entities, m.Basis = f.Season, f.Place, entities, basis
			list = append(list, m)
		}
	}
	return list, nil
}

// models lays them out as a table.
func (b Bulletin) models() (table, error) {
	t := table{name: "models", en: "Figures from models", es: "Cifras de modelos", meaning: "One row a figure from the regional models, or of how well the season was carried out. How each is made stands on the page of the region.",
		columns: modelColumns, unique: []string{"season", "area", "measure", "of_season", "substrate", "against", "density"}}
	list, err := b.Models()
	for _, m := range list {
		var of any
		if m.OfSeason != nil {
			of = *m.OfSeason
		}
		t.rows = append(t.rows, append([]any{m.Season, pointed(m.Area), m.Measure, of, pointed(m.Substrate), pointed(m.Against), numberOr(m.Density),
			numberOr(m.Estimate), numberOr(m.Low), numberOr(m.High), pointed(m.Said), m.Entities}, behind(m.Basis)...))
	}
	return t, err
}

func label(place *string) string {
	if place == nil {
		return ""
	}
	return *place
}

// modelsIn reads one figure.
func modelsIn(f bulletin.Figure) (rows []Model, entities string, basis bulletin.Basis, err error) {
	one := func(measure string, x *float64) {
		rows = append(rows, Model{Measure: measure, Value: bulletin.Value{Estimate: x}})
	}
	switch f.Kind {
	case bulletin.StandardisedKind:
		var s bulletin.Standardised
		err = f.Into(&s)
		for _, r := range s.Rates {
			rows = append(rows, Model{Measure: "survival_28_standardised", OfSeason: &r.Season, Substrate: r.Substrate, Value: r.Value})
		}
		entities, basis = s.Entities, s.Basis
	case bulletin.TrendKind:
		var t bulletin.Trend
		err = f.Into(&t)
		rows = append(rows, Model{Measure: "yearly_hazard_ratio", Value: t.Yearly, Said: &t.Verdict})
		one("kendall_tau", t.Ranks.Tau)
		one("kendall_chance", t.Ranks.Chance)
		one("sen_slope", t.Ranks.Slope)
		entities, basis = t.Entities, t.Basis
	case bulletin.CoverKind:
		var c bulletin.Cover
		err = f.Into(&c)
		for _, g := range c.Gaps {
			for _, p := range g.Curve {
				rows = append(rows, Model{Measure: "hazard_ratio", Substrate: &g.A, Against: &g.B, Density: &p.Density, Value: p.Value})
			}
			rows = append(rows, Model{Measure: "crossing_density", Substrate: &g.A, Against: &g.B, Value: g.Crossing.Value, Said: &g.Crossing.Said})
		}
		rows = append(rows, Model{Measure: "gain_at_mark", Value: c.Gain})
		entities, basis = c.Entities, c.Basis
	case bulletin.LimitsKind:
		var l bulletin.Limits
		err = f.Into(&l)
		rows = append(rows, Model{Measure: "chance_cover_short", Value: bulletin.Value{Estimate: l.CoverShort}, Said: &l.Verdict})
		one("chance_losses_high", l.LossesHigh)
		one("chance_lasting_well", l.LastingWell)
		entities, basis = l.Entities, l.Basis
	case bulletin.QualityKind:
		var q bulletin.Quality
		err = f.Into(&q)
		one("first_checks_on_day", q.FirstOnDay)
		one("second_checks_on_day", q.SecondOnDay)
		one("followed_to_known_end", q.KnownEnd)
		one("lost_from_view", q.LostFromView)
		one("second_looks", q.SecondLooks)
		one("second_looks_that_agree", q.SecondAgree)
		one("ranches_with_open_questions", q.OpenQuestions)
		entities, basis = q.Entities, q.Basis
	default:
		err = fmt.Errorf("export a figure of kind %q: not known", f.Kind)
	}
	return rows, entities, basis, err
}

// DarwinCore returns a Darwin Core archive of the bulletin: an event for the season in each published place, with every
// figure as a measurement of it. Nothing in it is an occurrence.
func (b Bulletin) DarwinCore() ([]byte, error) {
	cells, err := b.tables()
	if err != nil {
		return nil, err
	}
	event := table{name: "event", en: "Events", es: "Eventos", meaning: "One row the season in a published place.", columns: bulletinEventColumns}
	measurement := table{name: "extendedmeasurementorfact", en: "Figures", es: "Cifras", meaning: "One row a published figure.", columns: bulletinMeasurementColumns,
		links: []link{{"eventID", "event", "eventID"}}}
	seen := map[any]bool{}
	for _, t := range cells[:2] {
		at := columnsOf(t)
		for _, row := range t.rows {
			place, _ := row[at["area"]].(string)
			id := b.id("season", place)
			if !seen[place] {
				seen[place] = true
				event.rows = append(event.rows, []any{id, "season", strconv.Itoa(b.Season), b.Season, protocol + "; " + b.maker(), textOr(place), limits(),
					"Rounded, published once and never changed. Figures of whole areas; no coordinates were taken.", bulletinWithheld, b.Rights()})
			}
			what, value, unit, accuracy, remark := measured(row, at)
			if value == "" {
				continue
			}
			measurement.rows = append(measurement.rows, []any{id, b.id(t.name, place, what, remark), what, value, textOr(unit), textOr(accuracy), textOr(remark)})
		}
	}
	m := b.meta()
	return darwinCore(m, bulletinCoreHow, described{
		id:          b.id("archive"),
		abstract:    []string{m.meaning, limits(), bulletinWithheld},
		info:        "The eggs are hen's eggs from a shop: they stand as occurrences of nothing, and neither does anything else here.",
		maintenance: "Frozen: made once, when the bulletin was published, and not changed since.",
		coverage:    []element{el("coverage", el("temporalCoverage", el("singleDateTime", say("calendarDate", strconv.Itoa(b.Season)))))},
		steps:       nestSteps(), tables: []table{event, measurement},
	})
}

const bulletinWithheld = "Single ranches, owners, lines and nests are withheld, and every figure that too few landowners stand behind."

const bulletinCoreHow = `A Darwin Core archive: meta.xml says which column is which term, eml.xml describes the data in EML 2.2.
There is no table of occurrences: a hen's egg from a shop is an occurrence of nothing.
`

var bulletinEventColumns = []column{
	eventColumns[0],
	{name: "eventType", kind: word, en: "Kind of event", es: "Clase de evento", meaning: "What the event is.", needed: true, choices: []string{"season"}, term: dwc + "eventType"},
	{name: "eventDate", kind: text, en: "Date", es: "Fecha", meaning: "The season's year, ISO 8601.", needed: true, term: dwc + "eventDate"},
	{name: "year", kind: year, en: "Season", es: "Temporada", meaning: "The season's year.", needed: true, term: dwc + "year"},
	{name: "samplingProtocol", kind: text, en: "Method", es: "Método", meaning: "How it was done.", needed: true, term: dwc + "samplingProtocol"},
	{name: "locality", kind: text, en: "Place", es: "Lugar", meaning: "The published place; empty is the whole cooperative.", term: dwc + "locality"},
	{name: "eventRemarks", kind: text, en: "Remarks", es: "Observaciones", meaning: "What the figures are not.", needed: true, term: dwc + "eventRemarks"},
	{name: "dataGeneralizations", kind: text, en: "Made less exact", es: "Generalizado", meaning: "What was made less exact.", needed: true, term: dwc + "dataGeneralizations"},
	{name: "informationWithheld", kind: text, en: "Withheld", es: "Reservado", meaning: "What was left out.", needed: true, term: dwc + "informationWithheld"},
	{name: "accessRights", kind: text, en: "Rights", es: "Derechos", meaning: "What may be done with the row.", needed: true, term: dc + "accessRights"},
}

var bulletinMeasurementColumns = []column{
	measurementColumns[0],
	measurementColumns[1],
	{name: "measurementType", kind: text, en: "What", es: "Qué", meaning: "The measure, as the tables cells and models of the bulletin's other files name it, and of which substrate, predator or density.", needed: true, term: dwc + "measurementType"},
	{name: "measurementValue", kind: text, en: "Value", es: "Valor", meaning: "A rounded number, or the ends of a band where only a band is published.", needed: true, term: dwc + "measurementValue"},
	{name: "measurementUnit", kind: text, en: "Unit", es: "Unidad", meaning: "Of the number.", term: dwc + "measurementUnit"},
	{name: "measurementAccuracy", kind: text, en: "Interval", es: "Intervalo", meaning: "The 95 % interval, rounded outward.", term: dwc + "measurementAccuracy"},
	{name: "measurementRemarks", kind: text, en: "Behind it", es: "Detrás", meaning: "The band of the number of landowners, and what the figure comes to in words.", term: dwc + "measurementRemarks"},
}

// id names a thing in the bulletin, the same in every export of it.
func (b Bulletin) id(path ...string) string { return idOf(b.Hash, path...) }

func columnsOf(t table) map[string]int {
	at := map[string]int{}
	for i, c := range t.columns {
		at[c.name] = i
	}
	return at
}

// measured reads a row of cells or models as a measurement; value is "" where it has no number.
func measured(row []any, at map[string]int) (what, value, unit, accuracy, remark string) {
	cell := func(name string) string {
		i, ok := at[name]
		if !ok || row[i] == nil {
			return ""
		}
		if x, ok := row[i].(float64); ok {
			return strconv.FormatFloat(x, 'f', -1, 64)
		}
		return fmt.Sprint(row[i])
	}
	what = cell("measure")
	for _, name := range []string{"of_season", "substrate", "against", "density", "predator"} {
		if v := cell(name); v != "" {
			what += ", " + name + " " + v
		}
	}
	low, high := cell("low"), cell("high")
	span := ""
	switch {
	case low != "" && high != "":
		span = low + " to " + high
	case low != "":
		span = low + " or more"
	case high != "":
		span = high + " or less"
	}
	if value = cell("estimate"); value != "" {
		accuracy = span
	} else {
		value = span
	}
	switch cell("measure") {
	case bulletin.ClumpsPerAcre, "crossing_density":
		unit = "clumps per acre"
	case "yearly_hazard_ratio", "hazard_ratio", "kendall_tau", "kendall_chance":
	default:
		unit = "fraction of 1"
	}
	remark = cell("entities") + " landowners"
	for _, name := range []string{"nests", "transects", "belts"} {
		if n := cell(name); n != "" {
			remark += ", about " + n + " " + name
		}
	}
	if said := cell("said"); said != "" {
		remark += "; " + said
	}
	return what, value, unit, accuracy, remark
}
