package findings

import (
	"tussock/internal/stat/survival"
	"tussock/internal/survey"
)

// FirstChecks holds the day on which each line was first checked after a nest of it was set.
type FirstChecks map[survey.TransectKey]survey.Date

// FirstChecksOf finds the first check of every line.
func FirstChecksOf(nests []survey.Nest) FirstChecks {
	first := FirstChecks{}
	for i := range nests {
		n := &nests[i]
		for _, v := range n.Visits {
			if v.On <= n.SetOn {
				continue
			}
			if on, seen := first[n.Key()]; !seen || v.On < on {
				first[n.Key()] = v.On
			}
			break
		}
	}
	return first
}

// LostBy returns the day after setting by which a nest was lost that was found so on that day, and last seen intact on
// day intact.
//
// A nest set and found lost on one day was lost between setting and the first check of its line, or by day 14 where its
// line has no other check: an interval of one day would feed a constant rate that early losses contradict, and leaving it
// out would take away a loss. Otherwise a loss found on the day of the last good check came within a day.
func (f FirstChecks) LostBy(n *survey.Nest, day, intact int) int {
	if day > 0 || intact > 0 {
		return max(day, intact+1)
	}
	if first := int(f[n.Key()] - n.SetOn); first > 0 && f[n.Key()] != 0 {
		return first
	}
	return survival.Cut
}
