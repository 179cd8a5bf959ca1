package intake

import (
	"slices"
	"strings"

	"tussock/internal/lexicon"
)

// MatchRanch finds which of some ranches a sheet means by a name: the one that is spelled so, leaving aside case, marks and
// words such as Ranch and The; else the only one of whose words the name has all, or that has all of the name's. "" where
// none does, or several do.
func MatchRanch(name string, ranches []string) string {
	said := telling(name)
	if len(said) == 0 {
		return ""
	}
	var near []string
	for _, r := range ranches {
		switch other := telling(r); {
		case slices.Equal(other, said):
			return r
		case len(other) > 0 && (within(said, other) || within(other, said)):
			near = append(near, r)
		}
	}
	if len(near) != 1 {
		return ""
	}
	return near[0]
}

// telling are the words of a ranch's name that tell it from others.
func telling(name string) []string {
	return slices.DeleteFunc(strings.Fields(lexicon.Words(name)), func(w string) bool {
		return slices.Contains([]string{"ranch", "ranches", "rancho", "the", "el", "la", "los", "las", "co", "company", "inc", "llc", "place"}, w)
	})
}

// within tells whether all words of one name are among those of another.
func within(one, other []string) bool {
	return !slices.ContainsFunc(one, func(w string) bool { return !slices.Contains(other, w) })
}
