package postgres

import (
	"encoding/json"
	"time"

	"tussock/internal/access"
	"tussock/internal/bulletin"
)

// A RosterChange is what changed about the roster, areas and owners. It counts from the next season's opening.
type RosterChange struct {
	At          time.Time
	By          string // "" where the server carried out what an owner had asked for, and for a planner or biologist
	ByNumber    int    // the same for all that one person did, 0 for the server: it tells people apart where they are not named
	ByPart      string // for a planner or biologist alone, who reads no names: ByCoordinator, ByMember, or "" for the server
	ByAgain     Again  // where another was called that before
	Kind        string // RanchAdded and so on
	What        string // the name of the ranch, area or owner it is about
	WhatAgain   Again
	Was, Became string
	Mine        bool           // about a ranch that the actor owns, or that was put under their name and that they have not said is another's
	Address     string         // of who came: with which they sign in, where the actor may read it
	New         bool           // who came was new in the cooperative then
	Figure      *bulletin.Cell // of TakeBack and TakenBack, without values; nil for a planner or biologist
}

// Again tells somebody from an earlier member of the same name: true, and who brought them in, "" for somebody who has gone.
type Again struct {
	Again   bool
	Inviter string
}

// Who did it, for those who read no names.
const (
	ByCoordinator = "coordinator"
	ByMember      = "member"
)

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
	VouchEnded   = "vouch ended"      // of either, Became is OnPaper where What is the ranch of somebody who does not sign in
	VouchLapsed  = "vouch lapsed"     // what the members Became said of such a ranch's owner: Was signs in for it now
	FirstOwner   = "first owner"      // Was, the one owner of the ranch, whom By brought in
	Placed       = "placed"           // Was, on the ranch; Became is PlacedOwner and so on
	MapSet       = "map"              // outlines of the areas What; Became is "" where they were taken away
	CodeMade     = "code"             // that helps the member What to sign in
	PaperYes     = "paper"            // a yes on paper, kept by a coordinator
	PaperNo      = "paper no"         // or a no
	Suspended    = "suspended"        // the member What, until the day Became, which ends by itself
	SuspendedOn  = "suspension kept"  // a second coordinator's yes to it
	LetIn        = "suspension ended" // by a coordinator, or by itself
	OwnerAsked   = "take off"         // somebody asked to take the owner Was off the ranch
	HeirLetIn    = "heir let in"      // a coordinator's yes to a new owner of the ranch, to whom Was hands it over
	HeirRefused  = "heir refused"     // or their no
	HeirJoined   = "heir joined"      // Was came in by it
	PlaceEnded   = "place ended"      // a coordinator ended the place of Was on the ranch, or their waiting for one
	MemberGone   = "member gone"      // By removed the member What, who is none of the coordinators; Became is their role
	HeirGone     = "heir gone"        // Was, who came in by it, has gone: it was called off
	OwnerCame    = "owner came"       // Was, a further owner of the ranch
	OtherName    = "other name"       // Became joined for the ranch, by an invitation of By for the owner on record, or somebody, called Was
	OwnerStays   = "take off ended"   // which was called off
	SeasonDated  = "season"           // the year What, from the dates Was to the dates Became, each four days with blanks between, or none
	KeySet       = "key"              // version What of the key to remains, with the source Was before and Became now, "" of common practice
	TargetsSet   = "targets"          // from Was to Became, each clumps, nests of 100 and the days of two checks with blanks between, or none; from the source What
	TakeBack     = "take back"        // a coordinator would take back a figure of the season What
	TakenBack    = "taken back"       // which was done
	OwnerOff     = "taken off"        // or done
	RunnerCame   = "coordinator"      // What is a coordinator, whom By brought in
	RunnerGone   = "coordinator gone" // and is none any more: they left, or By removed them
	RunnerAsked  = "remove"           // By asked for the coordinator What to be removed, from the day Became on
	EraseAsked   = "erase"            // By asked for the ranch to be deleted
	EraseNot     = "erase ended"      // and By called it off
	Sells        = "hand over"        // By asked for the ranch to go to somebody else
	SellsYes     = "hand over yes"    // By, another owner, said yes
	SellsNot     = "hand over ended"  // and By called it off
	Sold         = "handed over"      // to Became
	RunnerStays  = "remove ended"     // and What said no, or, where Was says so, was suspended
)

// What Became says of a vouch for somebody who does not sign in, and of somebody who was put on a ranch.
const (
	OnPaper       = "on paper"
	PlacedOwner   = "owner waits"
	PlacedHand    = "hand"
	PlacedWaiting = "hand waits"
)

// RosterChanges lists them from a time on, latest first: every member may; a planner and a biologist those that name nobody.
func (tx *Tx) RosterChanges(since time.Time) ([]RosterChange, error) {
	var rows []struct {
		At                             time.Time
		By, ByPart, ByInviter, Kind    string
		What, WhatInviter, Was, Became string
		ByAgain, WhatAgain, Mine       bool
		ByNumber                       int
	}
	err := tx.rows(&rows, "SELECT at, by_name AS by, by_part, by_again, by_inviter, kind, what, what_again, what_inviter, was, became, mine, by_number FROM tussock.roster_log(@since)", map[string]any{"since": since})
	list := make([]RosterChange, len(rows))
	for i, r := range rows {
		list[i] = RosterChange{r.At, r.By, r.ByNumber, r.ByPart, Again{r.ByAgain, r.ByInviter}, r.Kind, r.What, Again{r.WhatAgain, r.WhatInviter}, r.Was, r.Became, r.Mine, "", false, nil}
		if (r.Kind == TakeBack || r.Kind == TakenBack) && r.Became != "" {
			list[i].Figure = new(bulletin.Cell)
			if err := json.Unmarshal([]byte(r.Became), list[i].Figure); err != nil {
				return nil, err
			}
		}
	}
	if err != nil {
		return nil, err
	}
	return list, tx.comings(since, list)
}

