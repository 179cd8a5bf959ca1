// Package access decides who may do what: pure decisions from facts given as arguments.
//
// The database holds the same decisions as row-level policies and the pages as a right per route; tests compare the
// three.
package access

// An ID names a row: a random UUID in its canonical text form, or "" for none.
type ID string

// A Role is what a member is to the cooperative.
type Role string

// The roles.
const (
	Coordinator Role = "coordinator" // runs the cooperative, sees no ranch's results
	Landowner   Role = "landowner"   // owns ranches, sees them and the bulletins
	Hand        Role = "hand"        // works on ranches assigned to them, sees no comparison
	Biologist   Role = "biologist"   // sees bulletins, from ten entities, and ranches shared with them by name
	Planner     Role = "planner"     // sees bulletins, from ten entities
)

// Roles in the order they are listed.
var Roles = []Role{Coordinator, Landowner, Hand, Biologist, Planner}

// An Actor is somebody signed in.
type Actor struct {
	Session string // the session's token, 64 hexadecimal digits: what the database resolves
	Coop    ID
	Person  ID
	Name    string
	Role    Role
	Ranches []ID // those whose rows the actor may open: owned, or assigned to a hand
	// Known counts the entities whose ranch-level results the actor can open or ever could.
	Known int
}

// A Right is one thing a route lets an actor do.
type Right string

// The rights.
const (
	Anyone          Right = "anyone"           // no sign-in needed
	SignedIn        Right = "signed in"        // any member
	ViewRanch       Right = "view ranch"       // a ranch's own results
	SendResults     Right = "send results"     // upload and mend a ranch's sheets
	CompareRanch    Right = "compare ranch"    // see the bulletin beside a ranch's own figures
	ViewBulletins   Right = "view bulletins"   // the region pages
	ViewNamed       Right = "view named"       // results of ranches whose owners share them by name
	RunCooperative  Right = "run cooperative"  // members, invitations, areas, sites, upload status
	PublishBulletin Right = "publish bulletin" // preview, hold and freeze
	TakeFiles       Right = "take files"       // bulletins as open files, and tokens for a program of one's own
	TakeRanch       Right = "take ranch"       // a ranch's own rows and results, as open files or by a program
	ViewOutreach    Right = "view outreach"    // where a field day is worth it, and posters
	AskIntroduction Right = "ask introduction" // ask the coordinator to be introduced to ranches
)

var granted = map[Role][]Right{
	Coordinator: {SignedIn, ViewBulletins, RunCooperative, PublishBulletin, TakeFiles, ViewOutreach},
	Landowner:   {SignedIn, ViewRanch, SendResults, CompareRanch, ViewBulletins, TakeFiles, TakeRanch},
	Hand:        {SignedIn, ViewRanch, SendResults},
	Biologist:   {SignedIn, ViewBulletins, ViewNamed, TakeFiles, ViewOutreach},
	Planner:     {SignedIn, ViewBulletins, TakeFiles, ViewOutreach, AskIntroduction},
}

// Has tells whether the role carries the right at all.
func (r Role) Has(right Right) bool {
	if right == Anyone {
		return true
	}
	for _, g := range granted[r] {
		if g == right {
			return true
		}
	}
	return false
}

// CanRanch tells whether the actor may use the right on the given ranch. A ranch that is not the actor's is
// answered as if it did not exist.
func (a Actor) CanRanch(right Right, ranch ID) bool {
	if !a.Role.Has(right) {
		return false
	}
	for _, id := range a.Ranches {
		if id == ranch {
			return true
		}
	}
	return false
}

// MinEntities returns the smallest number of entities a published cell must rest on for the actor to see it:
// five for those who contribute or run the cooperative, ten for everybody else.
func (a Actor) MinEntities() int {
	if a.Role == Landowner || a.Role == Coordinator {
		return 5
	}
	return 10
}
