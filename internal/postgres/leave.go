package postgres

import (
	"context"
	"strings"
	"time"

	"github.com/jackc/pgx/v5/pgtype"

	"tussock/internal/access"
	"tussock/internal/errs"
)

// The ways out.
const (
	LeaveKind    = "leave"     // the member goes
	EraseKind    = "erase"     // everything of a ranch is deleted
	HandOverKind = "hand over" // a ranch goes to somebody who bought it
	TakeOffKind  = "take off"  // an owner is taken off a ranch by somebody else
)

// A Departure is a way out that was asked for. It is carried out when it is due, and can be called off until then.
type Departure struct {
	ID        access.ID
	Kind      string
	Ranch     access.ID // "" for LeaveKind
	RanchName string
	By        string // who asked
	WithRows  bool   // HandOverKind: what was sent goes along
	Heir      string // HandOverKind: the new owner's address
	AskedAt   time.Time
	DueAt     time.Time
	Held      bool      // it waits for somebody who is suspended, nobody knows how long
	Agreed    bool      // HandOverKind: the new owner said yes
	Whom      access.ID // TakeOffKind: the owner who is to go
	WhomName  string
	Lacks     int  // HandOverKind: other owners who have yet to say yes
	Mine      bool // HandOverKind: the actor is one of them
	Fellow    bool // TakeOffKind: another owner asked, so that nobody else calls it off
}

// An Offer is a ranch that its owner hands over to the actor.
type Offer struct {
	ID              access.ID
	RanchName, From string
	WithRows        bool
	DueAt           time.Time // when it can happen at the earliest
	Held            bool      // nobody knows when: somebody is suspended until further notice
	Agreed          bool      // the actor said yes
}

var (
	errNoDeparture = errs.New(errs.NotFound, "There is nothing to call off.")
	errNoOffer     = errs.New(errs.NotFound, "There is no such offer.")
)

// Depart asks for a way out; it is due 14 days later by the database's clock. Landowners, for themselves and for ranches
// of their own: others get errs.NotFound. errs.Conflict where the same is under way. A hand-over names the new owner's
// address: errs.Invalid where it can be none, or is the actor's own.
func (tx *Tx) Depart(d Departure) (access.ID, error) {
	if tx.actor.Role != access.Landowner {
		return "", errNoRanch
	}
	if d.Kind == LeaveKind {
		d.Ranch, d.WithRows, d.Heir = "", false, ""
	} else if _, err := tx.Ranch(d.Ranch); err != nil {
		return "", err
	}
	if d.Kind != HandOverKind {
		d.WithRows, d.Heir = false, ""
	} else if err := tx.checkHeir(&d); err != nil {
		return "", err
	}
	args := map[string]any{"kind": d.Kind, "ranch": nullID(d.Ranch), "rows": d.WithRows, "heir": d.Heir}
	if _, err := tx.exec(`INSERT INTO tussock.departure (coop_id, kind, ranch_id, person_id, with_rows, heir) VALUES (@coop, @kind, @ranch, @me, @rows, @heir)`, args); err != nil {
		return "", err
	}
	// The database chose the id; asking for it back needs no policy that its answer would have to pass before it is there.
	var id string
	_, err := tx.row(&id, `SELECT id FROM tussock.departure WHERE coop_id = @coop AND person_id = @me AND kind = @kind
		AND ranch_id IS NOT DISTINCT FROM CAST(@ranch AS uuid) AND done_at IS NULL AND called_off_at IS NULL`, args)
	return access.ID(id), err
}

func (tx *Tx) checkHeir(d *Departure) error {
	d.Heir = strings.ToLower(strings.TrimSpace(d.Heir))
	if !IsEmail(d.Heir) {
		return errs.New(errs.Invalid, "Write the new owner’s e-mail address.")
	}
	me, err := tx.Me()
	if err == nil && me.Email == d.Heir {
		err = errs.New(errs.Invalid, "That is your own address. Write the new owner’s.")
	}
	return err
}

// TakeOff asks for an owner to be taken off a ranch; it is due 14 days later by the database's clock, and the owner reads of it. Another
// owner of the ranch, or a coordinator, whom the owner answers with a no; others, and for whoever owns nothing there or is suspended:
// errs.NotFound. errs.Conflict where the actor has asked already.
func (tx *Tx) TakeOff(owner, ranch access.ID) (id access.ID, err error) {
	if !isID(owner) || !isID(ranch) || owner == tx.actor.Person {
		return "", errNoMember
	}
	args := map[string]any{"ranch": ranch, "whom": owner}
	var may bool
	if _, err := tx.row(&may, "SELECT tussock.may_be_asked_off(@ranch, @whom)", args); err != nil {
		return "", err
	} else if !may {
		return "", errNoMember
	}
	if _, err := tx.exec("INSERT INTO tussock.departure (coop_id, kind, ranch_id, person_id, whom) VALUES (@coop, 'take off', @ranch, @me, @whom)", args); err != nil {
		return "", err
	}
	_, err = tx.row(&id, `SELECT id FROM tussock.departure WHERE coop_id = @coop AND person_id = @me AND kind = 'take off'
		AND ranch_id = @ranch AND whom = @whom AND done_at IS NULL AND called_off_at IS NULL`, args)
	return id, err
}

