package survey

// Remains are the signs found at a taken nest. An empty field means nobody wrote it down; "none" means somebody
// looked and found none. The two are never the same.
type Remains struct {
	Bits     string // Crumbs…: the size of the shell pieces
	BitsFar  string // InBowl…: how far from the bowl, from bits_far_ft
	Heaps    string
	OpenedAt string
	BiteWay  string
	Holes    string
	Inside   string
	Ground   string
	Bowl     string
	Trace    string // tracks, scat or hair: free text, shown and not scored
}

// A Feature is one question of the key to remains, with the answers a sheet may give.
type Feature struct {
	Name    string   // the column
	Choices []string // in the order a sheet lists them
	Value   func(*Remains) *string
}

// Features lists the scored questions of the key in the order a sheet asks them.
var Features = []Feature{
	{"bits", []string{"none", "crumbs", "bits", "halves", "near_whole"}, func(r *Remains) *string { return &r.Bits }},
	{"bits_far_ft", []string{"none", "in_bowl", "under_3", "3_to_30", "over_30"}, func(r *Remains) *string { return &r.BitsFar }},
	{"heaps", []string{"none", "one", "several", "scattered"}, func(r *Remains) *string { return &r.Heaps }},
	{"opened_at", []string{"end", "side", "both", "crushed_flat"}, func(r *Remains) *string { return &r.OpenedAt }},
	{"bite_way", []string{"long_way", "across"}, func(r *Remains) *string { return &r.BiteWay }},
	{"holes", []string{"none", "pecked", "paired", "pin"}, func(r *Remains) *string { return &r.Holes }},
	{"inside", []string{"licked", "dry", "smear", "pooled", "full"}, func(r *Remains) *string { return &r.Inside }},
	{"ground", []string{"calm", "cone_pits", "rooted", "dug", "buried_egg"}, func(r *Remains) *string { return &r.Ground }},
	{"bowl", []string{"neat", "pulled", "thrown", "gone"}, func(r *Remains) *string { return &r.Bowl }},
}

// Any tells whether anything at all was written down.
func (r *Remains) Any() bool { return *r != Remains{} }

// A Predator is a kind of animal that takes eggs, named as the key names it.
type Predator string

// The predators of the key. Groups that leave the same remains stay together.
const (
	Raccoon   Predator = "raccoon"
	Skunk     Predator = "skunk"
	Opossum   Predator = "opossum"
	Coyote    Predator = "coyote"
	Fox       Predator = "fox"
	Bobcat    Predator = "bobcat"
	Badger    Predator = "badger"
	Armadillo Predator = "armadillo"
	Hog       Predator = "feral hog"
	Bird      Predator = "bird"
	Snake     Predator = "snake"
	Rodent    Predator = "rodent"
	Other     Predator = "other"
)

// Predators in the order they are listed.
var Predators = []Predator{Raccoon, Skunk, Opossum, Coyote, Fox, Bobcat, Badger, Armadillo, Hog, Bird, Snake, Rodent, Other}
