package pages

import (
	"github.com/gofiber/fiber/v2"

	"tussock/internal/access"
	"tussock/internal/words"
)

// A handler answers one request of an actor who holds the route's right. For access.Anyone the actor may be nobody:
// the zero Actor.
type handler func(c *fiber.Ctx, a access.Actor) error

type route struct {
	method, path string
	right        access.Right
	body         int // the biggest body, in bytes
	handle       handler
}

func get(path string, right access.Right, h handler) route {
	return route{fiber.MethodGet, path, right, formBody, h}
}

func post(path string, right access.Right, h handler) route {
	return route{fiber.MethodPost, path, right, formBody, h}
}

// upload is a post whose body may be a season's sheets.
func upload(path string, right access.Right, h handler) route {
	return route{fiber.MethodPost, path, right, uploadBody, h}
}

// routes is the whole table of pages: what is not here does not exist.
func (s *server) routes() []route {
	return []route{
		get("/", access.Anyone, s.first),

		get("/sign-in", access.Anyone, s.signInForm),
		post("/sign-in", access.Anyone, s.signIn),
		get("/sign-in/code", access.Anyone, s.signInCodeForm),
		post("/sign-in/code", access.Anyone, s.signInCode),
		get("/sign-in/letter", access.Anyone, s.signInLetterForm),
		post("/sign-in/letter", access.Anyone, s.signInLetter),
		post("/sign-in/letter/again", access.Anyone, s.sendLetterAgain),
		post("/sign-in/passkey/ask", access.Anyone, s.askPasskey),
		post("/sign-in/passkey", access.Anyone, s.signInPasskey),
		get("/sign-in/link", access.Anyone, s.signInLinkForm),
		post("/sign-in/link", access.Anyone, s.askLink),
		get("/sign-in/link/:token", access.Anyone, s.openLink),
		post("/sign-in/link/:token", access.Anyone, s.useLink),
		get("/sign-in/again", access.SignedIn, s.againForm),
		post("/sign-in/again", access.SignedIn, s.again),
		post("/sign-out", access.SignedIn, s.signOut),
		get("/join/:token", access.Anyone, s.joinForm),
		post("/join/:token", access.Anyone, s.join),
		get("/join/:token/:key", access.Anyone, s.joinLetter),
		post("/join/:token/:key", access.Anyone, s.finishJoining),
		get("/about", access.Anyone, s.about),
		get("/promise", access.Anyone, s.promise),
		post("/language", access.Anyone, s.changeLanguage),

		get("/account", access.SignedIn, s.account),
		post("/account/password", access.SignedIn, s.changePassword),
		post("/account/sessions/end", access.SignedIn, s.signOutEverywhere),
		post("/account/sessions/:id/end", access.SignedIn, s.endSession),
		post("/account/browsers/:id/forget", access.SignedIn, s.forgetBrowser),
		get("/account/phone", access.SignedIn, s.accountPhone),
		post("/account/phone", access.SignedIn, s.savePhone),
		get("/account/passkeys", access.SignedIn, s.fresh(s.accountPasskeys)),
		post("/account/passkeys/new", access.SignedIn, s.fresh(s.newPasskey)),
		post("/account/passkeys", access.SignedIn, s.fresh(s.addPasskey)),
		post("/account/passkeys/:id/remove", access.SignedIn, s.fresh(s.removePasskey)),
		get("/account/codes", access.SignedIn, s.fresh(s.accountCodes)),
		post("/account/codes", access.SignedIn, s.fresh(s.startCodes)),
		post("/account/codes/confirm", access.SignedIn, s.fresh(s.confirmCodes)),
		post("/account/codes/recovery", access.SignedIn, s.fresh(s.newRecoveryCodes)),
		post("/account/codes/stop", access.SignedIn, s.fresh(s.stopCodes)),
		get("/account/address", access.SignedIn, s.accountAddress),
		post("/account/address", access.SignedIn, s.fresh(s.askAddress)),
		get("/account/address/:token", access.SignedIn, s.openAddress),
		post("/account/address/:token", access.SignedIn, s.fresh(s.changeAddress)),
		get("/account/leave", access.SignedIn, s.accountLeave),
		post("/account/leave", access.SignedIn, s.fresh(s.leave)),
		get("/account/leave/everything.zip", access.TakeRanch, s.takeEverything),
		post("/account/leave/erase", access.TakeRanch, s.fresh(s.eraseRanch)),
		post("/account/leave/hand-over", access.TakeRanch, s.fresh(s.handOverRanch)),
		post("/account/leave/:id/yes", access.TakeRanch, s.fresh(s.agreeHandOver)),
		post("/account/leave/:id/call-off", access.TakeRanch, s.callOff),

		get("/ranch", access.ViewRanch, s.ranches),
		get("/ranch/:id", access.ViewRanch, s.ranch),
		get("/who", access.SignedIn, s.who),
		get("/who/no", access.CompareRanch, s.whoNo),
		get("/changes", access.SignedIn, s.changes),
		post("/changes/vouch", access.SignedIn, s.fresh(s.vouch)),
		get("/who/log", access.CompareRanch, s.whoLog),
		get("/who/owners", access.CompareRanch, s.whoOwners),
		post("/who/owners/:id", access.CompareRanch, s.fresh(s.giveWord)),
		get("/who/share", access.CompareRanch, s.shareForm),
		post("/who/newcomers/:id", access.CompareRanch, s.fresh(s.answerNewcomer)),
		post("/who/names/:id", access.CompareRanch, s.fresh(s.answerName)),
		post("/who/gates/:id", access.SendResults, s.fresh(s.comeOnto)),
		post("/who/share", access.CompareRanch, s.fresh(s.share)),
		post("/who/share/:id/end", access.CompareRanch, s.endShare),
		get("/who/neighbor", access.CompareRanch, s.whoNeighbor),
		get("/who/showcase", access.CompareRanch, s.whoShowcase),
		post("/who/showcase", access.CompareRanch, s.fresh(s.putOnShow)),
		post("/who/showcase/:id/end", access.CompareRanch, s.takeDown),
		post("/who/offers/:id", access.CompareRanch, s.fresh(s.answerOffer)),
		post("/who/people/:id/end", access.CompareRanch, s.fresh(s.endPerson)),
		post("/who/calendars/:id/end", access.CompareRanch, s.endFeed),
		post("/who/sending/:id", access.CompareRanch, s.fresh(s.letSend)),
		post("/who/sending/:id/end", access.CompareRanch, s.stopSending),
		post("/who/:id", access.CompareRanch, s.fresh(s.setConsent)),
		post("/who/:id/welcome", access.CompareRanch, s.setWelcome),

		get("/send", access.SendResults, s.sendForm),
		upload("/send", access.SendResults, s.sendFiles),
		get("/send/blank.xlsx", access.SendResults, s.blankSheet),
		get("/send/old", access.SendResults, s.sendOldForm),
		upload("/send/old", access.SendResults, s.sendOld),
		get("/sent/:id", access.SendResults, s.sent),
		post("/sent/:id/file", access.SendResults, s.fileUnder),
		post("/sent/:id/drop", access.SendResults, s.dropUnfiled),
		get("/uploads", access.SendResults, s.uploads),
		get("/uploads/:id", access.SendResults, s.upload),
		get("/uploads/:id/file", access.SendResults, s.uploadFile),
		get("/uploads/:id/rows/:part", access.SendResults, s.uploadRows),
		post("/uploads/:id/answers", access.SendResults, s.answerUpload),
		post("/uploads/:id/read", access.SendResults, s.readAgain),
		post("/uploads/:id/accept", access.SendResults, s.acceptUpload),
		post("/uploads/:id/elsewhere", access.SendResults, s.fileElsewhere),
		post("/uploads/:id/undo", access.SendResults, s.undoUpload),
		post("/uploads/:id/restore", access.SendResults, s.restoreUpload),
		get("/hand", access.SendResults, s.handHome),

		get("/paper", access.SignedIn, s.paper),
		get("/paper/sheets.pdf", access.SignedIn, s.paperSheets),
		get("/key", access.SendResults, s.keys),
		{fiber.MethodPost, "/key/photos", access.SendResults, photosBody, s.readPhotos},
		get("/key/:line", access.SendResults, s.key),
		post("/key/:line", access.SendResults, s.keepKeyed),
		{fiber.MethodPost, "/key/:line/photos", access.SendResults, photosBody, s.readLinePhotos},
		get("/key/:line/again", access.SendResults, s.keyAgain),
		post("/key/:line/again", access.SendResults, s.compareKeyed),
		get("/quiz", access.SignedIn, s.quiz),
		get("/remains", access.SignedIn, s.remains),
		get("/remains/:file", access.SignedIn, s.remainsFile),

		get("/field", access.Anyone, s.field),
		get("/field/app.webmanifest", access.Anyone, s.fieldApp),
		get("/sw.js", access.Anyone, s.serviceWorker),
		get("/field/hello", access.Anyone, s.fieldHello),
		get("/field/pack", access.Anyone, s.fieldPack),
		post("/field/looks", access.Anyone, s.keepFieldLooks),
		{fiber.MethodPost, "/field/photos", access.Anyone, photoBody, s.keepFieldPhoto},
		get("/field/photos/:id", access.SendResults, s.fieldPhoto),
		get("/field/open/:token", access.Anyone, s.fieldOpen),
		post("/field/open/:token", access.Anyone, s.openFieldLink),
		post("/field/leave", access.Anyone, s.leaveField),
		get("/field/links", access.CompareRanch, s.fieldLinks),
		post("/field/links", access.CompareRanch, s.fresh(s.makeFieldLink)),
		post("/field/links/:id/revoke", access.CompareRanch, s.revokeFieldLink),
		get("/field/results/:ranch", access.SendResults, s.fieldResults),
		get("/field/results/:ranch/:season", access.SendResults, s.fieldResults),
		post("/field/results/:ranch/:season/choose", access.SendResults, s.chooseFieldLook),
		post("/field/results/:ranch/:season/count", access.SendResults, s.countField),

		get("/showcase", access.ViewBulletins, s.showcase),
		get("/plan", access.ViewRanch, s.planFirst),
		get("/plan/reminders", access.ViewRanch, s.planReminders),
		post("/plan/reminders", access.ViewRanch, s.setReminders),
		post("/plan/calendar", access.ViewRanch, s.makeFeed),
		post("/plan/calendar/:id/revoke", access.ViewRanch, s.revokeFeed),
		get("/calendar/:token.ics", access.Anyone, s.calendar),
		get("/plan/line/:line", access.ViewRanch, s.planLine),
		post("/plan/line/:line", access.CompareRanch, s.savePlanLine),
		post("/plan/line/:line/redraw", access.CompareRanch, s.redrawPlanLine),
		post("/plan/line/:line/walked", access.CompareRanch, s.walkedPlanLine),
		get("/plan/:id", access.ViewRanch, s.planRanch),
		get("/plan/:id/agreement", access.ViewRanch, s.planAgreement),
		get("/plan/:id/map", access.ViewRanch, s.planMap),
		{fiber.MethodPost, "/plan/:id/map", access.CompareRanch, mapBody, s.addPlanMap},
		post("/plan/:id/map/:thing", access.CompareRanch, s.changePlanMap),
		post("/plan/:id/map/:thing/drop", access.CompareRanch, s.dropPlanMap),
		get("/plan/:id/:season", access.ViewRanch, s.plan),
		post("/plan/:id/:season", access.CompareRanch, s.savePlan),
		post("/plan/:id/:season/draw", access.CompareRanch, s.drawPlan),
		post("/plan/:id/:season/copy", access.CompareRanch, s.copyPlan),
		get("/plan/:id/:season/:file", access.ViewRanch, s.planFile),

		get("/region", access.ViewBulletins, unasked(s.region)),
		get("/region/named", access.ViewNamed, s.regionNamed),
		get("/region/quality", access.ViewBulletins, unasked(s.regionQuality)),
		get("/region/quality/:season", access.ViewBulletins, unasked(s.regionQuality)),
		get("/region/:season", access.ViewBulletins, unasked(s.region)),
		get("/region/:season/cells.csv", access.ViewBulletins, unasked(s.regionCSV)),

		get("/files", access.TakeFiles, s.files),
		get("/files/ranches/:id/:file", access.TakeRanch, s.ranchFile),
		get("/files/bulletins/:season/:file", access.TakeFiles, s.bulletinFile),
		get("/tokens", access.TakeFiles, s.tokens),
		post("/tokens", access.TakeFiles, s.fresh(s.makeToken)),
		post("/tokens/:id/revoke", access.TakeFiles, s.revokeToken),

		get("/outreach", access.ViewOutreach, s.outreach),
		get("/outreach/map.json", access.ViewOutreach, s.outreachOutlines),
		get("/outreach/introductions", access.AskIntroduction, s.introductions),
		post("/outreach/introductions", access.AskIntroduction, s.askIntroduction),
		get("/outreach/:place", access.ViewOutreach, s.outreachPlace),
		get("/outreach/:place/poster", access.ViewOutreach, s.outreachPoster),
		get("/outreach/:place/poster.svg", access.ViewOutreach, s.outreachPicture),

		get("/cooperative", access.RunCooperative, s.cooperative),
		get("/cooperative/members", access.RunCooperative, s.cooperativeMembers),
		post("/cooperative/members/:id/remove", access.RunCooperative, s.fresh(s.removeMember)),
		post("/cooperative/members/stay", access.RunCooperative, s.fresh(s.stay)),
		post("/cooperative/members/:id/suspend", access.RunCooperative, s.fresh(s.suspendMember)),
		post("/cooperative/members/:id/keep-suspended", access.RunCooperative, s.fresh(s.keepSuspended)),
		post("/cooperative/members/:id/restore", access.RunCooperative, s.fresh(s.restoreMember)),
		post("/cooperative/members/:id/help", access.RunCooperative, s.fresh(s.helpMember)),
		post("/cooperative/invitations", access.RunCooperative, s.fresh(s.invite)),
		post("/cooperative/invitations/:id/heir", access.RunCooperative, s.fresh(s.letHeir)),
		post("/cooperative/invitations/:id/revoke", access.RunCooperative, s.revokeInvitation),
		get("/cooperative/log", access.RunCooperative, s.cooperativeLog),
		get("/cooperative/marks", access.RunCooperative, s.cooperativeMarks),
		post("/cooperative/marks", access.RunCooperative, s.saveMarks),
		get("/cooperative/key", access.RunCooperative, s.cooperativeKey),
		post("/cooperative/key", access.RunCooperative, s.checkKey),
		post("/cooperative/key/set", access.RunCooperative, s.fresh(s.setKey)),
		get("/cooperative/areas", access.RunCooperative, s.cooperativeAreas),
		post("/cooperative/areas", access.RunCooperative, s.saveArea),
		get("/cooperative/areas/map", access.RunCooperative, s.cooperativeMap),
		{fiber.MethodPost, "/cooperative/areas/map", access.RunCooperative, mapBody, s.saveMap},
		post("/cooperative/areas/map/remove", access.RunCooperative, s.removeMap),
		post("/cooperative/areas/:id", access.RunCooperative, s.saveArea),
		get("/cooperative/ranches", access.RunCooperative, s.cooperativeRanches),
		post("/cooperative/ranches", access.RunCooperative, s.saveRanch),
		get("/cooperative/ranches/:id", access.RunCooperative, s.cooperativeRanch),
		post("/cooperative/ranches/:id", access.RunCooperative, s.fresh(s.saveRanch)),
		post("/cooperative/ranches/:id/people", access.RunCooperative, s.fresh(s.assignRanch)),
		post("/cooperative/ranches/:id/paper", access.RunCooperative, s.fresh(s.keepPaper)),
		post("/cooperative/ranches/:id/people/:person/end", access.RunCooperative, s.fresh(s.unassignRanch)),
		get("/cooperative/uploads", access.RunCooperative, s.cooperativeUploads),
		get("/cooperative/uploads/:season", access.RunCooperative, s.cooperativeUploads),
		get("/cooperative/old", access.RunCooperative, s.cooperativeOld),
		upload("/cooperative/old", access.RunCooperative, s.sendOldFor),
		get("/cooperative/old/:id", access.RunCooperative, s.cooperativeOldSent),
		get("/cooperative/late", access.RunCooperative, s.cooperativeLate),
		post("/cooperative/late/:id", access.RunCooperative, s.noteCall),
		get("/cooperative/introductions", access.RunCooperative, s.cooperativeIntroductions),
		post("/cooperative/introductions/:id", access.RunCooperative, s.answerIntroduction),
		get("/cooperative/bulletins", access.PublishBulletin, s.cooperativeBulletins),
		post("/cooperative/bulletins", access.PublishBulletin, s.fresh(s.setSeason)),
		post("/cooperative/bulletins/:season/drop", access.PublishBulletin, s.fresh(s.dropSeason)),
		get("/cooperative/bulletins/:season/retract", access.PublishBulletin, s.retractForm),
		post("/cooperative/bulletins/:season/retract", access.PublishBulletin, s.fresh(s.retract)),
		get("/cooperative/bulletins/:season/:edition", access.PublishBulletin, s.edition),
		post("/cooperative/bulletins/:season/:edition", access.PublishBulletin, s.fresh(s.approve)),
	}
}