// InviteHeir makes a link by which the new owner of a hand-over comes in, where they are no member yet and once a coordinator has said yes
// (LetHeir), and returns its token. Who asked for the hand-over; others get errs.NotFound.
func (tx *Tx) InviteHeir(id access.ID) (token string, err error) {
	if !isID(id) {
		return "", errNoDeparture
	}
	token = NewToken()
	var done bool
	if _, err = tx.row(&done, "SELECT tussock.invite_heir(@id, @hash)", map[string]any{"id": id, "hash": hashOf(token)}); err == nil && !done {
		err = errNoDeparture
	}
	return token, err
}

// Departures lists what the actor asked for, and what others did for ranches of the actor's, as long as it can be called
// off, the soonest first.
func (tx *Tx) Departures() ([]Departure, error) {
	var rows []struct {
		ID                  access.ID
		Kind, Ranch, Called string
		By, Heir            string
		WithRows            bool
		AskedAt, DueAt      time.Time
		Agreed              bool
		Whom, WhomName      string
		Fellow, Held, Mine  bool
		Lacks               int
	}
	err := tx.rows(&rows, `SELECT d.id, d.kind, coalesce(d.ranch_id::text, '') AS ranch, coalesce(r.name, '') AS called, coalesce(tussock.asked_by(d.id), '') AS by,
			d.with_rows, d.heir, d.asked_at, coalesce(tussock.departure_due(d.id), d.due_at) AS due_at, tussock.departure_due(d.id) IS NULL AS held, d.agreed_at IS NOT NULL AS agreed, coalesce(d.whom::text, '') AS whom, coalesce(w.name, '') AS whom_name,
			d.kind = 'take off' AND d.person_id <> @me AND tussock.my_fellow(d.ranch_id, d.person_id) AS fellow,
			cardinality(l.lacks) AS lacks, @me = ANY (l.lacks) AS mine
		FROM tussock.departure d
		LEFT JOIN tussock.person w ON w.coop_id = d.coop_id AND w.id = d.whom
		LEFT JOIN tussock.ranch r ON r.coop_id = d.coop_id AND r.id = d.ranch_id
		CROSS JOIN LATERAL (SELECT CASE d.kind WHEN 'hand over' THEN ARRAY(SELECT a.person_id FROM tussock.assignment a WHERE a.coop_id = d.coop_id AND a.ranch_id = d.ranch_id
			AND a.kind = 'owner' AND a.until IS NULL AND a.confirmed_at IS NOT NULL AND a.person_id <> d.person_id AND a.person_id <> ALL (d.owners_yes)) ELSE '{}' END AS lacks) l
		WHERE d.coop_id = @coop AND d.done_at IS NULL AND d.called_off_at IS NULL ORDER BY d.due_at, d.id`, nil)
	list := make([]Departure, len(rows))
	for i, r := range rows {
		list[i] = Departure{ID: r.ID, Kind: r.Kind, Ranch: access.ID(r.Ranch), RanchName: r.Called, By: r.By, WithRows: r.WithRows, Heir: r.Heir,
			AskedAt: r.AskedAt, DueAt: r.DueAt, Agreed: r.Agreed, Whom: access.ID(r.Whom), WhomName: r.WhomName, Fellow: r.Fellow, Held: r.Held, Lacks: r.Lacks, Mine: r.Mine}
	}
	return list, err
}

