package export

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"tussock/internal/bulletin"
	"tussock/internal/findings"
)

// A Bulletin is one season's publication as a reader has it: the cells that the database lets them see.
type Bulletin struct {
	About
	Season, Number int
	PublishedAt    time.Time
	Hash           string // of the whole publication, as frozen
	Key            bulletin.KeyNote
	Places         []bulletin.Place
	Cells          []bulletin.Cell
}

// Sheets returns a ZIP of CSV files with the bulletin's figures, described by a data package.
func (b Bulletin) Sheets() ([]byte, error) {
	return sheets(b.meta(), b.tables())
}

// Parquet returns a ZIP of Parquet files with the same tables.
func (b Bulletin) Parquet() ([]byte, error) {
	return parquets(b.meta(), b.tables())
}

// Rights says what a reader may do with the figures.
func (b Bulletin) Rights() string { return bulletinRights(b.About, b.Season, b.Number) }

func (b Bulletin) meta() meta {
	return meta{About: b.About, name: fmt.Sprintf("bulletin-%d", b.Season), title: fmt.Sprintf("%s: bulletin %d, season %d", b.Cooperative, b.Number, b.Season),
		version: strconv.Itoa(b.Number) + ".0.0", rights: bulletinRights(b.About, b.Season, b.Number), rightsName: "LicenseRef-Tussock-Bulletin",
		bulletin: &bulletinNumber{b.Season, b.Number, b.PublishedAt.UTC().Format(time.DateOnly), b.Hash},
		meaning: "Rounded figures that rest on at least five landowners, with 95 % intervals: survival of simulated nests to day 28, clumps an acre, the share of each predator, and how well the season was carried out. Of one season's results alone. " +
			"Published once and never changed. What is not here was not published for you, and nothing follows from that. " +
			"Remains were read with version " + strconv.Itoa(b.Key.Version) + " of the cooperative's key. " + findings.Strengths(b.Key.Source, !b.Key.Counted).String()}
}

// entityBands are the only numbers of landowners ever shown.
var entityBands = []string{"5-9", "10-19", "20-49", "50+"}

// MeasuresMean says what each measure of a bulletin is.
const MeasuresMean = "survival_28: the share of simulated nests intact on day 28, a fraction of 1, with a range that is widened for nests lost from view; survival_28_at_clumps: the same in a cover where there are so many clumps an acre; " +
	"clumps_per_acre: clumps big enough to nest in, an acre; predator_share: the share of a predator in the taken nests that left remains; sign_share: the shares of taken nests by what they showed; " +
	"design_effect: how many times lines widen the variance that nests with luck of their own would have; owner_spread: the standard deviation of the logarithm of the daily hazard between landowners; mix_weight: how many nests the cooperative's predator shares are worth where a landowner's own begin; " +
	"first_checks_on_day to ranches_with_open_questions: shares of checks, nests or ranches, how well the season was carried out; fits_by_week, fits_by_period, fits_by_line, fits_by_camera: 1 where the checks, or days of loss on camera, show no misfit of the model behind survival, 0 where they do; cameras_agree: 1 where no more than one loss in twenty on camera is dated outside the looks that it lies between, else 0; " +
	"left_on_day_7 and those after it: the share of nests left on a day by that model, and from low to high what the checks alone leave open, which is no 95 % interval."

var cellColumns = []column{
	seasonColumn,
	{name: "area", kind: text, en: "Area", es: "Zona", meaning: "The published place, see the table places; empty is the whole cooperative."},
	{name: "substrate", kind: text, en: "Nest cover", es: "Cobertura del nido", meaning: "What the nests sit in; empty is all of the season's standard covers in equal shares."},
	{name: "measure", kind: word, en: "Measure", es: "Medida", meaning: MeasuresMean, needed: true, choices: bulletin.Measures},
	{name: "predator", kind: text, en: "Predator", es: "Depredador", meaning: "For predator_share; for sign_share what a taken nest showed: no sign left, fits several, fits one; else empty."},
	{name: "clumps", kind: number, en: "Clumps an acre", es: "Matas por acre", meaning: "For survival_28_at_clumps: where there are so many clumps an acre; else empty.", least: ptr(0)},
	{name: "estimate", kind: number, en: "Estimate", es: "Estimación", meaning: "Rounded; empty where only the range from low to high is published.", least: ptr(0)},
	{name: "low", kind: number, en: "Low", es: "Mínimo", meaning: "Lower end of the 95 % interval, rounded.", least: ptr(0)},
	{name: "high", kind: number, en: "High", es: "Máximo", meaning: "Upper end of the 95 % interval, rounded; empty beside a low is “or more”.", least: ptr(0)},
	{name: "entities", kind: word, en: "Landowners", es: "Dueños", meaning: "The band of the number of landowners behind the figure.", needed: true, choices: entityBands},
	nestsBehind, transectsBehind, beltsBehind,
}

// What stands behind a figure, in tens.
var (
	nestsBehind     = column{name: "nests", kind: integer, en: "Nests", es: "Nidos", meaning: "Nests behind the figure in the bulletin's season, to the nearest 10; empty where too few landowners stand behind it.", least: ptr(0)}
	transectsBehind = column{name: "transects", kind: integer, en: "Transects", es: "Transectos", meaning: "Transects behind the figure, likewise.", least: ptr(0)}
	beltsBehind     = column{name: "belts", kind: integer, en: "Belts", es: "Franjas", meaning: "Belts behind the figure, likewise.", least: ptr(0)}
)

func behind(b bulletin.Basis) []any {
	var cells []any
	for _, n := range []*int{b.Nests, b.Transects, b.Belts} {
		if n == nil {
			cells = append(cells, nil)
			continue
		}
		cells = append(cells, *n)
	}
	return cells
}

var placeColumns = []column{
	seasonColumn,
	{name: "area", kind: text, en: "Area", es: "Zona", meaning: "An area of the cooperative.", needed: true},
	{name: "label", kind: text, en: "Published as", es: "Publicada como", meaning: "The place under which the area's figures stand in the table cells; empty: in those of the whole cooperative only."},
}

func (b Bulletin) tables() []table {
	cells := table{name: "cells", en: "Figures", es: "Cifras", meaning: "One row a published figure.", columns: cellColumns,
		unique: []string{"season", "area", "substrate", "measure", "predator", "clumps"}}
	for _, c := range b.Cells {
		if c.Season != b.Season || !c.Published {
			continue
		}
		c = c.Open()
		cells.rows = append(cells.rows, append([]any{c.Season, pointed(c.Area), pointed(c.Substrate), c.Measure, textOr(c.Predator), numberOr(c.Clumps),
			numberOr(c.Estimate), numberOr(c.Low), numberOr(c.High), c.Entities}, behind(c.Basis)...))
	}
	places := table{name: "places", en: "Places", es: "Lugares", meaning: "One row an area: under which name its figures are published.", columns: placeColumns,
		unique: []string{"season", "area"}}
	list := slices.Clone(b.Places)
	slices.SortFunc(list, func(x, y bulletin.Place) int {
		return cmp.Or(strings.Compare(x.Area, y.Area), strings.Compare(x.Label, y.Label))
	})
	for _, p := range list {
		places.rows = append(places.rows, []any{b.Season, p.Area, textOr(p.Label)})
	}
	return []table{cells, places}
}

func pointed(s *string) any {
	if s == nil {
		return nil
	}
	return textOr(*s)
}
