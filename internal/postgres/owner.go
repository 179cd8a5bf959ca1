package postgres

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/pressly/goose/v3"

	"tussock/internal/access"
	"tussock/internal/errs"
)

//go:embed migrations/*.sql
var migrations embed.FS

//go:embed quiet.sql
var quiet string

// SchemaVersion names the schema that Migrate makes: a hash of the migrations, in hexadecimal.
func SchemaVersion() string {
	h := sha256.New()
	files, _ := migrations.ReadDir("migrations") // embedded: cannot fail
	for _, f := range files {
		b, _ := migrations.ReadFile("migrations/" + f.Name())
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Owner migrates, backs up and starts cooperatives. No page has one.
type Owner struct{ pool *sql.DB }

// Roles are the passwords of the login roles. An empty one leaves the role's password as it is.
type Roles struct{ App, Door, Press, Clerk string }

// Setup makes the roles where they are missing, gives the database to tussock_owner and migrates it. The address must
// be of a role that may make roles and owns the database, or of a superuser. Running it again changes only passwords.
func Setup(ctx context.Context, adminURL string, passwords Roles) error {
	admin, err := connect(ctx, adminURL, "none", 1)
	if err != nil {
		return err
	}
	defer admin.Close()
	if err := setupRoles(ctx, admin, passwords); err != nil {
		return fmt.Errorf("set up the database: %w", translateSetup(err))
	}
	o, err := OpenOwner(ctx, adminURL)
	if err != nil {
		return err
	}
	defer o.Close()
	return o.Migrate(ctx)
}

func setupRoles(ctx context.Context, admin *sql.DB, passwords Roles) error {
	// One at a time: two servers that start together would make the same roles.
	if _, err := admin.ExecContext(ctx, "SELECT pg_advisory_lock(hashtext('tussock setup'))"); err != nil {
		return err
	}
	defer admin.ExecContext(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock(hashtext('tussock setup'))")
	for _, role := range []struct {
		name, login statement
		password    string
	}{
		{"tussock_owner", "NOLOGIN", ""},
		{"tussock_app", "LOGIN", passwords.App},
		{"tussock_door", "LOGIN", passwords.Door},
		{"tussock_press", "LOGIN", passwords.Press},
		{"tussock_clerk", "LOGIN", passwords.Clerk},
	} {
		var there bool
		if err := admin.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = $1)", role.name.text()).Scan(&there); err != nil {
			return err
		}
		if !there {
			if _, err := admin.ExecContext(ctx, ("CREATE ROLE " + role.name + " " + role.login).text()); err != nil && !already(err) {
				return err
			}
		}
		if role.password != "" {
			verifier, err := Verifier(role.password)
			if err != nil {
				return err
			}
			if _, err := admin.ExecContext(ctx, ("ALTER ROLE " + role.name + " PASSWORD '" + statement(verifier) + "'").text()); err != nil {
				return err
			}
		}
	}
	for _, role := range []statement{"tussock_app", "tussock_door"} {
		for _, setting := range roleSettings {
			if _, err := admin.ExecContext(ctx, ("ALTER ROLE " + role + " SET " + setting).text()); err != nil && !forbidden(err) {
				return err
			}
		}
	}
	var name string
	if err := admin.QueryRowContext(ctx, "SELECT quote_ident(current_database())").Scan(&name); err != nil {
		return err
	}
	database := statement(name)
	for _, s := range []statement{
		"GRANT tussock_owner TO CURRENT_USER",
		"REVOKE ALL ON DATABASE " + database + " FROM PUBLIC",
		"GRANT CONNECT, CREATE, TEMPORARY ON DATABASE " + database + " TO tussock_owner",
		"GRANT CONNECT, TEMPORARY ON DATABASE " + database + " TO tussock_app, tussock_clerk",
		"GRANT CONNECT ON DATABASE " + database + " TO tussock_door, tussock_press",
		"CREATE SCHEMA IF NOT EXISTS migration AUTHORIZATION tussock_owner",
		statement(quiet),
	} {
		if _, err := admin.ExecContext(ctx, s.text()); err != nil {
			return err
		}
	}
	return nil
}

// roleSettings are what connections of the pages and of the door start with (deploy/roles.sql has them too).
var roleSettings = []statement{"statement_timeout = '30s'", "idle_in_transaction_session_timeout = '60s'"}

// forbidden tells whether err says that the role may not.
func forbidden(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == "42501"
}

// already tells whether err says that something is there already: made by another server in the same moment.
func already(err error) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && (pg.Code == "42710" || pg.Code == "23505")
}

