package disclosure

// Policy holds every parameter of the release. A zero field turns its rule off, which tests use to show that each
// rule matters; Default is the only policy the product publishes under.
//
// Members are told the promise in plain words, not these numbers; the design stays safe if they become known.
type Policy struct {
	// MinEntities is the minimum frequency: a cell of fewer contributing entities is held. Five leaves three unknown
	// to two who pool. Practice: 5 contributors in the peer-benchmark safety zone of the DOJ/FTC health-care
	// Statement 6 (withdrawn 2023 as too permissive, so a floor) and in the defaults of the sdcLog manual.
	MinEntities int
	// Dominance are (n,k) rules: a cell is held where its n largest contributors hold more than k percent.
	// (1,50) and (2,67) are those of the Australian Bureau of Statistics' DataLab.
	Dominance []Dominance
	// Remainder is the p of the p% rule, in percent, for a Coalition of c: a cell is held where what is left of the
	// total after the largest contributor and the c largest others is less than p percent of the largest. The
	// Handbook (chapter 4) gives the rule and its form for coalitions. (2,67) corresponds to p = 100(100−67)/67 ≈ 49,
	// here hardened by a second insider; 50 is our judgment. The prior-posterior (p,q) rule is this one with
	// p = 100·p/q.
	Remainder float64
	Coalition int

	// Watchers is how many may pool what they know where bits are calculated, BitsMost how many bits figures that are
	// published together may tell them of any entity's results, and BitsMean in the mean: see Learned. A bit is one question
	// with two answers, as likely as each other, answered; half a bit, the promise, leaves a standard deviation 0.7 times as wide. What is
	// allowed is less, for parts are not quite normal. Ours.
	Watchers           int
	BitsMost, BitsMean float64

	// NewShare is the part of a cell's entities that may be new. More would let somebody fill a cell with entities of their own
	// making between one season and the next. Ours.
	NewShare float64

	// SurvivalSteps and ShareSteps are the grids of rates, in percentage points by number of entities.
	SurvivalSteps []Step
	ShareSteps    []Step
	// DensityBands are the lower ends of the density bands, clumps an acre, used where two significant digits would tell too
	// much. Each end is twice the one before; 300 is among them because it is the mark people know (common practice, no source).
	DensityBands []float64

	// MinNests and MinFailures are what a survival figure and its interval must rest on, and MaxRelativeWidth bounds
	// the width of a 95 % interval over the estimate: 30 from the NCHS home and hospice care survey's rule for
	// samples, 10 and 1.6 from the NCHS standards for rates.
	MinNests, MinFailures int
	MaxRelativeWidth      float64

	// MinRange is the interval audit's bound: two pooling entities must be left with at least this share of the
	// scale for any other entity's rate.
	MinRange float64

	// PlaceWidth is how wide the range of a place may be, as a fraction of 1: two places of that width that differ by 10
	// points, the margin that matters, have an even chance of being told apart. Wider ones would tell their readers nothing
	// that the whole does not, and everybody else something of each owner.
	PlaceWidth float64

	// SpreadEntities is from how many entities on the spread between owners is estimated and published, and when in the four weeks nests were lost. Ours.
	SpreadEntities int

	// Revisions holds a final revision to the rule for cells: who changed must be enough entities and none of them most
	// of the change.
	Revisions bool

	// Waits makes whoever joins or leaves a figure that hardly changes from season to season wait for others who do, and
	// whoever moves from place to place: MinEntities at once. Else two seasons' figures would tell the one's.
	Waits bool

	// CountStep and CountEntities are the rounding of published numbers of rows, and how many entities it takes to give one:
	// tens from ten entities (Eurostat's farm statistics round counts to 10; the ABS, the ONS and UK practice want 10).
	CountStep, CountEntities int

	// CategoryEvents and CategoryTop are what a category of a mix needs to be named: events, and no entity above this
	// percentage of them. The p% rule is for its events too.
	CategoryEvents int
	CategoryTop    float64

	// ModelEntities and ModelTop are what a figure from a model needs: entities, and no entity above this percentage of
	// the rows. 25 % is the bound of Statement 6.
	ModelEntities int
	ModelTop      float64
}

// Dominance holds a cell whose Largest biggest contributors together exceed Percent of it.
type Dominance struct {
	Largest int
	Percent float64
}

// A Step is the width of a grid, in percentage points, from a number of entities on.
type Step struct {
	Entities int
	Points   float64
}

// Default returns the policy of the product.
func Default() Policy {
	return Policy{
		MinEntities:      5,
		Dominance:        []Dominance{{1, 50}, {2, 67}},
		Remainder:        50,
		Coalition:        2,
		Watchers:         3,
		BitsMost:         0.4,
		BitsMean:         0.15,
		NewShare:         1.0 / 3,
		SurvivalSteps:    []Step{{5, 5}, {10, 2}, {30, 1}},
		ShareSteps:       []Step{{5, 10}, {10, 5}},
		DensityBands:     []float64{0, 75, 150, 300, 600},
		MinNests:         30,
		MinFailures:      10,
		MaxRelativeWidth: 1.6,
		MinRange:         0.30,
		PlaceWidth:       0.14,
		SpreadEntities:   20,
		Revisions:        true,
		Waits:            true,
		CountStep:        10,
		CountEntities:    10,
		CategoryEvents:   10,
		CategoryTop:      50,
		ModelEntities:    10,
		ModelTop:         25,
	}
}
