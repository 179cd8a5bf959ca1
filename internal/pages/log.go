package pages

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// localRoute is where a request keeps the pattern of the path it came by.
const localRoute = "route"

// The kinds of what is refused, as the log counts them, each with its words for the coordinator.
const (
	deniedPage       = "page"
	deniedForm       = "form"
	deniedToken      = "token"
	deniedInvitation = "invitation"
	deniedLink       = "link"
	deniedProof      = "proof"
	deniedPassword   = "password"
	deniedCode       = "code"
)

var deniedWords = map[string]string{
	deniedPage:       words.Mark("A page that their part does not include"),
	deniedForm:       words.Mark("A form from another site, or made for another sign-in"),
	deniedToken:      words.Mark("A program’s token that is not good, or not any more"),
	deniedInvitation: words.Mark("An invitation that was used, taken back or has run out"),
	deniedLink:       words.Mark("A link from a letter that is not good, or not any more"),
	deniedProof:      words.Mark("A wrong password, code or passkey where we asked “is it still you?”"),
	deniedPassword:   words.Mark("A wrong password, for an address of a member"),
	deniedCode:       words.Mark("A wrong one-time code"),
	"ranch":          words.Mark("A ranch that is not theirs, or is not there"),
	"uploads":        words.Mark("A sheet that is not theirs, or is not there"),
	"files":          words.Mark("A file that is not theirs, or is not there"),
	"who":            words.Mark("Somebody else’s consent or sharing, or one that is not there"),
	"cooperative":    words.Mark("A member, ranch, area or order that is not there"),
	"account":        words.Mark("A device, passkey or link that is not theirs, or is not there"),
	"tokens":         words.Mark("A token that is not theirs, or is not there"),
}

// deny counts what was refused. A page does not wait for more than a moment, and never fails by it.
func (s *server) deny(c *fiber.Ctx, d postgres.Denied) {
	if s.DB == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Second) // the request's own may be over
	defer cancel()
	if err := s.DB.NoteDenied(ctx, d); err != nil {
		id, _ := c.Locals(localID).(string)
		s.Log.Error("what was refused could not be counted", "id", id, "error", err)
	}
}

// denyFailed counts a request that ended with an error, where it was one for something that is not the asker's.
func (s *server) denyFailed(c *fiber.Ctx, status int, err error) {
	a, _ := c.Locals(localActor).(access.Actor)
	d := postgres.Denied{Actor: a}
	route, _ := c.Locals(localRoute).(string)
	switch {
	case errors.Is(err, errElsewhere) || errors.Is(err, errStaleForm):
		d.Kind = deniedForm
	case isAPI(c) && status == fiber.StatusUnauthorized:
		secret, ok := bearer(c)
		if !ok {
			return // sent none
		}
		d.Kind, d.Link = deniedToken, secret
	case a.Role == "":
		return
	case status == fiber.StatusForbidden:
		d.Kind = deniedPage
	case status == fiber.StatusNotFound && strings.Contains(route, ":"):
		d.Kind, _, _ = strings.Cut(strings.TrimPrefix(strings.TrimPrefix(route, apiRoot), "/"), "/")
		d.Kind = strings.TrimSuffix(d.Kind, "es") // the interface says /ranches
		if strings.HasPrefix(route, "/files") {
			d.Kind = "files"
		}
		if _, known := deniedWords[d.Kind]; !known {
			return // the season of a bulletin, say, which is nobody's
		}
	default:
		return
	}
	s.deny(c, d)
}

// denyProof counts a wrong password, code or passkey.
func (s *server) denyProof(c *fiber.Ctx, a access.Actor, err error) {
	if errors.Is(err, errs.Invalid) || errors.Is(err, errs.Unauthenticated) {
		s.deny(c, postgres.Denied{Kind: deniedProof, Actor: a})
	}
}

// did says in words what a note of the log tells. The file's name stands beside it.
var did = map[string]string{
	postgres.LookPage:      words.Mark("opened the ranch’s page"),
	postgres.LookSent:      words.Mark("opened what was sent"),
	postgres.LookNamed:     words.Mark("read the results under the ranch’s name"),
	postgres.TookFile:      words.Mark("took a file"),
	postgres.TookSheet:     words.Mark("took a sheet as it was sent"),
	postgres.TookProgram:   words.Mark("read with a program"),
	postgres.TookBulletin:  words.Mark("took a bulletin’s figures"),
	postgres.TookPhone:     words.Mark("took the lines onto a phone"),
	postgres.LookKeyed:     words.Mark("opened a line’s sheet"),
	postgres.UndidSheet:    words.Mark("took a sheet back"),
	postgres.LetSheet:      words.Mark("let a sheet count again"),
	postgres.SentSheet:     words.Mark("sent a sheet"),
	postgres.GaveShare:     words.Mark("shared the ranch by name with a biologist"),
	postgres.EndedShare:    words.Mark("ended a sharing by name"),
	postgres.GaveSending:   words.Mark("let the coordinator send old sheets"),
	postgres.EndedSending:  words.Mark("no longer lets the coordinator send old sheets"),
	postgres.AskedErase:    words.Mark("asked for the ranch to be deleted"),
	postgres.EndedErase:    words.Mark("called off that the ranch is deleted"),
	postgres.AskedSell:     words.Mark("asked for the ranch to be handed over"),
	postgres.EndedSell:     words.Mark("called off that the ranch is handed over"),
	postgres.ReadSheet:     words.Mark("changed how a sheet is read"),
	postgres.ChoseLook:     words.Mark("said which of contradicting looks holds, on a line and at a stop"),
	postgres.SaidYes:       words.Mark("said yes to the comparisons"),
	postgres.SaidNo:        words.Mark("said no to the comparisons"),
	postgres.CameOnto:      words.Mark("came onto the ranch as an owner"),
	postgres.EndedPlace:    words.Mark("ended somebody’s place on the ranch"),
	postgres.TookOver:      words.Mark("accepted a sheet"),
	postgres.MadeCalendar:  words.Mark("made a calendar address that says the ranch’s name"),
	postgres.EndedCalendar: words.Mark("ended a calendar address of a hand’s"),
}

// recentAlarm is how long an alarm stands on the first page of whom it concerns.
const recentAlarm = 7 * 24 * time.Hour

// recent keeps the alarms that are not old.
func recent(list []postgres.Alarm, now time.Time) []postgres.Alarm {
	var fresh []postgres.Alarm
	for _, a := range list {
		if now.Sub(a.At) < recentAlarm {
			fresh = append(fresh, a)
		}
	}
	return fresh
}