func translateSetup(err error) error {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == "42501" {
		return errs.Hide(errs.Invalid, "The role in TUSSOCK_DATABASE_URL may not make roles or does not own the database. "+
			"Give it those rights, or make the roles by hand with deploy/roles.sql and set TUSSOCK_APP_URL, TUSSOCK_DOOR_URL, TUSSOCK_PRESS_URL and TUSSOCK_CLERK_URL.", err)
	}
	return err
}

// OpenOwner connects as tussock_owner, which the role of the address must be a member of.
func OpenOwner(ctx context.Context, url string) (*Owner, error) {
	pool, err := connect(ctx, url, "tussock_owner", 2)
	if err != nil {
		return nil, fmt.Errorf("connect as the owner: %w", err)
	}
	return &Owner{pool}, nil
}

// Password returns the password by which an address comes in: its own, or what PGPASSWORD or a password file has for it.
func Password(address string) (string, error) {
	cfg, err := pgx.ParseConfig(address)
	if err != nil {
		return "", errs.Hide(errs.Invalid, "The address of the database cannot be read.", hideURL(err))
	}
	return cfg.Password, nil
}

// Close ends the connections.
func (o *Owner) Close() { o.pool.Close() }

// Migrate brings the schema up to date; it waits for another server that is doing so.
func (o *Owner) Migrate(ctx context.Context) error {
	files, err := fs.Sub(migrations, "migrations")
	if err != nil {
		return err
	}
	lock, err := o.pool.Conn(ctx)
	if err != nil {
		return err
	}
	defer lock.Close()
	if _, err := lock.ExecContext(ctx, "SELECT pg_advisory_lock(hashtext('tussock migrate'))"); err != nil {
		return err
	}
	defer lock.ExecContext(context.WithoutCancel(ctx), "SELECT pg_advisory_unlock(hashtext('tussock migrate'))")
	p, err := goose.NewProvider(goose.DialectPostgres, o.pool, files,
		goose.WithTableName("migration.applied"), goose.WithDisableGlobalRegistry(true),
		goose.WithAllowOutofOrder(true)) // numbers are given out by range: a lower one may land later
	if err != nil {
		return fmt.Errorf("read the migrations: %w", err)
	}
	if _, err := p.Up(ctx); err != nil {
		return fmt.Errorf("migrate: %w", err)
	}
	return nil
}

// Cooperative is what a new cooperative starts with.
type Cooperative struct {
	Name        string
	Coordinator string // the first coordinator's name, may be ""
	Email       string // theirs, may be "": they type it when they accept
}

// CreateCooperative makes a cooperative and an invitation for its first coordinator, and returns the cooperative's id
// and the invitation's token.
func (o *Owner) CreateCooperative(ctx context.Context, c Cooperative) (access.ID, string, error) {
	id, token := newID(), NewToken()
	tx, err := o.pool.BeginTx(ctx, nil)
	if err != nil {
		return "", "", translate(err)
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, "INSERT INTO tussock.coop (coop_id, name) VALUES ($1, $2)", id, c.Name); err != nil {
		return "", "", translate(err)
	}
	if err := inviteFirst(ctx, tx, id, c, token); err != nil {
		return "", "", translate(err)
	}
	return id, token, translate(tx.Commit())
}

func inviteFirst(ctx context.Context, tx *sql.Tx, coop access.ID, c Cooperative, token string) error {
	_, err := tx.ExecContext(ctx, `INSERT INTO tussock.invitation (coop_id, token_hash, role, name, email, expires_at)
		VALUES ($1, $2, 'coordinator', $3, $4, now() + interval '`+invitationLasts+`')`,
		coop, hashOf(token), c.Coordinator, strings.ToLower(strings.TrimSpace(c.Email)))
	return err
}

