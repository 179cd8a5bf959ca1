package main

import (
	"context"
	"fmt"
	"net"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"

	"tussock/internal/mail/mailtest"
	"tussock/internal/postgres"
	"tussock/internal/postgres/private"
)

// TestPasskeyInBrowser registers a passkey in a real Chromium, whose authenticator is a virtual one (W3C Web
// Authentication, level 3, section 11), signs in with it, and proves with it that it is still oneself.
func TestPasskeyInBrowser(t *testing.T) {
	if testing.Short() {
		t.Skip("the browser tests take a minute")
	}
	chromium := startBrowser(t)
	base, link, owner := startNamed(t)
	p := chromium.open(t, base)
	authenticator := p.addAuthenticator()

	p.visit(link)
	p.do(
		chromedp.SendKeys(chromedp.CSS(`input[name="name"]`), "Rosa Lind"),
		chromedp.SendKeys(chromedp.CSS(`input[name="email"]`), "rosa@example.org"),
		chromedp.SendKeys(chromedp.CSS(`input[name="password"]`), "grama under late snow"),
	)
	p.submit(`form:has(input[name="password"]) [type="submit"]`)

	p.visit("/account/passkeys")
	p.width(360)
	p.shot("passkeys-new")
	p.do(chromedp.Click(chromedp.CSS(`form[data-new-passkey] [type="submit"]`)))
	p.await("/account/passkeys?added=1")
	if text := eval[string](p, `document.querySelector('main').innerText`); !strings.Contains(text, "The passkey is kept") || !strings.Contains(text, "Chrome on Linux") {
		t.Errorf("the page does not show the passkey: %s", text)
	}
	p.shot("passkeys-added")
	kept, err := chromedp.Call(p.ctx, webauthn.GetCredentials, webauthn.GetCredentialsParams{AuthenticatorID: authenticator})
	if err != nil || len(kept.Credentials) != 1 {
		t.Fatalf("the authenticator keeps %d passkeys, %v, want 1", len(kept.Credentials), err)
	}
	if c := kept.Credentials[0]; !c.IsResidentCredential || c.RpID != "localhost" || len(c.UserHandle) != 32 {
		t.Errorf("the passkey is for %q, found without a name: %v, handle of %d bytes", c.RpID, c.IsResidentCredential, len(c.UserHandle))
	}
	// A second one for the same member on the same device is refused by the device.
	p.do(chromedp.Click(chromedp.CSS(`form[data-new-passkey] [type="submit"]`)))
	p.says(`form[data-new-passkey] [role="alert"]`, "has a passkey for you already")

	p.submit(`.leave [type="submit"]`)
	p.await("/sign-in")
	p.shot("passkeys-sign-in")
	p.do(chromedp.Click(chromedp.CSS(`form[data-passkey] [type="submit"]`)))
	p.await("/cooperative")

	// Ten minutes and more later, what matters asks again; the passkey answers.
	if _, err := owner.Exec(context.Background(), "UPDATE tussock.session SET proved_at = now() - interval '11 minutes'"); err != nil {
		t.Fatal(err)
	}
	p.visit("/account/passkeys")
	p.await("/sign-in/again?next=")
	p.shot("passkeys-again")
	p.do(chromedp.Click(chromedp.CSS(`form[data-passkey] [type="submit"]`)))
	p.await("/account/passkeys")

	// A form is held with what was typed in it.
	p.visit("/tokens")
	p.do(chromedp.SendKeys(chromedp.CSS(`input[name="name"]`), "R in the office"))
	if _, err := owner.Exec(context.Background(), "UPDATE tussock.session SET proved_at = now() - interval '11 minutes'"); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.Click(chromedp.CSS(`form[action^="/tokens"]:has(input[name="name"]) button`)), chromedp.WaitVisible(chromedp.CSS(`form[data-passkey]`)))
	p.do(chromedp.Click(chromedp.CSS(`form[data-passkey] [type="submit"]`)), chromedp.WaitVisible(chromedp.CSS(`#secret`)))
	if text := eval[string](p, `document.querySelector('main').innerText`); !strings.Contains(text, "R in the office") {
		t.Errorf("what was typed is lost: %s", text)
	}

	// Without the finger nobody comes in, and the password still does.
	p.submit(`.leave [type="submit"]`)
	p.await("/sign-in")
	if _, err := chromedp.Call(p.ctx, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: authenticator, IsUserVerified: false}); err != nil {
		t.Fatal(err)
	}
	p.do(chromedp.Click(chromedp.CSS(`form[data-passkey] [type="submit"]`)))
	p.says(`form[data-passkey] [role="alert"]`, "No passkey came")
	for _, w := range p.complaints() {
		if !strings.Contains(w, "status of 403") { // the form that was held
			t.Error(w)
		}
	}
	p.signIn("rosa@example.org", "grama under late snow")
	t.Run("Looks", func(t *testing.T) { p.looksRight(t) })
}

