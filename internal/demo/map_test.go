package demo_test

import (
	"testing"

	"tussock/internal/demo"
	"tussock/internal/geo"
)

// TestOutlines: the demo's map is a file the coordinator could send, and has every area.
func TestOutlines(t *testing.T) {
	list, err := geo.Read(demo.Outlines())
	if err != nil {
		t.Fatal(err)
	}
	on := map[string]bool{}
	for _, n := range list {
		on[n.Name] = true
	}
	for _, a := range theDemo().Areas {
		if !on[a.Name] {
			t.Errorf("%s is not on the map", a.Name)
		}
	}
}
