package clerk

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"tussock/internal/access"
	"tussock/internal/inquiry"
	"tussock/internal/intake"
	"tussock/internal/lexicon"
	"tussock/internal/postgres"
	"tussock/internal/readback"
	"tussock/internal/reading"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// How often a sheet is read to show what answers would give, and how many rows that may be, all together.
const (
	triedMost = 12
	triedRows = 40_000
)

// A job is one filed sheet being read.
type job struct {
	*postgres.Task
	own        string // the name of the ranch that the sheet is filed under
	opt        intake.Options
	byName     bool     // its rows are of several of the sender's ranches, and each is taken by the name it stands under
	remembered []string // headings of columns that are read as the ranch said before
}

func (d *Desk) job(t *postgres.Task) *job {
	own := lexicon.Tidy(t.RanchName) // as the rows will have it
	j := &job{Task: t, own: own, opt: intake.Options{
		Ranch: own, OnlyRanches: ranchNames(t), RanchesHad: ranchesHad(t), Season: t.Settings.Season, DateOrder: t.Settings.DateOrder, Zero: survey.State(t.Settings.Zero),
		PartLossIntact: t.Settings.PartLossIntact, Words: t.Words, Answers: maps.Clone(t.Answers), Undone: t.Undone, Today: d.today(), Say: d.Book.In(words.Language(t.Language)),
		Places: true,
	}}
	if j.opt.Answers == nil {
		j.opt.Answers = map[string]string{}
	}
	return j
}

// ranchNames are those of which a sheet may have rows: the one it is filed under, and the others of its sender.
func ranchNames(t *postgres.Task) (names []string) {
	if t.Ranch != "" {
		names = append(names, lexicon.Tidy(t.RanchName))
	}
	for _, r := range t.Ranches {
		if r.ID != t.Ranch {
			names = append(names, lexicon.Tidy(r.Name))
		}
	}
	return names
}

// ranchesHad are the names that those had before, to what they are called now.
func ranchesHad(t *postgres.Task) map[string]string {
	is := map[access.ID]string{t.Ranch: lexicon.Tidy(t.RanchName)}
	for _, r := range t.Ranches {
		is[r.ID] = lexicon.Tidy(r.Name)
	}
	had := map[string]string{}
	for _, r := range t.Had {
		had[lexicon.Tidy(r.Name)] = is[r.ID]
	}
	return had
}

// ranchMeant finds which of a task's ranches a sheet means by a name, by what they are called now or were before; "" for none.
func ranchMeant(t *postgres.Task, name string) string {
	now, had := ranchNames(t), ranchesHad(t)
	meant := cmp.Or(intake.MatchRanch(name, append(slices.Clip(now), slices.Sorted(maps.Keys(had))...)), intake.MatchRanch(name, now))
	if slices.Contains(now, meant) {
		return meant
	}
	return had[meant]
}

func files(t *postgres.Task) []intake.File { return []intake.File{{Name: t.File, Data: t.Data}} }

// read reads the sheet once.
func (j *job) read(opt intake.Options) (*intake.Result, error) {
	res, err := j.readAll(opt)
	if err == nil && j.SentFor {
		j.leaveOpenSeasons(res, opt.Say)
	}
	return res, err
}

// leaveOpenSeasons leaves out the rows of seasons that had not closed when the sheet was sent for its owner.
func (j *job) leaveOpenSeasons(res *intake.Result, say words.Speaker) {
	refuse := func(season int, list ...survey.Cell) {
		p := inquiry.Problem{File: j.File, Column: "season", Value: strconv.Itoa(season),
			Problem: say.Say("The season %d had not closed when this was sent for the owner. Only the ranch’s own people send it.", season)}
		if len(list) > 0 {
			p.File, p.Sheet, p.Row = list[0].File, list[0].Sheet, list[0].Row
		}
		res.Refused = append(res.Refused, p)
	}
	d := &res.Data
	var nests []survey.Nest
	var belts []survey.Belt
	var nestsAt, beltsAt [][]survey.Cell
	for i, n := range d.Nests {
		if !j.Takes(n.Season) {
			refuse(n.Season, res.NestsAt[i]...)
			continue
		}
		nests, nestsAt = append(nests, n), append(nestsAt, res.NestsAt[i])
	}
	for i, b := range d.Belts {
		if !j.Takes(b.Season) {
			refuse(b.Season, res.BeltsAt[i]...)
			continue
		}
		belts, beltsAt = append(belts, b), append(beltsAt, res.BeltsAt[i])
	}
	d.Nests, res.NestsAt, d.Belts, res.BeltsAt = nests, nestsAt, belts, beltsAt
	res.Waiting = slices.DeleteFunc(res.Waiting, func(n survey.Nest) bool { return n.Season != 0 && !j.Takes(n.Season) })
}

func (j *job) readAll(opt intake.Options) (*intake.Result, error) {
	if !j.byName {
		return intake.Read(files(j.Task), opt)
	}
	opt.Ranch, opt.OnlyRanches = "", nil
	res, err := intake.Read(files(j.Task), opt)
	if err == nil {
		rename(res, j.Task)
	}
	return res, err
}

