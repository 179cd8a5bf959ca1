// Inside the package: page structs are its own business.

package pages

import (
	"testing"

	"tussock/internal/access"
	"tussock/internal/account"
	"tussock/internal/postgres"
)

// signInPages has the pages about coming in filled, for TestTemplatesFitTheirPages.
func signInPages() map[string]any {
	link := account.Link{Name: "Ada Marsh", Cooperative: "Sandhill Grass", Email: "ada.marsh@example.org"}
	inside := func(title, path string) base { return sampleBase(title, path, access.Landowner) }
	codes := setting(account.Enrollment{Secret: "GEZD GNBV GY3T QOJQ GEZD GNBV GY3T QOJQ", QR: []byte("png")})
	codes.base, codes.Problem = inside("One-time codes", "/account/codes"), "That code is not right."
	return map[string]any{
		"sign_in_code":      signInCodePage{base: sampleBase("Your code, please", "/sign-in/code", ""), Next: "/ranch", Message: "That code is not right."},
		"sign_in_letter":    signInLetterPage{base: sampleBase("A code, please", "/sign-in/letter", ""), After: account.FirstPassword, Next: "/ranch", Message: "That is not right."},
		"sign_in_link":      signInLinkPage{base: sampleBase("A link instead of a password", "/sign-in/link", "")},
		"sign_in_link_open": signInLinkOpenPage{base: sampleBase("Sign in as Ada Marsh", "/sign-in/link/x", ""), Link: link, Token: "x"},
		"sign_in_again": signInAgainPage{base: inside("Is it still you?", "/sign-in/again"), Action: "/who/1", Held: []heldField{{"level", "1"}},
			Means: account.Means{Passkey: true, Code: true}, Message: "That is not your password."},
		"account_passkeys": accountPasskeysPage{base: inside("Passkeys", "/account/passkeys"), Can: true, Added: true, Name: "Chrome on Linux",
			Passkeys: []passkeyRow{{"1", "My phone", "August 4, 2026", "never yet"}}},
		"account_codes": codes,
		"account_address": accountAddressPage{base: inside("Your e-mail address", "/account/address"), Email: "ada@example.org", Letters: true, Sent: true,
			Problem: "That does not look like an e-mail address."},
		"account_address_open": accountAddressOpenPage{base: inside("Your new address", "/account/address/x"), Link: link, Token: "x"},
		"account_leave": accountLeavePage{base: inside("Leave the cooperative", "/account/leave"),
			Ranches: []postgres.Ranch{{ID: "1", Name: "Cottonwood Draw"}, {ID: "2", Name: "North Breaks"}}, Problem: "Not yet.", Invite: "https://tussock.example/join/x",
			Under: []leaveNotice{{ID: "d", Said: "Ada Marsh asked to leave the cooperative.", When: "It happens on August 18, 2026.", Waits: true}}},
	}
}

func TestLoggable(t *testing.T) {
	token := postgres.NewToken()
	for path, want := range map[string]string{
		"/join/" + token: "/join/…", "/sign-in/link/" + token + "/x": "/sign-in/link/…/x",
		"/ranch/3b241101-e2bb-4255-8caf-4136c566a962": "/ranch/3b241101-e2bb-4255-8caf-4136c566a962", "/": "/",
	} {
		if got := loggable(path); got != want {
			t.Errorf("loggable(%q) = %q, want %q", path, got, want)
		}
	}
}
