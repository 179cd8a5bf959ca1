package disclosure

// A Unit is what one entity holds of a cell.
type Unit struct {
	Entity string
	// Known marks an entity whose own figures are public: everybody is an insider there, so it protects nobody and is
	// left out of every test.
	Known   bool
	New     bool      // in no figure before this season
	Amounts []float64 // in the caller's order, the same for all units
}

// CheckUnits adds the units up by entity and checks every amount, and that not too many are new. It returns the first reason
// to hold them and the smallest number of entities behind any amount.
func (p Policy) CheckUnits(units []Unit) (Reason, int) {
	if len(units) == 0 {
		return Nobody, 0
	}
	var held Reason
	fewest := len(units)
	for i := range units[0].Amounts {
		a, fresh := Amounts{}, map[string]bool{}
		for _, u := range units {
			if !u.Known && u.Amounts[i] > 0 {
				a[u.Entity] += u.Amounts[i]
				if u.New {
					fresh[u.Entity] = true
				}
			}
		}
		fewest = min(fewest, len(a))
		if held == "" {
			held = p.Check(a)
		}
		if held == "" && p.NewShare > 0 && float64(len(fresh)) > p.NewShare*float64(len(a)) {
			held = TooNew
		}
	}
	return held, fewest
}
