package pages

import (
	"fmt"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/postgres"
	"tussock/internal/readback"
)

// uploadRowsPage shows all rows of a long sheet, a part at a time.
type uploadRowsPage struct {
	base
	Upload      postgres.Upload
	Table       tableView
	From, To    int // rows, as the sender's program numbers them
	Before      string
	After       string
	N, Of       int // of the parts of the table
	Said        []note
	First, Last string
}

func (s *server) uploadRows(c *fiber.Ctx, a access.Actor) error {
	id, say := access.ID(c.Params("id")), s.speaker(c)
	n, err := strconv.Atoi(c.Params("part"))
	if err != nil || n < 1 || n > 1_000_000 || strconv.Itoa(n) != c.Params("part") {
		n = 0 // there is none: but first comes whose the upload is
	}
	var d sheetData
	var body []byte
	err = s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) (err error) {
		if d, err = loadSheet(tx, id, say.Language); err != nil {
			return err
		}
		if body, err = tx.ReadbackPart(id, n-1); err != nil || body == nil {
			return err
		}
		return tx.Took(d.upload.Ranch, postgres.LookSent, d.upload.File)
	})
	if err != nil {
		return err
	}
	if d.upload.Waits || d.page == nil || body == nil {
		return s.see(c, "/uploads/"+string(id))
	}
	part, err := readback.UnpackPart(body)
	if err != nil {
		return fmt.Errorf("part %d of upload %s: %w", n, id, err)
	}
	if part == nil || part.Table >= len(d.page.Tables) || len(part.Rows) == 0 {
		return s.see(c, "/uploads/"+string(id))
	}
	t := &d.page.Tables[part.Table]
	page := uploadRowsPage{Upload: d.upload, Table: named(say, id, d.page, part.Table), From: part.Rows[0].N, To: part.Rows[len(part.Rows)-1].N, N: n - t.Part, Of: t.Parts}
	page.Table.Pieces = newLayout(say, d.upload.Changeable).pieces(t, part.Rows)
	page.Said = saidOf(notesOf(say, d.page.Tidied), notesOf(say, d.page.Aside), notesOf(say, d.page.Refused), part.Refs, d.page)
	at := func(part int) string { return fmt.Sprintf("/uploads/%s/rows/%d", id, part) }
	if page.N > 1 {
		page.Before, page.First = at(n-1), at(t.Part+1)
	}
	if page.N < t.Parts {
		page.After, page.Last = at(n+1), at(t.Part+t.Parts)
	}
	page.base = s.base(c, a, say.Say("Rows %d to %d of %s", page.From, page.To, page.Table.Title))
	return s.render(c, fiber.StatusOK, "upload_rows", page)
}

// saidOf lists what the marks of some rows refer to, each with its sign.
func saidOf(tidied, aside, refused []note, refs []readback.Ref, p *readback.Page) (list []note) {
	for _, r := range refs {
		sign, _ := markOf(r.Mark, r.Ref)
		var n note
		switch of := map[readback.Mark][]note{readback.Tidied: tidied, readback.Aside: aside, readback.Refused: refused}[r.Mark]; {
		case r.Mark == readback.Asked && r.Ref < len(p.Questions):
			n.Text = p.Questions[r.Ref].Text
		case r.Ref < len(of):
			n = of[r.Ref]
		default:
			continue
		}
		n.Places = sign
		list = append(list, n)
	}
	return list
}
