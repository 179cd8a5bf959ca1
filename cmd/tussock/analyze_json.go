package main

import (
	"tussock/internal/bulletin"
	"tussock/internal/findings"
	"tussock/internal/inquiry"
	"tussock/internal/survey"
)

// A contract is the JSON of the command: its keys are promised to programs and only ever added to.
type contract struct {
	Refused []inquiry.Problem `json:"refused"`
	*findings.Result
	Pooled    *findings.Pooled `json:"pooled,omitempty"`
	Bulletin  []bulletin.Cell  `json:"bulletin,omitempty"`
	Nests     []nestRead       `json:"nests"`
	Belts     []beltRead       `json:"belts"`
	Roles     []roleRead       `json:"roles"`
	Tidied    []tidiedNote     `json:"tidied"`
	Questions []openQuestion   `json:"questions"`
	NotUsed   []notUsed        `json:"not_used"`
	Limits    []string         `json:"limits"`
}

// A nestRead is a nest that counts, and where it stands.
type nestRead struct {
	Ranch     string           `json:"ranch"`
	Site      string           `json:"site"`
	Season    int              `json:"season"`
	Transect  string           `json:"transect"`
	Nest      string           `json:"nest"`
	Substrate survey.Substrate `json:"substrate"`
	SetOn     survey.Date      `json:"set_on"`
	Guess     string           `json:"guess"`
	Camera    survey.Predator  `json:"camera,omitempty"`
	CameraOn  survey.Date      `json:"camera_on,omitempty"` // the day of loss on camera
	Checks    []checkRead      `json:"checks"`
	At        []rowAt          `json:"at"`
}

type checkRead struct {
	On    survey.Date  `json:"on"`
	State survey.State `json:"state"`
}

// A beltRead is a belt that counts. Its lengths are in feet, 0 where they are not known.
type beltRead struct {
	Ranch     string                   `json:"ranch"`
	Site      string                   `json:"site"`
	Season    int                      `json:"season"`
	Transect  string                   `json:"transect"`
	LengthFt  float64                  `json:"length_ft"`
	WidthFt   float64                  `json:"width_ft"`
	AreaAcres float64                  `json:"area_acres"`
	Counts    map[survey.Substrate]int `json:"counts"`
	At        []rowAt                  `json:"at"`
}

type rowAt struct {
	File  string `json:"file"`
	Sheet string `json:"sheet"`
	Row   int    `json:"row"`
}

type cellAt struct {
	File   string `json:"file"`
	Sheet  string `json:"sheet"`
	Row    int    `json:"row"`
	Column string `json:"column"`
}

// A roleRead is how one column was read.
type roleRead struct {
	File    string  `json:"file"`
	Sheet   string  `json:"sheet"`
	Block   int     `json:"block"`
	Column  string  `json:"column"`
	Heading string  `json:"heading"`
	Role    *string `json:"role"` // nil: not used
}

type tidiedNote struct {
	Kind  string   `json:"kind"`
	Text  string   `json:"text"`
	Cells []cellAt `json:"cells"`
}

type openQuestion struct {
	ID      string       `json:"id"`
	Kind    string       `json:"kind"`
	Text    string       `json:"text"`
	Cells   []cellAt     `json:"cells"`
	Choices []choiceRead `json:"choices"`
	Default *string      `json:"default"` // nil: the rows wait
}

type choiceRead struct {
	ID   string `json:"id"`
	Text string `json:"text"`
}

type notUsed struct {
	Text  string   `json:"text"`
	Cells []cellAt `json:"cells"`
}

// contract lays the analysis out as programs get it. Lists are lists even where they are empty.
func (a *analysis) contract() contract {
	c := contract{
		Refused: a.refused, Result: a.result, Pooled: a.pooled, Bulletin: a.bulletin, Limits: findings.Limits(),
		Nests: []nestRead{}, Belts: []beltRead{}, Roles: []roleRead{}, Tidied: []tidiedNote{}, Questions: []openQuestion{}, NotUsed: []notUsed{},
	}
	d := &a.read.Data
	for i := range d.Nests {
		c.Nests = append(c.Nests, nestOf(&d.Nests[i], a.read.NestsAt[i]))
	}
	for i := range d.Belts {
		c.Belts = append(c.Belts, beltOf(&d.Belts[i], a.read.BeltsAt[i]))
	}
	for _, r := range a.read.Roles {
		row := roleRead{File: r.File, Sheet: r.Sheet, Block: r.Block, Column: r.Column, Heading: r.Heading}
		if r.Role != "" {
			row.Role = &r.Role
		}
		c.Roles = append(c.Roles, row)
	}
	for _, t := range a.read.Tidied {
		c.Tidied = append(c.Tidied, tidiedNote{t.Kind, t.Text, cellsAt(t.Cells)})
	}
	for _, q := range a.read.Questions {
		row := openQuestion{ID: q.ID, Kind: q.Kind, Text: q.Text, Cells: cellsAt(q.Cells), Choices: []choiceRead{}}
		for _, choice := range q.Choices {
			row.Choices = append(row.Choices, choiceRead{choice.ID, choice.Label})
		}
		if q.Default != "" {
			row.Default = &q.Default
		}
		c.Questions = append(c.Questions, row)
	}
	for _, s := range a.read.NotUsed {
		c.NotUsed = append(c.NotUsed, notUsed{s.Text, cellsAt(s.Cells)})
	}
	return c
}

func nestOf(n *survey.Nest, at []survey.Cell) nestRead {
	row := nestRead{
		Ranch: n.Ranch, Site: n.Site, Season: n.Season, Transect: n.Transect, Nest: n.Number,
		Substrate: n.Substrate, SetOn: n.SetOn, Guess: n.Guess, Camera: n.Camera, CameraOn: n.CameraOn, Checks: []checkRead{}, At: rowsAt(at, n.From),
	}
	for _, v := range n.Visits {
		row.Checks = append(row.Checks, checkRead{v.On, v.State})
	}
	return row
}

func beltOf(b *survey.Belt, at []survey.Cell) beltRead {
	counts := b.Counts
	if counts == nil {
		counts = map[survey.Substrate]int{}
	}
	return beltRead{
		Ranch: b.Ranch, Site: b.Site, Season: b.Season, Transect: b.Transect, LengthFt: b.LengthFt, WidthFt: b.WidthFt,
		AreaAcres: b.Acres(), Counts: counts, At: rowsAt(at, b.From),
	}
}

// rowsAt lists rows, or the one a value came from where no more is known.
func rowsAt(cells []survey.Cell, from survey.Cell) []rowAt {
	if len(cells) == 0 {
		cells = []survey.Cell{from}
	}
	rows := make([]rowAt, len(cells))
	for i, c := range cells {
		rows[i] = rowAt{c.File, c.Sheet, c.Row}
	}
	return rows
}

func cellsAt(cells []survey.Cell) []cellAt {
	at := make([]cellAt, len(cells))
	for i, c := range cells {
		at[i] = cellAt(c)
	}
	return at
}