// comings adds what more the actor may know of those who came.
func (tx *Tx) comings(since time.Time, list []RosterChange) error {
	var rows []struct {
		At          time.Time
		Kind, Email string
		Fresh, Mine bool
	}
	if err := tx.rows(&rows, "SELECT at, kind, email, fresh, mine FROM tussock.my_comings(@since)", map[string]any{"since": since}); err != nil {
		return err
	}
	for _, r := range rows {
		for i := range list {
			if x := &list[i]; x.Kind == r.Kind && x.At.Equal(r.At) {
				x.Address, x.New, x.Mine = r.Email, r.Fresh, x.Mine || r.Mine
			}
		}
	}
	return nil
}

// A LandOwner is somebody who owns ranches, or the owner of one on paper who has no account.
type LandOwner struct {
	ID      access.ID // the person's, or the ranch's
	Name    string
	Again   Again
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
	WhyShared       = "shared"       // they share an address, a telephone or a browser with each other or with the owner, or one is a coordinator who brought the other in
)

// OwnersToVouch lists the owners of ranches but the actor's own, by name. Coordinators, and landowners who have been counted, or
// before the first season any; for others there are none.
func (tx *Tx) OwnersToVouch() ([]LandOwner, error) {
	var rows []struct {
		ID                     access.ID
		Name, Inviter, Ranches string
		Words                  int
		Again, Mine, Settled   bool
		Why                    string
	}
	err := tx.rows(&rows, "SELECT id, name, again, inviter, ranches, words, mine, settled, why FROM tussock.owners_to_vouch()", nil)
	var list []LandOwner
	for _, r := range rows {
		list = append(list, LandOwner{r.ID, r.Name, Again{r.Again, r.Inviter}, r.Ranches, r.Words, r.Mine, r.Settled, r.Why})
	}
	return list, err
}

// Vouch says of each owner that there is such a person, and that they are nobody else on the roster. Two words settle it, of two people who are not both coordinators, whom not the same
// person brought in, and neither of whom is a coordinator who brought the other in; beside a coordinator, a landowner of the first season
// counts whoever brought them in. It is for a sign-in: for nobody else of that name. errs.Forbidden for those who may not.
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

// A Standing tells whether a ranch would be counted in a season that opens now, as far as the words for its owners go.
type Standing struct {
	Counted bool
	Until   *time.Time // from when on not; nil where no word was taken back that it takes
}

// Standings returns it for the actor's own ranches.
func (tx *Tx) Standings() (map[access.ID]Standing, error) {
	var rows []struct {
		RanchID access.ID
		Counted bool
		Until   *time.Time
	}
	err := tx.rows(&rows, "SELECT ranch_id, counted, until FROM tussock.my_standing()", nil)
	standings := map[access.ID]Standing{}
	for _, r := range rows {
		standings[r.RanchID] = Standing{r.Counted, r.Until}
	}
	return standings, err
}

// EndVouch takes the actor's word back; it goes on counting for 30 days. errs.NotFound where they gave none.
func (tx *Tx) EndVouch(owner access.ID) error {
	if !isID(owner) {
		return errNoMember
	}
	return tx.must(errNoMember, "UPDATE tussock.vouch SET ended_at = now() WHERE coop_id = @coop AND owner_id = @id AND person_id = @me AND ended_at IS NULL", map[string]any{"id": owner})
}

// KeepPaper records a yes or no that the owner of a ranch gave on paper. A no counts for seasons that open thirty days later or more, and
// for none that has opened. The coordinator, for a ranch whose owner has no account;
// others get errs.Forbidden. errs.Conflict for a yes while a member whose name the ranch stands under has not answered.
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

// A NameAsk is a ranch that a coordinator put under the actor's name, or that somebody of the actor's name waits to come onto as its first
// owner, and that is none of theirs.
type NameAsk struct {
	Ranch            access.ID
	RanchName, Owner string // the owner on record
	Named            bool   // the ranch stands under the actor's name
	At               time.Time
	By               string // who did it; "" for somebody who has gone
	Who, Email       string // who waits to come onto it as its owner, or came; "" where nobody does
}

// NameAsks lists those that wait for the actor's word, by ranch.
func (tx *Tx) NameAsks() ([]NameAsk, error) {
	var rows []struct {
		Ranch                                    access.ID
		RanchName, OwnerName, ByName, Who, Email string
		At                                       *time.Time
		Named                                    bool
	}
	err := tx.rows(&rows, "SELECT ranch, ranch_name, owner_name, named, at, by_name, who, email FROM tussock.my_name_asks()", nil)
	var list []NameAsk
	for _, r := range rows {
		n := NameAsk{Ranch: r.Ranch, RanchName: r.RanchName, Owner: r.OwnerName, Named: r.Named, By: r.ByName, Who: r.Who, Email: r.Email}
		if r.At != nil {
			n.At = *r.At
		}
		list = append(list, n)
	}
	return list, err
}

// AnswerName is the actor's word on one of them. By a yes, whoever waits comes onto it. By a no nobody comes onto it who waited by the
// actor's name; and a ranch that stands under that name goes by its own, and is not put under it again. errs.NotFound where nobody asks the actor.
func (tx *Tx) AnswerName(ranch access.ID, yes bool) error {
	if !isID(ranch) {
		return errNoRanch
	}
	var done bool
	_, err := tx.row(&done, "SELECT tussock.answer_name(@ranch, @yes)", map[string]any{"ranch": ranch, "yes": yes})
	if err == nil && !done {
		err = errNoRanch
	}
	return err
}
