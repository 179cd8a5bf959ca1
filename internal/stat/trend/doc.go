// Package trend tells whether survival changes from year to year.
//
// Two answers stand side by side. [Fit] takes the regional model of package mixed with the season as a number: the
// hazard ratio of a year, from the nests themselves. [Regional] takes one figure a ranch and year and assumes no
// model: the Mann–Kendall test within each ranch, summed over ranches (Helsel and Frans 2006, Environ. Sci. Technol.
// 40:4066-4073), with Sen's slope. Where they agree the answer does not hang on the model.
//
// Short series tell little. With fewer than three seasons there is no trend, only a difference; with five, a change
// has to be large to show.
package trend
