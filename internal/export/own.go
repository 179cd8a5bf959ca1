package export

import (
	"cmp"
	"crypto/sha256"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"tussock/internal/survey"
)

// A Ranch is all rows of one ranch, on their way to its owner.
type Ranch struct {
	About
	Name string
	// Key is what ids are made with: a random UUID that stays the same for the ranch, such as its own. Who has it and
	// guesses a transect's name can tell that transect's id.
	Key  string
	Data *survey.Data
}

// Sheets returns a ZIP of CSV files with everything the ranch sent, described by a data package. It is the one export
// with the way back to the nests and the notes: for the owner alone.
func (r Ranch) Sheets() ([]byte, error) {
	return sheets(r.meta(true), r.tables())
}

// Parquet returns a ZIP of Parquet files with the same tables, without the way back to the nests and the notes.
func (r Ranch) Parquet() ([]byte, error) {
	return parquets(r.meta(false), shared(r.tables()))
}

// Rights says what whoever gets the rows may do with them.
func (r Ranch) Rights() string { return ownRights(r.About) }

func (r Ranch) meta(private bool) meta {
	m := meta{About: r.About, name: "own-nests", title: "Simulated nests of " + r.Name, version: r.day(), rights: ownRights(r.About),
		rightsName: "LicenseRef-Tussock-Own",
		meaning:    "Every simulated nest, look and belt that was sent for the ranch: three hen's eggs a nest, looked at about day 14 and day 28, and the clumps counted on belts of known size."}
	if private {
		m.warning = "PRIVATE. The columns steps, bearing, spot and notes lead back to the nests. Take them out before you give this to anybody, or give them the Parquet or Darwin Core file, which have none."
	}
	return m
}

func shared(tables []table) []table {
	list := make([]table, len(tables))
	for i, t := range tables {
		list[i] = t.shared()
	}
	return list
}

// id returns a stable id for a thing of the ranch: version 8 of RFC 9562, from SHA-256 over the key and the thing's path.
func (r Ranch) id(path ...string) string { return idOf(r.Key, path...) }

// idOf makes an id from a secret, a UUID or any text, and a path.
func idOf(secret string, path ...string) string {
	key, err := uuid.Parse(secret)
	if err != nil {
		key = uuid.NewHash(sha256.New(), uuid.Nil, []byte(secret), 8)
	}
	return uuid.NewHash(sha256.New(), key, []byte(strings.Join(path, "\x00")), 8).String()
}

func (r Ranch) seasonID(season int) string { return r.id("season", strconv.Itoa(season)) }

func (r Ranch) transectID(k survey.TransectKey) string {
	return r.id("transect", k.Site, strconv.Itoa(k.Season), k.Transect)
}

func (r Ranch) nestID(n *survey.Nest) string {
	return r.id("nest", n.Site, strconv.Itoa(n.Season), n.Transect, n.Number)
}

func (r Ranch) lookID(n *survey.Nest, look int) string {
	return r.id("look", n.Site, strconv.Itoa(n.Season), n.Transect, n.Number, strconv.Itoa(look))
}

// beltID counts the belts of one transect from 1.
func (r Ranch) beltID(b *survey.Belt, belt int) string {
	return r.id("belt", b.Site, strconv.Itoa(b.Season), b.Transect, strconv.Itoa(belt))
}

// nests returns the nests in the order in which every table has them.
func (r Ranch) nests() []survey.Nest {
	list := slices.Clone(r.Data.Nests)
	slices.SortStableFunc(list, func(a, b survey.Nest) int {
		return cmp.Or(compareTransects(a.Key(), b.Key()), compareNumbers(a.Number, b.Number))
	})
	return list
}

type numberedBelt struct {
	survey.Belt
	number int // within its transect
}

func (r Ranch) belts() []numberedBelt {
	belts := slices.Clone(r.Data.Belts)
	slices.SortStableFunc(belts, func(a, b survey.Belt) int {
		return cmp.Or(compareTransects(transectOf(&a), transectOf(&b)), cmp.Compare(a.From.Row, b.From.Row),
			cmp.Compare(a.LengthFt, b.LengthFt), cmp.Compare(a.WidthFt, b.WidthFt), slices.Compare(countsOf(a), countsOf(b)))
	})
	seen := map[survey.TransectKey]int{}
	list := make([]numberedBelt, len(belts))
	for i, b := range belts {
		k := transectOf(&b)
		seen[k]++
		list[i] = numberedBelt{b, seen[k]}
	}
	return list
}

