package account

import "github.com/alexedwards/argon2id"

// Hash returns what an account keeps of a password. It is for filling the demo, whose many members share one; people
// set theirs by Accept and ChangePassword.
func Hash(password string) (string, error) { return argon2id.CreateHash(password, params()) }
