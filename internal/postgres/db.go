package postgres

import (
	"context"
	"database/sql"
	"encoding/hex"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	gormpg "gorm.io/driver/postgres"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"tussock/internal/access"
	"tussock/internal/errs"
)

// connections is the size of a server's pool. A page needs one connection for a few milliseconds.
const connections = 12

// DB is the pages' way to the store. It keeps two sets of connections: as tussock_app, on which everything runs that a
// signed-in actor asks for, and as tussock_door, which can call the functions that let people in and read no table.
type DB struct {
	// Now is the clock that stamps what is written; nil is time.Now. Sessions and invitations go by the database's
	// own clock, whatever this one says.
	Now func() time.Time

	app  *gorm.DB
	door *sql.DB
}

// Open connects as the application and as the door. It refuses a role that could see or do more than policies allow:
// a superuser, one that bypasses row-level security, one that owns a table or may become the owner, and a database
// in which any table's policies are not forced.
func Open(ctx context.Context, appURL, doorURL string) (*DB, error) {
	return open(ctx, appURL, doorURL, connections)
}

// OpenOne is Open with a single connection for all pages: what one request leaves behind, the next one finds.
func OpenOne(ctx context.Context, appURL, doorURL string) (*DB, error) {
	return open(ctx, appURL, doorURL, 1)
}

func open(ctx context.Context, appURL, doorURL string, size int) (*DB, error) {
	app, err := connect(ctx, appURL, "", size)
	if err != nil {
		return nil, fmt.Errorf("connect as the application: %w", err)
	}
	door, err := connect(ctx, doorURL, "", 2)
	if err != nil {
		app.Close()
		return nil, fmt.Errorf("connect as the door: %w", err)
	}
	for _, pool := range []*sql.DB{app, door} {
		if err := refusePower(ctx, pool); err != nil {
			app.Close()
			door.Close()
			return nil, err
		}
	}
	g, err := gorm.Open(gormpg.New(gormpg.Config{Conn: app}), &gorm.Config{
		SkipDefaultTransaction: true,
		TranslateError:         true,
		Logger:                 logger.Discard, // statements carry values; errors go up to whoever logs them
		DisableAutomaticPing:   true,
	})
	if err != nil {
		app.Close()
		door.Close()
		return nil, fmt.Errorf("open gorm: %w", err)
	}
	return &DB{app: g, door: door}, nil
}

// connect opens a pool and makes sure that it works. With become, each connection takes on that role. How long a statement may
// take is a setting of the roles (setupRoles): PgBouncer refuses connections that bring settings of their own.
func connect(ctx context.Context, url, become string, size int) (*sql.DB, error) {
	cfg, err := pgx.ParseConfig(url)
	if err != nil {
		return nil, errs.Hide(errs.Invalid, "The address of the database cannot be read.", hideURL(err))
	}
	if cfg.DefaultQueryExecMode == pgx.QueryExecModeSimpleProtocol {
		// That mode writes values into the text of statements, where whoever watches the database reads them.
		return nil, errs.New(errs.Invalid, "The address of the database asks for the simple protocol. Behind PgBouncer, say default_query_exec_mode=cache_describe instead.")
	}
	cfg.RuntimeParams["application_name"] = "tussock"
	if become != "" {
		cfg.RuntimeParams["role"] = become
	}
	pool := stdlib.OpenDB(*cfg)
	pool.SetMaxOpenConns(size)
	pool.SetMaxIdleConns(size)
	pool.SetConnMaxLifetime(30 * time.Minute)
	if err := pool.PingContext(ctx); err != nil {
		pool.Close()
		return nil, fmt.Errorf("reach the database: %w", err)
	}
	return pool, nil
}