// looksRight goes over the pages about coming in that the demo does not lead to: nothing for axe-core, the console or a
// narrow screen to hold against them.
func (p *tab) looksRight(t *testing.T) {
	script := axeScript(t)
	p.width(360)
	look := func(name string) {
		t.Helper()
		for _, w := range append(p.complaints(), p.axe(script)...) {
			t.Errorf("%s: %s", name, w)
		}
		if wide := p.wide(); wide != "" {
			t.Errorf("%s scrolls sideways, %s", name, wide)
		}
		p.complaints() // what axe's own probing said
		p.shot(shotName("coming-in", name))
	}
	p.complaints()
	for _, path := range []string{"/sign-in/again?next=/account", "/sign-in/code", "/sign-in/link", "/sign-in/link?sent=1", "/account/address", "/account/leave", "/cooperative/members"} {
		p.visit(path)
		look(path)
	}
	p.visit("/account/codes")
	p.submit(`form[action="/account/codes"] [type="submit"]`)
	if loaded := eval[int](p, `document.querySelector('main img').naturalWidth`); loaded != 240 {
		t.Errorf("the picture for the app is %d pixels wide, want 240", loaded)
	}
	look("setting up codes")

	// The page of a browser that is not remembered.
	p.visit("/account")
	look("/account")
	p.submit(`form[action$="/forget"] button`)
	p.submit(`.leave [type="submit"]`)
	p.await("/sign-in")
	p.do(chromedp.SendKeys(chromedp.CSS(`input[name="email"]`), "rosa@example.org"), chromedp.SendKeys(chromedp.CSS(`input[name="password"]`), "grama under late snow"))
	p.submit(`form[action="/sign-in"] [type="submit"]`)
	p.await("/sign-in/letter?next=")
	look("/sign-in/letter")
	eval[bool](p, `document.querySelector('details').open = true`)
	look("/sign-in/letter/again")
}

// startNamed runs serve under a name that passkeys can belong to, and returns its address, the first coordinator's link
// and the database's owner.
func startNamed(t *testing.T) (base, link string, owner *postgres.Owner) {
	t.Helper()
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := free.Addr().String()
	free.Close()
	base = fmt.Sprintf("http://localhost:%d", free.Addr().(*net.TCPAddr).Port)

	data := dataFolder(t)
	ctx, cancel := context.WithCancel(context.Background())
	var out screen
	status := make(chan int, 1)
	box := mailtest.New(t)
	env := func(name string) string {
		return map[string]string{"TUSSOCK_URL": base, "TUSSOCK_MAIL_URL": box.URL}[name]
	}
	go func() {
		status <- run(ctx, []string{"serve", "--addr", address, "--data", data}, env, &out, &out)
	}()
	t.Cleanup(func() {
		cancel()
		if got := <-status; got != 0 {
			t.Errorf("serve ended with %d: %s", got, out.String())
		}
	})
	var found []string
	for deadline := time.Now().Add(time.Minute); found == nil; time.Sleep(20 * time.Millisecond) {
		if found = regexp.MustCompile(base + `(/join/[0-9a-f]{64})`).FindStringSubmatch(out.String()); found == nil && time.Now().After(deadline) {
			t.Fatalf("serve did not start: %s", out.String())
		}
	}
	admin, ok := private.Running(data)
	if !ok {
		t.Fatal("the private PostgreSQL does not run")
	}
	if owner, err = postgres.OpenOwner(ctx, admin); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(owner.Close)
	return base, found[1], owner
}

// addAuthenticator gives the tab a device that keeps passkeys and whose finger is always right.
func (p *tab) addAuthenticator() webauthn.AuthenticatorID {
	p.t.Helper()
	if _, err := chromedp.Call(p.ctx, webauthn.Enable, webauthn.EnableParams{}); err != nil {
		p.t.Fatal(err)
	}
	got, err := chromedp.Call(p.ctx, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
		Protocol: "ctap2", Transport: "internal", HasResidentKey: true, HasUserVerification: true, IsUserVerified: true, AutomaticPresenceSimulation: true}})
	if err != nil {
		p.t.Fatal(err)
	}
	return got.AuthenticatorID
}

// says waits until an element says something.
func (p *tab) says(selector, sentence string) {
	p.t.Helper()
	var said string
	for range 100 {
		if said = eval[string](p, fmt.Sprintf(`document.querySelector(%q)?.innerText || ''`, selector)); strings.Contains(said, sentence) {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.t.Errorf("%s says %q, want %q", selector, said, sentence)
}
