package findings

import "tussock/internal/words"

// Limits returns the sentences that stand wherever results are read: what simulated nests can and cannot say.
func Limits() []string {
	return []string{
		words.Mark("These are hen's eggs put out in clumps: how many lasted is an index of risk where nests could be, not how many real nests hatched and not how many birds there are."),
		words.Mark("Real nests have a sitting hen, smaller eggs and partly other enemies; compare with the same method on the same lines, and set counts of birds beside it before speaking of birds."),
		words.Mark("A change is a change on these lines. It does not say what caused it."),
	}
}

// ShortLimit is the same in one line, for a card or a caption.
const ShortLimit = "An index from simulated nests: these eggs lasted or did not. It is not a hatch rate."
