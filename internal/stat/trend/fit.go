package trend

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"tussock/internal/stat/mixed"
)

// Yearly is the change of the daily hazard from one year to the next.
type Yearly struct {
	Known bool // false where there is no trend to speak of; Notes say why

	HazardRatio, Low, High float64 // above one, nests are lost faster each year
	Slope, SE              float64 // its logarithm, and the model's standard error

	// Scatter is how far the seasons lie from the line, in terms of what the model expects: the mean of the
	// likelihood ratio of free seasons against the line, a degree of freedom. A bad year is bad for all ranches, and
	// the model with a line does not know that. Where Scatter is above one, the interval is widened by its square
	// root and has Student's t on seasons − 2 degrees of freedom.
	Scatter float64

	SlopeSD float64 // of the ranches' own slopes around the common one; 0 where there is no such effect in the model
	Seasons []int
	Clear   bool // whether the interval leaves out "no change"
	Notes   []string
}

// Enough seasons for a line, and for one on each ranch.
const (
	seasonsForLine  = 3
	seasonsForSlope = 5
)

// Fit fits the regional model with the season as a number. level is that of the interval: 0.95 for 95 %.
func Fit(list []mixed.Interval, level float64) *Yearly {
	y := &Yearly{HazardRatio: 1, Low: 0, High: math.MaxFloat64}
	whole := mixed.Group(apart(list))
	for _, s := range mixed.BySeason().Levels(whole.Settings) {
		if year, err := strconv.Atoi(s); err == nil {
			y.Seasons = append(y.Seasons, year)
		}
	}
	if len(y.Seasons) < 2 {
		y.note("One season has no trend.")
		return y
	}
	g, sides := whole.Split(mixed.BySubstrate(), mixed.BySiteType())
	for _, s := range sides {
		y.note("All nests at %s came to the same end and say nothing about a trend.", s.Level)
	}
	over := g.Periods()
	line, at := y.columns(g, false)
	model := g.Model(line, over)
	if len(y.Seasons) >= seasonsForSlope {
		for _, s := range g.Settings {
			model.Slope = append(model.Slope, line[at].Of(s))
		}
	} else {
		y.note("With fewer than five seasons every ranch is taken to change alike.")
	}
	f := model.Run()
	y.Notes = append(y.Notes, f.Notes...)
	if f.Lookups == 0 || !f.Known[at] {
		y.note("What changes from year to year cannot be told.")
		return y
	}
	y.Known = true
	y.Slope, y.SE, y.SlopeSD = f.Coef[at], f.SE(at), f.SlopeSD
	y.scatter(g, over)
	y.interval(level, y.freedom(f))
	return y
}

// freedom is the degrees of freedom of the common slope: it is the mean of the ranches' where those differ.
func (y *Yearly) freedom(f *mixed.Fit) float64 {
	if y.SlopeSD > 0 {
		return math.Max(1, float64(f.RanchesSeen-1))
	}
	return math.Inf(1)
}

func (y *Yearly) note(format string, a ...any) { y.Notes = append(y.Notes, fmt.Sprintf(format, a...)) }

// apart gives the transects of each season a name of their own: they are laid anew, and a slope has to be one number
// a transect.
func apart(list []mixed.Interval) []mixed.Interval {
	list = slices.Clone(list)
	for i := range list {
		list[i].Transect = strconv.Itoa(list[i].Season) + " " + list[i].Transect
	}
	return list
}

// columns of the model, with the place of the year; with free seasons there is none, and at is −1. Years count from
// the middle of the series.
func (y *Yearly) columns(g *mixed.Grouped, free bool) (columns []mixed.Column, at int) {
	used := g.Used()
	columns = []mixed.Column{mixed.Intercept()}
	for _, f := range []mixed.Factor{mixed.BySubstrate(), mixed.BySiteType()} {
		columns = append(columns, f.Columns(f.Levels(used))...)
	}
	if free {
		return append(columns, mixed.BySeason().Columns(mixed.BySeason().Levels(used))...), -1
	}
	middle := float64(y.Seasons[0]+y.Seasons[len(y.Seasons)-1]) / 2
	return append(columns, mixed.Column{Term: "year", Of: func(s mixed.Setting) float64 { return float64(s.Season) - middle }}), len(columns)
}

// scatter compares the line with free seasons, without slopes by ranch in either.
func (y *Yearly) scatter(g *mixed.Grouped, over mixed.Periods) {
	left := len(y.Seasons) - 2
	if left < 1 {
		return
	}
	line, _ := y.columns(g, false)
	free, _ := y.columns(g, true)
	gain := g.Model(free, over).Run().LogLik - g.Model(line, over).Run().LogLik
	y.Scatter = max(0, 2*gain/float64(left))
}

// interval makes the interval at level with Student's t on df degrees of freedom, or fewer where the seasons scatter.
func (y *Yearly) interval(level, df float64) {
	se := y.SE
	if y.Scatter > 1 {
		se *= math.Sqrt(y.Scatter)
		df = min(df, float64(len(y.Seasons)-2))
		y.note("The seasons scatter about the line more than the nests alone would make them; the interval allows for it.")
	}
	half := mixed.Quantile(level, df) * se
	y.HazardRatio = math.Exp(y.Slope)
	y.Low, y.High = math.Exp(max(y.Slope-half, -700)), math.Exp(min(y.Slope+half, 700))
	y.Clear = y.Low > 1 || y.High < 1
	if len(y.Seasons) < seasonsForLine {
		y.Clear = false
		y.note("Two seasons show a difference, not a trend.")
	}
}

// Say is the answer in words.
func (y *Yearly) Say() string {
	switch {
	case !y.Known:
		return "can't tell yet"
	case !y.Clear:
		return "no clear change"
	case y.HazardRatio > 1:
		return "losses are rising"
	}
	return "losses are falling"
}
