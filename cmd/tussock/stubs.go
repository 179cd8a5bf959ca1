package main

// Founders: delete your function here when your file brings it. Same signature for all: see main.go.

import (
	"context"
	"io"
)

// founder B (analyze.go, template.go)
func runAnalyze(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	return 2
}
func runTemplate(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	return 2
}

// founder G
func runDemo(ctx context.Context, args []string, env func(string) string, stdout, stderr io.Writer) int {
	return 2
}