// FirstInvitation returns a link's token for the first coordinator where nobody could come in otherwise: there is no
// cooperative yet (one is made, under the given name), or its first coordinator has not come. The links given before
// are revoked. The token is "" where there is nothing to do.
func (o *Owner) FirstInvitation(ctx context.Context, name string) (token string, err error) {
	var coop sql.NullString
	var waits bool
	err = o.pool.QueryRowContext(ctx, `SELECT min(c.coop_id::text), NOT EXISTS (SELECT 1 FROM tussock.person) FROM tussock.coop c`).Scan(&coop, &waits)
	if err != nil {
		return "", translate(err)
	}
	if !coop.Valid {
		_, token, err = o.CreateCooperative(ctx, Cooperative{Name: name})
		return token, err
	}
	if !waits {
		return "", nil
	}
	tx, err := o.pool.BeginTx(ctx, nil)
	if err != nil {
		return "", translate(err)
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, "UPDATE tussock.invitation SET revoked_at = now() WHERE used_at IS NULL AND revoked_at IS NULL AND coop_id = $1", coop.String); err != nil {
		return "", translate(err)
	}
	token = NewToken()
	if err := inviteFirst(ctx, tx, access.ID(coop.String), Cooperative{}, token); err != nil {
		return "", translate(err)
	}
	return token, translate(tx.Commit())
}

// PutSeason writes down the dates of a season that is past, as the demo has them. A coordinator can only set dates to come.
func (o *Owner) PutSeason(ctx context.Context, coop access.ID, s Season) error {
	_, err := o.pool.ExecContext(ctx, "INSERT INTO tussock.season (coop_id, year, opens_on, cut_off_on, composed_on, published_on) VALUES ($1, $2, $3, $4, $5, $6)",
		coop, s.Year, s.Opens, s.CutOff, s.Composed, s.Published)
	return translate(err)
}

// MemberOf returns the member who signs in with an address; the one who joined first, where several cooperatives have one.
// errs.NotFound where nobody does, or they have left or are suspended.
func (o *Owner) MemberOf(ctx context.Context, email string) (Known, error) {
	var k Known
	err := o.pool.QueryRowContext(ctx, `SELECT a.coop_id, a.person_id, c.name, p.name, a.email FROM tussock.account a
		JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id
		JOIN tussock.coop c ON c.coop_id = a.coop_id
		WHERE a.email = lower($1) AND p.left_at IS NULL AND p.suspended_at IS NULL ORDER BY p.joined_at LIMIT 1`, strings.TrimSpace(email)).
		Scan(&k.Coop, &k.Person, &k.Cooperative, &k.Name, &k.Email)
	if errors.Is(err, sql.ErrNoRows) {
		return Known{}, errs.New(errs.NotFound, "Nobody signs in with that address.")
	}
	return k, translate(err)
}

// OpenStep keeps a step as DB.OpenStep does.
func (o *Owner) OpenStep(ctx context.Context, key string, s Step, lasts time.Duration) error {
	_, err := o.pool.ExecContext(ctx, "SELECT tussock.open_step($1, $2, $3, $4, make_interval(secs => $5))",
		nullID(s.Coop), nullID(s.Person), hashOf(key), string(s.Data), lasts.Seconds())
	return translate(err)
}

// Exec runs a statement as the owner. For tests' seeding; production code has no use for it.
func (o *Owner) Exec(ctx context.Context, statement string, args ...any) (int64, error) {
	res, err := o.pool.ExecContext(ctx, statement, args...)
	if err != nil {
		return 0, err
	}
	return res.RowsAffected()
}

// Text returns the single value of a query as text, "" where it is NULL or there is none. For tests' inspection.
func (o *Owner) Text(ctx context.Context, query string, args ...any) (string, error) {
	var s sql.NullString
	err := o.pool.QueryRowContext(ctx, query, args...).Scan(&s)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return s.String, err
}

// PrepareRestore makes the roles and clears the way for a backup: the database may have no cooperative yet.
// errs.Conflict where it has one.
func PrepareRestore(ctx context.Context, adminURL string) error {
	if err := Setup(ctx, adminURL, Roles{}); err != nil {
		return err
	}
	o, err := OpenOwner(ctx, adminURL)
	if err != nil {
		return err
	}
	defer o.Close()
	var taken bool
	if err := o.pool.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM tussock.coop)").Scan(&taken); err != nil {
		return err
	}
	if taken {
		return errs.New(errs.Conflict, "That database has a cooperative already. Restore into a new one.")
	}
	_, err = o.pool.ExecContext(ctx, "DROP SCHEMA tussock, pub, migration CASCADE")
	return err
}
