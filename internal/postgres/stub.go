package postgres

import (
	"context"

	"tussock/internal/access"
	"tussock/internal/bulletin"
	"tussock/internal/errs"
	"tussock/internal/survey"
)

var errSoon = errs.New(errs.Unavailable, "Not built yet.")

type DB struct{}
type Tx struct{}
type Owner struct{}
type Press struct{}

func Open(ctx context.Context, url string) (*DB, error) { return nil, errSoon }
func (db *DB) Close()                                   {}
func (db *DB) As(ctx context.Context, actor access.Actor, fn func(*Tx) error) error {
	return errSoon
}
func (db *DB) Ping(ctx context.Context) error { return errSoon }

func (db *DB) Credentials(ctx context.Context, email string) ([]Credentials, error) {
	return nil, errSoon
}
func (db *DB) OpenSession(ctx context.Context, s NewSession) error  { return errSoon }
func (db *DB) CloseSession(ctx context.Context, token string) error { return errSoon }
func (db *DB) ActorOf(ctx context.Context, token string) (access.Actor, error) {
	return access.Actor{}, errSoon
}
func (db *DB) Invitation(ctx context.Context, token string) (Invitation, error) {
	return Invitation{}, errSoon
}
func (db *DB) AcceptInvitation(ctx context.Context, token string, a Acceptance) (Credentials, error) {
	return Credentials{}, errSoon
}

func (tx *Tx) CooperativeName() (string, error)    { return "", errSoon }
func (tx *Tx) RenameCooperative(name string) error { return errSoon }
func (tx *Tx) Ranches() ([]Ranch, error)           { return nil, errSoon }
func (tx *Tx) Ranch(id access.ID) (Ranch, error)   { return Ranch{}, errSoon }
func (tx *Tx) Survey(ranches []access.ID, season int) (*survey.Data, error) {
	return nil, errSoon
}
func (tx *Tx) Seasons(ranch access.ID) ([]int, error)    { return nil, errSoon }
func (tx *Tx) Uploads(ranch access.ID) ([]Upload, error) { return nil, errSoon }
func (tx *Tx) Upload(id access.ID) (Upload, error)       { return Upload{}, errSoon }
func (tx *Tx) UploadFile(id access.ID) (name string, data []byte, err error) {
	return "", nil, errSoon
}
func (tx *Tx) Send(s Sending) (id access.ID, already bool, err error) { return "", false, errSoon }
func (tx *Tx) Reread(id access.ID, r Reading) error                   { return errSoon }
func (tx *Tx) Answers(id access.ID) (answers map[string]string, undone []string, settings Settings, err error) {
	return nil, nil, Settings{}, errSoon
}
func (tx *Tx) UndoUpload(id access.ID) error                            { return errSoon }
func (tx *Tx) RestoreUpload(id access.ID) error                         { return errSoon }
func (tx *Tx) Words(ranch access.ID) (map[string]string, error)         { return nil, errSoon }
func (tx *Tx) RememberWords(ranch access.ID, w map[string]string) error { return errSoon }
func (tx *Tx) SetConsent(ranch access.ID, level int) error              { return errSoon }
func (tx *Tx) Withdraw(ranch access.ID) error                           { return errSoon }
func (tx *Tx) People(ranch access.ID) ([]Person, error)                 { return nil, errSoon }
func (tx *Tx) Looked(ranch access.ID) error                             { return errSoon }

func (tx *Tx) Members() ([]Member, error)             { return nil, errSoon }
func (tx *Tx) RemoveMember(id access.ID) error        { return errSoon }
func (tx *Tx) Assign(person, ranch access.ID) error   { return errSoon }
func (tx *Tx) Unassign(person, ranch access.ID) error { return errSoon }
func (tx *Tx) Invitations() ([]Invitation, error)     { return nil, errSoon }
func (tx *Tx) Invite(role access.Role, name, email string, ranches []access.ID) (token string, err error) {
	return "", errSoon
}
func (tx *Tx) RevokeInvitation(id access.ID) error                   { return errSoon }
func (tx *Tx) Areas() ([]Area, error)                                { return nil, errSoon }
func (tx *Tx) SaveArea(name, group string) error                     { return errSoon }
func (tx *Tx) AllRanches() ([]Ranch, error)                          { return nil, errSoon }
func (tx *Tx) SaveRanch(r Ranch) (access.ID, error)                  { return "", errSoon }
func (tx *Tx) UploadStatus(season int) ([]Status, error)             { return nil, errSoon }
func (tx *Tx) OrderPress(season int, kind string) (access.ID, error) { return "", errSoon }
func (tx *Tx) PressOrders() ([]PressOrder, error)                    { return nil, errSoon }
func (tx *Tx) Preview(order access.ID) ([]bulletin.Cell, error)      { return nil, errSoon }

func (tx *Tx) Bulletins() ([]BulletinHead, error)          { return nil, errSoon }
func (tx *Tx) Cells(season int) ([]bulletin.Cell, error)   { return nil, errSoon }
func (tx *Tx) Places(season int) ([]bulletin.Place, error) { return nil, errSoon }

func (tx *Tx) SetPasswordHash(hash string) error { return errSoon }
func (tx *Tx) EndSessions() error                { return errSoon }

func OpenPress(ctx context.Context, url string) (*Press, error) { return nil, errSoon }
func (p *Press) Close()                                         {}
func OpenOwner(ctx context.Context, url string) (*Owner, error) { return nil, errSoon }
func (o *Owner) Close()                                         {}
func (o *Owner) Migrate(ctx context.Context) error              { return errSoon }

// CreateCooperative makes a cooperative and an invitation for its first coordinator, and returns the cooperative's id
// and the invitation's token.
func (o *Owner) CreateCooperative(ctx context.Context, c Cooperative) (access.ID, string, error) {
	return "", "", errSoon
}
