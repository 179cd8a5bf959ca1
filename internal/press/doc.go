// Package press composes bulletins, each once and by itself when its day has come, as a role of the database that no page has.
//
// It is the only place where the rows of several ranches come together, and it has no reader: what leaves it are the cells of a
// bulletin, which package disclosure let pass, and how many were held.
//
// # A season, from its opening to its bulletin
//
// Every published figure is a function of one season's copy, or of figures that are out. A season has four dates, set before
// it opens and read by every member (tussock.season, the page /changes). Nobody orders a bulletin: Run does each day what is
// due, and what was done stays done.
//
//   - Opening: who is in, in which area, which ranches are one landowner, and who said yes is written down (season_ranch). After it
//     nobody can ask again with other ranches, areas or names.
//   - Cut-off: the results of those are copied (snapshot); the press has no grant on the results themselves. Sheets that the clerk
//     has yet to read are noted (unread) and copied when it has; composing waits while any is noted, for a day at most. After it
//     nobody can ask again with a sheet mended.
//   - Composition: copies of landowners who said no since are dropped, and the cells are made (pub.cell). After it nobody can ask
//     again: edition has one row for each.
//   - Publication: the bulletin is out once the coordinators said yes to the print that they were shown, and not before its day.
//
// Sheets that come late are copied 30 days later, and survival of the whole is revised once, where enough landowners differ (the
// final revision); nothing else of that season ever is. Trends, seasons side by side and means of several are computed from
// published cells and their ranges alone (stat/trend.Published). Coordinators read how many figures are held; why, nobody does.
// Beside a ranch's own figure stands in general words what a figure needs.
//
// # Who counts
//
// tussock.ranch_owners, vouched_for and owners_traces (migrations 00135, 00200) say which landowners are people.
//
//   - Somebody of their own signed in and said yes, or signed on paper.
//   - Two who are not both coordinators, and were not brought in by the same person, vouched for that person, not for a name. Beside
//     a coordinator, a landowner who was counted in the first season makes two no matter who brought them in, else a cooperative of
//     one coordinator could vouch for nobody; nobody else does whom that coordinator brought in.
//   - A ranch counts where one of its own owners is vouched for.
//   - Landowners that share a person, an address, a telephone, a browser or a name on record that looks alike (tussock.alike) are
//     one. Typing over the record changes the name on the list and what it counts together with, and nothing else: access, yes and
//     words stay.
//   - No more than a third of a figure's landowners may be new in it. New is who came after the first opening and was counted in no
//     season that opened 300 days before.
//
// What is left: somebody who comes with another address, telephone and browser is another person here until an owner looks. In the
// first season all are new, and nothing but the vouching owners keeps made-up ones out. To ask for more than two words then helps
// nothing, since made-up owners have as many words as somebody makes up; to count only who vouch for one another, link by link,
// would leave out real owners who vouch for nobody and, where one tireless owner vouches for all, nearly everybody. A coordinator
// who types two real owners under one name makes them count as one, for all and for both to read. Who is suspended can neither say
// yes nor no until they are in again, and two coordinators can make that last. A no on paper is as late as a coordinator writes it
// down. And of a made-up owner whom a real one vouched for once, coordinators can make more, a third a year, for all to read.
//
// The attacks that each step answers are a table in internal/archtest/steps_test.go.
package press
