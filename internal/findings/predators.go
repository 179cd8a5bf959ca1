package findings

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"slices"

	"tussock/internal/stat/predator"
	"tussock/internal/survey"
	"tussock/internal/words"
)

// Predators is one row of results about who took the nests of a place and season.
type Predators struct {
	Ranch  string  `json:"ranch"`
	Site   *string `json:"site"` // nil: the whole ranch
	Season int     `json:"season"`

	NestsTaken  int `json:"nests_taken"`
	WithRemains int `json:"with_remains"` // taken, with some sign written down beyond "looked and found none"
	WithCamera  int `json:"with_camera"`

	// Mix lists the shares of the animals among the losses that tell something, largest first. It is empty where none does.
	Mix []Share `json:"mix"`
	// Undetermined is the share of taken nests for which neither a camera nor the key names an animal.
	Undetermined *float64 `json:"undetermined"`
	// Named counts the nests whose own answer names an animal, most first.
	Named []Named `json:"named"`
	Note  string  `json:"note"`

	Notes []words.Phrase `json:"-"` // the sentences of Note, to be said in any tongue

	Telling int `json:"-"` // taken nests with a camera's answer or remains that can be scored
	rooted  int // transects on which rooted ground was written down
}

// A Share is one animal's part of the losses with its 95 % range.
type Share struct {
	Predator survey.Predator `json:"predator"`
	Share    float64         `json:"share"`
	Low      float64         `json:"low"`
	High     float64         `json:"high"`
}

// Named counts the nests whose own answer is one animal.
type Named struct {
	Predator survey.Predator `json:"predator"`
	Nests    int             `json:"nests"`
	ByCamera int             `json:"by_camera"`
}

// key is the key to remains with the names of the survey.
type key struct {
	*predator.Key
	animal map[survey.Predator]int
	name   []survey.Predator
}

// startKey returns the key of common practice.
func startKey() *key {
	k := &key{Key: predator.NewKey(), animal: map[survey.Predator]int{}}
	for i, name := range predator.Predators() {
		k.animal[survey.Predator(name)] = i
		k.name = append(k.name, survey.Predator(name))
	}
	return k
}

// learnKey returns the key of common practice, taught by every nest of the data whose predator a camera settled.
func learnKey(nests []survey.Nest) *key {
	k := startKey()
	k.Key = k.Key.Learn(k.cases(nests))
	return k
}

// cases are the nests whose predator a camera settled and that left signs.
func (k *key) cases(nests []survey.Nest) []predator.Case {
	var cases []predator.Case
	for i := range nests {
		n := &nests[i]
		if n.Camera == "" || n.Fate() != survey.Taken {
			continue
		}
		if signs, ok := k.read(&n.Remains); ok {
			cases = append(cases, predator.Case{Animal: k.animalOf(n.Camera), Signs: signs})
		}
	}
	return cases
}

// animalOf numbers an animal; one the key does not know is another animal.
func (k *key) animalOf(p survey.Predator) int {
	if i, ok := k.animal[p]; ok {
		return i
	}
	return k.animal[survey.Other]
}

func (k *key) read(r *survey.Remains) (predator.Signs, bool) {
	return k.Read(func(feature string) string {
		for _, f := range survey.Features {
			if f.Name == feature {
				return *f.Value(r)
			}
		}
		return ""
	})
}

// Odds returns the key's probabilities for one nest's remains, largest first, and false where there are no remains or
// too little is told: nothing to go by but the mix of all losses.
func Odds(r survey.Remains) (odds []Share, ok bool) {
	k := learnKey(nil)
	signs, ok := k.read(&r)
	if !ok {
		return nil, false
	}
	post := predator.Posterior(predator.Prior(make([]float64, len(k.name)), 0), k.Likelihood(signs))
	for i, p := range post {
		odds = append(odds, Share{Predator: k.name[i], Share: p})
	}
	slices.SortStableFunc(odds, func(a, b Share) int { return cmp.Compare(b.Share, a.Share) })
	return odds, true
}

// evidence is a taken nest that tells something.
type evidence struct {
	nest   predator.Nest
	camera bool
	animal int // where a camera settled it
}

