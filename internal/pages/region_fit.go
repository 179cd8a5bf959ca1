package pages

import (
	"strconv"
	"strings"

	"tussock/internal/bulletin"
	"tussock/internal/words"
)

// A fitPart says whether the model behind a season's survival fits, as the season's bulletin has it.
type fitPart struct {
	Points []fitPoint
	Left   []fitDay // none where not published
	Method []string
}

// A fitPoint is one of the checks. Effect says what a misfit does to the figures, "" where there is none.
type fitPoint struct {
	Name, Said, Effect string
	Fits               bool
}

// A fitDay has the nests left on a day of 100, by the model and by the checks alone.
type fitDay struct{ Day, Model, Checks string }

// fitChecks are the points, as they are read out where no misfit is found, and where one is.
var fitChecks = []struct{ measure, name, fits, fails, effect string }{
	{bulletin.FitsWeeks, words.Mark("Losses week by week"),
		words.Mark("As far as these checks can show, the daily risk stayed level within the first two weeks and within the next two."),
		words.Mark("The daily risk did not stay level within the first two weeks, or within the next two."),
		words.Mark("Where nests were checked close to day 14 and day 28 the figures hold. Where checks came a week off, survival may be several points off.")},
	{bulletin.FitsPeriods, words.Mark("Days 14 to 28 against days 0 to 14"),
		words.Mark("As far as these checks can show, a landowner’s early and late losses go together."),
		words.Mark("Landowners’ early and late losses do not go together: some lose nests early, others late."),
		words.Mark("The cooperative’s figures hold. The figure of a ranch that was checked only once, or far from day 14 and day 28, may be several points off.")},
	{bulletin.FitsLines, words.Mark("Lines with far too many or far too few losses"),
		words.Mark("About one line in 20 is far off, which is what chance would do."),
		words.Mark("Too many lines lost nearly all of their nests, or hardly any: far beyond the one in 20 that chance would make."),
		words.Mark("The ranges of survival are likely too narrow: the true figure may lie outside them in over 5 of 100 cases.")},
	{bulletin.FitsCameras, words.Mark("Losses on camera against the checks"),
		words.Mark("As far as the cameras can show, nests are lost as late between two checks as the model has it."),
		words.Mark("On camera nests are not lost as late between two checks as the model has it."),
		words.Mark("Where nests were checked close to day 14 and day 28 the figures hold. Where checks came a week off, survival may be several points off.")},
	{bulletin.CamerasAgree, words.Mark("Cameras’ dates"),
		words.Mark("At least 19 of 20 losses on camera are dated between the two checks that they lie between."),
		words.Mark("Over 1 of 20 losses on camera is dated outside the two checks that it lies between: cameras’ clocks were wrong, or days were written down wrong."),
		words.Mark("Survival goes by the checks alone. If days of checks slipped, it may be a point or two off.")},
}

// fitOf returns nil where nothing of it is published for the season.
func fitOf(d regionData) *fitPart {
	var part fitPart
	var any bulletin.Cell
	say := d.say
	for _, check := range fitChecks {
		cell, ok := findCell(d.cells, d.season, "", "", check.measure, "")
		if camera := check.measure == bulletin.FitsCameras || check.measure == bulletin.CamerasAgree; camera && cell.Estimate == nil {
			continue // few put cameras out
		}
		point := fitPoint{Name: say.Say(check.name), Said: say.Say(notShown), Fits: true}
		if ok && cell.Estimate != nil {
			any = cell
			if point.Said, point.Fits = say.Say(check.fits), *cell.Estimate > 0; !point.Fits {
				point.Said, point.Effect = say.Say(check.fails), say.Say(check.effect)
			}
		}
		part.Points = append(part.Points, point)
	}
	if !any.Published {
		return nil
	}
	for _, day := range bulletin.DaysLeft {
		cell, ok := findCell(d.cells, d.season, "", "", bulletin.LeftOn(day), "")
		if !ok || cell.Estimate == nil || cell.Low == nil || cell.High == nil {
			continue
		}
		row := fitDay{Day: strconv.Itoa(day), Model: percent(*cell.Estimate), Checks: percent(*cell.Low)}
		if *cell.High > *cell.Low {
			row.Checks = say.Say("%s to %s", percent(*cell.Low), percent(*cell.High))
		}
		part.Left = append(part.Left, row)
	}
	part.Method = []string{
		say.Say("The model: one daily risk up to day 14 and one from then on for each kind of cover, and luck that the nests of a line share."),
		say.Say("Week by week: score tests of another risk in the first week of the first two weeks, of the next two, and of both, by landowner, with the luck of lines taken out. Days 14 to 28: an analysis of variance of the lines’ late losses beyond what their luck explains. Lines: randomized quantile residuals (Dunn and Smyth 1996), from draws with a fixed seed, with the published spread between lines and landowners; too many far off are counted over all lines and by landowner."),
		say.Say("Where the model is true each misfit is found by mistake in at most 1 season of 20, measured on made-up cooperatives. A misfit is only said where it is found without any one landowner too. Small misfits stay unseen, and checks two weeks apart tell little of single weeks: where the first week of each two is five times as dangerous as the second, it is found in about two seasons of three with 34 landowners, in about one of five with twelve, and nearly always where lines are checked each week."),
		say.Say("Nests left: in equal shares of the standard kinds of cover, in steps of 5 of 100, from twenty landowners on and on those days that tell too little of anybody. The checks alone (Turnbull’s curve, 1976) leave a figure open between days on which ten nests were checked."),
		say.Say("Cameras: of each loss of which a camera recorded the day, the model’s chance to be lost by then, given that it was lost between these two checks; whether their mean is further than 3 of 100 from a half, by landowner. Given from ten landowners with such losses on; nobody’s own days are."),
		basisLine(say, any.Basis, d.season), landownersLine(say, any.Entities),
		strings.TrimSpace(strings.TrimSuffix(frozenLine(say, d.heads, d.season), say.Say(methodNoSeed))), // the residuals are drawn
	}
	return &part
}