func transectOf(b *survey.Belt) survey.TransectKey {
	return survey.TransectKey{Ranch: b.Ranch, Site: b.Site, Season: b.Season, Transect: b.Transect}
}

// countsOf is the belt's counts as sortable text.
func countsOf(b survey.Belt) []string {
	var list []string
	for _, s := range substratesOf(b.Counts) {
		list = append(list, string(s)+" "+strconv.Itoa(b.Counts[s]))
	}
	return list
}

func substratesOf(counts map[survey.Substrate]int) []survey.Substrate {
	list := make([]survey.Substrate, 0, len(counts))
	for s := range counts {
		list = append(list, s)
	}
	slices.Sort(list)
	return list
}

func compareTransects(a, b survey.TransectKey) int {
	return cmp.Or(strings.Compare(a.Ranch, b.Ranch), cmp.Compare(a.Season, b.Season), strings.Compare(a.Site, b.Site), compareNumbers(a.Transect, b.Transect))
}

// compareNumbers puts 9 before 10 and both before A.
func compareNumbers(a, b string) int {
	x, errA := strconv.Atoi(a)
	y, errB := strconv.Atoi(b)
	if errA == nil && errB == nil {
		return cmp.Or(cmp.Compare(x, y), strings.Compare(a, b))
	}
	if (errA == nil) != (errB == nil) {
		if errA == nil {
			return -1
		}
		return 1
	}
	return strings.Compare(a, b)
}

// The columns that say where a row belongs.
var (
	ranchColumn    = column{name: "ranch", kind: text, en: "Ranch", es: "Rancho", meaning: "The ranch's name.", needed: true}
	siteColumn     = column{name: "site", kind: text, en: "Pasture", es: "Potrero", meaning: "The pasture or unit; empty is the whole ranch."}
	seasonColumn   = column{name: "season", kind: year, en: "Season", es: "Temporada", meaning: "The year.", needed: true}
	transectColumn = column{name: "transect", kind: text, en: "Line", es: "Línea", meaning: "The transect's number or name, within ranch, site and season.", needed: true}
	nestColumn     = column{name: "nest", kind: text, en: "Nest", es: "Nido", meaning: "The nest's number, within the transect.", needed: true}
	nestLink       = column{name: "nest_uid", kind: text, en: "Nest id", es: "Clave del nido", meaning: "The nest's id in the table nests.", needed: true}
	beltLink       = column{name: "belt_uid", kind: text, en: "Belt id", es: "Clave de la franja", meaning: "The belt's id in the table belts.", needed: true}
)

// key makes a link's column the one that names its own table's rows.
func key(c column, meaning string) column {
	c.unique, c.meaning = true, meaning
	return c
}

const sameID = " Stays the same from one export to the next, and is the eventID of the Darwin Core archive."

