package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// promise is what every landowner is promised, and what cannot be, on one sheet of paper. In short, of a ranch's results learns
//
//   - another member, or up to three who tell each other all they know: from all figures of a season together less than half of what
//     one yes-or-no answer tells about how the nests lasted, for most owners far less. Two bulletins side by side tell next to nothing
//     about the results of a landowner who came, left, moved or mended a sheet between them: within chance in two hundred such cases.
//   - a coordinator: that sheets are in, which ranches take part, which days of a plan are over by line and day, the same whatever was
//     found, and the bulletin some days early. No result, no question about a sheet, no trial run, no reason why a figure is missing.
//     With an owner's yes they send sheets of closed seasons for the owner, which count nowhere until the owner accepts them.
//   - two coordinators together: the same.
//   - nearly all other owners of a figure together: about what is left. No rule prevents that.
//   - who runs the server: everything on it, and what anybody types there. The rules bind the program.
//   - who has the database or a backup: all results in it, but no password and nothing that signs in as somebody; they can try out
//     guesses of a password. Who can change the database is bound by none of these rules.
//
// In a cooperative's first season, where all owners are new, nothing but the owners' own look at the list keeps made-up ones out, and
// a coordinator who makes up most of it can work out the others; after it they count only where a real owner vouches for them too, and
// as no more than a third of those behind a figure. Vouching is for a person who signs in, not for a name; a ranch put under the name
// of a member waits for that member, vouched for or not, who takes the name off with one button; so does anybody who has a member's
// name and would be the first owner of a ranch. Somebody whom a coordinator places on a ranch before its owner comes reads nothing
// until that owner says yes.
//
// A coordinator takes an owner off a ranch only after 14 days that the owner reads of and ends by a no. They can suspend a member at
// once, once in any 90 days, for 14 of them at most and for all to read (planners and biologists without the name), and sign nobody out
// otherwise; meanwhile the member can say neither yes nor no, another owner of the ranch can, nothing asked for the ranch is carried
// out, and the list says of it what it said. A hand's place on a ranch with an owner is the owner's to end; whom a coordinator removes
// from the cooperative is a line for all. Whom they put on a ranch says yes to it first, and a new owner who takes a ranch over joins
// with a coordinator's yes; their no is read by all, the giver above all. The only coordinator of a season lets its bulletin out or
// takes a figure back alone; somebody who became one after the cut-off has no say until they have been one for 30 days.
//
// Two of those who were coordinators at the cut-off, or for 30 days, can let a bulletin out or keep it back, take a figure back for
// good, keep a member out for as long as they like, and remove a third coordinator; one alone removes another after 14 days that the
// other ends by a no. They hold a bulletin back by a no, and set its day 120 days after the cut-off at most.
func (s *server) promise(c *fiber.Ctx, a access.Actor) error {
	page := s.base(c, a, "")
	page.Title, page.Sheet = page.Say.Say("What we promise"), true
	return s.render(c, fiber.StatusOK, "promise", page)
}