// rename calls the ranches of a reading as the roster does, where it knows them.
func rename(res *intake.Result, t *postgres.Task) {
	match := map[string]string{}
	known := func(name *string) {
		if _, ok := match[*name]; !ok {
			match[*name] = cmp.Or(ranchMeant(t, *name), *name)
		}
		*name = match[*name]
	}
	for _, nests := range [][]survey.Nest{res.Data.Nests, res.Waiting} {
		for i := range nests {
			known(&nests[i].Ranch)
		}
	}
	for i := range res.Data.Belts {
		known(&res.Data.Belts[i].Ranch)
	}
	for i := range res.Data.Sites {
		known(&res.Data.Sites[i].Ranch)
	}
}

// read reads a filed sheet in the language of whoever waits for it.
func (d *Desk) read(t *postgres.Task) outcome {
	j := d.job(t)
	says := j.names(d)
	res, err := j.readAsBefore()
	if err != nil {
		return d.failed(t, func(say words.Speaker) error {
			opt := j.opt
			opt.Say = say
			_, err := j.read(opt)
			return err
		})
	}
	layout, err := readback.Lay(files(t), res)
	if err != nil {
		panic(err)
	}
	page := readback.Say(res, j.own)
	page.Sums, page.Tables, page.Remembered, page.Says = layout.Sums, layout.Tables, j.remembered, says
	if len(page.Elsewhere) > 0 || t.SentFor {
		page.Sentences = j.ownSentences(res)
	}
	j.try(res, page)
	out := &postgres.Read{Open: len(res.Questions), Refused: refused(page), Words: j.learned(res), Parts: layout.Parts,
		Pages: map[string][]byte{t.Language: must(page.Pack())}}
	var others []postgres.Ranch
	out.Rows, others = j.split(res)
	out.Season = mainSeason(out.Rows, t.Settings.Season)
	return outcome{read: out, ranches: others, rest: true}
}

// sentencesMost is how many nests are read back.
const sentencesMost = 3

// ownSentences reads back the first nests of the ranch that the sheet is filed under, where it has others of another.
func (j *job) ownSentences(res *intake.Result) (list []string) {
	for i := range res.Data.Nests {
		if n := &res.Data.Nests[i]; n.Ranch == j.own && len(list) < sentencesMost {
			list = append(list, readback.Nest(j.opt.Say, n))
		}
	}
	return list
}

// readRest says what a sheet says in the other languages.
func (d *Desk) readRest(t *postgres.Task) outcome {
	o := outcome{read: &postgres.Read{Pages: map[string][]byte{}}}
	for _, language := range words.Languages() {
		if string(language) == t.Language {
			continue
		}
		again := *t
		again.Language = string(language)
		o.read.Pages[string(language)] = d.read(&again).read.Pages[string(language)]
	}
	return o
}

// names tells whether the sheet's rows are of several of its sender's ranches; and which one it names where that is not the one
// it is filed under.
func (j *job) names(d *Desk) string {
	if len(j.Ranches) < 2 {
		return ""
	}
	named := d.whose(j.Task).ranches
	j.byName = len(named) > 1
	if len(named) == 1 && named[0].ID != j.Ranch {
		return named[0].Name
	}
	return ""
}

// readAsBefore reads a sheet with what its ranch said of columns headed alike; an answer to this sheet outdoes it.
func (j *job) readAsBefore() (*intake.Result, error) {
	res, err := j.read(j.opt)
	if err != nil {
		return nil, err
	}
	for _, r := range unlike(res.Roles) {
		role := j.Words[roleWord(r.Heading)]
		if role == "" || role == cmp.Or(r.Role, notUsed) || j.Answers[r.ID] != "" {
			continue
		}
		j.opt.Answers[r.ID] = role
		j.remembered = append(j.remembered, r.Heading)
	}
	if j.remembered == nil {
		return res, nil
	}
	return j.read(j.opt)
}

// notUsed is the answer by which a column is set aside.
const notUsed = "not-used"

// roleWord is the key under which a ranch remembers how it reads columns of a heading.
func roleWord(heading string) string { return "role/" + lexicon.Fold(heading) }

// unlike returns the columns whose heading no other column of their table has: what is said of one holds for the heading.
func unlike(roles []reading.Role) []reading.Role {
	type table struct {
		file, sheet string
		block       int
		heading     string
	}
	n := map[table]int{}
	key := func(r reading.Role) table { return table{r.File, r.Sheet, r.Block, lexicon.Fold(r.Heading)} }
	for _, r := range roles {
		n[key(r)]++
	}
	return slices.DeleteFunc(slices.Clone(roles), func(r reading.Role) bool { return lexicon.Fold(r.Heading) == "" || n[key(r)] > 1 })
}

