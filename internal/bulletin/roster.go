package bulletin

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"tussock/internal/errs"
	"tussock/internal/survey"
)

// The levels of consent that matter here: from Counted on, a ranch is in the figures; where it is Shown its owner publishes
// the own figures by name, so that everybody is an insider there.
const (
	Counted = 1
	Shown   = 3
)

// enrol takes the ranches that are counted. One owner under two spellings of the same words is one entity. An entity
// that is unsettled is taken as known to all: in the figures and in no number of entities. One is new where all its ranches are.
func (c *composer) enrol(roster []Member) error {
	c.members = map[string]member{}
	listed, known, old := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, m := range roster {
		if listed[m.Ranch] {
			return errs.New(errs.Invalid, fmt.Sprintf("The ranch %q is on the roster twice.", m.Ranch))
		}
		listed[m.Ranch] = true
		if m.Consent < Counted {
			continue
		}
		entity := fold(cmp.Or(m.Entity, m.Ranch))
		old[entity] = old[entity] || !m.New
		known[entity] = known[entity] || m.Consent >= Shown || m.Unsettled
		c.members[m.Ranch] = member{entity: entity, area: m.Area, id: cmp.Or(m.ID, m.Ranch)}
	}
	for ranch, m := range c.members {
		m.known = known[m.entity]
		m.fresh = !old[m.entity]
		c.members[ranch] = m
	}
	return nil
}

func fold(name string) string { return strings.ToLower(strings.Join(strings.Fields(name), " ")) }

// FromSites makes a roster from the sites table of somebody's own files, in which every ranch is counted. Ranches
// without an owner are their own entity. The area of a ranch is the region most of its sites are in, and areas have
// no neighbours: a table names none. So one area that fails leaves figures for the whole cooperative only.
func FromSites(d *survey.Data) ([]Member, []Area) {
	owners, regions := map[string]votes{}, map[string]votes{}
	ranches, spelling := map[string]bool{}, map[string]string{}
	for _, s := range d.Sites {
		ranches[s.Ranch] = true
		owners[s.Ranch] = owners[s.Ranch].add(strings.TrimSpace(s.Owner))
		region := strings.Join(strings.Fields(s.Region), " ")
		if first, seen := spelling[fold(region)]; !seen || region < first {
			spelling[fold(region)] = region
		}
		regions[s.Ranch] = regions[s.Ranch].add(fold(region))
	}
	for i := range d.Nests {
		ranches[d.Nests[i].Ranch] = true
	}
	for i := range d.Belts {
		ranches[d.Belts[i].Ranch] = true
	}

	var roster []Member
	named := map[string]bool{}
	for _, ranch := range slices.Sorted(maps.Keys(ranches)) {
		m := Member{Ranch: ranch, Entity: cmp.Or(owners[ranch].most(), ranch), Area: spelling[regions[ranch].most()], Consent: Counted}
		if m.Area != "" {
			named[m.Area] = true
		}
		roster = append(roster, m)
	}
	var areas []Area
	for _, name := range slices.Sorted(maps.Keys(named)) {
		areas = append(areas, Area{Name: name})
	}
	return roster, areas
}

// votes count words.
type votes map[string]int

func (t votes) add(word string) votes {
	if t == nil {
		t = votes{}
	}
	if word != "" {
		t[word]++
	}
	return t
}

// most returns the word counted most often, of several the first in the alphabet.
func (t votes) most() string {
	best := ""
	for _, word := range slices.Sorted(maps.Keys(t)) {
		if t[word] > t[best] {
			best = word
		}
	}
	return best
}
