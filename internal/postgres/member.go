package postgres

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"time"

	"tussock/internal/access"
	"tussock/internal/errs"
	"tussock/internal/names"
	"tussock/internal/words"
)

// A Member is a person of the cooperative as the coordinator sees them.
type Member struct {
	ID      access.ID
	Name    string
	Email   string
	Phone   string
	Role    access.Role
	Ranches []string // names of those they own or are assigned to now
	Waiting []string // and of those whose owner has yet to say yes
	// Suspended says that they cannot sign in until they are restored.
	Suspended, Left bool
	// Until is when their suspension ends by itself; zero where it does not.
	Until time.Time
	// Asked is when a coordinator asked for this one to be removed, and Due from when on that one may do it alone; zero where nobody did.
	Asked, Due time.Time
	AskedBy    string
	// MayRemove says that the actor's word removes them: of a member who is no coordinator, and of one whom another asked about, or whose
	// 14 days are over.
	MayRemove bool
	// MayKeepOut says that the actor may say the second yes to it.
	MayKeepOut bool
}

// An Invitation lets one person join by a link.
type Invitation struct {
	ID          access.ID
	Cooperative string
	Role        access.Role
	Name, Email string   // as the inviter wrote them; may be ""
	Ranches     []string // names
	InvitedBy   string
	CreatedAt   time.Time
	ExpiresAt   time.Time
	State       string // "open", "used", "expired", "revoked"
}

// An Area is a part of the cooperative. Areas of one Group are published together where one alone has too few
// landowners.
type Area struct {
	ID          access.ID
	Name, Group string
	Ranches     int
}

// invitationLasts is how long a link is good for.
const invitationLasts = "14 days"

// Me returns the actor as a member: everybody may.
func (tx *Tx) Me() (Member, error) {
	list, err := tx.members("p.id = @me")
	if err != nil {
		return Member{}, err
	}
	if len(list) == 0 {
		return Member{}, errs.New(errs.Unauthenticated, "Please sign in.")
	}
	return list[0], nil
}

// Members lists everybody, those who left last. The coordinator; others get errs.Forbidden.
func (tx *Tx) Members() ([]Member, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	return tx.members("true")
}