// mount puts the table on the application, each handler behind the checks that enter makes; and the table of the
// interface for programs, behind those of enterAPI.
func (s *server) mount(app *fiber.App) {
	for _, r := range s.routes() {
		app.Add(r.method, r.path, s.enter(r))
	}
	for _, r := range s.apiRoutes() {
		app.Add(r.method, r.path, s.enterAPI(r))
	}
	app.Use(func(*fiber.Ctx) error { return fiber.ErrNotFound })
}

// firstPage is where each role's day begins.
var firstPage = map[access.Role]string{
	access.Coordinator: "/cooperative",
	access.Landowner:   "/ranch",
	access.Hand:        "/hand",
	access.Biologist:   "/region",
	access.Planner:     "/outreach",
}

// nav lists the links of a page's head; each member sees those they hold the right to.
var nav = []struct {
	label, path string
	right       access.Right
	roles       []access.Role // where not everybody with the right
}{
	{words.Mark("My ranch"), "/ranch", access.ViewRanch, []access.Role{access.Landowner}},
	{words.Mark("My lines"), "/hand", access.SendResults, []access.Role{access.Hand}},
	{words.Mark("Plan"), "/plan", access.ViewRanch, nil},
	{words.Mark("Cooperative"), "/cooperative", access.RunCooperative, nil},
	{words.Mark("Send results"), "/send", access.SendResults, nil},
	{words.Mark("Outreach"), "/outreach", access.ViewOutreach, []access.Role{access.Planner, access.Biologist}},
	{words.Mark("Region"), "/region", access.ViewBulletins, nil},
	{words.Mark("Files"), "/files", access.TakeFiles, nil},
	{words.Mark("Who sees"), "/who", access.SignedIn, nil},
}

// first sends each member to the page their day begins with, and anybody else to the door.
func (s *server) first(c *fiber.Ctx, a access.Actor) error {
	if page, ok := firstPage[a.Role]; ok {
		return s.see(c, page)
	}
	return s.see(c, "/sign-in")
}