// refusePower fails where the pool's role has more than its grants: the promise to every ranch rests on that.
func refusePower(ctx context.Context, pool *sql.DB) error {
	var role string
	var super, bypass, owns, owner bool
	err := pool.QueryRowContext(ctx, `
		SELECT r.rolname, r.rolsuper, r.rolbypassrls,
		       EXISTS (SELECT 1 FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		               WHERE n.nspname IN ('tussock', 'pub') AND c.relowner = r.oid),
		       EXISTS (SELECT 1 FROM pg_roles o WHERE o.rolname = 'tussock_owner' AND pg_has_role(r.oid, o.oid, 'MEMBER'))
		FROM pg_roles r WHERE r.rolname = current_user`).Scan(&role, &super, &bypass, &owns, &owner)
	if err != nil {
		return fmt.Errorf("look up the database role: %w", err)
	}
	switch {
	case super:
		return errs.New(errs.Invalid, "The role "+role+" is a superuser. Pages must be served as a role that row-level security binds, such as tussock_app.")
	case bypass:
		return errs.New(errs.Invalid, "The role "+role+" bypasses row-level security. Pages must be served as a role that it binds, such as tussock_app.")
	case owns || owner:
		return errs.New(errs.Invalid, "The role "+role+" owns the tables or may become their owner. Pages must be served as a role that does not, such as tussock_app.")
	}
	var open sql.NullString
	err = pool.QueryRowContext(ctx, `
		SELECT string_agg(c.oid::regclass::text, ', ')
		FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
		WHERE n.nspname IN ('tussock', 'pub') AND c.relkind IN ('r', 'p') AND NOT (c.relrowsecurity AND c.relforcerowsecurity)`).Scan(&open)
	if err != nil {
		return fmt.Errorf("look up row-level security: %w", err)
	}
	if open.Valid {
		return errs.New(errs.Invalid, "Row-level security is not forced on "+open.String+". Run: tussock migrate")
	}
	return nil
}

// Close ends all connections.
func (db *DB) Close() {
	if app, err := db.app.DB(); err == nil {
		app.Close()
	}
	db.door.Close()
}

// Ping tells whether the database answers.
func (db *DB) Ping(ctx context.Context) error {
	app, err := db.app.DB()
	if err != nil {
		return err
	}
	return translate(app.PingContext(ctx))
}

// Tx is one transaction of one actor. It ends with the function it was given to and is never kept.
type Tx struct {
	ctx   context.Context
	g     *gorm.DB
	conn  *sql.Conn // the same connection, for COPY
	actor access.Actor
	now   time.Time

	reading bool // it writes nothing
}

// As runs fn in one transaction as the actor and commits, or rolls back where fn fails or panics. Load in it; compute
// and render after it.
//
// Who the actor is goes in as a value that is good in this transaction only, bound to a statement and set for this transaction,
// so that neither a pooled connection nor a look at the database's activity has anything of it. Where the session has ended
// meanwhile there are simply no rows. Errors carry the kinds of package errs; a row hidden by a policy is errs.NotFound.
func (db *DB) As(ctx context.Context, actor access.Actor, fn func(*Tx) error) error {
	return db.as(ctx, actor, "BEGIN", fn)
}

// Reading is As in a read-only transaction: the only kind in which an API token is anybody.
func (db *DB) Reading(ctx context.Context, actor access.Actor, fn func(*Tx) error) error {
	return db.as(ctx, actor, readOnly, fn)
}

const readOnly statement = "BEGIN READ ONLY"

func (db *DB) as(ctx context.Context, actor access.Actor, opening statement, fn func(*Tx) error) error {
	if !isToken(actor.Session) {
		return errs.New(errs.Unauthenticated, "Please sign in.")
	}
	err := db.app.WithContext(ctx).Connection(func(g *gorm.DB) (err error) {
		conn, ok := g.Statement.ConnPool.(*sql.Conn)
		if !ok {
			return fmt.Errorf("gorm gave a %T for a connection", g.Statement.ConnPool)
		}
		done := false
		defer func() {
			if !done {
				// Where even this fails, the pool finds the transaction open and gives the connection up.
				ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
				defer cancel()
				conn.ExecContext(ctx, "ROLLBACK")
			}
		}()
		number, err := begin(ctx, conn, opening)
		if err != nil {
			return err
		}
		if _, err := conn.ExecContext(ctx, "SELECT set_config('tussock.viewer', $1, true)", ViewerIn(number, actor.Session)); err != nil {
			return err
		}
		if err := fn(&Tx{ctx: ctx, g: g, conn: conn, actor: actor, now: db.now(), reading: opening == readOnly}); err != nil {
			return err
		}
		if err := commit(ctx, conn); err != nil {
			return err
		}
		done = true
		return nil
	})
	return translate(err)
}