func (tx *Tx) members(where statement) ([]Member, error) {
	var rows []struct {
		ID                 access.ID
		Name, Email, Phone string
		Role               access.Role
		LeftAt             *time.Time
		Suspended          bool
		Until              *time.Time
		MayKeepOut         bool
		MayRemove          bool
		Asked              *time.Time
		AskedBy            string
		Ranches, Waiting   string
	}
	err := tx.rows(&rows, `SELECT p.id, p.name, coalesce(a.email, '') AS email, coalesce(a.phone, '') AS phone, p.role, p.left_at, p.suspended_at IS NOT NULL AS suspended,
			CASE WHEN p.suspended_at IS NOT NULL AND p.suspended_by IS NOT NULL AND p.suspension_kept_by IS NULL THEN p.suspended_first + interval '14 days' END AS until,
			p.suspended_at IS NOT NULL AND tussock.may_keep_suspended(p.id) AS may_keep_out,
			p.remove_asked_at AS asked, coalesce((SELECT b.name FROM tussock.person b WHERE b.coop_id = p.coop_id AND b.id = p.remove_asked_by), '') AS asked_by,
			p.role <> 'coordinator' OR tussock.may_remove(p) AS may_remove,
			`+ranchNames+`IS NOT NULL) AS ranches, `+ranchNames+`IS NULL) AS waiting
		FROM tussock.person p LEFT JOIN tussock.account a ON a.coop_id = p.coop_id AND a.person_id = p.id
		WHERE p.coop_id = @coop AND `+where+` ORDER BY p.left_at IS NOT NULL, p.name, p.id`, nil)
	if err != nil {
		return nil, err
	}
	list := make([]Member, len(rows))
	for i, r := range rows {
		list[i] = Member{ID: r.ID, Name: r.Name, Email: r.Email, Phone: r.Phone, Role: r.Role, Suspended: r.Suspended, Left: r.LeftAt != nil, MayKeepOut: r.MayKeepOut, MayRemove: r.MayRemove, AskedBy: r.AskedBy}
		if r.Until != nil {
			list[i].Until = *r.Until
		}
		if r.Asked != nil {
			list[i].Asked, list[i].Due = *r.Asked, r.Asked.AddDate(0, 0, 14)
		}
		if err := errors.Join(json.Unmarshal([]byte(r.Ranches), &list[i].Ranches), json.Unmarshal([]byte(r.Waiting), &list[i].Waiting)); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// ranchNames begins a JSON array of the names of a person's ranches, by whether their owner said yes.
const ranchNames = `(SELECT coalesce(jsonb_agg(DISTINCT r.name ORDER BY r.name), '[]') FROM tussock.assignment s
			 JOIN tussock.ranch r ON r.coop_id = s.coop_id AND r.id = s.ranch_id
			 WHERE s.coop_id = p.coop_id AND s.person_id = p.id AND s.until IS NULL AND s.confirmed_at `

// RemoveMember ends somebody's membership and with it, at once, all their sessions, their places on ranches and what is shared with them. The coordinator, and not of
// themselves; others get errs.Forbidden. errs.Conflict for owners of ranches, who are taken off first (TakeOff), and for a coordinator about
// whom nobody has asked (AskRemoval).
func (tx *Tx) RemoveMember(id access.ID) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if id == tx.actor.Person {
		return errs.New(errs.Conflict, words.Mark("You cannot remove yourself. Invite another coordinator, who can."))
	}
	if !isID(id) {
		return errNoMember
	}
	return tx.must(errNoMember, "UPDATE tussock.person SET left_at = @now WHERE coop_id = @coop AND id = @id AND left_at IS NULL", map[string]any{"id": id})
}

// AskRemoval asks for another coordinator to be removed: 14 days later, or once a third coordinator says so too, RemoveMember does it, and
// the no of the one it is about ends it (Stay). False where RemoveMember does it now. The coordinator; others get errs.Forbidden.
// errs.Conflict where it was asked already, and for who came less than 30 days ago and after that one.
func (tx *Tx) AskRemoval(id access.ID) (asked bool, err error) {
	if err := tx.coordinator(); err != nil {
		return false, err
	}
	if !isID(id) {
		return false, errNoMember
	}
	_, err = tx.row(&asked, "SELECT tussock.ask_removal(@id)", map[string]any{"id": id})
	return asked, err
}

// Stay is the actor's no to being removed. errs.NotFound where nobody asked.
func (tx *Tx) Stay() error {
	var ended bool
	_, err := tx.row(&ended, "SELECT tussock.stay()", nil)
	if err == nil && !ended {
		err = errNoMember
	}
	return err
}

// Assign lets a landowner or hand open a ranch. At once comes in, where nothing was sent and no owner is there, an owner whom the
// record names, or a hand where nobody else is. Everybody else waits: for the yes of an owner (LetOnto), and a further owner for
// their own after it (ComeOnto); a new owner of a ranch that has none for that of two other landowners (GiveWord). The coordinator; others get errs.Forbidden. Doing it twice changes nothing.
func (tx *Tx) Assign(person, ranch access.ID) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(person) || !isID(ranch) {
		return errNoMember
	}
	var role string
	args := map[string]any{"person": person, "ranch": ranch}
	ok, err := tx.row(&role, "SELECT role FROM tussock.person WHERE coop_id = @coop AND id = @person AND left_at IS NULL", args)
	if err != nil {
		return err
	}
	if !ok {
		return errNoMember
	}
	switch access.Role(role) {
	case access.Landowner:
		args["kind"] = "owner"
	case access.Hand:
		args["kind"] = "hand"
	default:
		return errs.New(errs.Invalid, words.Mark("Only landowners and hands can have ranches."))
	}
	var there bool
	ok, err = tx.row(&there, "SELECT true FROM tussock.assignment WHERE coop_id = @coop AND person_id = @person AND ranch_id = @ranch AND until IS NULL LIMIT 1", args)
	if err != nil || ok {
		return err
	}
	return tx.must(errNoRanch, `INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind)
		SELECT r.coop_id, @person, r.id, r.entity_id, @kind FROM tussock.ranch r WHERE r.coop_id = @coop AND r.id = @ranch`, args)
}