// AgreeHandOver is another owner's yes to a hand-over; their no is CallOff. errs.NotFound for others, and where there is none.
func (tx *Tx) AgreeHandOver(id access.ID) error {
	if !isID(id) {
		return errNoDeparture
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.agree_hand_over(@id)", map[string]any{"id": id})
	if err == nil && !done {
		err = errNoDeparture
	}
	return err
}

// CallOff calls a departure off: who asked, and every owner of its ranch, but not where another owner asked to take one off. errs.NotFound
// for others, and once it is done.
func (tx *Tx) CallOff(id access.ID) error {
	if !isID(id) {
		return errNoDeparture
	}
	const callOff = `UPDATE tussock.departure SET called_off_at = now(), called_off_by = @me
		WHERE coop_id = @coop AND id = @id AND done_at IS NULL AND called_off_at IS NULL`
	args := map[string]any{"id": id}
	if n, err := tx.exec(callOff+" AND person_id = @me", args); n > 0 || err != nil {
		return err
	}
	return tx.mustOfMine(errNoDeparture, callOff+" AND ranch_id = @ranch", args)
}

// Offers lists the ranches that are handed over to the actor. Landowners; for others there are none.
func (tx *Tx) Offers() ([]Offer, error) {
	var rows []struct {
		ID                  access.ID
		RanchName, FromName string
		WithRows            bool
		DueAt               time.Time
		Held                bool
		AgreedAt            *time.Time
	}
	err := tx.rows(&rows, "SELECT o.id, o.ranch_name, o.from_name, o.with_rows, o.due_at, o.held, o.agreed_at FROM tussock.my_offers() o ORDER BY o.due_at, o.id", nil)
	list := make([]Offer, len(rows))
	for i, r := range rows {
		list[i] = Offer{r.ID, r.RanchName, r.FromName, r.WithRows, r.DueAt, r.Held, r.AgreedAt != nil}
	}
	return list, err
}

// A Refusal is a hand-over that a coordinator refused, so that it does not happen.
type Refusal struct {
	RanchName, By string
	At            time.Time
}

// Refusals lists those of the last 30 days for the actor's own ranches, latest first. Landowners; for others there are none.
func (tx *Tx) Refusals() ([]Refusal, error) {
	var list []Refusal
	err := tx.rows(&list, "SELECT ranch_name, by_name AS by, at FROM tussock.my_refusals()", nil)
	return list, err
}

// AnswerOffer is the new owner's yes or no. errs.NotFound where nothing is offered to the actor.
func (tx *Tx) AnswerOffer(id access.ID, yes bool) error {
	if !isID(id) {
		return errNoOffer
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.answer_offer(@id, @yes)", map[string]any{"id": id, "yes": yes})
	if err == nil && !done {
		err = errNoOffer
	}
	return err
}

// alongTables are what a ranch has beside its sheets and the log, all of it readable by its owner.
var alongTables = []statement{"season_plan", "season_line", "season_map", "look", "key_again", "word", "consent", "sharing", "showcase"}

// Along returns what else an owner takes along of a ranch: its plans and lines, the looks in the field, the words it uses
// and what was agreed, as a JSON object of rows by table; and the ids of its photos. Those who may open the ranch; others
// get errs.NotFound.
func (tx *Tx) Along(ranch access.ID) (rows string, photos []access.ID, err error) {
	if _, err := tx.Ranch(ranch); err != nil {
		return "", nil, err
	}
	args := map[string]any{"ranch": ranch}
	var parts statement
	for _, table := range alongTables {
		parts += ", '" + table + "', (SELECT coalesce(jsonb_agg(to_jsonb(x) - 'coop_id' - 'ranch_id'), '[]') FROM tussock." + table + " x WHERE x.coop_id = @coop AND x.ranch_id = @ranch)"
	}
	if _, err = tx.row(&rows, "SELECT jsonb_pretty(jsonb_build_object("+parts[2:]+"))", args); err != nil {
		return "", nil, err
	}
	var ids []string
	err = tx.rows(&ids, "SELECT p.id FROM tussock.photo p WHERE p.coop_id = @coop AND p.ranch_id = @ranch ORDER BY p.received_at, p.id", args)
	for _, id := range ids {
		photos = append(photos, access.ID(id))
	}
	return rows, photos, err
}

// A Departed is a way out that was just carried out, and who is to be told.
type Departed struct {
	Kind, Cooperative, RanchName string
	Addresses                    []string
	// Failure is the database's code where it could not be carried out; it is tried again the next time.
	Failure string
}

// CarryOut carries out every departure that is due by the clock of db, and says who is to be told. Doing it twice, or on
// two servers at once, does nothing more.
func (db *DB) CarryOut(ctx context.Context) ([]Departed, error) {
	rows, err := db.door.QueryContext(ctx, "SELECT addresses, kind, coop_name, ranch_name, failure FROM tussock.carry_out($1)", db.now())
	if err != nil {
		return nil, translate(err)
	}
	defer rows.Close()
	var list []Departed
	types := pgtype.NewMap()
	for rows.Next() {
		var d Departed
		if err := rows.Scan(types.SQLScanner(&d.Addresses), &d.Kind, &d.Cooperative, &d.RanchName, &d.Failure); err != nil {
			return nil, err
		}
		list = append(list, d)
	}
	return list, translate(rows.Err())
}

// DepartureAddresses returns whom a letter about a departure goes to: who asked, and the owners of its ranch.
func (db *DB) DepartureAddresses(ctx context.Context, coop, id access.ID) (list []string, err error) {
	err = db.door.QueryRowContext(ctx, "SELECT tussock.departure_addresses($1, $2)", string(coop), string(id)).Scan(pgtype.NewMap().SQLScanner(&list))
	return list, translate(err)
}
