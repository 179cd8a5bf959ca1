package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
)

// A handler answers one request of an actor who holds the route's right. For access.Anyone the actor may be nobody:
// the zero Actor.
type handler func(c *fiber.Ctx, a access.Actor) error

type route struct {
	method, path string
	right        access.Right
	body         int // the biggest body, in bytes
	handle       handler
}

func get(path string, right access.Right, h handler) route {
	return route{fiber.MethodGet, path, right, formBody, h}
}

func post(path string, right access.Right, h handler) route {
	return route{fiber.MethodPost, path, right, formBody, h}
}

// upload is a post whose body may be a season's sheets.
func upload(path string, right access.Right, h handler) route {
	return route{fiber.MethodPost, path, right, uploadBody, h}
}

// routes is the whole table of pages: what is not here does not exist.
func (s *server) routes() []route {
	return []route{
		get("/", access.Anyone, s.first),

		get("/sign-in", access.Anyone, s.signInForm),
		post("/sign-in", access.Anyone, s.signIn),
		post("/sign-out", access.SignedIn, s.signOut),
		get("/join/:token", access.Anyone, s.joinForm),
		post("/join/:token", access.Anyone, s.join),
		get("/about", access.Anyone, s.about),

		get("/ranch", access.ViewRanch, s.ranches),
		get("/ranch/:id", access.ViewRanch, s.ranch),
		get("/who", access.SignedIn, s.who),
	}
}

// mount puts the table on the application, each handler behind the checks that enter makes.
func (s *server) mount(app *fiber.App) {
	for _, r := range s.routes() {
		app.Add(r.method, r.path, s.enter(r))
	}
	app.Use(func(*fiber.Ctx) error { return fiber.ErrNotFound })
}

// firstPage is where each role's day begins.
var firstPage = map[access.Role]string{
	access.Coordinator: "/cooperative",
	access.Landowner:   "/ranch",
	access.Hand:        "/hand",
	access.Biologist:   "/region",
	access.Planner:     "/region",
}

// nav lists the links of a page's head; each member sees those they hold the right to.
var nav = []struct {
	label, path string
	right       access.Right
	roles       []access.Role // where not everybody with the right
}{
	{"My ranch", "/ranch", access.ViewRanch, []access.Role{access.Landowner}},
	{"My lines", "/hand", access.SendResults, []access.Role{access.Hand}},
	{"Cooperative", "/cooperative", access.RunCooperative, nil},
	{"Send results", "/send", access.SendResults, nil},
	{"Region", "/region", access.ViewBulletins, nil},
	{"Who can see", "/who", access.SignedIn, nil},
}

// first sends each member to the page their day begins with, and anybody else to the door.
func (s *server) first(c *fiber.Ctx, a access.Actor) error {
	if page, ok := firstPage[a.Role]; ok {
		return s.see(c, page)
	}
	return s.see(c, "/sign-in")
}
