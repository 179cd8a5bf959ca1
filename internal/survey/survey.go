package survey

// Data is what a cooperative's sheets hold once read: any number of ranches and seasons together.
type Data struct {
	Nests []Nest
	Belts []Belt
	Sites []Site
}

// A TransectKey names one transect: its number is unique within ranch, site and season only.
type TransectKey struct {
	Ranch, Site string
	Season      int
	Transect    string
}

// A Nest is one simulated nest: a clump of three hen's eggs in one plant, and what became of it.
type Nest struct {
	Ranch     string
	Site      string // the pasture or unit; "" is the whole ranch
	Season    int    // the year
	Transect  string
	Number    string // within the transect
	Substrate Substrate
	Plant     string // the species, free text
	SetOn     Date
	CameraOn  Date // the day on which a trail camera recorded the loss, 0 where none did
	// Visits are in order of date; none is before SetOn. After a visit that found the nest finished
	// (any state but Intact) there is no other.
	Visits []Visit

	Remains  *Remains // nil where nothing is written down; see Signs
	Guess    string   // the crew's own word for the predator, kept apart from the key's answer
	Camera   Predator // where a trail camera settled it, else ""
	EggsLeft int      // at the last visit, where some were gone; -1 where not written down

	Spot  Spot // private: never shared
	Notes string

	From Cell // where it was read
}

// Signs returns what is written down of the signs found at the nest.
func (n *Nest) Signs() Remains {
	if n.Remains == nil {
		return Remains{}
	}
	return *n.Remains
}

// Key returns the transect the nest is on.
func (n *Nest) Key() TransectKey { return TransectKey{n.Ranch, n.Site, n.Season, n.Transect} }

// Fate returns the state at the last visit, or "" where there was none.
func (n *Nest) Fate() State {
	if len(n.Visits) == 0 {
		return ""
	}
	return n.Visits[len(n.Visits)-1].State
}

// LastIntact returns the day after setting on which the nest was last seen intact, 0 where it never was.
func (n *Nest) LastIntact() int {
	day := 0
	for _, v := range n.Visits {
		if v.State == Intact {
			day = int(v.On - n.SetOn)
		}
	}
	return day
}

// A Visit is one look at one nest.
type Visit struct {
	On    Date
	State State
	// Second is what a second person found who looked on their own that day, "" where nobody did.
	Second State
}

// Spot is how to walk back to a nest. It is the owner's and the crew's alone.
type Spot struct {
	Steps, Bearing, Text string
}

// A Cell is a place in a file somebody sent, in the numbering that person sees.
type Cell struct {
	File, Sheet string
	Row         int    // from 1, as the spreadsheet program numbers it
	Column      string // the heading, or "" for the whole row
}

// A State is what a visit found.
type State string

// The states of a nest. Only Taken is a predator's doing; Lost says nothing about the nest's fate.
const (
	Intact   State = "intact"
	Taken    State = "taken"    // by a predator, any egg gone unless the cooperative sets the other rule
	Lost     State = "lost"     // not found again: unknown from the last good look
	Spoiled  State = "spoiled"  // burst, rotten, plowed, burnt, any other end that no animal brought
	Trampled State = "trampled" // by livestock
	Flooded  State = "flooded"
)

// States in the order they are listed.
var States = []State{Intact, Taken, Spoiled, Trampled, Flooded, Lost}

// Failed tells whether s is a known end: the eggs did not last.
func (s State) Failed() bool {
	return s == Taken || s == Spoiled || s == Trampled || s == Flooded
}

// A Substrate is what a nest sits in, as people read it: one of the words below, or the sheet's own word in the
// spelling in which it was first seen.
type Substrate string

// The substrates that sheets commonly name. Any other word is a Substrate too.
const (
	Bunchgrass  Substrate = "bunchgrass"
	PricklyPear Substrate = "prickly pear"
	Yucca       Substrate = "yucca"
	Shrub       Substrate = "shrub"
	Forb        Substrate = "forb"
)

// AnyCover is what clumps that were counted together, whatever they are, stand under on a belt.
const AnyCover Substrate = ""

// A Belt is a strip of known length and width on which clumps big enough to nest in were counted.
type Belt struct {
	Ranch, Site string
	Season      int
	Transect    string
	LengthFt    float64 // feet; 0 where it could not be told
	WidthFt     float64
	Counts      map[Substrate]int
	From        Cell
}

// Acres returns the belt's area; an acre is 43 560 square feet (NIST Handbook 44, Appendix C).
func (b *Belt) Acres() float64 { return b.LengthFt * b.WidthFt / 43560 }

// A Site is one pasture or unit of a ranch, or with Name "" the ranch itself.
type Site struct {
	Ranch  string
	Name   string
	Owner  string // the person or company behind the ranch; ranches of one owner count as one entity
	Region string // the cooperative's own area
	Type   string // the kind of ground
	Acres  float64
	From   Cell
}
