package pages

import (
	"context"
	_ "embed"
	"net/http"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/export"
	"tussock/internal/findings"
	"tussock/internal/postgres"
	"tussock/internal/stat/predator"
)

// The interface for programs reads and never changes. Who asks is told by a token in the Authorization header and by
// nothing else: no cookie counts, so no page of another site can make a member's browser ask. Behind it stand the
// same policies as behind the pages.

const apiRoot = "/api/v1"

//go:embed openapi.json
var openAPI []byte

// apiRoutes is the whole table of the interface; openapi.json describes each.
func (s *server) apiRoutes() []route {
	return []route{
		get(apiRoot+"/openapi.json", access.Anyone, s.apiDescription),
		get(apiRoot+"/bulletins", access.TakeFiles, s.apiBulletins),
		get(apiRoot+"/bulletins/:season", access.TakeFiles, s.apiBulletin),
		get(apiRoot+"/bulletins/:season/cells", access.TakeFiles, s.apiCells),
		get(apiRoot+"/ranches", access.TakeRanch, s.apiRanches),
		get(apiRoot+"/ranches/:id/seasons/:season/findings", access.TakeRanch, s.apiFindings),
	}
}

func isAPI(c *fiber.Ctx) bool { return strings.HasPrefix(c.Path(), "/api/") }

// enterAPI makes a route's handler: the deadline, whose token it is, and whether they may.
func (s *server) enterAPI(r route) fiber.Handler {
	return func(c *fiber.Ctx) error {
		ctx, cancel := context.WithTimeout(context.Background(), pageDeadline)
		defer cancel()
		c.SetUserContext(ctx)
		c.Locals(localRoute, r.path)
		if r.right == access.Anyone {
			return r.handle(c, access.Actor{})
		}
		secret, ok := bearer(c)
		if !ok {
			return errs.New(errs.Unauthenticated, "Send a token in the header “Authorization: Bearer …”. Make one on the page “Tokens”.")
		}
		if err := s.slowly(c, s.asks, "asks by "+secret); err != nil {
			return err
		}
		a, err := s.DB.Bearer(ctx, secret, access.ID(c.Params("id")))
		if err != nil {
			return err
		}
		c.Locals(localActor, a)
		if !a.Role.Has(r.right) {
			return errs.New(errs.Forbidden, "Your part in the cooperative does not include this.")
		}
		return r.handle(c, a)
	}
}

// bearer returns the secret of the token in the Authorization header (RFC 6750, section 2.1).
func bearer(c *fiber.Ctx) (string, bool) {
	scheme, token, ok := strings.Cut(c.Get(fiber.HeaderAuthorization), " ")
	if !ok || !strings.EqualFold(scheme, "Bearer") {
		return "", false
	}
	return strings.CutPrefix(strings.TrimSpace(token), tokenPrefix)
}

// A problem is an error's answer to a program (RFC 9457).
type problem struct {
	Type      string `json:"type"`
	Title     string `json:"title"`
	Status    int    `json:"status"`
	Detail    string `json:"detail"`
	Reference string `json:"reference,omitempty"` // for the log, where the fault is ours
}

// sendProblem answers with a problem. As on the pages, what is not the asker's does not exist, in the same words.
func (s *server) sendProblem(c *fiber.Ctx, status int, id string, err error) error {
	p := problem{Type: "about:blank", Title: http.StatusText(status), Status: status}
	_, p.Detail = apology(status)
	if message, ok := errs.Message(err); ok && status < 500 && status != fiber.StatusNotFound {
		p.Detail = message
	}
	if status >= 500 {
		p.Reference = id
	}
	if status == fiber.StatusUnauthorized {
		challenge := `Bearer realm="tussock"`
		if c.Get(fiber.HeaderAuthorization) != "" {
			challenge += `, error="invalid_token"` // RFC 6750, section 3.1
		}
		c.Set(fiber.HeaderWWWAuthenticate, challenge)
	}
	return c.Status(status).JSON(p, "application/problem+json")
}

