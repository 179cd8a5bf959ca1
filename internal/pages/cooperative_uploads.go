package pages

import (
	"cmp"
	"slices"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// cooperativeUploadsPage tells the coordinator who has sent what, and whom to ring. It holds no value out of any sheet.
type cooperativeUploadsPage struct {
	base
	Season  int
	Seasons []int
	Waiting []uploadLine // those that sent nothing
	AllIn   []uploadLine
}

// uploadLine is one ranch in one season.
type uploadLine struct {
	Ranch    string
	Sent     bool
	SentOn   time.Time
	Contacts []contact
}

// contact is somebody to ring for a ranch.
type contact struct {
	Name, Phone string
}

func (s *server) cooperativeUploads(c *fiber.Ctx, a access.Actor) error {
	param := c.Params("season")
	var st cooperativeState
	if err := s.DB.As(c.UserContext(), a, st.load); err != nil {
		return err
	}
	page := cooperativeUploadsPage{Season: newestSeason(st.seasons, st.status, s.Now()), Seasons: sentSeasons(st.status)}
	if param != "" {
		year, err := strconv.Atoi(param)
		if err != nil || !slices.Contains(page.Seasons, year) {
			return errNothing
		}
		page.Season = year
	}
	say := s.speaker(c)
	lines := uploadLines(st, page.Season)
	for _, l := range lines {
		if l.Sent {
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

// sentSeasons lists the seasons that have sheets that count, newest first.
func sentSeasons(status []postgres.Status) []int {
	var years []int
	for _, st := range status {
		if st.Counts && st.Season != 0 && !slices.Contains(years, st.Season) {
			years = append(years, st.Season)
		}
	}
	slices.Sort(years)
	slices.Reverse(years)
	return years
}

// uploadLines joins ranches, sheets and members by the ranch's name, which is unique in a cooperative.
func uploadLines(st cooperativeState, season int) []uploadLine {
	lines := make([]uploadLine, 0, len(st.ranches))
	for _, r := range st.ranches {
		l := uploadLine{Ranch: r.Name, Contacts: contacts(st.members, r.Name)}
		for _, status := range st.status {
			if status.Ranch != r.ID || status.Season != season || !status.Counts {
				continue
			}
			l.Sent = true
			if status.SentAt.After(l.SentOn) {
				l.SentOn = status.SentAt
			}
		}
		lines = append(lines, l)
	}
	slices.SortFunc(lines, func(x, y uploadLine) int { return cmp.Compare(x.Ranch, y.Ranch) })
	return lines
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
