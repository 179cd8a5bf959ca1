package pages

import (
	"archive/zip"
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"strconv"
	"time"

	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/export"
	"tussock/internal/postgres"
)

// takenRanch is what there is of one ranch, loaded in one transaction.
type takenRanch struct {
	rows      export.Ranch
	originals []takenFile
	along     string // plans, lines, looks in the field and what was agreed, as JSON
	photos    []takenFile
	looks     []postgres.Note
}

type takenFile struct {
	name string
	at   time.Time
	data []byte
}

// takeEverything gives a landowner all there is of their ranches in one file: the tidy tables, the sheets as they were
// sent, plans, lines, looks and photos of the field, and who looked. It is logged as any file is.
func (s *server) takeEverything(c *fiber.Ctx, a access.Actor) error {
	var taken []takenRanch
	err := s.DB.As(c.UserContext(), a, func(tx *postgres.Tx) error {
		notes, err := tx.Notes()
		if err != nil {
			return err
		}
		for _, id := range a.Ranches {
			t, err := s.takeRanch(tx, id)
			if err != nil {
				return err
			}
			for _, n := range notes {
				if n.Ranch == id {
					t.looks = append(t.looks, n)
				}
			}
			if err := tx.Took(id, postgres.TookFile, "everything.zip"); err != nil {
				return err
			}
			taken = append(taken, t)
		}
		return nil
	})
	if err != nil {
		return err
	}
	data, err := everything(taken)
	if err != nil {
		return err
	}
	return sendFile(c, "everything.zip", data)
}

func (s *server) takeRanch(tx *postgres.Tx, id access.ID) (t takenRanch, err error) {
	if t.rows, err = s.ownRows(tx, id); err != nil {
		return t, err
	}
	uploads, err := tx.Uploads(id)
	if err != nil {
		return t, err
	}
	for _, u := range uploads {
		name, data, err := tx.UploadFile(u.ID)
		if err != nil {
			return t, err
		}
		t.originals = append(t.originals, takenFile{name, u.SentAt, data})
	}
	var photos []access.ID
	if t.along, photos, err = tx.Along(id); err != nil {
		return t, err
	}
	for _, photo := range photos {
		_, data, err := tx.Photo(photo)
		if err != nil {
			return t, err
		}
		t.photos = append(t.photos, takenFile{name: string(photo) + ".jpg", data: data})
	}
	return t, nil
}

// everything packs them, a folder a ranch.
func everything(taken []takenRanch) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	put := func(name string, data []byte) error {
		w, err := z.Create(name)
		if err == nil {
			_, err = w.Write(data)
		}
		return err
	}
	folders := map[string]int{}
	for _, t := range taken {
		folder := slug(t.rows.Name)
		if folders[folder]++; folders[folder] > 1 {
			folder += "-" + strconv.Itoa(folders[folder])
		}
		tables, err := t.rows.Sheets()
		if err != nil {
			return nil, err
		}
		if err := put(folder+"/tables.zip", tables); err != nil {
			return nil, err
		}
		for i, f := range t.originals { // two may have one name: the number tells them apart
			name := fmt.Sprintf("%s/as-sent/%s-%d-%s", folder, f.at.UTC().Format(time.DateOnly), len(t.originals)-i, safeName(f.name))
			if err := put(name, f.data); err != nil {
				return nil, err
			}
		}
		for _, f := range t.photos {
			if err := put(folder+"/photos/"+f.name, f.data); err != nil {
				return nil, err
			}
		}
		if err := put(folder+"/plans-and-looks.json", []byte(t.along)); err != nil {
			return nil, err
		}
		if err := put(folder+"/who-looked.csv", looked(t.looks)); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func looked(list []postgres.Note) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true // RFC 4180
	w.Write([]string{"last_at_utc", "name", "part", "what", "item", "line", "times_that_day"})
	for _, n := range list {
		name, part, item := cmp.Or(n.Name, "somebody who left"), string(n.Role), n.Item
		if n.Link {
			name, part, item = n.Item, "field link", ""
		}
		w.Write([]string{n.Last.UTC().Format(time.RFC3339), inert(name), part, n.What, inert(item), inert(n.Line), strconv.Itoa(n.Times)})
	}
	w.Flush()
	return b.Bytes()
}
