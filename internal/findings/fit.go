package findings

import (
	"math"
	"slices"
	"strings"

	"tussock/internal/stat/misfit"
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// A Fit tells whether the model behind a ranch's survival of a season fits its own nests (package misfit), from a ranch of eight lines on; cameras from six lines with a camera's day on.
type Fit struct {
	Ranch  string     `json:"ranch"`
	Season int        `json:"season"`
	Checks []FitCheck `json:"checks"` // those that there is enough for, in the order of the constants below

	CameraDays int `json:"camera_days"` // losses of which a camera recorded the day
	Outside    int `json:"outside"`     // of them, those before a look that found the eggs there, or after the one that found them gone
}

// A FitCheck is one of the checks. It fails where data are as odd as these in fewer than 1 of 80 seasons in which the model is true, so that of the four something fails in at most 1 of 20.
type FitCheck struct {
	What   string    `json:"what"`
	Chance float64   `json:"chance"`
	Fails  bool      `json:"fails"`
	Many   []FitLine `json:"many,omitempty"` // lines with far too many losses, and too few
	Few    []FitLine `json:"few,omitempty"`
	Late   bool      `json:"late,omitempty"` // of cameras: losses come late between looks, else early
}

// A FitLine is a line as people know it.
type FitLine struct {
	Site     string `json:"site"` // "" is the whole ranch
	Transect string `json:"transect"`
}

// What is checked.
const (
	FitsWeeks   = "weeks"   // one daily risk within each of the two periods
	FitsPeriods = "periods" // lines that lose more before day 14 lose more after it, in proportion
	FitsLines   = "lines"   // no line is far from the others
	FitsCameras = "cameras" // losses on camera come when the model has them
)

// What a check rests on at least, and the chance below which it fails. Ours; TestOwnFit measures what they come to.
const (
	fitLines, fitCameras = 8, 6
	fitFails             = 0.0125
	mostOnLine           = 200 // nests; a line with more is none that somebody walked
)

// fitOf checks the nests of a whole ranch; nil where there is nothing to check.
func (c *computation) fitOf(g group[survey.Nest], strata []stratum) *Fit {
	f := &Fit{Ranch: g.ranch, Season: g.season, Checks: []FitCheck{}}
	var looks []misfit.Look
	var records []misfit.Record
	var rates []misfit.Rates
	names, cameras, nest := map[int]FitLine{}, map[int]bool{}, 0
	for i := range strata {
		s := &strata[i]
		r, known := RatesOf(s.fit)
		for k, n := range s.rows {
			h := s.nests[k]
			if n.CameraOn != 0 && h.Lost > 0 {
				record := misfit.Record{Owner: h.Transect, Kind: len(rates), From: h.Intact, To: h.Lost, Day: int(n.CameraOn - n.SetOn)}
				if f.CameraDays++; !record.Inside() {
					f.Outside++
				} else if known {
					records, cameras[h.Transect] = append(records, record), true
				}
			}
			if !known {
				continue
			}
			nest++
			names[h.Transect] = FitLine{n.Site, n.Transect}
			looks = append(looks, LooksAt(n, c.first, misfit.Look{Owner: h.Transect, Line: h.Transect, Kind: len(rates), Nest: nest})...)
		}
		if known {
			rates = append(rates, r)
		}
	}
	lines := misfit.LinesOf(looks, rates)
	if len(lines.Labels) >= fitLines {
		if shape := misfit.Shape(looks, rates); slices.Min(shape[:]) < 1 { // else the checks came on too few different days
			f.check(FitCheck{What: FitsWeeks, Chance: min(1, 3*slices.Min(shape[:]))})
		}
		if chance := misfit.Turns(looks, rates); chance < 1 {
			f.check(FitCheck{What: FitsPeriods, Chance: chance})
		}
		if lines.Longest() <= mostOnLine {
			f.check(farLines(lines, names))
		}
	}
	if len(cameras) >= fitCameras {
		mean, chance := misfit.Cameras(records, rates)
		f.check(FitCheck{What: FitsCameras, Chance: chance, Late: mean > 0.5})
	}
	if f.CameraDays == 0 && len(f.Checks) == 0 {
		return nil
	}
	return f
}

func (f *Fit) check(c FitCheck) {
	c.Fails = c.Chance < fitFails
	f.Checks = append(f.Checks, c)
}

func farLines(lines *misfit.Lines, names map[int]FitLine) FitCheck {
	check := FitCheck{What: FitsLines, Chance: 1}
	chances, many := lines.Far()
	for i, label := range lines.Labels {
		chance := min(1, chances[i]*float64(len(chances)))
		check.Chance = min(check.Chance, chance)
		switch {
		case chance >= fitFails:
		case many[i]:
			check.Many = append(check.Many, names[label])
		default:
			check.Few = append(check.Few, names[label])
		}
	}
	return check
}

// RatesOf are the two daily hazards of a fit; false where one is not known or is none.
func RatesOf(fit survival.Estimate) (r misfit.Rates, ok bool) {
	for i, rate := range fit.Rates {
		if !rate.Known || !(rate.Daily > 0 && rate.Daily < 1) {
			return r, false
		}
		r[i] = -math.Log(rate.Daily)
	}
	return r, true
}

// LooksAt lists the looks at a nest as the figures count them, each like the one given but for its days: up to the one that did not find it intact. A nest that was not found
// again has none after its last good one.
func LooksAt(n *survey.Nest, first FirstChecks, like misfit.Look) (looks []misfit.Look) {
	from := 0
	for _, v := range n.Visits {
		if v.State == survey.Lost {
			break
		}
		to := max(int(v.On-n.SetOn), from)
		if v.State != survey.Intact {
			to = first.LostBy(n, to, from)
		}
		if to > from {
			like.From, like.To, like.Lost = from, to, v.State != survey.Intact
			looks = append(looks, like)
		}
		if v.State != survey.Intact {
			break
		}
		from = to
	}
	return looks
}

// FitOf returns what there is on the fit of a ranch's season; nil where nothing is.
func (r *Result) FitOf(ranch string, season int) *Fit {
	i := slices.IndexFunc(r.Fit, func(f Fit) bool { return f.Ranch == ranch && f.Season == season })
	if i < 0 {
		return nil
	}
	return &r.Fit[i]
}

// Failing says what fails of a ranch's model, each with what it does to the figures; nothing where nothing does.
func (f *Fit) Failing() (said []words.Phrase) {
	for _, c := range f.Checks {
		if c.Fails {
			said = append(said, c.said())
		}
	}
	if f.Outside > 0 {
		said = append(said, words.Later("Losses on camera that are dated outside the two looks that they lie between: %d of %d. The figures go by the looks. Check the camera’s clock, and the days in the sheet.", f.Outside, f.CameraDays))
	}
	return said
}

func (c FitCheck) said() words.Phrase {
	switch c.What {
	case FitsWeeks:
		return words.Later("The daily risk did not stay level within the first two weeks, or within the next two. Where nests were checked close to day 14 and day 28 the figures hold. Where checks came a week off, survival may be several points off.")
	case FitsPeriods:
		return words.Later("Early and late losses do not go together: some lines lost nests early, others late. The figure for the ranch holds where lines were checked on the same days. Where some were checked only once, or far from day 14 and day 28, it may be several points off.")
	case FitsCameras:
		if c.Late {
			return words.Later("On camera most losses come late between two looks, later than a level risk has them. Was the day of the look written down for the day of the loss? Else nests checked far from day 14 and day 28 put survival several points off.")
		}
		return words.Later("On camera most losses come early between two looks, sooner than a level risk has them. Nests checked far from day 14 and day 28 then put survival several points off.")
	}
	var said []words.Phrase
	if len(c.Many) > 0 {
		said = append(said, words.Later("Lines with far more losses than chance among your lines would make: %s.", linesSaid(c.Many)))
	}
	if len(c.Few) > 0 {
		said = append(said, words.Later("Lines with far fewer losses than chance among your lines would make: %s.", linesSaid(c.Few)))
	}
	return words.Join(append(said, words.Later("The range for the ranch may be too narrow. Look at what was different there."))...)
}

func linesSaid(lines []FitLine) string {
	names := make([]string, len(lines))
	for i, l := range lines {
		if names[i] = l.Transect; l.Site != "" {
			names[i] += " (" + l.Site + ")"
		}
	}
	return strings.Join(names, ", ")
}
