package findings

import (
	"encoding/json"

	"tussock/internal/stat/interval"
	"tussock/internal/stat/predator"
	"tussock/internal/words"
)

// Method is the version of all that Compute and Pack do (MixOf is done anew at each look): what was kept under another is computed again. TestMethod says when it
// has to be raised.
const Method = 8

// The form in which results are kept has what the contract's JSON has (field by field, whatever is added there) and the rest:
// what only pages show, and what sentences are made of.
type (
	plainResult    Result
	plainSurvival  Survival // without MarshalJSON
	plainDensity   Density
	plainPredators Predators

	keptResult struct {
		plainResult
		Survival  []keptSurvival  `json:"survival"`
		Density   []keptDensity   `json:"density"`
		Predators []keptPredators `json:"predators"`
		Past      Past            `json:"past"`
		Cameras   []predator.Case `json:"cameras"`
	}
	keptSurvival struct {
		plainSurvival
		Notes       []words.Phrase  `json:"notes,omitempty"`
		Lasted      int             `json:"lasted"`
		Waiting     int             `json:"waiting,omitempty"`
		Settled     int             `json:"settled"`
		FirstSeason bool            `json:"first_season,omitempty"`
		Spread      interval.Spread `json:"spread"`
		Early       Estimate        `json:"early"`

		Lines []lineUp `json:"lines,omitempty"`
	}
	keptDensity struct {
		plainDensity
		Notes   []words.Phrase  `json:"notes,omitempty"`
		PerBelt []float64       `json:"per_belt"`
		Patchy  float64         `json:"patchiness"`
		Spread  interval.Spread `json:"spread"`
	}
	keptPredators struct {
		plainPredators
		Notes  []words.Phrase      `json:"notes,omitempty"`
		Told   []predator.Sighting `json:"told"`
		Rooted int                 `json:"rooted"`
	}
)

// Pack writes results in the form in which they are kept.
func (r *Result) Pack() ([]byte, error) {
	k := keptResult{plainResult: plainResult(*r), Past: r.Past, Cameras: r.cameras}
	for i := range r.Survival {
		s := &r.Survival[i]
		k.Survival = append(k.Survival, keptSurvival{plainSurvival(*s), s.Notes, s.Lasted, s.Waiting, s.Settled, s.FirstSeason, s.spread, s.early, s.lines})
	}
	for i := range r.Density {
		d := &r.Density[i]
		k.Density = append(k.Density, keptDensity{plainDensity(*d), d.Notes, d.PerBelt, d.patchiness, d.spread})
	}
	for i := range r.Predators {
		p := &r.Predators[i]
		k.Predators = append(k.Predators, keptPredators{plainPredators(*p), p.Notes, p.told, p.rooted})
	}
	return json.Marshal(k)
}

// Unpack reads what Pack wrote under the same Method.
func Unpack(data []byte) (*Result, error) {
	var k keptResult
	if err := json.Unmarshal(data, &k); err != nil {
		return nil, err
	}
	r := Result(k.plainResult)
	r.Past, r.cameras = k.Past, k.Cameras
	r.Survival, r.Density, r.Predators = []Survival{}, []Density{}, []Predators{}
	for _, s := range k.Survival {
		row := Survival(s.plainSurvival)
		row.Notes, row.Lasted, row.Waiting, row.Settled, row.FirstSeason, row.spread, row.early, row.lines = s.Notes, s.Lasted, s.Waiting, s.Settled, s.FirstSeason, s.Spread, s.Early, s.Lines
		r.Survival = append(r.Survival, row)
	}
	for _, d := range k.Density {
		row := Density(d.plainDensity)
		row.Notes, row.PerBelt, row.patchiness, row.spread = d.Notes, d.PerBelt, d.Patchy, d.Spread
		r.Density = append(r.Density, row)
	}
	for _, p := range k.Predators {
		row := Predators(p.plainPredators)
		row.Notes, row.told, row.rooted = p.Notes, p.Told, p.Rooted
		r.Predators = append(r.Predators, row)
	}
	r.compare() // from the rows: what was kept of it is for programs
	return &r, nil
}
