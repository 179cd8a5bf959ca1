package bulletin_test

import (
	"flag"
	"os"
	"runtime/debug"
	"testing"
)

var long = flag.Bool("long", false, "attack 10000 random cooperatives of up to 300 landowners, and for each more targets")

var seed = flag.Uint64("seed", 40, "draw other cooperatives in T40")

// TestMain lets garbage grow: thousands of small cooperatives leave much of it, and none of them is large.
func TestMain(m *testing.M) {
	debug.SetGCPercent(400)
	os.Exit(m.Run())
}
