// Package postgres is the store: every SQL statement, the row structs and the migrations.
//
// There is one door. DB.As opens a transaction as a signed-in actor, and the database itself, not this code, decides
// which rows that actor has: row-level security is enabled and forced on every table, the application's role owns
// none of them, and the actor is named by the session's token, which only the database can resolve. Without an actor
// there are no rows. A row that the policies hide is a row that does not exist.
//
// Four roles and four types: DB serves pages (tussock_app), Clerk reads the sheets that were sent (tussock_clerk), Press
// composes bulletins (tussock_press), Owner migrates and seeds (tussock_owner). No page has a Clerk, a Press or an Owner.
package postgres
