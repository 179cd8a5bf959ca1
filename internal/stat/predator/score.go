package predator

import "math"

// A Score says how well keys tell who took the nests that a camera settled: the mean of log P(the animal | its signs),
// all animals being held equally likely beforehand. It is at most 0, and higher is better; being proper, it rewards no
// pretended certainty (Good 1952, J. R. Stat. Soc. B 14:107-114; Gneiting & Raftery 2007, J. Am. Stat. Assoc. 102:359-378,
// both cited from memory).
type Score struct {
	Cases   int
	Tuned   float64 // each case by the key that has learned from all the others
	Untuned float64 // by the key as it is
	Flat    float64 // by no key at all: −log of the number of animals
}

// Score compares the key, taught by cases, with itself untaught and with knowing nothing. Each case is left out when
// its own score is made, so the key is not asked what it has been told. Without cases all scores are 0.
func (k *Key) Score(cases []Case) Score {
	if len(cases) == 0 {
		return Score{}
	}
	even := make([]float64, len(names))
	for i := range even {
		even[i] = 1 / float64(len(names))
	}
	s := Score{Cases: len(cases), Flat: -math.Log(float64(len(names)))}
	tuned := k.Learn(cases)
	for _, c := range cases {
		tuned.add(c, -1)
		s.Tuned += math.Log(Posterior(even, tuned.Likelihood(c.Signs))[c.Animal])
		tuned.add(c, 1)
		s.Untuned += math.Log(Posterior(even, k.Likelihood(c.Signs))[c.Animal])
	}
	s.Tuned /= float64(len(cases))
	s.Untuned /= float64(len(cases))
	return s
}
