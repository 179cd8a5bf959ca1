package demo

import (
	"math"
	"strconv"

	"tussock/internal/access"
	"tussock/internal/survey"
)

// A Cooperative is the whole demo: who belongs to it, what they sent, and the truth behind it.
type Cooperative struct {
	Name    string
	Seasons []int
	Areas   []Area
	Ranches []Ranch
	People  []Person
	Sheets  []Sheet     // what the landowners sent, oldest season first
	Data    survey.Data // what those sheets say, had somebody read them by eye
	Truth   Truth
}

// An Area is a part of the cooperative's country. Areas of one group are neighbors and are put together where one has
// too few owners to be shown alone.
type Area struct{ Name, Group string }

// A Ranch is one holding.
type Ranch struct {
	Name, Owner, Area string
	SiteType          string // the kind of ground
	Acres             float64
	Consent           int      // 1: counted in the anonymous bulletins; 0: private
	Pastures          []string // where its transects lie
	Skips             []int    // seasons in which nothing was set out
}

// sites are the ranch's pastures, of equal size.
func (r Ranch) sites() []survey.Site {
	var sites []survey.Site
	for _, p := range r.Pastures {
		sites = append(sites, survey.Site{Ranch: r.Name, Name: p, Owner: r.Owner, Region: r.Area, Type: r.SiteType,
			Acres: math.Round(r.Acres / float64(len(r.Pastures)))})
	}
	return sites
}

// A Person is a member who can sign in.
type Person struct {
	Name, Email string
	Role        access.Role
	Ranches     []string // owned, or for a hand assigned
	Shown       bool     // one of the five sign-ins that the demo prints
}

// Seed makes the cooperative that "tussock demo" loads. Of the first few hundred it is one in which the home ranch has
// something to look at: one pasture short of cover, and a drought that shows.
const Seed = 183

// Password signs every member of the demo in. The demo listens on this machine only, and nothing in it is anybody's.
const Password = "bunchgrass in the wind"

// HomeRanch is the ranch that the demo's landowner opens first; QuestionRanch, hers too, has a last sheet with
// questions left open.
const (
	HomeRanch     = "Hollin Fork"
	QuestionRanch = "Marl Gate"
)

const (
	firstSeason  = 2022
	lastSeason   = 2026
	droughtYear  = 2024
	emailAtPlace = "@tussock.example" // RFC 2606: no mail can go there
)

func areas() []Area {
	return []Area{
		{"Upper Willet", "Willet"},
		{"Lower Willet", "Lakes and hills"},
		{"Chalk Benches", "Benches"},
		{"Long Draw", "Lakes and hills"},
		{"Sedge Lakes", "Lakes and hills"},
		{"Antler Divide", "Lakes and hills"},
		{"Blowout Hills", "Lakes and hills"},
	}
}

