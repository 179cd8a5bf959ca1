package pages

import (
	"errors"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// cooperativeRanchesPage is the roster: which ranch belongs to whom and lies where. Ranches with the same owner count
// as one landowner in the bulletins.
type cooperativeRanchesPage struct {
	base
	Owners []ownerRanches
	Form   ranchForm
}

// ownerRanches is one landowner with the ranches that count together.
type ownerRanches struct {
	Owner   string
	Ranches []postgres.Ranch
}

// cooperativeRanchPage changes one ranch of the roster, and who can open it.
type cooperativeRanchPage struct {
	base
	Form    ranchForm
	People  []rosterPerson // who can open it, or could with its owner's yes
	Others  []rosterPerson // landowners and hands who cannot
	Owned   bool           // an owner has an account
	Problem string         // with the form for another
	NoPaper string         // why no yes on paper is written down
	Asked   bool           // for an owner to be taken off, just now
}

type rosterPerson struct {
	ID         access.ID
	Name, Part string
	Waits      bool // for the yes of the ranch's owner
	Owner      bool // who is not taken off at once
}

// ranchForm is the form for a ranch, new or not, with what was typed.
type ranchForm struct {
	ID                access.ID
	Name, Owner, Area string
	Owners            []string // to choose from
	Areas             []postgres.Area
	Problem           string
	CSRF              string
}

func (s *server) cooperativeRanches(c *fiber.Ctx, a access.Actor) error {
	ranches, areas, err := s.roster(c, a)
	if err != nil {
		return err
	}
	return s.showRanches(c, a, fiber.StatusOK, ranches, ranchForm{Areas: areas})
}

func (s *server) roster(c *fiber.Ctx, a access.Actor) (ranches []postgres.Ranch, areas []postgres.Area, err error) {
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if ranches, err = tx.AllRanches(); err != nil {
			return err
		}
		areas, err = tx.Areas()
		return err
	})
	return ranches, areas, err
}

func (s *server) showRanches(c *fiber.Ctx, a access.Actor, status int, ranches []postgres.Ranch, form ranchForm) error {
	page := cooperativeRanchesPage{Owners: byOwner(ranches), Form: form}
	landowners := 0
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		landowners, err = tx.LandownersOnRecord()
		return err
	})
	if err != nil {
		return err
	}
	page.base = s.base(c, a, rosterTitle(s.speaker(c), len(ranches), landowners))
	page.Form.Owners, page.Form.CSRF = owners(ranches), page.CSRF
	return s.render(c, status, "cooperative_ranches", page)
}

func rosterTitle(say words.Speaker, ranches, owners int) string {
	return say.Say("%s of %s", say.Count("%d ranch", "%d ranches", ranches), say.Count("%d landowner", "%d landowners", owners))
}

func byOwner(ranches []postgres.Ranch) []ownerRanches {
	of := map[string][]postgres.Ranch{}
	for _, r := range ranches {
		of[r.Owner] = append(of[r.Owner], r)
	}
	var list []ownerRanches
	for _, owner := range owners(ranches) {
		list = append(list, ownerRanches{owner, of[owner]})
	}
	return list
}

func owners(ranches []postgres.Ranch) []string {
	var list []string
	for _, r := range ranches {
		if !slices.Contains(list, r.Owner) {
			list = append(list, r.Owner)
		}
	}
	slices.Sort(list)
	return list
}

func (s *server) cooperativeRanch(c *fiber.Ctx, a access.Actor) error {
	id := access.ID(c.Params("id"))
	ranches, areas, err := s.roster(c, a)
	if err != nil {
		return err
	}
	form, ok := formOf(ranches, areas, id)
	if !ok {
		return errNothing
	}
	return s.showRanch(c, a, fiber.StatusOK, cooperativeRanchPage{Form: form, Asked: c.Query("asked") != ""})
}

// formOf is the form of a ranch on the roster as it stands.
func formOf(ranches []postgres.Ranch, areas []postgres.Area, id access.ID) (ranchForm, bool) {
	i := slices.IndexFunc(ranches, func(r postgres.Ranch) bool { return r.ID == id })
	if i < 0 {
		return ranchForm{}, false
	}
	r := ranches[i]
	return ranchForm{ID: id, Name: r.Name, Owner: r.Owner, Area: r.Area, Owners: owners(ranches), Areas: areas}, true
}