// predators makes the row of one place and season.
func (c *computation) predators(g group[survey.Nest]) Predators {
	row := Predators{Ranch: g.ranch, Site: g.sitePointer(), Season: g.season, Mix: []Share{}, Named: []Named{}}
	var told []evidence
	rooted := map[survey.TransectKey]bool{}
	for _, n := range g.rows {
		if n.Fate() != survey.Taken {
			continue
		}
		row.NestsTaken++
		signs, found := c.key.read(&n.Remains)
		if found || n.Remains.Trace != "" && n.Remains.Trace != "none" {
			row.WithRemains++
		}
		if n.Remains.Ground == "rooted" {
			rooted[n.Key()] = true
		}
		switch {
		case n.Camera != "":
			row.WithCamera++
			animal := c.key.animalOf(n.Camera)
			told = append(told, evidence{predator.Nest{Transect: c.transects[n.Key()], Likelihood: predator.Certain(animal)}, true, animal})
		case found:
			told = append(told, evidence{nest: predator.Nest{Transect: c.transects[n.Key()], Likelihood: c.key.Likelihood(signs)}})
		}
	}
	row.rooted = len(rooted)
	row.Telling = len(told)
	if row.NestsTaken == 0 {
		row.Notes = note{words.Later("No nest was taken, so there is nothing to tell.")}
		row.Note = row.Notes[0].String()
		return row
	}
	c.mix(&row, g.place, told)
	c.name(&row, told)
	n := predatorNote(&row, len(told))
	row.Note, row.Notes = n.String(), n
	return row
}

// mix fills in the shares.
func (c *computation) mix(row *Predators, p place, told []evidence) {
	nests := make([]predator.Nest, len(told))
	for i := range told {
		nests[i] = told[i].nest
	}
	shares := predator.Mix(nests, predator.Bootstrap{Replicates: c.opt.Replicates, Seed: c.opt.Seed ^ placeHash(p)})
	for i, s := range shares {
		if s.Estimate >= predator.Negligible {
			row.Mix = append(row.Mix, Share{c.key.name[i], s.Estimate, s.Low, s.High})
		}
	}
	slices.SortStableFunc(row.Mix, func(a, b Share) int { return cmp.Compare(b.Share, a.Share) })
}

// name counts what each nest's own answer is.
func (c *computation) name(row *Predators, told []evidence) {
	byCamera := make([]float64, len(c.key.name))
	for _, e := range told {
		if e.camera {
			byCamera[e.animal] += 1 / float64(row.WithCamera)
		}
	}
	prior := predator.Prior(byCamera, row.WithCamera)
	counts := make([]Named, len(c.key.name))
	named := 0
	for _, e := range told {
		animal, ok := predator.Name(predator.Posterior(prior, e.nest.Likelihood))
		if !ok {
			continue
		}
		named++
		counts[animal].Predator = c.key.name[animal]
		counts[animal].Nests++
		if e.camera {
			counts[animal].ByCamera++
		}
	}
	for _, n := range counts {
		if n.Nests > 0 {
			row.Named = append(row.Named, n)
		}
	}
	slices.SortStableFunc(row.Named, func(a, b Named) int { return cmp.Compare(b.Nests, a.Nests) })
	row.Undetermined = number(float64(row.NestsTaken-named) / float64(row.NestsTaken))
}

// FewLosses is the number of losses that tell something below which a season's shares are not worth reading. Ours.
const FewLosses = 20

func predatorNote(row *Predators, told int) note {
	var n note
	switch {
	case told == 0:
		n.say(words.Later("No remains that tell anything and no camera, so it cannot be told who took the nests. No remains points to no animal."))
		return n
	case told < FewLosses:
		n.say(words.LaterCount("Only %d taken nest tells anything: the shares are guesses with wide ranges.", "Only %d taken nests tell anything: the shares are guesses with wide ranges.", told))
	}
	if row.WithCamera < told {
		n.say(words.Later("Remains are easily misread; they are a hint about what to look into, never a verdict."))
	}
	return n
}

func placeHash(p place) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%q %q %d", p.ranch, p.site, p.season)
	return h.Sum64()
}

// FindPredators returns the row of a place and season; site "" is the whole ranch.
func (r *Result) FindPredators(ranch, site string, season int) (*Predators, bool) {
	for i := range r.Predators {
		p := &r.Predators[i]
		if p.Ranch == ranch && p.Season == season && deref(p.Site) == site {
			return p, true
		}
	}
	return nil, false
}

// PredatorsOf returns the row of the whole ranch.
func (r *Result) PredatorsOf(ranch string, season int) (*Predators, bool) {
	return r.FindPredators(ranch, "", season)
}