// ranches are forty holdings of thirty-four owners. Upper Willet and Chalk Benches have enough of them to be shown outside the
// cooperative too; the other five areas have too few to be shown alone, and together enough for members.
func ranches() []Ranch {
	one, two, three := []string{"Home"}, []string{"North", "South"}, []string{"East", "Creek", "Tableland"}
	return []Ranch{
		{HomeRanch, "Ilse Varrow", "Upper Willet", "sandy", 5200, 1, two, nil},
		{QuestionRanch, "Ilse Varrow", "Upper Willet", "loamy", 3100, 1, one, nil},
		{"Tarrow Creek", "Ottmar Pellin", "Upper Willet", "loamy", 7400, 1, two, nil},
		{"Three Kettles", "Brindlow Land Company", "Upper Willet", "sandy", 12800, 1, three, nil},
		{"Sallow Bend", "Maren Oldcroft", "Upper Willet", "loamy", 2900, 1, one, []int{2023}},
		{"Wether Rise", "Tobin Ferrowby", "Upper Willet", "sandy", 4600, 1, two, nil},
		{"Oxlip Draw", "Hester Quillan", "Upper Willet", "loamy", 3800, 0, one, nil},
		{"Candlestone", "Ruan Askelby", "Upper Willet", "sandy", 6100, 1, two, nil},

		{"Dunnock Flat", "Corvin Staithe", "Upper Willet", "loamy", 5500, 1, two, nil},
		{"Pewter Springs", "Edda Marlowen", "Upper Willet", "loamy", 4100, 1, one, nil},
		{"Lantern Ford", "Ferrand and Daughters", "Lower Willet", "sandy", 8800, 1, two, nil},
		{"Brackwater", "Ferrand and Daughters", "Lower Willet", "loamy", 2700, 1, one, []int{2022, 2023}},
		{"Gosling Point", "Jory Wendlake", "Upper Willet", "sandy", 3300, 1, one, nil},
		{"Harrow End", "Silke Ambrey", "Upper Willet", "loamy", 6900, 1, two, nil},
		{"Teasel Bottom", "Aldous Rennick", "Upper Willet", "loamy", 4400, 1, two, []int{2024}},

		{"Whitelock", "Greta Sundmoor", "Chalk Benches", "loamy", 9300, 1, two, nil},
		{"Chalk Ladder", "Odo Harkstead", "Chalk Benches", "loamy", 5000, 1, two, nil},
		{"Bellwether Bench", "Nessa Thorold", "Chalk Benches", "loamy", 3600, 1, one, nil},
		{"Quern Hill", "Bastian Uvedale", "Chalk Benches", "sandy", 7700, 1, three, nil},
		{"Sparrow Steps", "Linnet Grazing Trust", "Chalk Benches", "loamy", 4800, 1, two, nil},
		{"Limekiln Rim", "Linnet Grazing Trust", "Chalk Benches", "loamy", 3900, 1, one, nil},
		{"Vetch Table", "Cato Brennick", "Chalk Benches", "sandy", 5900, 0, two, nil},
		{"Plover Ledge", "Una Fairlight", "Chalk Benches", "loamy", 4200, 1, one, nil},

		{"Long Tether", "Magnus Ellery-Voss", "Long Draw", "sandy", 10400, 1, three, nil},
		{"Thrift Hollow", "Dorrit Kestrelay", "Chalk Benches", "sandy", 3400, 1, one, nil},
		{"Old Windlass", "Perrin Osgode", "Chalk Benches", "loamy", 6200, 1, two, nil},
		{"Cinder Draw", "Sabine Trevick", "Chalk Benches", "sandy", 5100, 1, two, nil},
		{"Kittle Gulch", "Sabine Trevick", "Chalk Benches", "sandy", 2600, 1, one, []int{2022}},
		{"Mallow Cut", "Wystan Lorimer-Hale", "Chalk Benches", "loamy", 4700, 1, two, nil},
		{"Rook's Elbow", "Freya Castlemoor", "Chalk Benches", "sandy", 3700, 1, one, []int{2025}},

		{"Reedmace", "Tilde Rushworthy", "Sedge Lakes", "loamy", 4500, 1, two, nil},
		{"Heron Stile", "Evander Pooley", "Sedge Lakes", "loamy", 5600, 1, two, nil},
		{"Fenny Lake", "Evander Pooley", "Sedge Lakes", "loamy", 3000, 1, one, nil},
		{"Millwheel", "Isaura Blenk", "Sedge Lakes", "sandy", 3500, 1, one, nil},

		{"Tine Ridge", "Leopold Strake", "Antler Divide", "sandy", 8200, 1, two, nil},
		{"Far Saddle", "Ottilie Brandreth", "Antler Divide", "loamy", 6600, 1, two, nil},
		{"Copperbell", "Hale Windrow", "Antler Divide", "sandy", 4000, 1, one, nil},

		{"Sandglass", "Rosamund Dray", "Blowout Hills", "sandy", 11600, 1, two, nil},
		{"Drifting Gate", "Rosamund Dray", "Blowout Hills", "sandy", 5300, 1, one, nil},
		{"Blown Thistle", "Kaspar Illingworth-Moy", "Blowout Hills", "sandy", 7000, 1, two, nil},
	}
}

// Members are the staff of the cooperative, one landowner for each owner, and two hands. The coordinator comes first.
func Members() []Person {
	all := []Person{
		{"Petra Lindgate", "coordinator" + emailAtPlace, access.Coordinator, nil, true},
		{"Ilse Varrow", "landowner" + emailAtPlace, access.Landowner, nil, true},
		{"Joss Applin", "hand" + emailAtPlace, access.Hand, []string{HomeRanch, QuestionRanch}, true},
		{"Nell Okonray", "biologist" + emailAtPlace, access.Biologist, nil, true},
		{"Cass Birdsall", "planner" + emailAtPlace, access.Planner, nil, true},
		{"Wim Tarlow", "second.hand" + emailAtPlace, access.Hand, []string{"Three Kettles", "Wether Rise"}, false},
	}
	byName := map[string]int{"Ilse Varrow": 1}
	for _, r := range ranches() {
		i, known := byName[r.Owner]
		if !known {
			i = len(all)
			byName[r.Owner] = i
			all = append(all, Person{r.Owner, "owner" + strconv.Itoa(len(byName)) + emailAtPlace, access.Landowner, nil, false})
		}
		all[i].Ranches = append(all[i].Ranches, r.Name)
	}
	return all
}

// OwnerOf returns the member who owns the ranch.
func (c *Cooperative) OwnerOf(ranch string) Person {
	for _, p := range c.People {
		if p.Role != access.Landowner {
			continue
		}
		for _, name := range p.Ranches {
			if name == ranch {
				return p
			}
		}
	}
	panic("demo: no owner of ranch " + ranch)
}