// Unassign ends it, at once. The coordinator, for whoever waits and for hands of a ranch without an owner, and a ranch's owner for hands on it; for others, and for
// owners (TakeOff), nothing is there to end: errs.NotFound.
func (tx *Tx) Unassign(person, ranch access.ID) error {
	if !isID(person) || !isID(ranch) {
		return errNoMember
	}
	return tx.must(errNoMember, `UPDATE tussock.assignment SET until = now()
		WHERE coop_id = @coop AND person_id = @person AND ranch_id = @ranch AND until IS NULL`,
		map[string]any{"person": person, "ranch": ranch})
}

// A CoordinatorChange says who became a coordinator, was suspended as one and still is, or stopped being one: left or was removed.
type CoordinatorChange struct {
	Name string
	What string // CoordinatorCame and so on
	At   time.Time
}

// What became of a coordinator.
const (
	CoordinatorCame      = "came"
	CoordinatorGone      = "gone"
	CoordinatorSuspended = "suspended"
)

// CoordinatorChanges lists those of the last 30 days, latest first: everybody may. Through that time a coordinator who went
// still counts among those of whom two must say yes before anything is published.
func (tx *Tx) CoordinatorChanges() ([]CoordinatorChange, error) {
	var list []CoordinatorChange
	err := tx.rows(&list, "SELECT name, what, changed_at AS at FROM tussock.coordinator_changes()", nil)
	return list, err
}

// Invitations lists them, latest first. The coordinator; others get errs.Forbidden.
func (tx *Tx) Invitations() ([]Invitation, error) {
	if err := tx.coordinator(); err != nil {
		return nil, err
	}
	var rows []invitationRow
	err := tx.rows(&rows, `SELECT i.id, c.name AS coop_name, i.role, i.name, i.email, i.created_at, i.expires_at, coalesce(p.name, '') AS inviter,
			(SELECT coalesce(jsonb_agg(r.name ORDER BY r.name), '[]') FROM tussock.ranch r WHERE r.coop_id = i.coop_id AND r.id = ANY (i.ranches)) AS ranch_names,
			CASE WHEN i.used_at IS NOT NULL THEN 'used' WHEN i.revoked_at IS NOT NULL THEN 'revoked'
			     WHEN i.expires_at <= now() THEN 'expired' WHEN i.heir_of IS NOT NULL AND i.let_in_by IS NULL THEN 'waiting' ELSE 'open' END AS state
		FROM tussock.invitation i JOIN tussock.coop c ON c.coop_id = i.coop_id
		LEFT JOIN tussock.person p ON p.coop_id = i.coop_id AND p.id = i.invited_by
		WHERE i.coop_id = @coop AND NOT (i.heir_of IS NOT NULL AND EXISTS (SELECT 1 FROM tussock.account a WHERE a.coop_id = i.coop_id AND a.email = i.email))
		ORDER BY i.created_at DESC, i.id`, nil)
	if err != nil {
		return nil, err
	}
	list := make([]Invitation, len(rows))
	for i, r := range rows {
		if list[i], err = r.invitation(); err != nil {
			return nil, err
		}
	}
	return list, nil
}

type invitationRow struct {
	ID                   access.ID
	CoopName             string
	Role                 access.Role
	Name, Email          string
	RanchNames           string // a JSON array
	Inviter              string
	CreatedAt, ExpiresAt time.Time
	State                string
}

func (r invitationRow) invitation() (Invitation, error) {
	inv := Invitation{ID: r.ID, Cooperative: r.CoopName, Role: r.Role, Name: r.Name, Email: r.Email, InvitedBy: r.Inviter,
		CreatedAt: r.CreatedAt, ExpiresAt: r.ExpiresAt, State: r.State}
	return inv, json.Unmarshal([]byte(r.RanchNames), &inv.Ranches)
}

