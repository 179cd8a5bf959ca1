// Package archtest holds the import rules of the project as a table, each with the sentence a newcomer needs.
//
// It has tests only. The rules keep three promises: the ground (survey to bulletin) is pure, so that its numbers can be
// checked without a database; one package speaks SQL, so that row-level security has one door; one package speaks
// HTTP, so that one place turns errors into answers.
package archtest