func (s *server) apiDescription(c *fiber.Ctx, _ access.Actor) error {
	c.Set(fiber.HeaderContentType, "application/json")
	return c.Send(openAPI)
}

// stated is what stands in every answer with figures.
type stated struct {
	Limits  string `json:"limits"`
	Rights  string `json:"rights"`
	Version string `json:"tussock_version"`
}

type apiHead struct {
	Season    int    `json:"season"`
	Number    int    `json:"number"`
	Published string `json:"published"`
	SHA256    string `json:"sha256"`
	Key       apiKey `json:"remains_key"`
}

// An apiKey is the key to remains with which a bulletin was made.
type apiKey struct {
	Version int    `json:"version"`
	Source  string `json:"source"`
	Assumed bool   `json:"assumed"`
}

func headOf(b export.Bulletin) apiHead {
	return apiHead{b.Season, b.Number, b.PublishedAt.UTC().Format("2006-01-02"), b.Hash, apiKey{b.Key.Version, b.Key.Source, !b.Key.Counted}}
}

func (s *server) apiBulletins(c *fiber.Ctx, a access.Actor) error {
	answer := struct {
		Bulletins []apiHead `json:"bulletins"`
	}{[]apiHead{}}
	err := s.DB.Reading(c.UserContext(), a, func(tx *postgres.Tx) error {
		heads, err := tx.Bulletins()
		for _, h := range heads {
			answer.Bulletins = append(answer.Bulletins, headOf(export.Bulletin{Season: h.Season, Number: h.Number, PublishedAt: h.PublishedAt, Hash: h.Hash, Key: h.Key}))
		}
		return err
	})
	if err != nil {
		return err
	}
	return c.JSON(answer)
}

// asked loads the bulletin that a path names.
func (s *server) asked(c *fiber.Ctx, a access.Actor) (b export.Bulletin, err error) {
	season := c.Params("season")
	err = s.DB.Reading(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		b, err = s.bulletinOf(tx, season)
		return err
	})
	return b, err
}

func (s *server) stated(b interface{ Rights() string }) stated {
	return stated{findings.ShortLimit + " " + strings.Join(findings.Limits(), " "), b.Rights(), s.Version}
}

func (s *server) apiBulletin(c *fiber.Ctx, a access.Actor) error {
	b, err := s.asked(c, a)
	if err != nil {
		return err
	}
	type place struct {
		Area  string `json:"area"`
		Label string `json:"label"` // "" where the area's figures are in those of the whole cooperative only
	}
	answer := struct {
		apiHead
		stated
		Places []place `json:"places"`
	}{headOf(b), s.stated(b), []place{}}
	for _, p := range b.Places {
		answer.Places = append(answer.Places, place{p.Area, p.Label})
	}
	return c.JSON(answer)
}

// An apiCell is a published cell without what is no reader's: whether and why another was held.
type apiCell struct {
	Season    int      `json:"season"`
	Area      *string  `json:"area"`
	Substrate *string  `json:"substrate"`
	Measure   string   `json:"measure"`
	Predator  *string  `json:"predator"`
	Clumps    *float64 `json:"clumps"`
	Estimate  *float64 `json:"estimate"`
	Low       *float64 `json:"low"`
	High      *float64 `json:"high"`
	Entities  string   `json:"entities"`
	bulletin.Basis
}

func apiCellOf(c bulletin.Cell) apiCell {
	c = c.Open()
	cell := apiCell{Season: c.Season, Area: c.Area, Substrate: c.Substrate, Measure: c.Measure, Clumps: c.Clumps, Estimate: c.Estimate, Low: c.Low, High: c.High, Entities: c.Entities, Basis: c.Basis}
	if c.Predator != "" {
		cell.Predator = &c.Predator
	}
	return cell
}

func (s *server) apiCells(c *fiber.Ctx, a access.Actor) error {
	b, err := s.asked(c, a)
	if err != nil {
		return err
	}
	answer := struct {
		apiHead
		stated
		Cells []apiCell `json:"cells"`
	}{headOf(b), s.stated(b), []apiCell{}}
	for _, cell := range b.Cells {
		answer.Cells = append(answer.Cells, apiCellOf(cell))
	}
	return c.JSON(answer)
}

