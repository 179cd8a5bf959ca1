package pages

import (
	"errors"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// tokensPage lists a member's tokens and makes one.
type tokensPage struct {
	base
	Tokens  []tokenRow
	Lasts   []tokenLast
	Secret  string // of the token just made: shown this once
	Example string // what a program would ask first
	Problem string
	Name    string // what was typed
	Days    int
	Reads   string // what a token of this member can read
}

type tokenRow struct {
	ID                  access.ID
	Name                string
	Made, Used, Expires string
}

type tokenLast struct {
	Days  int
	Label string
}

var tokenLasts = []tokenLast{{30, words.Mark("A month")}, {90, words.Mark("Three months")}, {postgres.TokenDays, words.Mark("A year")}}

// tokenPrefix tells a token from any other secret, for people and for programs that look for secrets in the wrong places.
const tokenPrefix = "tussock_"

func (s *server) tokens(c *fiber.Ctx, a access.Actor) error {
	return s.showTokens(c, a, fiber.StatusOK, tokensPage{Days: 90})
}

func (s *server) showTokens(c *fiber.Ctx, a access.Actor, status int, page tokensPage) error {
	var list []postgres.Token
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		list, err = tx.Tokens()
		return err
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	for _, t := range list {
		page.Tokens = append(page.Tokens, tokenRow{t.ID, t.Name, say.Day(t.MadeAt), dayOr(say, t.UsedAt, say.Say("never yet")), say.Day(t.ExpiresAt)})
	}
	page.base = s.base(c, a, say.Say("Tokens for your own programs"))
	page.Lasts, page.Example = tokenLasts, s.URL+"/api/v1/bulletins"
	page.Reads = say.Say("the bulletins, as you see them")
	if a.Role.Has(access.TakeRanch) {
		page.Reads = say.Say("the bulletins, as you see them, and the results of your own ranches")
	}
	return s.render(c, status, "tokens", page)
}

// makeToken makes a token and shows its secret. Only a hash is kept, so it cannot be shown again.
func (s *server) makeToken(c *fiber.Ctx, a access.Actor) error {
	days, _ := strconv.Atoi(c.FormValue("days")) // anything else is refused below
	page := tokensPage{Name: c.FormValue("name"), Days: days}
	var secret string
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		secret, err = tx.MakeToken(page.Name, days)
		return err
	})
	if message, ok := errs.MessageIn(s.speaker(c), err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		page.Problem = message
		return s.showTokens(c, a, fiber.StatusUnprocessableEntity, page)
	}
	if err != nil {
		return err
	}
	return s.showTokens(c, a, fiber.StatusOK, tokensPage{Secret: tokenPrefix + secret, Days: 90})
}

func (s *server) revokeToken(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	if err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { return tx.RevokeToken(id) }); err != nil {
		return err
	}
	return s.see(c, "/tokens")
}
