package pages

import (
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"mime"
	"strings"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/export"
	"tussock/internal/postgres"
	"tussock/internal/words"
)

// filesPage lists what the reader may take, and what each file is good for.
type filesPage struct {
	base
	Ranches   []fileGroup
	Bulletins []fileGroup
	Own       bool // the reader may have ranches
}

// A fileGroup is the files of one ranch, or of one bulletin.
type fileGroup struct {
	ID, Name string
	Rows     string // how much is in them
	Files    []fileLink
}

type fileLink struct {
	Path, Name, Format, Size, Good string
	Private                        bool
}

// ranchFiles are the forms in which an owner takes a ranch's rows.
var ranchFiles = []struct {
	file, name, format, good string
	private                  bool
	make                     func(export.Ranch) ([]byte, error)
}{
	{"sheets.zip", words.Mark("Everything that was sent, as tables"), words.Mark("CSV, data package"), words.Mark("For a spreadsheet, for keeping, and for sending to Tussock again. The only file with your notes and the way back to each nest."), true, export.Ranch.Sheets},
	{"parquet.zip", words.Mark("The same tables for statistics programs"), words.Mark("Parquet"), words.Mark("For R, Python or a database: dates and numbers keep their kind. Without notes and ways."), false, export.Ranch.Parquet},
	{"darwin-core.zip", words.Mark("To hand on to a public archive"), words.Mark("Darwin Core, EML"), words.Mark("For a museum, a university or an open archive. It names no ranch, no owner and no place."), false, export.Ranch.DarwinCore},
}

// bulletinFiles are the forms in which a reader takes a bulletin.
var bulletinFiles = []struct {
	file, name, format, good string
	make                     func(export.Bulletin) ([]byte, error)
}{
	{"figures.zip", words.Mark("The figures as tables"), words.Mark("CSV, data package"), words.Mark("For a spreadsheet or a report: each column described in English and Spanish."), export.Bulletin.Sheets},
	{"parquet.zip", words.Mark("The figures for statistics programs"), words.Mark("Parquet"), words.Mark("For R, Python or a database."), export.Bulletin.Parquet},
	{"darwin-core.zip", words.Mark("The figures for an open archive"), words.Mark("Darwin Core, EML"), words.Mark("For a museum, a university or an open archive: each figure as a measurement of a season in a place. No egg is an occurrence."), export.Bulletin.DarwinCore},
}

func (s *server) files(c *fiber.Ctx, a access.Actor) error {
	var ranches []export.Ranch
	var bulletins []export.Bulletin
	var ids []access.ID
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		if a.Role.Has(access.TakeRanch) {
			list, err := tx.Ranches()
			if err != nil {
				return err
			}
			for _, r := range list {
				own, err := s.ownRows(tx, r.ID)
				if err != nil {
					return err
				}
				ranches, ids = append(ranches, own), append(ids, r.ID)
			}
		}
		heads, err := tx.Bulletins()
		if err != nil {
			return err
		}
		for _, h := range heads {
			b, err := s.published(tx, h)
			if err != nil {
				return err
			}
			bulletins = append(bulletins, b)
		}
		return nil
	})
	if err != nil {
		return err
	}
	say := s.speaker(c)
	page := filesPage{base: s.base(c, a, say.Say("Files to take with you")), Own: a.Role.Has(access.TakeRanch)}
	for i, r := range ranches {
		g, err := ranchGroup(say, ids[i], r)
		if err != nil {
			return err
		}
		page.Ranches = append(page.Ranches, g)
	}
	for _, b := range bulletins {
		g, err := bulletinGroup(say, b)
		if err != nil {
			return err
		}
		page.Bulletins = append(page.Bulletins, g)
	}
	return s.render(c, fiber.StatusOK, "files", page)
}

// ranchGroup makes the files of a ranch to say how big they are: a few kilobytes a season.
func ranchGroup(say words.Speaker, id access.ID, r export.Ranch) (fileGroup, error) {
	g := fileGroup{ID: string(id), Name: r.Name}
	if len(r.Data.Nests)+len(r.Data.Belts) == 0 {
		return g, nil
	}
	g.Rows = say.List([]string{say.Count("%d nest", "%d nests", len(r.Data.Nests)), say.Count("%d belt", "%d belts", len(r.Data.Belts))})
	for _, f := range ranchFiles {
		data, err := f.make(r)
		if err != nil {
			return g, err
		}
		g.Files = append(g.Files, fileLink{"/files/ranches/" + string(id) + "/" + f.file, say.Say(f.name), say.Say(f.format), kilobytes(len(data)), say.Say(f.good), f.private})
	}
	return g, nil
}

func bulletinGroup(say words.Speaker, b export.Bulletin) (fileGroup, error) {
	g := fileGroup{ID: fmt.Sprint(b.Season), Name: say.Say("Season %d, bulletin %d", b.Season, b.Number)}
	if len(b.Cells) == 0 {
		return g, nil
	}
	g.Rows = say.Count("%d figure", "%d figures", len(b.Cells))
	for _, f := range bulletinFiles {
		data, err := f.make(b)
		if err != nil {
			return g, err
		}
		g.Files = append(g.Files, fileLink{fmt.Sprintf("/files/bulletins/%d/%s", b.Season, f.file), say.Say(f.name), say.Say(f.format), kilobytes(len(data)), say.Say(f.good), false})
	}
	return g, nil
}