// learned is what a ranch remembers of a reading: the words that its answers explained, how they read columns, and the order
// of day and month.
func (j *job) learned(res *intake.Result) map[string]string {
	words := maps.Clone(res.Words)
	if words == nil {
		words = map[string]string{}
	}
	for _, r := range unlike(res.Roles) {
		if a := j.Answers[r.ID]; a != "" {
			words[roleWord(r.Heading)] = a
		}
	}
	if j.Settings.DateOrder != "" {
		words["order"] = j.Settings.DateOrder
	}
	return words
}

// try reads a short sheet with each answer to each question, to show what it would give.
func (j *job) try(res *intake.Result, page *readback.Page) {
	left := min(triedMost, triedRows/max(1, res.Rows))
	for i := range page.Questions {
		q := &page.Questions[i]
		for k := range q.Choices {
			c := &q.Choices[k]
			with := res
			if c.ID != q.Default {
				if left == 0 {
					continue
				}
				left--
				opt := j.opt
				opt.Answers = maps.Clone(j.opt.Answers)
				opt.Answers[q.ID] = c.ID
				var err error
				if with, err = j.read(opt); err != nil {
					continue // all is left out then
				}
			}
			c.Tried = true
			c.Nests, c.First = j.concerned(with, res.Questions[i].Cells)
		}
	}
}

// firstNests is how many nests are shown of what an answer would give.
const firstNests = 2

// concerned counts the nests of a reading, and returns the first that stand where a question is about.
func (j *job) concerned(res *intake.Result, cells []survey.Cell) (n int, first []survey.Nest) {
	about := map[survey.Cell]bool{}
	for _, c := range cells {
		c.Column = ""
		about[c] = true
	}
	for i := range res.Data.Nests {
		if res.Data.Nests[i].Ranch != j.own {
			continue
		}
		n++
		if len(first) < firstNests && i < len(res.NestsAt) && slices.ContainsFunc(res.NestsAt[i], func(c survey.Cell) bool {
			row, tab, file := survey.Cell{File: c.File, Sheet: c.Sheet, Row: c.Row}, survey.Cell{File: c.File, Sheet: c.Sheet}, survey.Cell{File: c.File}
			return about[row] || about[tab] || about[file]
		}) {
			first = append(first, res.Data.Nests[i])
		}
	}
	return n, first
}

// split takes the rows of the ranch that the sheet is filed under, and names the sender's other ranches that it has rows of.
func (j *job) split(res *intake.Result) (own *survey.Data, others []postgres.Ranch) {
	own = &res.Data
	found := map[string]bool{}
	for i := range own.Nests {
		found[own.Nests[i].Ranch] = true
	}
	for i := range own.Belts {
		found[own.Belts[i].Ranch] = true
	}
	for _, r := range j.Ranches {
		if r.ID != j.Ranch && found[lexicon.Tidy(r.Name)] {
			others = append(others, r)
		}
	}
	own.Nests = slices.DeleteFunc(own.Nests, func(n survey.Nest) bool { return n.Ranch != j.own })
	own.Belts = slices.DeleteFunc(own.Belts, func(b survey.Belt) bool { return b.Ranch != j.own })
	own.Sites = slices.DeleteFunc(own.Sites, func(s survey.Site) bool { return s.Ranch != j.own })
	return own, others
}

// whose reads a sheet for the ranches of its sender that it has rows of by its own words, the one with the most first; none
// where it does not say.
func (d *Desk) whose(t *postgres.Task) outcome {
	opt := intake.Options{Season: t.Settings.Season, DateOrder: t.Settings.DateOrder, Today: d.today()}
	res, err := intake.Read(files(t), opt)
	if err != nil {
		return d.failed(t, func(say words.Speaker) error {
			opt.Say = say
			_, err := intake.Read(files(t), opt)
			return err
		})
	}
	rows, match := map[string]int{}, map[string]string{}
	count := func(name string) {
		if _, ok := match[name]; !ok {
			match[name] = ranchMeant(t, name)
		}
		rows[match[name]]++
	}
	for _, nests := range [][]survey.Nest{res.Data.Nests, res.Waiting} {
		for i := range nests {
			count(nests[i].Ranch)
		}
	}
	for i := range res.Data.Belts {
		count(res.Data.Belts[i].Ranch)
	}
	var o outcome
	for _, r := range t.Ranches {
		if rows[lexicon.Tidy(r.Name)] > 0 {
			o.ranches = append(o.ranches, r)
		}
	}
	slices.SortStableFunc(o.ranches, func(a, b postgres.Ranch) int { return rows[lexicon.Tidy(b.Name)] - rows[lexicon.Tidy(a.Name)] })
	return o
}

// mainSeason returns the season most rows are of, or the hint where no row could be dated.
func mainSeason(d *survey.Data, hint int) int {
	rows := map[int]int{}
	for i := range d.Nests {
		rows[d.Nests[i].Season]++
	}
	for i := range d.Belts {
		rows[d.Belts[i].Season]++
	}
	best := hint
	for season, n := range rows {
		if season != 0 && (n > rows[best] || n == rows[best] && season > best) {
			best = season
		}
	}
	return best
}

// refused counts the places that cannot be used and wait for no answer.
func refused(p *readback.Page) (n int) {
	for _, r := range p.Refused {
		n += r.N
	}
	return n
}
