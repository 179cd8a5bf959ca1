// Package archtest holds the import rules of the project as a table, each with the sentence a newcomer needs.
//
// It has tests only. The rules keep three promises: the ground (survey to bulletin) is pure, so that its numbers can be
// checked without a database; one package speaks SQL, so that row-level security has one door; one package speaks
// HTTP, so that one place turns errors into answers.
//
// Three more tables say what is defended, each line with the tests that hold it: the attacks on what nobody may learn of a
// neighbor (attacks_test.go), the steps that stand in somebody's way and what could be done without each (steps_test.go), and
// the controls of the OWASP standard (controls_test.go). A test that is named and does not exist fails.
package archtest