// Invite makes a link for one person and returns its token, which is stored nowhere: it can be shown once only.
// Ranches are those that a landowner will own or a hand be assigned to. The coordinator; others get errs.Forbidden. errs.Conflict where
// somebody of the cooperative signs in with the address: the coordinator reads every member's.
func (tx *Tx) Invite(role access.Role, name, email string, ranches []access.ID) (token string, err error) {
	if err := tx.coordinator(); err != nil {
		return "", err
	}
	if !slices.Contains(access.Roles, role) {
		return "", errs.New(errs.Invalid, words.Mark("Choose what the person will be to the cooperative."))
	}
	if name, err = names.Name(name); err != nil {
		return "", err
	}
	email = strings.ToLower(strings.TrimSpace(email))
	if email != "" && !IsEmail(email) {
		return "", errs.New(errs.Invalid, words.Mark("That does not look like an e-mail address."))
	}
	if email != "" {
		var there struct {
			Name string
			Left bool
		}
		found, err := tx.row(&there, "SELECT p.name, p.left_at IS NOT NULL AS left FROM tussock.account a JOIN tussock.person p ON p.coop_id = a.coop_id AND p.id = a.person_id WHERE a.coop_id = @coop AND a.email = @email", map[string]any{"email": email})
		if err != nil {
			return "", err
		}
		switch {
		case found && there.Left:
			return "", errs.Tell(errs.Conflict, words.Later("%s was a member here with that address and has gone, so nobody could join by this invitation. If it is for them, leave the address out: they type another when they join.", there.Name), nil)
		case found:
			return "", errs.Tell(errs.Conflict, words.Later("%s already has an account here with that address, so nobody could join by this invitation. To add a ranch to that account, open the ranch’s page.", there.Name), nil)
		}
	}
	list := make([]string, 0, len(ranches))
	for _, id := range ranches {
		if !isID(id) {
			return "", errNoRanch
		}
		list = append(list, string(id))
	}
	if len(list) > 0 {
		if role != access.Landowner && role != access.Hand {
			return "", errs.New(errs.Invalid, words.Mark("Only landowners and hands can have ranches."))
		}
		var n int
		if _, err := tx.row(&n, "SELECT count(*) FROM tussock.ranch WHERE coop_id = @coop AND id IN @ranches", map[string]any{"ranches": list}); err != nil {
			return "", err
		}
		if n != len(list) {
			return "", errNoRanch
		}
	}
	token = NewToken()
	_, err = tx.exec(`INSERT INTO tussock.invitation (coop_id, token_hash, role, name, email, ranches, invited_by, expires_at)
		VALUES (@coop, @hash, @role, @name, @email, CAST(CAST(@ranches AS text) AS uuid[]), @me, now() + interval '`+invitationLasts+`')`,
		map[string]any{"hash": hashOf(token), "role": role, "name": name, "email": email, "ranches": "{" + strings.Join(list, ",") + "}"})
	return token, err
}

// LetHeir is the coordinator's yes or no to a new owner who takes over a ranch and is no member yet. errs.NotFound where nothing waits;
// others than the coordinator get errs.Forbidden.
func (tx *Tx) LetHeir(id access.ID, yes bool) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(id) {
		return errNoInvitation
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.let_heir(@id, @yes)", map[string]any{"id": id, "yes": yes})
	if err == nil && !done {
		err = errNoInvitation
	}
	return err
}

// RevokeInvitation makes a link useless. The coordinator; others get errs.Forbidden.
func (tx *Tx) RevokeInvitation(id access.ID) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(id) {
		return errNoInvitation
	}
	return tx.must(errNoInvitation, `UPDATE tussock.invitation SET revoked_at = now()
		WHERE coop_id = @coop AND id = @id AND used_at IS NULL AND revoked_at IS NULL`, map[string]any{"id": id})
}

// Areas lists the cooperative's areas by name. Everybody may; only the coordinator's has the number of ranches.
func (tx *Tx) Areas() ([]Area, error) {
	var rows []struct {
		ID              access.ID
		Name, GroupName string
		Ranches         int
	}
	err := tx.rows(&rows, `SELECT a.id, a.name, a.group_name,
			(SELECT count(*) FROM tussock.ranch r WHERE r.coop_id = a.coop_id AND r.area_id = a.id) AS ranches
		FROM tussock.area a WHERE a.coop_id = @coop ORDER BY a.name`, nil)
	list := make([]Area, len(rows))
	for i, r := range rows {
		list[i] = Area{ID: r.ID, Name: r.Name, Group: r.GroupName}
		if tx.actor.Role.Has(access.RunCooperative) {
			list[i].Ranches = r.Ranches
		}
	}
	return list, err
}

