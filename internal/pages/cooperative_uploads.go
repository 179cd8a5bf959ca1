package pages

import (
	"cmp"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeUploadsPage tells the coordinator who has sent what, and whom to ring. It holds no value out of any sheet.
type cooperativeUploadsPage struct {
	base
	Season  int
	Seasons []int
	Waiting []uploadLine // those that sent nothing first, then those with open questions
	AllIn   []uploadLine
}

// uploadLine is one ranch in one season.
type uploadLine struct {
	Ranch    string
	Sent     bool
	SentOn   time.Time
	Open     int
	Kinds    []string // "3 about dates"
	Contacts []contact
}

// contact is somebody to ring for a ranch.
type contact struct {
	Name, Phone string
}

// kindWords says in plain words what a kind of question is about; a kind that is not here is shown as it is called.
var kindWords = map[string]string{
	"belt":         words.Mark("a belt"),
	"blank":        words.Mark("a visit left blank"),
	"colour":       words.Mark("what a colour means"),
	"date-order":   words.Mark("day and month in dates"),
	"ditto":        words.Mark("a blank under a word"),
	"no-substrate": words.Mark("what a nest sits in"),
	"other":        words.Mark("something else"),
	"ranch":        words.Mark("which ranch rows are of"),
	"role":         words.Mark("what a column holds"),
	"same-day":     words.Mark("two visits on one day"),
	"state":        words.Mark("a word for what was found"),
	"substrate":    words.Mark("a word for what a nest sits in"),
	"tab":          words.Mark("which tabs belong to the season"),
	"year":         words.Mark("the year of a date"),
	"zero":         words.Mark("what a 0 means"),
}

func (s *server) cooperativeUploads(c *fiber.Ctx, a access.Actor) error {
	param := c.Params("season")
	var st cooperativeState
	if err := s.DB.As(c.UserContext(), a, st.load); err != nil {
		return err
	}
	page := cooperativeUploadsPage{Season: newestSeason(st.status, s.Now()), Seasons: sentSeasons(st.status)}
	if param != "" {
		year, err := strconv.Atoi(param)
		if err != nil || !slices.Contains(page.Seasons, year) {
			return errNothing
		}
		page.Season = year
	}
	say := s.speaker(c)
	lines := uploadLines(say, st, page.Season)
	for _, l := range lines {
		if l.Sent && l.Open == 0 {
			page.AllIn = append(page.AllIn, l)
		} else {
			page.Waiting = append(page.Waiting, l)
		}
	}
	missing := count(lines, func(l uploadLine) bool { return !l.Sent })
	title := say.Say("Every ranch has sent its sheets for %d", page.Season)
	if len(lines) == 0 {
		title = say.Say("No ranch is on the roster yet")
	} else if missing > 0 {
		title = say.Say("%d of %d ranches have sent their sheets for %d", len(lines)-missing, len(lines), page.Season)
	}
	page.base = s.base(c, a, title)
	return s.render(c, fiber.StatusOK, "cooperative_uploads", page)
}

// sentSeasons lists the seasons that have sheets, newest first.
func sentSeasons(status []postgres.Status) []int {
	var years []int
	for _, st := range status {
		if st.Season != 0 && !slices.Contains(years, st.Season) {
			years = append(years, st.Season)
		}
	}
	slices.Sort(years)
	slices.Reverse(years)
	return years
}

// uploadLines joins ranches, sheets and members by the ranch's name, which is unique in a cooperative.
func uploadLines(say words.Speaker, st cooperativeState, season int) []uploadLine {
	lines := make([]uploadLine, 0, len(st.ranches))
	for _, r := range st.ranches {
		l := uploadLine{Ranch: r.Name, Contacts: contacts(st.members, r.Name)}
		kinds := map[string]int{}
		for _, status := range st.status {
			if status.Ranch != r.ID || status.Season != season || status.State != postgres.Current {
				continue
			}
			l.Sent = true
			l.Open += status.Open
			if status.SentAt.After(l.SentOn) {
				l.SentOn = status.SentAt
			}
			for kind, n := range status.OpenKinds {
				kinds[kind] += n
			}
		}
		l.Kinds = kindLines(say, kinds)
		lines = append(lines, l)
	}
	slices.SortFunc(lines, func(x, y uploadLine) int { return cmp.Or(cmp.Compare(rank(x), rank(y)), cmp.Compare(x.Ranch, y.Ranch)) })
	return lines
}

func rank(l uploadLine) int {
	switch {
	case !l.Sent:
		return 0
	case l.Open > 0:
		return 1
	}
	return 2
}

func kindLines(say words.Speaker, kinds map[string]int) []string {
	var list []string
	for _, kind := range slices.Sorted(maps.Keys(kinds)) {
		word, ok := kindWords[kind]
		if !ok {
			word = strings.ReplaceAll(strings.ReplaceAll(kind, "_", " "), "-", " ")
		}
		list = append(list, say.Say("%d about %s", kinds[kind], say.Say(word)))
	}
	return list
}

// contacts lists the members who have to do with a ranch, landowners first.
func contacts(members []postgres.Member, ranch string) []contact {
	members = slices.Clone(members)
	slices.SortStableFunc(members, func(x, y postgres.Member) int {
		return cmp.Compare(slices.Index(access.Roles, x.Role), slices.Index(access.Roles, y.Role))
	})
	var list []contact
	for _, m := range members {
		if !m.Left && slices.Contains(m.Ranches, ranch) {
			list = append(list, contact{m.Name, m.Phone})
		}
	}
	return list
}