type apiRanch struct {
	ID      access.ID `json:"id"`
	Name    string    `json:"name"`
	Area    string    `json:"area"`
	Seasons []int     `json:"seasons"`
}

func (s *server) apiRanches(c *fiber.Ctx, a access.Actor) error {
	answer := struct {
		Ranches []apiRanch `json:"ranches"`
	}{[]apiRanch{}}
	err := s.DB.Reading(c.UserContext(), a, func(tx *postgres.Tx) error {
		list, err := tx.Ranches()
		if err != nil {
			return err
		}
		for _, r := range list {
			seasons, err := tx.Seasons(r.ID)
			if err != nil {
				return err
			}
			answer.Ranches = append(answer.Ranches, apiRanch{r.ID, r.Name, r.Area, append([]int{}, seasons...)})
		}
		return nil
	})
	if err != nil {
		return err
	}
	return c.JSON(answer)
}

// apiFindings gives a ranch's results of one season, as the page My ranch has them: beside what is published, where its owner reads it so.
func (s *server) apiFindings(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	season, err := strconv.Atoi(c.Params("season"))
	if err != nil || !a.CanRanch(access.TakeRanch, id) {
		return errs.New(errs.NotFound, "No such ranch or season.")
	}
	var r export.Ranch
	var found *findings.Result
	var cells []bulletin.Cell
	var tables func(season int) predator.Table
	err = s.DB.Reading(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if r, err = s.ownName(tx, id); err != nil {
			return err
		}
		if tables, err = tx.SeasonTables(); err != nil {
			return err
		}
		if found, err = tx.Findings(id); err != nil {
			return err
		}
		marks := map[int]findings.Marks{}
		for _, season := range seasonsOf(found) {
			if marks[season], err = tx.Marks(season); err != nil {
				return err
			}
		}
		if found = found.Against(func(season int) findings.Marks { return marks[season] }); !a.CanRanch(access.CompareRanch, id) {
			return nil
		}
		heads, err := tx.Bulletins()
		if err != nil {
			return err
		}
		if cells, err = tx.Cells(0); err != nil {
			return err
		}
		published := publishedFor(heads, cells)
		found = found.Under(published.DesignEffect)
		if best, ok := published.Steadied(found, r.Name, season); ok {
			row, _ := found.SurvivalOf(r.Name, season)
			row.Steadied = &best.Survival
		}
		return nil
	})
	if err != nil {
		return err
	}
	answer := struct {
		Ranch  string `json:"ranch"`
		Season int    `json:"season"`
		stated
		findings.Result
	}{r.Name, season, s.stated(r), ofSeason(found, season)}
	if len(answer.Survival)+len(answer.Density) == 0 {
		return errs.New(errs.NotFound, "No such ranch or season.")
	}
	for i := range answer.Predators {
		found.MixOf(&answer.Predators[i], startingMix(cells, season), tables(season))
	}
	return c.JSON(answer)
}

// ofSeason keeps the rows of one season.
func ofSeason(all *findings.Result, season int) findings.Result {
	r := findings.Result{Survival: []findings.Survival{}, Density: []findings.Density{}, Predators: []findings.Predators{}, Comparisons: []findings.Comparison{}, Fit: []findings.Fit{}}
	for _, row := range all.Comparisons {
		if row.Season == season {
			r.Comparisons = append(r.Comparisons, row)
		}
	}
	for _, row := range all.Fit {
		if row.Season == season {
			r.Fit = append(r.Fit, row)
		}
	}
	for _, row := range all.Survival {
		if row.Season == season {
			r.Survival = append(r.Survival, row)
		}
	}
	for _, row := range all.Density {
		if row.Season == season {
			r.Density = append(r.Density, row)
		}
	}
	for _, row := range all.Predators {
		if row.Season == season {
			r.Predators = append(r.Predators, row)
		}
	}
	return r
}
