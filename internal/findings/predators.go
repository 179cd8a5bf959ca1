package findings

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"slices"
	"strings"

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

	// What the taken nests show: NoSign + FitsSeveral + FitsOne = NestsTaken. They are counted, not modeled.
	NoSign      int `json:"no_sign"`
	FitsSeveral int `json:"fits_several"`
	FitsOne     int `json:"fits_one"` // by sign or by camera

	// Mix lists the shares of the animals among the losses that left a sign, in the order of survey.Predators. It is empty where none did, and until MixOf
	// makes it.
	Mix []Share `json:"mix"`
	// Undetermined is the share of taken nests that show no one animal.
	Undetermined *float64 `json:"undetermined"`
	// Named counts the nests that fit one animal, most first.
	Named []Named `json:"named"`
	// From is where Mix starts, before the place's own nests: FromBulletin or FromEven; it counts as much as Weight nests. KeySource says where
	// the strengths of the key come from, "" is common practice; KeyAssumed that nobody counted them.
	From       string  `json:"from"`
	Weight     float64 `json:"weight"`
	KeySource  string  `json:"key_source"`
	KeyAssumed bool    `json:"key_assumed"`
	Note       string  `json:"note"`

	Notes []words.Phrase `json:"-"` // the sentences of Note, to be said in any tongue

	// Shown is Mix as it is told: the animals that the bulletin names, or else those with a twentieth or more, and all others as Rest, last.
	Shown []Share `json:"-"`

	told   []predator.Sighting // nests that left a sign: predator.Most at most
	rooted int                 // transects on which rooted ground was written down
}

// A Share is one animal's part of the losses with its 95 % range.
type Share struct {
	Predator survey.Predator `json:"predator"`
	Share    float64         `json:"share"`
	Low      float64         `json:"low"`
	High     float64         `json:"high"`
	// IfUnlike is the range among all taken nests if the animal leaves no sign up to three times as often as the others, or as seldom.
	IfUnlike Ends `json:"if_unlike"`
}

