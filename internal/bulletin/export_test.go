package bulletin

import "tussock/internal/disclosure"

// ComposeUnder composes under another policy, so that tests can turn a rule off.
var ComposeUnder = composeUnder

// FiguresBefore computes the numbers of a season's figures under a policy, on their grids, before anything is held for
// hanging on somebody: by place and name.
func FiguresBefore(policy disclosure.Policy, in Input) (map[string][]float64, error) {
	c, err := newComposer(policy, in)
	if err != nil {
		return nil, err
	}
	c.survival()
	c.density()
	all := map[string][]float64{}
	e := c.evidence(in.Open)
	for _, s := range e.scopes() {
		list, _ := e.numbers(s, "", nil)
		for name, n := range list {
			all[name] = n.values()
		}
	}
	return all, nil
}
