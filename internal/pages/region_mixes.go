package pages

import (
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/chart"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// regionMixes sets the seasons' predator mixes of the whole cooperative side by side.
type regionMixes struct {
	Key     string // with which keys the seasons were read
	Options template.JS
	Words   string
	Seasons []int
	Rows    []mixesRow
	Method  []string
}

// mixesRow is one part of the mix over the seasons; notShown where the season's mix is not.
type mixesRow struct {
	Name  string
	Cells []mixesCell
}

type mixesCell struct{ Figure, Range string }

// mixesOf returns nil unless two seasons at least have a mix to show: one stands above by itself.
func mixesOf(say words.Speaker, heads []postgres.BulletinHead, cells []bulletin.Cell) (*regionMixes, error) {
	m := &regionMixes{Words: say.Say("What took the eggs, season beside season")}
	var predators []string
	shown := 0
	for _, h := range slices.Backward(heads) { // oldest first
		m.Seasons = append(m.Seasons, h.Season)
		if mixShown(cells, h.Season) {
			shown++
		}
	}
	for _, l := range chart.Looks() {
		if slices.ContainsFunc(m.Seasons, func(season int) bool {
			_, ok := findCell(cells, season, "", "", bulletin.PredatorShare, l.Part)
			return ok
		}) {
			predators = append(predators, l.Part)
		}
	}
	if shown < 2 {
		return nil, nil
	}
	for _, sign := range []string{bulletin.NoSign, bulletin.FitsSeveral} {
		row := mixesRow{Name: say.Say(signWords[sign])}
		for _, season := range m.Seasons {
			cell, _ := findCell(cells, season, "", "", bulletin.SignShare, sign)
			r := rateRow(say, row.Name, cell)
			figure := r.Figure
			if cell.Estimate != nil {
				figure = percent(*cell.Estimate)
			}
			row.Cells = append(row.Cells, mixesCell{figure, r.Range})
		}
		m.Rows = append(m.Rows, row)
	}
	var parts []chart.Part
	for _, p := range predators {
		row := mixesRow{Name: capital(predatorName(say, p))}
		part := chart.Part{Part: p, Name: row.Name}
		for _, season := range m.Seasons {
			cell, _ := findCell(cells, season, "", "", bulletin.PredatorShare, p)
			r := rateRow(say, row.Name, cell)
			figure, share := r.Figure, math.NaN()
			if !r.Shown && mixShown(cells, season) {
				figure = say.Say("in the last")
			}
			if cell.Estimate != nil {
				figure, share = percent(*cell.Estimate), 100**cell.Estimate
			}
			row.Cells = append(row.Cells, mixesCell{figure, r.Range})
			part.Shares = append(part.Shares, share)
			part.Words = append(part.Words, pointWords(say, season, row.Name, figure, r.Range))
		}
		m.Rows = append(m.Rows, row)
		parts = append(parts, part)
	}
	var err error
	if m.Options, err = chart.Mix(m.Seasons, parts, say.Say("of 100 nests that left a sign"), m.Words); err != nil {
		return nil, fmt.Errorf("draw the seasons' mixes: %w", err)
	}
	m.Key = keysLine(say, heads)
	m.Method = []string{
		say.Say("Each season’s mix as its own bulletin has it. An animal that a season does not name is in that season’s last part: a share that comes or goes between seasons may be a name that came or went."),
		say.Say("Steps: 10 of 100 with five to nine landowners, else 5; ranges are 95 % over landowners. One season’s mix is not compared with another’s here: a share that looks otherwise may be chance."),
		basesOfMixes(say, cells, m.Seasons), mixesBands(say, cells, m.Seasons), bulletinsLine(say, heads),
	}
	return m, nil
}

// keysLine says with which key each season was read, in one sentence where it was one.
func keysLine(say words.Speaker, heads []postgres.BulletinHead) string {
	if !slices.ContainsFunc(heads, func(h postgres.BulletinHead) bool { return h.Key != heads[0].Key }) {
		return strengths(say, heads[0].Key)
	}
	var parts []string
	for _, h := range heads {
		parts = append(parts, fmt.Sprintf("%d: %s", h.Season, strengths(say, h.Key)))
	}
	return say.Say("The seasons were not all read with one key, so a share can be another by the key alone.") + " " + strings.Join(parts, " ")
}

// mixShown tells whether a season has a mix: an animal that it does not name is then in its last part.
func mixShown(cells []bulletin.Cell, season int) bool {
	_, ok := findCell(cells, season, "", "", bulletin.PredatorShare, bulletin.OtherOrUnknown)
	return ok
}

func basesOfMixes(say words.Speaker, cells []bulletin.Cell, seasons []int) string {
	var parts []string
	for _, season := range seasons {
		if cell, ok := findCell(cells, season, "", "", bulletin.PredatorShare, bulletin.OtherOrUnknown); ok {
			if counts := basisWords(say, cell.Basis); counts != "" {
				parts = append(parts, fmt.Sprintf("%d: %s", season, counts))
			}
		}
	}
	return bases(say, parts)
}

func mixesBands(say words.Speaker, cells []bulletin.Cell, seasons []int) string {
	var parts []string
	for _, season := range seasons {
		for _, c := range cells {
			if c.Published && c.Season == season && c.Measure == bulletin.PredatorShare && c.Area == nil && c.Entities != "" {
				parts = append(parts, strconv.Itoa(season)+": "+bandWords(say, c.Entities))
				break
			}
		}
	}
	return landowners(say, parts)
}
