package reading

import (
	"strings"
)

// lineInTitle finds a line that is one part of a title among others: "Nests of 2024 – North pasture – line 2". Where the text
// runs over several sentences or tells how much was counted, it is a remark and no title.
func (r *reader) lineInTitle(text string, items []item, c *cell) fact {
	if countOf(items, aLine) != 1 || between(items, aMeasure, aParity, theRest, aBut, aStop) {
		return fact{}
	}
	parts := separators.Split(text, -1)
	if len(parts) < 2 {
		return fact{}
	}
	for i, part := range parts {
		part = strings.TrimSpace(part)
		if i > 0 && lineHead(part) && linePattern.FindString(part) == part {
			return fact{text: lineName(part), at: c}
		}
	}
	return fact{}
}