func (db *DB) now() time.Time {
	if db.Now == nil {
		return time.Now().UTC().Truncate(time.Microsecond)
	}
	return db.Now().UTC().Truncate(time.Microsecond)
}

// isToken tells whether s is 64 lower-case hexadecimal digits and nothing else.
func isToken(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && len(b) == 32 && hex.EncodeToString(b) == s
}

// A statement is the text of one, or a part of it. Constants become one by themselves; what came from outside goes to the
// database bound to a statement, never in its text: whoever watches the database reads texts, and a text can be made to say more.
// archtest lists the few places that make one of anything else.
type statement string

func (s statement) text() string { return string(s) }

// named returns the arguments of a statement; coop and person of the actor are always among them. A statement that
// names none takes none.
func (tx *Tx) named(query statement, args map[string]any) []any {
	if !strings.Contains(query.text(), "@") {
		return nil
	}
	all := map[string]any{"coop": tx.actor.Coop, "me": tx.actor.Person, "now": tx.now}
	for k, v := range args {
		all[k] = v
	}
	return []any{all}
}

// rows reads all rows of a statement into dest, a pointer to a slice of row structs.
func (tx *Tx) rows(dest any, query statement, args map[string]any) error {
	return tx.g.Raw(query.text(), tx.named(query, args)...).Scan(dest).Error
}

// row reads the one row of a statement into a struct or a plain value (GORM counts no rows into named types), and tells
// whether there was one.
func (tx *Tx) row(dest any, query statement, args map[string]any) (bool, error) {
	res := tx.g.Raw(query.text(), tx.named(query, args)...).Scan(dest)
	return res.RowsAffected > 0, res.Error
}

// rowOfMine is row for the first of the actor's ranches, the statement's @ranch, that has one. A row of another ranch is not
// even met then: where a policy had to hide it, the time that takes would tell that it exists.
func (tx *Tx) rowOfMine(dest any, query statement, args map[string]any) (ok bool, err error) {
	for _, ranch := range tx.actor.Ranches {
		args["ranch"] = ranch
		if ok, err = tx.row(dest, query, args); ok || err != nil {
			break
		}
	}
	return ok, err
}

// execOfMine is exec likewise.
func (tx *Tx) execOfMine(query statement, args map[string]any) (n int64, err error) {
	for _, ranch := range tx.actor.Ranches {
		args["ranch"] = ranch
		if n, err = tx.exec(query, args); n > 0 || err != nil {
			break
		}
	}
	return n, err
}

// exec runs a statement and returns how many rows it touched. No row may mean that policies hide it.
func (tx *Tx) exec(query statement, args map[string]any) (int64, error) {
	res := tx.g.Exec(query.text(), tx.named(query, args)...)
	return res.RowsAffected, res.Error
}

// alone waits until no other transaction is at what a name stands for: who counts what is there before adding to it would
// else not see what is added at the same moment.
func (tx *Tx) alone(with string) error {
	_, err := tx.exec("SELECT pg_advisory_xact_lock(hashtextextended(@with, 0))", map[string]any{"with": with})
	return err
}

// must is exec for a change of exactly one existing row: where policies hide it, it does not exist.
func (tx *Tx) must(missing error, query statement, args map[string]any) error {
	n, err := tx.exec(query, args)
	return some(n, missing, err)
}

// mustOfMine is must for a row of one of the actor's ranches.
func (tx *Tx) mustOfMine(missing error, query statement, args map[string]any) error {
	n, err := tx.execOfMine(query, args)
	return some(n, missing, err)
}

func some(n int64, missing, err error) error {
	if err == nil && n == 0 {
		return missing
	}
	return err
}
