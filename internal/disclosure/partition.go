package disclosure

import (
	"maps"
	"slices"
)

// A Unit is what one entity holds at one place of the finest table.
type Unit struct {
	Entity string
	// Known marks an entity whose own figures are public: everybody is an insider there, so it protects nobody and is
	// left out of every test.
	Known   bool
	At      []string  // its value in each dimension
	Amounts []float64 // in the caller's order, the same for all units
}

// A Node is a cell of the tree that Split makes. Those without a Held reason may be published, and so may any union
// of them. The atoms are the nodes none of whose children may be.
type Node struct {
	At       []string // its value in each dimension, "" in one over which it is the total
	Held     Reason
	N        int // entities behind it: of each amount, the fewest
	Children []*Node
}

// Split makes the partition of a season. It divides the whole along the given dimensions, in their order, and only
// where every part passes the rules; else it tries the next dimension on what it has. So no part is ever withheld
// beside siblings that are shown.
//
// plan holds last season's units, or nil in a first season. A split must be safe on both: the plan keeps the choice
// of the partition from telling about this season, and where this season's amounts fail, the parts are merged.
// Nothing is ever split further than the plan allows.
//
// Nodes that failed stay in the tree with their reason, so that they can be listed as held.
func (p Policy) Split(units, plan []Unit, dims ...int) *Node {
	if plan == nil {
		plan = units
	}
	root := &Node{}
	if len(units) > 0 {
		root.At = make([]string, len(units[0].At))
	}
	p.test(root, units, plan)
	if root.Held == "" {
		p.split(root, units, plan, dims)
	}
	return root
}

func (p Policy) split(n *Node, units, plan []Unit, dims []int) {
	if len(dims) == 0 {
		return
	}
	parts, planned := group(units, dims[0]), group(plan, dims[0])
	if len(parts) < 2 { // the only part is the node itself
		p.split(n, units, plan, dims[1:])
		return
	}

	safe := true
	var children []*Node
	for _, value := range slices.Sorted(maps.Keys(parts)) {
		c := &Node{At: slices.Clone(n.At)}
		c.At[dims[0]] = value
		p.test(c, parts[value], planned[value])
		safe = safe && c.Held == ""
		children = append(children, c)
	}
	n.Children = append(n.Children, children...)
	if !safe {
		for _, c := range children {
			if c.Held == "" {
				c.Held = Sibling
			}
		}
		p.split(n, units, plan, dims[1:])
		return
	}
	for _, c := range children {
		value := c.At[dims[0]]
		p.split(c, parts[value], planned[value], dims[1:])
	}
}

// test fills a node's verdict and its number of entities.
func (p Policy) test(n *Node, units, plan []Unit) {
	n.Held, n.N = p.CheckUnits(units)
	if n.Held == "" {
		n.Held, _ = p.CheckUnits(plan)
	}
}

// CheckUnits adds the units up by entity and checks every amount. It returns the first reason to hold them and the
// smallest number of entities behind any amount.
func (p Policy) CheckUnits(units []Unit) (Reason, int) {
	if len(units) == 0 {
		return Nobody, 0
	}
	var held Reason
	fewest := len(units)
	for i := range units[0].Amounts {
		a := Amounts{}
		for _, u := range units {
			if !u.Known && u.Amounts[i] > 0 {
				a[u.Entity] += u.Amounts[i]
			}
		}
		fewest = min(fewest, len(a))
		if held == "" {
			held = p.Check(a)
		}
	}
	return held, fewest
}

func group(units []Unit, dim int) map[string][]Unit {
	parts := map[string][]Unit{}
	for _, u := range units {
		parts[u.At[dim]] = append(parts[u.At[dim]], u)
	}
	return parts
}
