package pages

import (
	"fmt"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// How fast one member may take files and one token may ask: far more than anybody's work needs, and too little to copy
// a cooperative out by a program unnoticed. Counted in the database, for all servers together. (OWASP ASVS 5.0, 2.4.1)
var (
	takesPace = postgres.Pace{Most: 60, Every: 2 * time.Second}
	asksPace  = postgres.Pace{Most: 300, Every: time.Second / 5}
)

// slowly answers errs.TooMany, and when to come again, where name has used up what it may have at once. The name may be a
// secret: a hash of it is kept. Without a pace (in tests) there is no end.
func (s *server) slowly(c *fiber.Ctx, p postgres.Pace, name string) error {
	if p.Most == 0 {
		return nil
	}
	wait, err := s.DB.ThrottleTake(c.UserContext(), name, p, s.Now())
	if err != nil || wait == 0 {
		return err
	}
	seconds := int(wait/time.Second) + 1
	c.Set(fiber.HeaderRetryAfter, fmt.Sprint(seconds))
	return errs.Tell(errs.TooMany, words.LaterCount("That was a lot at once. Nothing is wrong with it: wait %d second and go on.", "That was a lot at once. Nothing is wrong with it: wait %d seconds and go on.", seconds), nil)
}

// handsOut tells whether a path is that of a file to keep: the last part has an ending, or stands for one.
func handsOut(path string) bool {
	last := path[strings.LastIndexByte(path, '/')+1:]
	return strings.Contains(last, ".") || last == ":file" || last == "file"
}

// keepsPace holds back who takes files faster than anybody could look at them.
func (s *server) keepsPace(c *fiber.Ctx, r route, a access.Actor) error {
	if r.method != fiber.MethodGet || !handsOut(r.path) {
		return nil
	}
	who := string(a.Coop + a.Person)
	if strings.Contains(r.path, ":token") {
		who = c.Params("token") // whoever has the link, however its address is spelled
	}
	if who == "" {
		return nil // the same for everybody, and nobody's
	}
	return s.slowly(c, s.takes, "files of "+who)
}
