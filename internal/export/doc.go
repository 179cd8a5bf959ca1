// Package export gives data away in open formats: CSV in a data package, Parquet, and a Darwin Core archive.
//
// Every export is one ZIP file that carries Tussock's version, the number of the bulletin where there is one, what the
// figures are not, what the taker may do with them, and a list of SHA-256 sums. The same input gives the same bytes:
// nothing in an export depends on the clock, on chance or on the order of the rows.
//
// # What stays private
//
// How to walk back to a nest (steps, bearing, spot) and free notes leave in one file only, the CSV that a ranch's owner
// takes for themselves. A Darwin Core archive is made to be handed on: it names neither ranch nor owner nor place, and
// its ids are made with a secret, so that nobody can guess a name and confirm it.
//
// # Simulated nests are no animals
//
// A hen's egg from a shop is an occurrence of nothing. The only occurrences in a Darwin Core archive are animals that
// a trail camera caught at a nest.
package export