func kilobytes(n int) string { return fmt.Sprintf("%d kB", (n+999)/1000) }

// ranchFile gives the owner one of the ranch's files. Taking it is a look, as opening the page is.
func (s *server) ranchFile(c *fiber.Ctx, a access.Actor) error {
	id, name := access.ID(c.Params("id")), c.Params("file")
	if !a.CanRanch(access.TakeRanch, id) {
		return errs.New(errs.NotFound, "No such ranch.")
	}
	for _, f := range ranchFiles {
		if f.file != name {
			continue
		}
		var r export.Ranch
		err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
			if r, err = s.ownRows(tx, id); err != nil {
				return err
			}
			return tx.Took(id, postgres.TookFile, f.file)
		})
		if err != nil {
			return err
		}
		data, err := f.make(r)
		if err != nil {
			return err
		}
		return sendFile(c, handedName(r.Name, f.file), data)
	}
	return errs.New(errs.NotFound, "No such file.")
}

// handedName is what the file is called on the owner's desk; that of the Darwin Core archive, which is made to be handed
// on, names no ranch.
func handedName(ranch, file string) string {
	if file == "darwin-core.zip" {
		return "simulated-nests-" + file
	}
	return slug(ranch) + "-" + file
}

// slug is a name with nothing in it but small letters, digits and hyphens.
func slug(name string) string {
	plain := func(r rune) bool { return r < 'a' || r > 'z' }
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return plain(r) && (r < '0' || r > '9') })
	if len(words) == 0 {
		return "ranch"
	}
	return strings.Join(words, "-")
}

// ownRows loads all rows of a ranch.
func (s *server) ownRows(tx *postgres.Tx, id access.ID) (export.Ranch, error) {
	r, err := s.ownName(tx, id)
	if err != nil {
		return r, err
	}
	r.Data, err = tx.Survey([]access.ID{id}, 0)
	return r, err
}

// ownName says which ranch it is, and whose figures of what day.
func (s *server) ownName(tx *postgres.Tx, id access.ID) (export.Ranch, error) {
	r, err := tx.Ranch(id)
	if err != nil {
		return export.Ranch{}, err
	}
	about, err := s.exportAbout(tx)
	return export.Ranch{About: about, Name: r.Name, Key: string(r.ID)}, err
}

// published loads a bulletin as the reader has it.
func (s *server) published(tx *postgres.Tx, h postgres.BulletinHead) (export.Bulletin, error) {
	about, err := s.exportAbout(tx)
	if err != nil {
		return export.Bulletin{}, err
	}
	about.Made = h.PublishedAt // a bulletin never changes, so neither do its files
	b := export.Bulletin{About: about, Season: h.Season, Number: h.Number, PublishedAt: h.PublishedAt, Hash: h.Hash, Key: h.Key}
	if b.Cells, err = tx.Cells(h.Season); err != nil {
		return b, err
	}
	b.Places, err = tx.Places(h.Season)
	return b, err
}

func (s *server) exportAbout(tx *postgres.Tx) (export.About, error) {
	name, err := tx.CooperativeName()
	version := s.Version
	if version == "" {
		version = "(no version)"
	}
	return export.About{Version: version, Cooperative: name, Made: s.Now()}, err
}

func (s *server) bulletinFile(c *fiber.Ctx, a access.Actor) error {
	season, name := c.Params("season"), c.Params("file")
	for _, f := range bulletinFiles {
		if f.file != name {
			continue
		}
		var b export.Bulletin
		err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
			if b, err = s.bulletinOf(tx, season); err != nil {
				return err
			}
			return tx.TookFigures(fmt.Sprintf("%d %s", b.Season, f.file))
		})
		if err != nil {
			return err
		}
		data, err := f.make(b)
		if err != nil {
			return err
		}
		return sendFile(c, fmt.Sprintf("bulletin-%d-%s", b.Season, f.file), data)
	}
	return errs.New(errs.NotFound, "No such file.")
}

// bulletinOf loads the bulletin of a season as it stands in a path.
func (s *server) bulletinOf(tx *postgres.Tx, season string) (export.Bulletin, error) {
	heads, err := tx.Bulletins()
	if err != nil {
		return export.Bulletin{}, err
	}
	for _, h := range heads {
		if fmt.Sprint(h.Season) == season {
			return s.published(tx, h)
		}
	}
	return export.Bulletin{}, errs.New(errs.NotFound, "That season has no bulletin.")
}

// sendFile sends a file to keep, with its sum (RFC 9530) for those who check what came.
func sendFile(c *fiber.Ctx, name string, data []byte) error {
	sum := sha256.Sum256(data)
	c.Set("Repr-Digest", "sha-256=:"+base64.StdEncoding.EncodeToString(sum[:])+":")
	c.Set(fiber.HeaderContentType, "application/zip")
	c.Set(fiber.HeaderContentDisposition, mime.FormatMediaType("attachment", map[string]string{"filename": name}))
	return c.Send(data)
}