// Ends are those of a range.
type Ends struct {
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// Where a place's own mix starts.
const (
	FromBulletin = "bulletin" // with the cooperative's published shares
	FromEven     = "even"     // with all animals equally likely
)

// Rest is the part of a mix that is not named.
const Rest = survey.Predator(predator.Rest)

// A Mix is a cooperative's published shares of the animals in a season's losses, Rest among them.
type Mix struct {
	Shares map[survey.Predator]float64
	Weight float64 // how many nests a ranch's belief in them is worth; 0: predator.UsualWeight
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

// startKey returns the key of a table.
func startKey(t predator.Table) *key {
	k := &key{Key: t.Key(), animal: map[survey.Predator]int{}}
	for i, name := range predator.Predators() {
		k.animal[survey.Predator(name)] = i
		k.name = append(k.name, survey.Predator(name))
	}
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
		if signs, ok := k.read(n.Signs()); ok {
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

func (k *key) read(r survey.Remains) (predator.Signs, bool) {
	return k.Read(func(feature string) string {
		for _, f := range survey.Features {
			if f.Name == feature {
				return *f.Value(&r)
			}
		}
		return ""
	})
}

// predators makes the row of one place and season.
func (c *computation) predators(g group[survey.Nest]) Predators {
	key := c.keyOf(g.season)
	row := Predators{Ranch: g.ranch, Site: g.sitePointer(), Season: g.season, Mix: []Share{}, Named: []Named{}, KeySource: key.Source(), KeyAssumed: key.Assumed()}
	var told []predator.Sighting
	rooted := map[survey.TransectKey]bool{}
	counts := make([]Named, len(key.name))
	for _, n := range g.rows {
		if n.Fate() != survey.Taken {
			continue
		}
		row.NestsTaken++
		seen := predator.Sighting{Transect: c.transects[n.Key()], Animal: -1}
		if signs, found := key.read(n.Signs()); found {
			seen.Signs = signs
		}
		if seen.Signs != nil || n.Signs().Trace != "" && n.Signs().Trace != "none" {
			row.WithRemains++
		}
		if n.Signs().Ground == "rooted" {
			rooted[n.Key()] = true
		}
		if n.Camera != "" {
			row.WithCamera++
			seen.Animal = key.animalOf(n.Camera)
		}
		switch sign, animal := key.Fits(seen); sign {
		case predator.NoSign:
			row.NoSign++
			continue
		case predator.FitsSeveral:
			row.FitsSeveral++
		case predator.FitsOne:
			row.FitsOne++
			counts[animal].Predator = key.name[animal]
			counts[animal].Nests++
			if n.Camera != "" {
				counts[animal].ByCamera++
			}
		}
		told = append(told, seen)
	}
	row.rooted = len(rooted)
	if row.NestsTaken == 0 {
		row.Notes = note{words.Later("No nest was taken, so there is nothing to tell.")}
		row.Note = row.Notes[0].String()
		return row
	}
	for _, n := range counts {
		if n.Nests > 0 {
			row.Named = append(row.Named, n)
		}
	}
	slices.SortStableFunc(row.Named, func(a, b Named) int { return cmp.Compare(b.Nests, a.Nests) })
	row.Undetermined = number(1 - float64(row.FitsOne)/float64(row.NestsTaken))
	row.told = predator.Some(told, predator.Most)
	n := predatorNote(&row, len(told))
	row.Note, row.Notes = n.String(), n
	return row
}

// key is the key to remains of a table, as the cameras of all seasons have taught it.
func (r *Result) key(t predator.Table) *key {
	k := startKey(t)
	k.Key = k.Learn(r.cameras)
	return k
}

// MixOf makes the shares of the animals of one of the rows: they start from the cooperative's published shares, or, where published is nil, from even
// ones, and the place's own nests move them. The table is that of the season's key.
func (r *Result) MixOf(p *Predators, published *Mix, table predator.Table) {
	if p.Mix, p.Shown = []Share{}, nil; len(p.told) == 0 {
		return
	}
	k := r.key(table)
	belief, named := p.belief(k, published)
	m := k.Mix(p.told, belief, predator.Chain{Seed: placeHash(place{ranch: p.Ranch, site: deref(p.Site), season: p.Season})})
	share := func(name survey.Predator, s predator.Share) Share {
		low, high := s.IfUnlike(float64(p.NoSign) / float64(p.NestsTaken))
		return Share{name, s.Estimate, s.Low, s.High, Ends{low, high}}
	}
	for i, name := range k.name {
		p.Mix = append(p.Mix, share(name, m.Animal(i)))
		// Where nothing is published, an animal is named that has a twentieth, and half a nest more than it began with.
		seldom := m.Shares[i] < 0.05 || m.Shares[i]*(p.Weight+float64(len(p.told))) < belief.Shares[i]*p.Weight+0.5
		if named == nil && seldom || named != nil && !named[name] || name == survey.Other {
			continue
		}
		p.Shown = append(p.Shown, p.Mix[i])
	}
	p.Shown = append(p.Shown, share(Rest, m.Of(func(animal int) bool {
		return !slices.ContainsFunc(p.Shown, func(s Share) bool { return s.Predator == k.name[animal] })
	})))
}

// belief is where the mix starts, and the animals that are named; nil where the nests themselves say which. What the
// cooperative gives as the rest is shared evenly among the animals that it does not name; none is held to be impossible.
func (p *Predators) belief(k *key, published *Mix) (predator.Belief, map[survey.Predator]bool) {
	if p.From, p.Weight = FromEven, predator.UsualWeight; published == nil {
		return predator.Even(p.Weight), nil
	}
	p.From = FromBulletin
	if published.Weight > 0 {
		p.Weight = published.Weight
	}
	named := map[survey.Predator]bool{}
	for _, name := range k.name {
		if _, ok := published.Shares[name]; ok {
			named[name] = true
		}
	}
	const least = 0.005
	b, all := predator.Belief{Weight: p.Weight}, 0.0
	for _, name := range k.name {
		share := published.Shares[name]
		if !named[name] {
			share = published.Shares[Rest] / float64(len(k.name)-len(named))
		}
		b.Shares = append(b.Shares, max(share, least))
		all += max(share, least)
	}
	for i := range b.Shares {
		b.Shares[i] /= all
	}
	return b, named
}

// FewLosses is the number of losses that left a sign below which a season's shares are not worth reading. Ours.
const FewLosses = 20

func predatorNote(row *Predators, told int) note {
	var n note
	switch {
	case told == 0:
		n.say(words.Later("No remains that tell anything and no camera, so it cannot be told who took the nests. No remains points to no animal."))
		return n
	case told < FewLosses:
		n.say(words.LaterCount("Only %d taken nest left a sign: the shares are guesses with wide ranges.", "Only %d taken nests left a sign: the shares are guesses with wide ranges.", told))
	}
	n.say(words.Later("Signs are easily misread; they are a hint about what to look into, never a verdict."))
	return n
}

// Signs says in a sentence what the taken nests show, in the order in which it is told everywhere.
func (p *Predators) Signs() []words.Phrase {
	said := []words.Phrase{words.LaterCount("%d nest was taken by an animal.", "%d nests were taken by an animal.", p.NestsTaken)}
	if p.NoSign > 0 {
		said = append(said, words.LaterCount("%d left no sign.", "%d left no sign.", p.NoSign))
	}
	if p.FitsSeveral > 0 {
		said = append(said, words.LaterCount("%d left sign that fits several animals.", "%d left sign that fits several animals.", p.FitsSeveral))
	}
	if p.FitsOne > 0 {
		said = append(said, words.LaterCount("%d left sign that fits one, or was on camera.", "%d left sign that fits one, or were on camera.", p.FitsOne))
	}
	return said
}

// Made says how Mix is made and what it assumes; Strengths says the rest.
func (p *Predators) Made() []words.Phrase {
	n := note{}
	switch p.From {
	case FromBulletin:
		n.say(words.Later("The shares are of the nests that left a sign. They start from the cooperative’s published shares, which count as much as %.0f nests, and each nest of this ranch moves them.", p.Weight))
	default:
		n.say(words.Later("The shares are of the nests that left a sign. No published shares are at hand, so they start with all animals equally likely, which counts as much as %.0f nests, and each nest moves them.", p.Weight))
	}
	if signs := p.FitsSeveral + p.FitsOne; signs > predator.Most {
		n.say(words.Later("Of the %d nests that left a sign the shares are made of %d, drawn by lot.", signs, predator.Most))
	}
	if p.NoSign > 0 {
		n.say(words.Later("Nests that left no sign are taken to have fallen to the same animals as the others. If an animal leaves no sign up to three times as often as the others, or a third as often, its share of all taken nests lies in the widest range."))
	}
	return n
}

// Strengths says where the strengths of the key come from.
func (p *Predators) Strengths() words.Phrase { return Strengths(p.KeySource, p.KeyAssumed) }

// Strengths says where a key's strengths come from. It stands wherever a mix is read.
func Strengths(source string, assumed bool) words.Phrase {
	source = strings.TrimSuffix(source, ".")
	switch {
	case source == "":
		return words.Later("How strongly each sign points to each animal is assumed, by common practice and without a source; the ranges allow for it.")
	case assumed:
		return words.Later("How strongly each sign points to each animal is assumed, after: %s. The ranges allow for it.", source)
	}
	return words.Later("How strongly each sign points to each animal was counted at nests whose animal a camera settled: %s. The ranges allow for how few these are.", source)
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
