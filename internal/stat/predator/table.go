package predator

import "slices"

// The kinds of animal the key tells apart, in the order of every list of shares. Animals that leave the same remains
// stay together.
const (
	raccoon = iota
	skunk
	opossum
	coyote
	fox
	bobcat
	badger
	armadillo
	hog
	bird
	snake
	rodent
	other
)

var names = [...]string{
	raccoon: "raccoon", skunk: "skunk", opossum: "opossum", coyote: "coyote", fox: "fox", bobcat: "bobcat",
	badger: "badger", armadillo: "armadillo", hog: "feral hog", bird: "bird", snake: "snake", rodent: "rodent",
	other: "other",
}

// A leaning says how many times likelier a sign is from some animals than from one of which nothing particular is
// known.
type leaning map[int]float64

// Strengths of a leaning. They are ours: common practice says which way a sign leans and never how much, and its writers
// warn that all signs overlap. They start low, and camera nests move them.
const (
	strong = 4
	weak   = 2
	rarely = 0.25
)

type choice struct {
	name string
	lean leaning
}

type feature struct {
	name    string
	choices []choice
}

// startingTable is common practice in reading remains, no source, as leanings. Where it rests on something written:
// eggs of a raccoon traced by shell at the nest, and a badger burying eggs at the nest (Sargeant, Sovada &
// Greenwood 1998, interpreting depredation of duck nests).
//
// "none" stands in no list: every predator can leave none, so having looked and found none tells nothing.
func startingTable() []feature {
	return []feature{
		{"bits", []choice{
			{"crumbs", leaning{coyote: strong, opossum: weak, hog: weak, raccoon: rarely, bird: rarely}},
			{"bits", leaning{opossum: strong, coyote: weak, hog: weak, armadillo: weak}},
			{"halves", leaning{raccoon: strong, fox: weak, skunk: weak, bobcat: weak}},
			{"near_whole", leaning{skunk: strong, bird: strong, bobcat: strong, rodent: weak, snake: weak, coyote: rarely, hog: rarely}},
		}},
		{"bits_far_ft", []choice{
			{"in_bowl", leaning{skunk: strong, bobcat: strong, bird: weak, coyote: weak, opossum: weak}},
			{"under_3", leaning{raccoon: strong, skunk: weak, opossum: weak, coyote: weak, hog: weak}},
			{"3_to_30", leaning{rodent: strong, raccoon: weak, fox: weak, opossum: weak}},
			{"over_30", leaning{fox: strong, coyote: weak, bird: weak}},
		}},
		{"heaps", []choice{
			{"one", leaning{skunk: strong, raccoon: weak, opossum: weak, coyote: weak}},
			{"several", leaning{raccoon: strong, opossum: strong, fox: weak}},
			{"scattered", leaning{hog: weak, badger: weak, coyote: weak, bird: weak}},
		}},
		{"opened_at", []choice{
			{"end", leaning{skunk: strong, rodent: weak, raccoon: rarely}},
			{"side", leaning{bird: strong, raccoon: strong, fox: weak}},
			{"both", leaning{raccoon: weak}},
			{"crushed_flat", leaning{coyote: strong, hog: strong, opossum: weak, bird: rarely, skunk: rarely}},
		}},
		{"bite_way", []choice{
			{"long_way", leaning{skunk: strong, rodent: weak, bobcat: rarely}},
			{"across", leaning{bobcat: strong, raccoon: weak, coyote: weak}},
		}},
		{"holes", []choice{
			{"pecked", leaning{bird: 3 * strong, raccoon: rarely, coyote: rarely}},
			{"paired", leaning{raccoon: weak, skunk: weak, opossum: weak, coyote: weak, fox: weak, bobcat: weak, badger: weak, bird: rarely, snake: rarely}},
			{"pin", leaning{rodent: weak, other: strong}},
		}},
		{"inside", []choice{
			{"licked", leaning{fox: strong, raccoon: weak, skunk: weak, coyote: weak}},
			{"dry", leaning{}},
			{"smear", leaning{opossum: strong, armadillo: weak}},
			{"pooled", leaning{bird: strong, skunk: weak, armadillo: weak}},
			{"full", leaning{bird: weak, other: weak}},
		}},
		{"ground", []choice{
			{"calm", leaning{fox: weak, bird: weak, snake: weak, bobcat: weak, hog: rarely, badger: rarely}},
			{"cone_pits", leaning{armadillo: strong, skunk: strong}},
			{"rooted", leaning{hog: 3 * strong, armadillo: strong}},
			{"dug", leaning{badger: strong, armadillo: weak}},
			{"buried_egg", leaning{badger: 2 * strong, coyote: weak, fox: weak}},
		}},
		{"bowl", []choice{
			{"neat", leaning{skunk: weak, snake: strong, fox: weak, bird: weak, bobcat: weak}},
			{"pulled", leaning{raccoon: strong, skunk: weak}},
			{"thrown", leaning{badger: strong, hog: weak, coyote: weak}},
			{"gone", leaning{hog: strong}},
		}},
	}
}

// quiet lists the answers that describe a nest at which nothing is to be seen. A nest with no other sign than these has
// no remains at all.
var quiet = map[string]bool{"none": true, "calm": true, "neat": true}

// A Table is what a key is made of: how strongly signs lean toward animals, and who says so.
type Table struct {
	Source   string  // where the strengths come from, as it is shown beside every mix; "" is common practice, assumed
	Weight   float64 // pseudo-counts in each row: so many camera nests weigh as much as the table
	Leanings []Leaning
}

// A Leaning says how many times likelier an answer is from an animal than from one of which nothing particular is known. What is not listed
// is 1.
type Leaning struct {
	Sign, Answer, Animal string
	Times                float64
}

// Common is the table of common practice, in order.
func Common() Table {
	t := Table{Weight: rowWeight}
	for _, f := range startingTable() {
		for _, c := range f.choices {
			for animal, name := range names {
				if times, ok := c.lean[animal]; ok {
					t.Leanings = append(t.Leanings, Leaning{f.name, c.name, name, times})
				}
			}
		}
	}
	return t
}

// Key returns the key of a table. What names no sign, answer or animal of the key is left out.
func (t Table) Key() *Key {
	k := &Key{source: t.Source, features: startingTable()}
	for i := range k.features {
		f := &k.features[i]
		for c := range f.choices {
			f.choices[c].lean = leaning{}
			for _, l := range t.Leanings {
				if animal := slices.Index(names[:], l.Animal); animal >= 0 && l.Sign == f.name && l.Answer == f.choices[c].name && l.Times > 0 {
					f.choices[c].lean[animal] = l.Times
				}
			}
		}
		rows := make([][]float64, len(names))
		for animal := range rows {
			rows[animal] = f.startingRow(animal, t.Weight)
		}
		k.counts = append(k.counts, rows)
	}
	return k
}
