package export

import (
	"fmt"
	"strings"
	"time"

	"tussock/internal/findings"
)

// About is what an export says of itself.
type About struct {
	Version     string    // Tussock's
	Cooperative string    // its name
	Made        time.Time // the day that the export is dated; the time of day is left out
}

func (a About) day() string { return a.Made.UTC().Format(time.DateOnly) }

// maker is the one line that names the program.
func (a About) maker() string { return "Tussock " + a.Version }

// limits is the standing text: an index, not nest success.
func limits() string {
	return findings.ShortLimit + " " + strings.Join(findings.Limits(), " ")
}

// noReidentification goes with everything that leaves.
const noReidentification = "Nobody may try to find out from these data, alone or together with others, which ranch, owner or person a figure comes from, " +
	"nor help others to. Who finds it out by accident tells the cooperative and nobody else. Anyone who passes the data on passes this condition on with them."

func ownRights(a About) string {
	return "These rows belong to the ranch's owner, who alone decides who else gets them. To anybody they are given, these conditions hold. " +
		noReidentification + " Say where they come from: " + a.Cooperative + ", through " + a.maker() + ". Leave the limits with the figures."
}

func bulletinRights(a About, season, number int) string {
	return fmt.Sprintf("The figures may be used, shown and passed on, free of charge, where these conditions are kept. %s Say where they come from: %s, bulletin %d (season %d), through %s. Leave the limits with the figures.",
		noReidentification, a.Cooperative, number, season, a.maker())
}
