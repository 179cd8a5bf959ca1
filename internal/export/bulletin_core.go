package export

import (
	"fmt"
	"strconv"

	"tussock/internal/bulletin"
)

// DarwinCore returns a Darwin Core archive of the bulletin: an event for the season in each published place, with every
// figure as a measurement of it. Nothing in it is an occurrence.
func (b Bulletin) DarwinCore() ([]byte, error) {
	event := table{name: "event", en: "Events", es: "Eventos", meaning: "One row the season in a published place.", columns: bulletinEventColumns}
	measurement := table{name: "extendedmeasurementorfact", en: "Figures", es: "Cifras", meaning: "One row a published figure.", columns: bulletinMeasurementColumns,
		links: []link{{"eventID", "event", "eventID"}}}
	seen := map[any]bool{}
	t := b.tables()[0] // every figure
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
	m := b.meta()
	return darwinCore(m, bulletinCoreHow, described{
		id:          b.id("archive"),
		abstract:    []string{m.meaning, limits(), bulletinWithheld},
		info:        "The eggs are hen's eggs from a shop: they stand as occurrences of nothing, and neither does anything else here.",
		maintenance: "Frozen: made once, when the bulletin was composed. No figure is changed; one that was wrong is taken back.",
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
	{name: "measurementType", kind: text, en: "What", es: "Qué", meaning: "The measure, as the table cells of the bulletin's other files names it, and of which substrate, clumps an acre or predator.", needed: true, term: dwc + "measurementType"},
	{name: "measurementValue", kind: text, en: "Value", es: "Valor", meaning: "A rounded number, or the ends of a band where only a band is published.", needed: true, term: dwc + "measurementValue"},
	{name: "measurementUnit", kind: text, en: "Unit", es: "Unidad", meaning: "Of the number.", term: dwc + "measurementUnit"},
	{name: "measurementAccuracy", kind: text, en: "Interval", es: "Intervalo", meaning: "The 95 % interval, rounded.", term: dwc + "measurementAccuracy"},
	{name: "measurementRemarks", kind: text, en: "Behind it", es: "Detrás", meaning: "The band of the number of landowners and of rows.", term: dwc + "measurementRemarks"},
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

// measured reads a row of cells as a measurement; value is "" where it has no number.
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
	for _, name := range []string{"substrate", "clumps", "predator"} {
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
	case bulletin.ClumpsPerAcre:
		unit = "clumps per acre"
	case bulletin.DesignEffect, bulletin.OwnerSpread, bulletin.MixWeight, bulletin.FitsWeeks, bulletin.FitsPeriods, bulletin.FitsLines, bulletin.FitsCameras, bulletin.CamerasAgree:
	default:
		unit = "fraction of 1"
	}
	remark = cell("entities") + " landowners"
	for _, name := range []string{"nests", "transects", "belts"} {
		if n := cell(name); n != "" {
			remark += ", about " + n + " " + name
		}
	}
	return what, value, unit, accuracy, remark
}
