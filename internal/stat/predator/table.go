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

// A Table is what a key is made of: how strongly signs lean toward animals, and who says so. It has Leanings or Counts. The zero value is
// common practice.
type Table struct {
	Source   string  // where the strengths come from, as it is shown beside every mix; "" is common practice, assumed
	Weight   float64 // of Leanings: pseudo-counts in each row: so many camera nests weigh as much as the table; 0: as common practice
	Leanings []Leaning
	Counts   []Count // of nests whose animal a camera settled; where there are any, Leanings tell nothing
}

// A Leaning says how many times likelier an answer is from an animal than from one of which nothing particular is known. What is not listed
// is 1.
type Leaning struct {
	Sign, Answer, Animal string
	Times                float64 // from LeastTimes to MostTimes
}

// A Count says at how many nests that an animal took, by a camera, an answer was written down. What is not listed is 0.
type Count struct {
	Sign, Answer, Animal string
	Nests                int // from 0 to MostNests
}

// What a table may say of one answer and animal: no sign is proof. Ours.
const (
	LeastTimes = 0.02
	MostTimes  = 50
	MostNests  = 10_000
)

// unseen is how many nests, spread evenly over the answers, are added to each counted row, so that an answer that was not
// seen yet is not held to be impossible (Perks 1947, J. Inst. Actuaries 73:285-334, cited from memory).
const unseen = 1

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

// Assumed tells whether the strengths of the table are assumed: nobody counted them.
func (t Table) Assumed() bool { return len(t.Counts) == 0 }

// Key returns the key of a table. What names no sign, answer or animal of the key, or is out of bounds, is left out. The row of an animal of
// which nothing was counted for a sign is even, as common practice has it of one of which nothing particular is known.
func (t Table) Key() *Key {
	if t.Assumed() && len(t.Leanings) == 0 {
		source := t.Source
		t = Common()
		t.Source = source
	}
	if t.Weight == 0 {
		t.Weight = rowWeight
	}
	k := &Key{source: t.Source, assumed: t.Assumed(), features: startingTable()}
	for i := range k.features {
		f := &k.features[i]
		for c := range f.choices {
			f.choices[c].lean = leaning{}
			for _, l := range t.Leanings {
				if animal := slices.Index(names[:], l.Animal); animal >= 0 && l.Sign == f.name && l.Answer == f.choices[c].name && l.Times >= LeastTimes && l.Times <= MostTimes && t.Assumed() {
					f.choices[c].lean[animal] = l.Times
				}
			}
		}
		rows := make([][]float64, len(names))
		for animal := range rows {
			if rows[animal] = t.counted(f, animal); rows[animal] == nil {
				rows[animal] = f.startingRow(animal, t.Weight)
			}
		}
		k.counts = append(k.counts, rows)
	}
	return k
}

// counted is the row of an animal as counts give it, nil where they give none.
func (t Table) counted(f *feature, animal int) []float64 {
	row, told := make([]float64, len(f.choices)), false
	for c := range row {
		row[c] = unseen / float64(len(row))
		for _, n := range t.Counts {
			if n.Sign == f.name && n.Answer == f.choices[c].name && n.Animal == names[animal] && n.Nests > 0 && n.Nests <= MostNests {
				row[c] += float64(n.Nests)
				told = true
			}
		}
	}
	if !told {
		return nil
	}
	return row
}