func (s *server) showRanch(c *fiber.Ctx, a access.Actor, status int, page cooperativeRanchPage) error {
	var ranch string
	var members []postgres.Member
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if ranch, err = ranchName(tx, page.Form.ID); err != nil {
			return err
		}
		members, err = tx.Members()
		return err
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	for _, m := range members {
		p := rosterPerson{ID: m.ID, Name: m.Name, Part: say.Say(roleWords[m.Role]), Waits: slices.Contains(m.Waiting, ranch)}
		switch {
		case m.Left || m.Role != access.Landowner && m.Role != access.Hand:
		case p.Waits || slices.Contains(m.Ranches, ranch):
			p.Owner = m.Role == access.Landowner && !p.Waits
			page.People = append(page.People, p)
			page.Owned = page.Owned || m.Role == access.Landowner && !p.Waits
		default:
			page.Others = append(page.Others, p)
		}
	}
	page.base = s.base(c, a, say.Say("Change %s", page.Form.Name))
	page.Form.CSRF = page.CSRF
	return s.render(c, status, "cooperative_ranch", page)
}

// ranchName returns the name a ranch has on the roster.
func ranchName(tx *postgres.Tx, id access.ID) (string, error) {
	ranches, err := tx.AllRanches()
	if err != nil {
		return "", err
	}
	for _, r := range ranches {
		if r.ID == id {
			return r.Name, nil
		}
	}
	return "", errNothing
}

// assignRanch lets a landowner or hand who is here already open the ranch, with the yes of whoever owns it.
func (s *server) assignRanch(c *fiber.Ctx, a access.Actor) error {
	id, person := access.ID(c.Params("id")), access.ID(c.FormValue("person"))
	if person == "" {
		ranches, areas, err := s.roster(c, a)
		if err != nil {
			return err
		}
		form, ok := formOf(ranches, areas, id)
		if !ok {
			return errNothing
		}
		return s.showRanch(c, a, fiber.StatusUnprocessableEntity, cooperativeRanchPage{Form: form, Problem: s.speaker(c).Say("Choose who it is, then press the button again.")})
	}
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if _, err := ranchName(tx, id); err != nil {
			return err
		}
		return tx.Assign(person, id)
	})
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/ranches/"+string(id))
}

// unassignRanch takes the ranch away from somebody again, at once; where they own it, it asks for that.
func (s *server) unassignRanch(c *fiber.Ctx, a access.Actor) error {
	id, person := access.ID(c.Params("id")), access.ID(c.Params("person"))
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error { _, err := ranchName(tx, id); return err })
	if err != nil {
		return err
	}
	asked, err := s.takeOff(c, a, person, id)
	if message, ok := s.said(c, err); ok && errors.Is(err, errs.Conflict) {
		ranches, areas, err := s.roster(c, a)
		if err != nil {
			return err
		}
		form, _ := formOf(ranches, areas, id)
		return s.showRanch(c, a, fiber.StatusUnprocessableEntity, cooperativeRanchPage{Form: form, Problem: message})
	}
	if err != nil {
		return err
	}
	if asked {
		return s.see(c, "/cooperative/ranches/"+string(id)+"?asked=1")
	}
	return s.see(c, "/cooperative/ranches/"+string(id))
}

// saveRanch adds a ranch to the roster, or with an id in the path changes one. An owner's name that is in use already
// makes both ranches one landowner's.
func (s *server) saveRanch(c *fiber.Ctx, a access.Actor) error {
	form := ranchForm{
		ID:    access.ID(c.Params("id")),
		Name:  strings.TrimSpace(c.FormValue("name")),
		Owner: strings.TrimSpace(c.FormValue("owner")),
		Area:  strings.TrimSpace(c.FormValue("area")),
	}
	ranches, areas, err := s.roster(c, a)
	if err != nil {
		return err
	}
	form.Owners, form.Areas = owners(ranches), areas
	r := postgres.Ranch{}
	if form.ID != "" {
		i := slices.IndexFunc(ranches, func(r postgres.Ranch) bool { return r.ID == form.ID })
		if i < 0 {
			return errNothing
		}
		r = ranches[i]
	}

	r.Name, r.Owner, r.Area = form.Name, form.Owner, form.Area
	if r.Owner == "" {
		r.Owner = r.Name
	}
	err = errs.New(errs.Invalid, words.Mark("Give the ranch a name, then save it again."))
	if r.Name != "" {
		err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
			_, err := tx.SaveRanch(r)
			return err
		})
	}
	if message, ok := s.said(c, err); ok && (errors.Is(err, errs.Invalid) || errors.Is(err, errs.Conflict)) {
		form.Problem = message
		if form.ID == "" {
			return s.showRanches(c, a, fiber.StatusUnprocessableEntity, ranches, form)
		}
		return s.showRanch(c, a, fiber.StatusUnprocessableEntity, cooperativeRanchPage{Form: form})
	}
	if err != nil {
		return err
	}
	return s.see(c, "/cooperative/ranches")
}