// SaveArea adds an area or changes its group. The coordinator; others get errs.Forbidden. errs.Invalid for what is no name (names.Name), or
// names a ranch or a member (nameless).
func (tx *Tx) SaveArea(name, group string) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	name, err := names.Name(name)
	if err != nil {
		return err
	}
	if group, err = names.Name(group); err != nil {
		return err
	}
	if name == "" {
		return errs.New(errs.Invalid, words.Mark("Give the area a name."))
	}
	if err := tx.nameless(name, group); err != nil {
		return err
	}
	_, err = tx.exec(`INSERT INTO tussock.area (coop_id, name, group_name) VALUES (@coop, @name, @group)
		ON CONFLICT (coop_id, name) DO UPDATE SET group_name = EXCLUDED.group_name`, map[string]any{"name": name, "group": group})
	return err
}

// RenameArea gives an area another name; bulletins that are out keep the old one. The coordinator; others get
// errs.Forbidden. errs.NotFound where there is no such area, errs.Conflict where the name is taken.
func (tx *Tx) RenameArea(id access.ID, name string) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(id) {
		return errNoArea
	}
	name, err := names.Name(name)
	if err != nil {
		return err
	}
	if name == "" {
		return errs.New(errs.Invalid, words.Mark("Give the area a name."))
	}
	if err := tx.nameless(name); err != nil {
		return err
	}
	return tx.must(errNoArea, "UPDATE tussock.area SET name = @name WHERE coop_id = @coop AND id = @id", map[string]any{"id": id, "name": name})
}

// CooperativeName returns the cooperative's name: everybody may.
func (tx *Tx) CooperativeName() (string, error) {
	var name string
	_, err := tx.row(&name, "SELECT name FROM tussock.coop WHERE coop_id = @coop", nil)
	return name, err
}

// RenameCooperative gives it another. The coordinator; others get errs.Forbidden.
func (tx *Tx) RenameCooperative(name string) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	name, err := names.Name(name)
	if err != nil {
		return err
	}
	if name == "" {
		return errs.New(errs.Invalid, words.Mark("Give the cooperative a name."))
	}
	if err := tx.nameless(name); err != nil {
		return err
	}
	return tx.must(errNoMember, "UPDATE tussock.coop SET name = @name WHERE coop_id = @coop", map[string]any{"name": name})
}

// SetPasswordHash changes the actor's own.
func (tx *Tx) SetPasswordHash(hash string) error {
	return tx.must(errNoMember, "UPDATE tussock.account SET password_hash = @hash WHERE coop_id = @coop AND person_id = @me", map[string]any{"hash": hash})
}

// EndSessions ends the actor's sessions, all or all but this one, and with them tokens, calendars and remembered browsers.
func (tx *Tx) EndSessions(butThis bool) error {
	_, err := tx.exec("SELECT tussock.close_my_sessions(@but_this)", map[string]any{"but_this": butThis})
	return err
}

// A Session is one sign-in of the actor's.
type Session struct {
	ID               string // points at it among the actor's own, and opens nothing
	This             bool   // the one that asks
	Agent            string // what the browser called itself
	OpenedAt, SeenAt time.Time
}

// Sessions lists the actor's open ones, this one first, then those used last.
func (tx *Tx) Sessions() ([]Session, error) {
	var list []Session
	err := tx.rows(&list, "SELECT which AS id, this, agent, opened_at, seen_at FROM tussock.my_sessions()", nil)
	return list, err
}

// EndSession ends one of the actor's: errs.NotFound where it is none of theirs, or has ended.
func (tx *Tx) EndSession(id string) error {
	var closed bool
	_, err := tx.row(&closed, "SELECT tussock.close_my_session(@id)", map[string]any{"id": strings.ToValidUTF8(id, "")})
	if err == nil && !closed {
		err = errs.New(errs.NotFound, "There is no such sign-in.")
	}
	return err
}

// IsEmail tells whether s could be an e-mail address. Only a letter that arrives proves one, so the check is wide:
// something, an @, something.
func IsEmail(s string) bool {
	at := strings.LastIndexByte(s, '@')
	return at > 0 && at < len(s)-1 && len(s) <= 254 && !strings.ContainsAny(s, " \t\r\n<>\"")
}
