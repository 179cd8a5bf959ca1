package bulletin

import (
	"tussock/internal/errs"
	"tussock/internal/words"
)

// stayed refuses a final revision where an owner or a ranch whose numbers are in the first edition is counted no longer:
// they left, were erased, or took back their yes. A figure made anew without them, laid beside the old one, would show what was
// theirs. So the season stays as it is for good.
func (c *composer) stayed() error {
	here := map[string]bool{}
	for _, m := range c.members {
		here[c.token("entity", m.entity)], here[c.token("ranch", m.id)] = true, true
	}
	for _, t := range c.prior.Log.Totals {
		for _, p := range t.Parts {
			// Of density the log knows each ranch, of the rest the owner alone.
			if !here[p.Entity] || measureOf(t.Cell) == ClumpsPerAcre && !here[p.Column] {
				return errs.Tell(errs.Conflict, words.Later("The figures of %d stay as they are: not everybody who was counted in them is counted now, and figures without them would show what was theirs. What came later counts for the next bulletin.", c.season), nil)
			}
		}
	}
	return nil
}