var nestColumns = []column{
	key(nestLink, "Names the nest."+sameID), ranchColumn, siteColumn, seasonColumn, transectColumn, nestColumn,
	{name: "substrate", kind: text, en: "Nest cover", es: "Cobertura del nido", meaning: "What the nest sits in: bunchgrass, prickly pear, yucca, shrub, forb, or the sheet's own word."},
	{name: "plant", kind: text, en: "Plant", es: "Planta", meaning: "The species, as written."},
	{name: "set_on", kind: date, en: "Put out on", es: "Puesto el", meaning: "The day the eggs were put out."},
	feature("bits", "Shell pieces", "Pedazos", "The size of the shell pieces at a taken nest."),
	feature("bits_far_ft", "How far", "A qué distancia", "How far from the bowl the pieces lay, in feet."),
	feature("heaps", "Heaps", "Montoncitos", "Heaps of shell."),
	feature("opened_at", "Opened at", "Abierto por", "Where an egg was opened."),
	feature("bite_way", "Bite runs", "Sentido de la mordida", "Which way the bite runs."),
	feature("holes", "Holes", "Agujeros", "Holes in the shell."),
	feature("inside", "Inside", "Yema", "What was left inside."),
	feature("ground", "Ground", "Suelo", "What the ground looked like."),
	feature("bowl", "Nest bowl", "Cama del nido", "What the bowl looked like."),
	{name: "trace", kind: text, en: "Tracks, scat, hair", es: "Huellas, excremento, pelo", meaning: "As written; not scored."},
	{name: "guess", kind: text, en: "Crew's guess", es: "Corazonada", meaning: "The crew's own word for the predator: a guess, not a finding."},
	{name: "camera", kind: word, en: "Camera", es: "Cámara", meaning: "The predator, where a trail camera settled it.", choices: words(survey.Predators)},
	{name: "camera_on", kind: date, en: "Lost on camera on", es: "Perdido en cámara el", meaning: "The day on which a trail camera recorded the loss."},
	{name: "eggs_left", kind: integer, en: "Eggs left", es: "Huevos que quedan", meaning: "At the last look, where some were gone.", least: ptr(0), most: nil},
	{name: "steps", kind: text, en: "Steps", es: "Pasos", meaning: "How to walk back to the nest. Private.", private: true},
	{name: "bearing", kind: text, en: "Bearing", es: "Rumbo", meaning: "How to walk back to the nest. Private.", private: true},
	{name: "spot", kind: text, en: "Spot", es: "Punto", meaning: "How to walk back to the nest. Private.", private: true},
	{name: "notes", kind: text, en: "Notes", es: "Notas", meaning: "As written. Private: notes name places and people.", private: true},
}

// feature is the column of a question of the key to remains, with the choices a sheet gives.
func feature(name, en, es, meaning string) column {
	c := column{name: name, kind: word, en: en, es: es, meaning: meaning + " Empty: not written down; none: looked, and there was none."}
	for _, f := range survey.Features {
		if f.Name == name {
			c.choices = f.Choices
		}
	}
	return c
}

func words[T ~string](list []T) []string {
	out := make([]string, len(list))
	for i, w := range list {
		out[i] = string(w)
	}
	return out
}

var checkColumns = []column{
	{name: "look_uid", kind: text, en: "Look id", es: "Clave de la revisión", meaning: "Names the look." + sameID, needed: true, unique: true},
	nestLink, ranchColumn, siteColumn, seasonColumn, transectColumn, nestColumn,
	{name: "look", kind: integer, en: "Look", es: "Revisión", meaning: "Counts the looks at a nest from 1.", needed: true, least: ptr(1)},
	{name: "checked_on", kind: date, en: "Looked on", es: "Revisado el", meaning: "The day.", needed: true},
	{name: "state", kind: word, en: "What was found", es: "Qué se encontró", meaning: "intact: all eggs there; taken: by a predator; spoiled, trampled, flooded: another end; lost: the nest was not found again, which says nothing of its fate.", needed: true, choices: words(survey.States)},
	{name: "second_look", kind: word, en: "What a second person found", es: "Qué encontró una segunda persona", meaning: "Where somebody else looked on their own that day.", choices: words(survey.States)},
}

var unitFt = []string{"ft"}

var beltColumns = []column{
	key(beltLink, "Names the belt."+sameID), ranchColumn, siteColumn, seasonColumn, transectColumn,
	{name: "length", kind: number, en: "Length", es: "Largo", meaning: "In length_unit.", least: ptr(0)},
	{name: "length_unit", kind: word, en: "Unit of length", es: "Unidad del largo", meaning: "Feet.", needed: true, choices: unitFt},
	{name: "width", kind: number, en: "Width", es: "Ancho", meaning: "In width_unit.", least: ptr(0)},
	{name: "width_unit", kind: word, en: "Unit of width", es: "Unidad del ancho", meaning: "Feet.", needed: true, choices: unitFt},
}

var clumpColumns = []column{
	beltLink,
	{name: "substrate", kind: text, en: "Kind", es: "Clase", meaning: "The kind of plant; any, where clumps of all kinds were counted together.", needed: true},
	{name: "clumps", kind: integer, en: "Good clumps", es: "Macollos buenos", meaning: "Clumps big enough to nest in, counted on the belt. A kind that was not counted has no row.", needed: true, least: ptr(0)},
}

