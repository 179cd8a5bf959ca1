package bulletin_test

import "flag"

var long = flag.Bool("long", false, "attack 10000 random cooperatives of up to 300 landowners, and for each more targets")
