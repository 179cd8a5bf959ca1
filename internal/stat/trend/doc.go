// Package trend tells whether survival changes from year to year.
//
// [Published] and [Fit] draw a [Line] through the seasons: the first from what was published of each, the second from the nests
// themselves by the regional model of package mixed. Seasons have luck of their own, and good and bad years come in runs. [Regional]
// takes one figure a ranch and year and assumes no model: the Mann–Kendall test within each ranch, summed over ranches (Helsel and
// Frans 2006, Environ. Sci. Technol. 40:4066-4073), with Sen's slope. It takes years to be independent, cannot reach 0.05 within a
// ranch below five, and is shown to nobody of fewer than LongSeries.
//
// Short series tell little. With fewer than three seasons there is no trend, only a difference; with five, a change
// has to be large to show.
package trend
