package pages

import (
	"cmp"
	"slices"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/words"
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
	seasons     []postgres.Season
	editions    []postgres.Edition
	requests    []postgres.Introduction
	alarms      []postgres.Alarm
	late        []postgres.LateLine
	me          access.ID
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
	if st.seasons, err = tx.SeasonDates(); err != nil {
		return err
	}
	st.editions, err = tx.Editions()
	return err
}

func (s *server) cooperative(c *fiber.Ctx, a access.Actor) error {
	st := cooperativeState{me: a.Person}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if err = st.load(tx); err != nil {
			return err
		}
		st.late, err = tx.LateLines(s.today())
		return err
	})
	if err != nil {
		return err
	}
	page := cooperativePage{}
	say := s.speaker(c)
	page.Waits, page.Done = waits(say, st, s.Now())
	title := say.Say("Nothing waits for you today")
	if n := len(page.Waits); n > 0 {
		title = say.Count("%d thing to look at", "%d things to look at", n)
	}
	page.base = s.base(c, a, title)
	page.NoLetters = s.Account != nil && !s.Account.HasMail()
	if page.OneProof, err = s.oneProof(c, a); err != nil {
		return err
	}
	return s.render(c, fiber.StatusOK, "cooperative", page)
}

// waits lists what the coordinator can settle, the most pressing first.
func waits(say words.Speaker, st cooperativeState, now time.Time) (list []waiting, done []string) {
	add := func(n int, text words.Phrase, path string) {
		if n > 0 {
			list = append(list, waiting{say.Tell(text), path})
		}
	}

	for _, m := range st.members {
		if m.ID == st.me && !m.Asked.IsZero() {
			add(1, words.Later("You are asked to stop being a coordinator. Say no there if you stay"), "/cooperative/members")
		}
	}
	n := len(recent(st.alarms, now))
	add(n, words.LaterCount("%d person took much at once in the last week", "%d times somebody took much at once in the last week", n), "/cooperative/log")
	for _, e := range st.editions {
		mine := slices.ContainsFunc(e.Approvals, func(x postgres.Approval) bool { return x.Mine })
		if e.ComposedAt.IsZero() || !e.PublishedAt.IsZero() || e.Note != "" || mine {
			continue
		}
		text := words.Later("The bulletin of %d waits for your word", e.Season)
		if e.Edition == 2 {
			text = words.Later("The final revision of %d waits for your word", e.Season)
		}
		add(1, text, editionPath(e))
	}

	season := newestSeason(st.seasons, st.status, now)
	missing := count(uploadLines(st, season), func(l uploadLine) bool { return !l.Sent })
	n = lateRanches(st.late)
	add(n, words.LaterCount("%d ranch is late with a check day", "%d ranches are late with a check day", n), "/cooperative/late")
	add(missing, words.LaterCount("%d ranch has sent nothing for %d", "%d ranches have sent nothing for %d", missing, missing, season), "/cooperative/uploads")
	n = waitingRequests(st.requests)
	add(n, words.LaterCount("%d planner asks to be introduced", "%d requests to be introduced wait", n), "/cooperative/introductions")
	n = count(st.invitations, func(i postgres.Invitation) bool { return i.State == "waiting" })
	add(n, words.LaterCount("%d new owner waits for your yes", "%d new owners wait for your yes", n), "/cooperative/members")
	n = openInvitations(st.invitations, now)
	add(n, words.LaterCount("%d invitation is not taken up yet", "%d invitations are not taken up yet", n), "/cooperative/members")
	n = len(ownerless(st))
	add(n, words.LaterCount("%d ranch has nobody who can sign in for it", "%d ranches have nobody who can sign in for them", n), "/cooperative/members")
	n = count(st.ranches, func(r postgres.Ranch) bool { return r.Area == "" })
	add(n, words.LaterCount("%d ranch is in no area", "%d ranches are in no area", n), "/cooperative/ranches")
	for _, year := range undated(st) {
		add(1, words.Later("The season %d has no dates", year), "/cooperative/bulletins")
	}

	if missing == 0 && len(st.ranches) > 0 {
		done = append(done, say.Say("Every ranch has sent its sheets for %d.", season))
	}
	if len(st.bulletins) > 0 {
		newest := slices.MaxFunc(st.bulletins, func(x, y postgres.BulletinHead) int { return cmp.Compare(x.Season, y.Season) })
		done = append(done, say.Say("The bulletin of %d came out on %s.", newest.Season, say.Day(newest.PublishedAt)))
	}
	return list, done
}

// lateRanches counts the ranches where nobody tapped that a planned line was set out or checked first. A last check is late by its day alone.
func lateRanches(lines []postgres.LateLine) int {
	late := map[access.ID]bool{}
	for _, l := range lines {
		if l.What != "last" {
			late[l.Ranch] = true
		}
	}
	return len(late)
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

// newestSeason is the season that is open; else the latest that has opened, or of which anybody sent a sheet by its year; else the next one, or
// this year. A sheet of a year to come makes no season.
func newestSeason(seasons []postgres.Season, status []postgres.Status, now time.Time) int {
	season, next := 0, postgres.Season{}
	for _, x := range seasons {
		opened := x.Opened || !x.Opens.After(now)
		switch {
		case opened && x.CutOff.After(now):
			return x.Year
		case opened:
			season = max(season, x.Year)
		case next.Year == 0 || x.CutOff.Before(next.CutOff):
			next = x
		}
	}
	for _, st := range status {
		if st.Counts && st.Season <= now.Year() {
			season = max(season, st.Season)
		}
	}
	return cmp.Or(season, next.Year, now.Year())
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

// undated lists the seasons that have sheets and neither dates nor a bulletin, newest first.
func undated(st cooperativeState) []int {
	var years []int
	for _, status := range st.status {
		known := slices.ContainsFunc(st.bulletins, func(b postgres.BulletinHead) bool { return b.Season == status.Season }) ||
			slices.ContainsFunc(st.seasons, func(x postgres.Season) bool { return x.Year == status.Season })
		if status.Counts && status.Season != 0 && !known && !slices.Contains(years, status.Season) {
			years = append(years, status.Season)
		}
	}
	slices.Sort(years)
	slices.Reverse(years)
	return years
}
