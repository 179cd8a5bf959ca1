package pages

import (
	"errors"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// accountPage is a member's own: how they sign in, and where they are signed in.
type accountPage struct {
	base
	Email    string
	Part     string
	Changed  bool // the password, just now
	Problem  string
	Sessions []sessionRow
	Tokens   bool // the member may have some
	Feeds    []feedRow
	Letters  bool     // can be sent: a link instead of a forgotten password
	Codes    []string // that coordinators made to help the member in, of the last 30 days

	Remembered []rememberedRow // where no letters can be sent, they make no difference, and none are shown
}

type sessionRow struct {
	ID, Device, Since, Seen string
	This                    bool
}

func (s *server) account(c *fiber.Ctx, a access.Actor) error {
	return s.showAccount(c, a, fiber.StatusOK, accountPage{Changed: c.Query("changed") == "1"})
}

func (s *server) showAccount(c *fiber.Ctx, a access.Actor, status int, page accountPage) error {
	var me postgres.Member
	var sessions []postgres.Session
	var feeds []postgres.Feed
	var codes []postgres.HelpCode
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if me, err = tx.Me(); err != nil {
			return err
		}
		if sessions, err = tx.Sessions(); err != nil {
			return err
		}
		if codes, err = tx.HelpCodes(); err != nil {
			return err
		}
		feeds, err = tx.Feeds()
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, me.Name)
	for _, x := range codes {
		page.Codes = append(page.Codes, page.Say.Say("On %s the coordinator %s made a code that helps you sign in. With your password or a letter’s link it is good once, for a day. If you did not ask for it, call them.", page.Say.Day(x.At.UTC()), x.By))
	}
	page.Email, page.Part, page.Tokens = me.Email, page.Say.Say(capital(roleWords[me.Role])), a.Role.Has(access.TakeFiles)
	page.Letters = s.Account.HasMail()
	for _, o := range sessions {
		page.Sessions = append(page.Sessions, sessionRow{o.ID, device(page.Say, o.Agent), page.Say.Day(o.OpenedAt), page.Say.Day(o.SeenAt), o.This})
	}
	page.Feeds = feedRows(page.Say, feeds)
	if page.Letters {
		if page.Remembered, err = s.remembered(c, a); err != nil {
			return err
		}
	}
	return s.render(c, status, "account", page)
}

// changePassword asks for the present one: a device left open must not be enough to lock its owner out.
func (s *server) changePassword(c *fiber.Ctx, a access.Actor) error {
	err := s.Account.ChangePassword(c.UserContext(), a, c.FormValue("old"), c.FormValue("new"))
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Invalid) {
		return s.showAccount(c, a, fiber.StatusUnprocessableEntity, accountPage{Problem: message})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/account?changed=1")
}

// endSession signs one of the member's own devices out.
func (s *server) endSession(c *fiber.Ctx, a access.Actor) error {
	id := c.Params("id")
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.EndSession(id) }); err != nil {
		return err
	}
	return s.see(c, "/account")
}

func (s *server) signOutEverywhere(c *fiber.Ctx, a access.Actor) error {
	if err := s.Account.SignOutEverywhere(c.UserContext(), a); err != nil {
		return err
	}
	s.setCookie(c, s.cookieName(), "", longAgo)
	return s.see(c, "/sign-in")
}

// device says in words what a browser calls itself. The names are looked for in this order, since browsers also name
// those they descend from (RFC 9110, section 10.1.5, asks them not to; common practice, no source).
func device(say words.Speaker, agent string) string {
	browser := firstOf(agent, say.Say("a browser"), [][2]string{{"Edg", "Edge"}, {"OPR/", "Opera"}, {"Firefox/", "Firefox"}, {"FxiOS", "Firefox"},
		{"SamsungBrowser", "Samsung Internet"}, {"Chrome/", "Chrome"}, {"CriOS", "Chrome"}, {"Safari/", "Safari"}})
	system := firstOf(agent, say.Say("a device we do not know"), [][2]string{{"iPhone", say.Say("an iPhone")}, {"iPad", say.Say("an iPad")},
		{"Android", say.Say("an Android device")}, {"Windows", "Windows"}, {"CrOS", say.Say("a Chromebook")}, {"Macintosh", say.Say("a Mac")}, {"Linux", "Linux"}})
	return say.Say("%s on %s", capital(browser), system)
}

func firstOf(s, none string, words [][2]string) string {
	for _, w := range words {
		if strings.Contains(s, w[0]) {
			return w[1]
		}
	}
	return none
}