var siteColumns = []column{
	{name: "site_uid", kind: text, en: "Site id", es: "Clave del sitio", meaning: "Names the site.", needed: true, unique: true},
	ranchColumn, siteColumn,
	{name: "owner", kind: text, en: "Owner", es: "Dueño", meaning: "The person or company behind the ranch."},
	{name: "region", kind: text, en: "Area", es: "Zona", meaning: "The cooperative's own area."},
	{name: "site_type", kind: text, en: "Kind of ground", es: "Tipo de terreno", meaning: "As written."},
	{name: "area", kind: number, en: "Size", es: "Superficie", meaning: "In area_unit.", least: ptr(0)},
	{name: "area_unit", kind: word, en: "Unit of size", es: "Unidad de superficie", meaning: "Acres.", needed: true, choices: []string{"acre"}},
}

func (r Ranch) tables() []table {
	nests := table{name: "nests", en: "Nests", es: "Nidos", meaning: "One row a simulated nest: a clump of three hen's eggs in one plant.", columns: nestColumns}
	checks := table{name: "checks", en: "Looks", es: "Revisiones", meaning: "One row a look at a nest.", columns: checkColumns,
		links: []link{{"nest_uid", "nests", "nest_uid"}}}
	for _, n := range r.nests() {
		id := r.nestID(&n)
		nests.rows = append(nests.rows, nestCells(id, &n))
		for i, v := range n.Visits {
			checks.rows = append(checks.rows, []any{r.lookID(&n, i+1), id, n.Ranch, textOr(n.Site), n.Season, n.Transect, n.Number, i + 1, v.On, string(v.State), textOr(string(v.Second))})
		}
	}
	belts := table{name: "belts", en: "Belts", es: "Franjas", meaning: "One row a belt: a strip of known length and width on which clumps were counted.", columns: beltColumns}
	clumps := table{name: "clumps", en: "Clumps", es: "Macollos", meaning: "One row a kind of plant counted on a belt.", columns: clumpColumns,
		links: []link{{"belt_uid", "belts", "belt_uid"}}}
	for _, b := range r.belts() {
		id := r.beltID(&b.Belt, b.number)
		belts.rows = append(belts.rows, []any{id, b.Ranch, textOr(b.Site), b.Season, b.Transect, positive(b.LengthFt), "ft", positive(b.WidthFt), "ft"})
		for _, s := range substratesOf(b.Counts) {
			kind := string(s)
			if s == survey.AnyCover {
				kind = "any"
			}
			clumps.rows = append(clumps.rows, []any{id, kind, b.Counts[s]})
		}
	}
	return []table{nests, checks, belts, clumps, r.sites()}
}

func nestCells(id string, n *survey.Nest) []any {
	row := []any{id, n.Ranch, textOr(n.Site), n.Season, n.Transect, n.Number, textOr(string(n.Substrate)), textOr(n.Plant), dateOr(n.SetOn)}
	signs := n.Signs()
	for _, f := range survey.Features {
		row = append(row, textOr(*f.Value(&signs)))
	}
	var eggs any
	if n.EggsLeft >= 0 {
		eggs = n.EggsLeft
	}
	return append(row, textOr(signs.Trace), textOr(n.Guess), textOr(string(n.Camera)), dateOr(n.CameraOn), eggs,
		textOr(n.Spot.Steps), textOr(n.Spot.Bearing), textOr(n.Spot.Text), textOr(n.Notes))
}

func (r Ranch) sites() table {
	t := table{name: "sites", en: "Sites", es: "Sitios", meaning: "One row a pasture or unit, and one for the ranch itself.", columns: siteColumns}
	list := slices.Clone(r.Data.Sites)
	slices.SortStableFunc(list, func(a, b survey.Site) int {
		return cmp.Or(strings.Compare(a.Ranch, b.Ranch), strings.Compare(a.Name, b.Name))
	})
	for _, s := range list {
		t.rows = append(t.rows, []any{r.id("site", s.Name), s.Ranch, textOr(s.Name), textOr(s.Owner), textOr(s.Region), textOr(s.Type), positive(s.Acres), "acre"})
	}
	return t
}
