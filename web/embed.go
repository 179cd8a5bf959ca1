// Package web holds what the browser gets: the templates of the pages, the style sheet, the marks and the scripts.
//
// The chart library is not part of the source: the deploy scripts copy it to static/vendor before building. Pages
// work without it, since every chart has its numbers as a table.
package web

import "embed"

// FS holds the directories templates, static and words.
//
//go:embed templates static words
var FS embed.FS
