package postgres

import (
	"time"

	"tussock/internal/access"
)

// A RosterChange is what changed about the roster, areas and owners. It counts from the next season's opening.
type RosterChange struct {
	At          time.Time
	By          string // "" where the server carried out what an owner had asked for
	Kind        string // RanchAdded and so on
	What        string // the name of the ranch, area or owner it is about
	Was, Became string
	Mine        bool // about a ranch that the actor owns
}

// The kinds of change.
const (
	RanchAdded   = "ranch" // in the area Was, of the owner Became
	RanchRenamed = "ranch name"
	RanchMoved   = "ranch area"
	RanchOwner   = "ranch owner"
	RanchErased  = "ranch erased"
	AreaAdded    = "area" // in the group Became
	AreaRenamed  = "area name"
	AreaGrouped  = "area group"
	Vouched      = "vouched"
	VouchEnded   = "vouch ended"
	PaperYes     = "paper"            // a yes on paper, kept by a coordinator
	PaperNo      = "paper no"         // or a no
	Suspended    = "suspended"        // the member What, until the day Became, which ends by itself
	SuspendedOn  = "suspension kept"  // a second coordinator's yes to it
	LetIn        = "suspension ended" // by a coordinator, or by itself
	OwnerAsked   = "take off"         // somebody asked to take the owner Was off the ranch
	HeirLetIn    = "heir let in"      // a coordinator's yes to a new owner of the ranch, to whom Was hands it over
	HeirJoined   = "heir joined"      // Was came in by it
	OwnerCame    = "owner came"       // Was, a further owner of the ranch
	OwnerStays   = "take off ended"   // which was called off
	SeasonDated  = "season"           // the year What, from the dates Was to the dates Became, each four days with blanks between, or none
	TakeBack     = "take back"        // a coordinator would take back a figure of the season What
	TakenBack    = "taken back"       // which was done
	OwnerOff     = "taken off"        // or done
)

// RosterChanges lists them from a time on, latest first: every member may; a planner and a biologist those that name nobody.
func (tx *Tx) RosterChanges(since time.Time) ([]RosterChange, error) {
	var list []RosterChange
	err := tx.rows(&list, "SELECT at, by_name AS by, kind, what, was, became, mine FROM tussock.roster_log(@since)", map[string]any{"since": since})
	return list, err
}

// A LandOwner is somebody who owns ranches, or the owner of one on paper who has no account.
type LandOwner struct {
	ID      access.ID // the person's, or the ranch's
	Name    string
	Ranches string // their names, joined by ", "
	Words   int    // members who vouch for them
	Mine    bool   // the actor does
	Settled bool   // two who are two people have: from the next opening on the owner counts
	Why     string // why two or more are not enough: WhyCoordinators and so on, or ""
}

// Why two vouch for an owner who does not count.
const (
	WhyCoordinators = "coordinators" // all of them are
	WhyInviter      = "inviter"      // the same person brought them in
	WhyShared       = "shared"       // they share an address, a telephone or a browser with each other or with the owner
)

// OwnersToVouch lists the owners of ranches but the actor's own, by name. Coordinators, and landowners who have been counted, or
// before the first season any; for others there are none.
func (tx *Tx) OwnersToVouch() ([]LandOwner, error) {
	var list []LandOwner
	err := tx.rows(&list, "SELECT id, name, ranches, words, mine, settled, why FROM tussock.owners_to_vouch()", nil)
	return list, err
}

// Vouch says of each owner that there is such a person, and that they are nobody else on the roster. Two words settle it, of two people who are not both coordinators and whom not the same person brought in. errs.Forbidden for those who may not.
func (tx *Tx) Vouch(owners ...access.ID) error {
	for _, id := range owners {
		if !isID(id) {
			return errNoMember
		}
		if _, err := tx.exec("INSERT INTO tussock.vouch (coop_id, owner_id, person_id) VALUES (@coop, @id, @me) ON CONFLICT (coop_id, owner_id, person_id) DO UPDATE SET ended_at = NULL", map[string]any{"id": id}); err != nil {
			return err
		}
	}
	return nil
}

// EndVouch takes the actor's word back; a coordinator's goes on counting for 30 days. errs.NotFound where they gave none.
func (tx *Tx) EndVouch(owner access.ID) error {
	if !isID(owner) {
		return errNoMember
	}
	return tx.must(errNoMember, "UPDATE tussock.vouch SET ended_at = now() WHERE coop_id = @coop AND owner_id = @id AND person_id = @me AND ended_at IS NULL", map[string]any{"id": owner})
}

// KeepPaper records a yes or no that the owner of a ranch gave on paper. A no counts for seasons that open thirty days later or more, and
// for none that has opened. The coordinator, for a ranch whose owner has no account;
// others get errs.Forbidden.
func (tx *Tx) KeepPaper(ranch access.ID, yes bool) error {
	if err := tx.coordinator(); err != nil {
		return err
	}
	if !isID(ranch) {
		return errNoRanch
	}
	level := 0
	if yes {
		level = 1
	}
	return tx.must(errNoRanch, "INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by, paper) VALUES (@coop, @ranch, @level, @me, true)", map[string]any{"ranch": ranch, "level": level})
}
