package pages

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
)

// cooperativePage is where a coordinator's day begins: what waits for them.
type cooperativePage struct {
	base
	Waits []waiting
	Done  []string // what stands well, said in a line each

	NoLetters bool // can be sent, so nobody is asked for a second proof
	OneProof  oneProof
}

// waiting is one thing that waits, with the page it is settled on.
type waiting struct {
	Text, Path string
}

// cooperativeState is all that the overview is made from. It holds no result of any ranch.
type cooperativeState struct {
	ranches     []postgres.Ranch
	members     []postgres.Member
	invitations []postgres.Invitation
	status      []postgres.Status
	bulletins   []postgres.BulletinHead
	orders      []postgres.PressOrder
	requests    []postgres.Introduction
	alarms      []postgres.Alarm
}

func (st *cooperativeState) load(tx *postgres.Tx) (err error) {
	if st.ranches, err = tx.AllRanches(); err != nil {
		return err
	}
	if st.members, err = tx.Members(); err != nil {
		return err
	}
	if st.invitations, err = tx.Invitations(); err != nil {
		return err
	}
	if st.status, err = tx.UploadStatus(0); err != nil {
		return err
	}
	if st.bulletins, err = tx.Bulletins(); err != nil {
		return err
	}
	if st.requests, err = tx.Introductions(); err != nil {
		return err
	}
	if st.alarms, err = tx.Alarms(); err != nil {
		return err
	}
	st.orders, err = tx.PressOrders()
	return err
}

func (s *server) cooperative(c *fiber.Ctx, a access.Actor) error {
	var st cooperativeState
	if err := s.DB.As(c.UserContext(), a, st.load); err != nil {
		return err
	}
	page := cooperativePage{}
	page.Waits, page.Done = waits(st, s.Now())
	title := "Nothing waits for you today"
	if n := len(page.Waits); n > 0 {
		title = counted(n, "thing") + " to look at"
	}
	page.base = s.base(c, a, title)
	page.NoLetters = s.Account != nil && !s.Account.HasMail()
	var err error
	if page.OneProof, err = s.oneProof(c, a); err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "cooperative", page)
}

// waits lists what the coordinator can settle, the most pressing first.
func waits(st cooperativeState, now time.Time) (list []waiting, done []string) {
	add := func(n int, one, many, path string) {
		switch {
		case n == 1:
			list = append(list, waiting{one, path})
		case n > 1:
			list = append(list, waiting{fmt.Sprintf(many, n), path})
		}
	}

	add(len(recent(st.alarms, now)), "1 person took much at once in the last week", "%d times somebody took much at once in the last week", "/cooperative/log")

	season := newestSeason(st.status, now)
	open, missing := 0, 0
	for _, l := range uploadLines(st, season) {
		if !l.Sent {
			missing++
		} else if l.Open > 0 {
			open++
		}
	}
	add(open, "1 ranch has a sheet with open questions", "%d ranches have a sheet with open questions", "/cooperative/uploads")
	add(missing, fmt.Sprintf("1 ranch has sent nothing for %d", season), "%d ranches have sent nothing for "+fmt.Sprint(season), "/cooperative/uploads")
	add(waitingRequests(st.requests), "1 planner asks to be introduced", "%d requests to be introduced wait", "/cooperative/introductions")
	add(openInvitations(st.invitations, now), "1 invitation is not taken up yet", "%d invitations are not taken up yet", "/cooperative/members")
	add(len(ownerless(st)), "1 ranch has nobody who can sign in for it", "%d ranches have nobody who can sign in for them", "/cooperative/members")
	add(count(st.ranches, func(r postgres.Ranch) bool { return r.Area == "" }),
		"1 ranch is in no area", "%d ranches are in no area", "/cooperative/ranches")
	for _, year := range unpublished(st) {
		list = append(list, waiting{fmt.Sprintf("The bulletin of %d is not out yet", year), "/cooperative/bulletins"})
	}

	if missing == 0 && len(st.ranches) > 0 {
		done = append(done, fmt.Sprintf("Every ranch has sent its sheets for %d.", season))
	}
	if len(st.bulletins) > 0 {
		newest := slices.MaxFunc(st.bulletins, func(x, y postgres.BulletinHead) int { return cmp.Compare(x.Season, y.Season) })
		done = append(done, fmt.Sprintf("The bulletin of %d came out on %s.", newest.Season, day(newest.PublishedAt)))
	}
	return list, done
}

func count[T any](list []T, is func(T) bool) int {
	n := 0
	for _, x := range list {
		if is(x) {
			n++
		}
	}
	return n
}

// newestSeason is the latest season anybody sent a sheet for, or this year.
func newestSeason(status []postgres.Status, now time.Time) int {
	season := 0
	for _, st := range status {
		season = max(season, st.Season)
	}
	if season == 0 {
		return now.Year()
	}
	return season
}

func openInvitations(list []postgres.Invitation, now time.Time) int {
	return count(list, func(i postgres.Invitation) bool { return i.State == "open" && i.ExpiresAt.After(now) })
}

// ownerless lists the ranches whose results nobody can open or send.
func ownerless(st cooperativeState) []string {
	var list []string
	for _, r := range st.ranches {
		if !slices.ContainsFunc(st.members, func(m postgres.Member) bool { return !m.Left && slices.Contains(m.Ranches, r.Name) }) {
			list = append(list, r.Name)
		}
	}
	return list
}

// unpublished lists the seasons that have sheets and no bulletin, newest first.
func unpublished(st cooperativeState) []int {
	var years []int
	for _, status := range st.status {
		out := slices.ContainsFunc(st.bulletins, func(b postgres.BulletinHead) bool { return b.Season == status.Season })
		if status.State == postgres.Current && status.Season != 0 && !out && !slices.Contains(years, status.Season) {
			years = append(years, status.Season)
		}
	}
	slices.Sort(years)
	slices.Reverse(years)
	return years
}

// day writes a date as people do.
func day(t time.Time) string { return t.Format("2 January 2006") }
