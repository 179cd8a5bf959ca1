// Package postgres is the store: every SQL statement, the row structs and the migrations.
//
// There is one door. DB.As opens a transaction as a signed-in actor, and the database itself, not this code, decides
// which rows that actor has: row-level security is enabled and forced on every table, the application's role owns
// none of them, and the actor is named by the session's token, which only the database can resolve. Without an actor
// there are no rows. A row that the policies hide is a row that does not exist.
//
// Four roles and four types: DB serves pages (tussock_app), Clerk reads the sheets that were sent (tussock_clerk), Press
// composes bulletins (tussock_press), Owner migrates and seeds (tussock_owner). No page has a Clerk, a Press or an Owner.
//
// # How the database learns who looks
//
// A session's cookie, a token and a field link's phone each have a secret. SHA-256 makes a key of it; the database keeps a hash of
// the key and finds the row by a hash of that, the handle. As begins, reads the transaction's number, and sets tussock.viewer for
// this transaction, as a bound value: the handle, and the key hidden under a hash of what is kept and of the number (the construction
// of SCRAM, RFC 5802; viewer.go, migration 00130). The function tussock.viewer lifts the cover, hashes and compares. So what is seen
// in a view, a log or a setting is good in a transaction that is over; what the database keeps opens none; and the secrets are made
// in the database, come out as results and never go in. No statement's text has a value in it: Tx takes a statement, which the
// compiler makes of constants alone. Through PgBouncer's transaction pooling it works with default_query_exec_mode=cache_describe in
// TUSSOCK_APP_URL and TUSSOCK_DOOR_URL; owner and press need the database itself. The simple protocol is refused.
//
// The latest of anything is the highest seq within its ranch, never the youngest time.
//
// # What somebody can do who has
//
//   - Statements of their own as tussock_app (a slip in a page): what the member whose transaction it is may do, while it lasts; learn
//     how many rows there are by EXPLAIN ANALYZE, the places of own rows (ctid) and transaction numbers. They cannot see who is in
//     another transaction, take anything that opens one, or read others' statements, statistics, sizes or locks (quiet.sql, where the
//     setting up is done by a superuser).
//   - Code in the process that answers requests: whatever that process is told. The door opens sessions for anybody whose address or
//     ids are known, so any member's pages one by one, and need write no log; the key of one-time codes; the mail server. They cannot
//     come in as the superuser, the owner or the press: it is told neither password. On Linux from 5.13 on it reaches no file of its
//     user but its own (Landlock), and traces and signals no process outside. Where serve is root it is another user too, and so are
//     the press and the clerk. With TUSSOCK_APP_URL and TUSSOCK_DOOR_URL set, serve is that process itself, as whatever user the unit
//     or container gives it, and nothing confines it but they.
//   - Code in the clerk (a sheet made to break its reader): what tussock_clerk may, read every sheet that was sent and write what
//     sheets say. They cannot come in as anybody else, see who is in, answer a request, or read or write a file (Landlock).
//   - Our user of the machine, without root: the data folder, that is the database's files, database.key and secret.key. No password
//     protects against this.
//   - Root, the database's superuser, its files or a backup: everything in it, and who may change its functions can catch what is
//     shown next. They cannot read a password, token or session, of which it has hashes, nor make one-time codes without secret.key.
//
// # The log
//
// Every look at named results and every file taken is a row of tussock.view_log: Looked, Took and TookFigures, in the transaction
// that reads; a token's use is noted by the door, a field link's once a day, under the link's name (tussock.field_looked). The pages'
// role can add rows about what it may open and change none (postgres.TestLogIsAppendOnly). Owners read theirs on /who/log. What was refused is
// counted by day, kind and part in the cooperative, without whom or what about (tussock.denial, /cooperative/log).
//
// More than 30 files of ranches, answers about them to a program and looks at ranches shared by name by one person within an hour, or
// 100 within a day, ring an alarm: on the first pages and by email, to the coordinators and to the owners concerned. Looks of a
// ranch's own people at its pages do not count, nor does sending sheets; what owners take of their own ranch rings for its owners
// alone, and what is published rings for nobody: posters, the bulletins' files. A server counts by its own clock; who has the
// database itself is bound by none of this.
//
// # Several servers
//
// What slows guessing at the door, emails, files and programs is one table for all servers (tussock.throttle, hashes only); sessions,
// steps and links are tables too, and one press at a time holds an advisory lock: run as many servers on one database as wanted.
//
// # A new table
//
// It has coop_id first in every key, row-level security enabled and forced, and a policy; the tests refuse it otherwise. Its column of
// a ranch is called ranch_id: erasing a ranch deletes the rows of every table that has one, and postgres.TestErase looks for what is
// left.
package postgres
