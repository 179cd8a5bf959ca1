package trend

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/gonum/mat"

	"tussock/internal/stat/mixed"
)

// Yearly is the change of the daily hazard from one year to the next, from the nests themselves.
type Yearly struct {
	Line
	SlopeSD float64 // of the ranches' own slopes around the common one; 0 where there is no such effect in the model
	Notes   []string
}

// seasonsForSlope is how many seasons a slope on each ranch takes.
const seasonsForSlope = 5

// Fit fits the regional model with an effect of each season, and a line through these (see Line). Where every nest of a season came
// to the same end the season is left out.
func Fit(list []mixed.Interval) *Yearly {
	y := &Yearly{}
	whole := mixed.Group(apart(list))
	y.Seasons = len(mixed.BySeason().Levels(whole.Settings))
	if y.Seasons < seasonsForLine {
		y.note("With fewer than three seasons there is no trend.")
		return y
	}
	g, sides := whole.Split(mixed.BySubstrate(), mixed.BySiteType(), mixed.BySeason())
	for _, s := range sides {
		y.note("All nests at %s came to the same end and say nothing about a trend.", s.Level)
	}
	used := g.Used()
	columns := []mixed.Column{mixed.Intercept()}
	for _, f := range []mixed.Factor{mixed.BySubstrate(), mixed.BySiteType()} {
		columns = append(columns, f.Columns(f.Levels(used))...)
	}
	first := len(columns) // of the seasons
	levels := mixed.BySeason().Levels(used)
	columns = append(columns, mixed.BySeason().Columns(levels)...)
	over := g.Periods()
	model := g.Model(columns, over)
	if len(levels) >= seasonsForSlope {
		middle := float64(year(levels[0])+year(levels[len(levels)-1])) / 2
		for _, s := range g.Settings {
			model.Slope = append(model.Slope, float64(s.Season)-middle)
		}
	} else {
		y.note("With fewer than five seasons every ranch is taken to change alike.")
	}
	f := model.Run()
	y.Notes = append(y.Notes, f.Notes...)
	if f.Lookups == 0 {
		y.note("What changes from year to year cannot be told.")
		return y
	}
	y.SlopeSD = f.SlopeSD
	most := math.Inf(1)
	if y.SlopeSD > 0 { // the common slope is the mean of the ranches'
		most = math.Max(1, float64(f.RanchesSeen-1))
	}

	// The first season is the others' reference: its effect is 0, and what is not sure about it is in the covariances of the others.
	// A line with a level of its own takes no notice of a variance that all seasons share, so any will do to keep the matrix whole.
	years, effects, at := []int{year(levels[0])}, []float64{0}, []int{-1}
	for i, level := range levels[1:] {
		if j := first + i; f.Known[j] {
			years, effects, at = append(years, year(level)), append(effects, f.Coef[j]), append(at, j)
		}
	}
	const shared = 1.0
	cov := mat.NewSymDense(len(at), nil)
	for i := range at {
		for k := i; k < len(at); k++ {
			v := shared
			if at[i] >= 0 && at[k] >= 0 {
				v += f.Cov.At(at[i], at[k])
			}
			cov.SetSym(i, k, v)
		}
	}
	y.Line = through(years, effects, cov, middling(list), most)
	if !y.Known {
		y.note("What changes from year to year cannot be told.")
	}
	return y
}

func year(level string) int {
	n, _ := strconv.Atoi(level) // levels are years
	return n
}

// middling is survival to day 28 of all nests together by losses over days, which is near enough for what change matters.
func middling(list []mixed.Interval) float64 {
	var losses, days float64
	for _, i := range list {
		days += i.To - i.From
		if !i.Intact {
			losses++
			days -= (i.To - i.From) / 2
		}
	}
	if days == 0 || losses == 0 {
		return 1 / math.E
	}
	return min(math.Exp(-28*losses/days), 0.999)
}

func (y *Yearly) note(format string, a ...any) { y.Notes = append(y.Notes, fmt.Sprintf(format, a...)) }

// apart gives the transects of each season a name of their own: they are laid each season, and a slope has to be one number
// a transect.
func apart(list []mixed.Interval) []mixed.Interval {
	list = slices.Clone(list)
	for i := range list {
		list[i].Transect = strconv.Itoa(list[i].Season) + " " + list[i].Transect
	}
	return list
}
