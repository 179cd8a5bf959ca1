// Package sheet reads CSV files and XLSX workbooks as rows of text, each with its file, sheet and row number, and
// writes workbooks for people to fill in.
//
// It knows files, not nests: what a column means is for package intake to say. It judges a file by its bytes, never
// by its name, and refuses what it cannot read with a sentence for the sender.
package sheet
