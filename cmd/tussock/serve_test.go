package main

import (
	"context"
	"os"
	"testing"
)

// TestMain lets the test binary be the press: serve starts its own executable again, and in a test that is this one.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "press" {
		os.Exit(run(context.Background(), os.Args[1:], os.Getenv, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}
