// Package survey is the vocabulary of the trade: ranches and sites, transects and simulated nests, the visits to
// them, the remains found at them and the belts on which clumps are counted.
//
// It knows no files, no database and no pages. Everything else speaks in these words.
package survey
