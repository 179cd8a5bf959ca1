package pages_test

import (
	"context"
	"regexp"
	"strings"
	"testing"
)

// TestT32RawLog goes through everything there is, as everybody, right and wrong, and reads what was written down: no
// token, no password, no name of a ranch or a person, no value of a sheet, no line of the database's details.
func TestT32RawLog(t *testing.T) {
	a := newAttacker(t, 32)
	secrets := map[string]string{"a password": "four plain words here", "an address": "example.org", "a ranch": "Cottonwood Draw", "a neighbor's ranch": "Antelope Flat",
		"an owner": "Ada Marsh", "a person": "Person ", "a phone number": "555 01", "a value": "tasajillo thicket", "a hash": "argon2id", "a file's name": "nests.csv",
		"the database's detail": "DETAIL", "the database's key": "Key (", "a failing row": "Failing row"}
	for role, m := range a.members {
		if m.session != "" {
			secrets["the session of a "+string(role)] = m.session
		}
	}
	a.members["landowner"].sends([]sheet{{"nests.csv", columns + "A,1,tasajillo thicket,2026-04-28,2026-05-12,intact,,\n"}})
	token := a.members["landowner"].token()
	secrets["a token"] = strings.TrimPrefix(token, "tussock_")
	var log strings.Builder
	for range 700 {
		_, request, method := a.request()
		if _, _, _, err := a.send(request, method); err != nil {
			t.Errorf("%.300q: %v", request, err)
		}
		log.WriteString(a.log.said())
	}
	// What breaks a rule of the database: names that are there already, twice the same.
	rosa := a.members["coordinator"]
	for range 2 {
		rosa.posts("/cooperative/ranches", "name", "Antelope Flat", "owner", "Bo Flat")
		rosa.posts("/cooperative/areas", "name", "Antelope Flat", "group", "Cottonwood Draw")
		rosa.posts("/cooperative/invitations", "role", "landowner", "email", "person2@example.org", "name", "Person Two")
	}
	for _, path := range []string{"/api/v1/ranches", "/api/v1/ranches/" + string(a.theirs) + "/seasons/2026/findings", "/api/v1/bulletins/1"} {
		a.calls(token, "GET", path)
		a.calls(token[:len(token)-1]+"x", "GET", path)
	}
	for name, value := range map[string]string{"tussock": strings.Repeat("cd", 32)} {
		secrets["a made-up "+name] = value
		(&member{stage: a.stage, session: value}).opens("/ranch")
	}
	log.WriteString(a.log.said())
	said := log.String()
	if strings.Count(said, "request failed") < 200 {
		t.Fatalf("the log has %d lines of failures", strings.Count(said, "request failed"))
	}
	for name, secret := range secrets {
		if i := strings.Index(said, secret); i >= 0 {
			t.Errorf("the log tells %s: …%s…", name, said[max(0, i-300):min(len(said), i+200)])
		}
	}
	if long := regexp.MustCompile(`\b[0-9a-f]{64}\b`).FindString(said); long != "" && long != strings.Repeat("ab", 32) {
		t.Errorf("the log has something like a token: %s", long)
	}
	// The database's own log: the server we start is told to write no statement and no detail.
	for setting, want := range map[string]string{"log_statement": "none", "log_min_error_statement": "panic", "log_error_verbosity": "terse", "log_parameter_max_length_on_error": "0"} {
		if got, err := a.db.Owner.Text(context.Background(), "SELECT current_setting($1)", setting); got != want || err != nil {
			t.Errorf("%s is %q, want %q (%v)", setting, got, want, err)
		}
	}
}
