// Package web holds what the browser gets: the templates of the pages, the style sheet, the marks and the scripts.
//
// The chart library and the list of common passwords are not part of the source: the deploy scripts copy them from npm
// to static/vendor and to passwords before building. Pages work without the former, since every chart has its numbers as
// a table; without the latter nobody can choose a password, and the server does not start.
package web

import "embed"

// FS holds the directories templates, static, words and passwords.
//
//go:embed templates static words all:passwords
var FS embed.FS
