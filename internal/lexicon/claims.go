package lexicon

import (
	"slices"
	"strings"
)

// An agent is who may have ended a nest.
type agent uint8

const (
	byPredator agent = iota
	byStock
	byWater
	byBane // weather, fire, machines, ants
	byPerson
	agents
)

var agentMarks = [agents]Mark{byPredator: Taken, byStock: Trampled, byWater: Flooded, byBane: Spoiled, byPerson: Spoiled}

const (
	marks  = int(No) + 1
	senses = int(stop) + 1
)

// A claim is what a clause says, or all clauses of a cell together.
type claim struct {
	good, fair bool         // all eggs are there; fair where the word could mean something else too
	fairAlone  bool         // fair, in a clause that tells of no loss
	denied     bool         // something did not happen
	spared     bool         // a predator did not find or touch it
	loss       [senses]bool // by sense, from gone to over
	nestLoss   bool         // the nest suffered, and nothing is said of eggs
	firm       [marks]bool  // NotFound, Skipped
	named      [agents]bool // who did it
	about      [agents]bool // who was about
	verbless   bool         // rain, wind, a hawk: says nothing without a verb
	shells     bool
	unmarked   bool
	ended      bool
	struck     bool // ended, and not because the crew took the eggs
	uneaten    bool // all is well, or something else than a predator did it
	set        bool // the nest was put out
	spent      bool // a cross, or a word that means gone where it stands alone
	absent     bool // missing or lost, without what
	found      bool
	searched   int
	before     bool
	doubt      bool // maybe, not sure, thought
	unclear    bool // something that matters is not understood
	notMade    bool // did not make it
	bareNone   bool // "nothing" alone
	stranger   bool // people who are not the crew are named
	strange    int  // words not known
	verbish    bool // one of them looks like a verb
	slip       bool
	animal     string
	kept       [4]int // numbers of eggs there
	keptN      int
	of         int
	lost       int  // number of eggs gone
	bare       int  // numbers of which nothing is said
	part       bool // some are gone, others not
	whole      bool // all are there, by a number or "all"
}

// A pending amount waits for what is said of it.
type pending struct {
	kind sense // amount, all, some, rest; strange for none
	n    int
	of   int
	at   int
}

// A clause is read term by term.
type clause struct {
	claim
	terms   []term
	deny    sense // not, nobody or nothing, waiting for what it denies
	denyOf  string
	blurred bool // a word not known stands between
	denying bool // the last thing said was denied: "or" goes on with it
	subject sense
	amount  pending
	shaky   bool // a word not known stands right behind the number
	open    bool // a loss waits for its number
	said    int  // things said
	agentAt int
	noAgent bool
	signs   bool
	seen    bool
	noSign  bool
	only    bool
	flagged bool
	except  bool
	has     bool
	still   bool
	maybe   bool
	dropped bool // fresh eggs, another nest
	taking  bool // the crew took something up: numbers count that
}

// strangers are people other than the crew, where it was they who took something up.
var strangers = set("somebody someone people hikers hunters campers fishermen trespassers strangers alguien gente cazadores")

// read returns what a clause says. The subject is that of the clause before, where it named nothing more.
func (c *clause) read() {
	c.agentAt = -1
	for i := range c.terms {
		t := &c.terms[i]
		c.slip = c.slip || t.slip
		c.stranger = c.stranger || strangers[t.text]
		switch t.sense {
		case strange:
			c.unknown(i)
		case not, nobody, nothing:
			c.denies(t)
		case amount, all, some, rest, except, only:
			c.number(i)
		case good, fair, here, holds:
			c.present(i)
		case gone, ate, got, broke, crushed, split, trod, drowned, rotted, over:
			c.loses(i)
		case touch, harm, absent:
			c.harmed(i)
		case find, search, visit, goes, unable:
			c.looks(i)
		case lost, unmarked, skipped, ended, removed:
			c.ends(t)
		case predator, raptor, stock, water, weather, bane, person:
			c.names(i)
		case sign, nearby, hole:
			c.signed(i)
		case egg, shell, nest, flag, plant:
			c.noun(i)
		case stop:
			if t.mark == ':' && c.subject != egg && c.subject != shell {
				c.subject = strange
			}
		default:
			if c.says(i) {
				c.finish()
				return
			}
		}
	}
	c.finish()
}

// says takes the words that tell how something is said; it returns true where the rest of the clause says no more.
func (c *clause) says(i int) bool {
	switch t := &c.terms[i]; t.sense {
	case or:
		if c.amount.kind == amount && i+1 < len(c.terms) && c.terms[i+1].sense == amount || t.text == "either" {
			c.doubt = true
		}
		if c.denying {
			c.deny, c.denyOf = not, "or"
		}
	case maybe:
		c.maybe = true
	case unsure:
		c.doubt = c.doubt || !c.aboutWho(i)
	case thought:
		c.doubt, c.dropped = true, true
	case before:
		c.before = true
	case since:
		c.before = true
		for _, u := range c.terms[i+1:] { // missing since the last check: is that now?
			if u.text == "last" || u.text == "ultima" || u.sense == before {
				c.unclear = true
			}
		}
		return true
	case still:
		c.still = true
	case fresh, elsewhere:
		c.dropped = true
	case spent:
		c.spent = true
	case setOut:
		c.set = c.set || t.word < 0 || settingWords[t.text]
	}
	return false
}

// settingWords tell by themselves that a nest was put out.
var settingWords = set("set setout put placed deployed built installed puesto puesta puestos puso puse pusimos pusieron colocado colocada colocados instalado")

// aboutWho tells whether doubt is only about who did it: "gone, don't know what".
func (c *clause) aboutWho(i int) bool {
	if oneOf(c.terms[i].text, "unknown", "unk", "desconocido") && c.said > 0 {
		return true
	}
	for _, t := range c.terms[i+1:] {
		if oneOf(t.text, "what", "who", "how", "which", "que", "quien") {
			return true
		}
	}
	return false
}

func (c *clause) unknown(i int) {
	t := &c.terms[i]
	c.strange++
	for _, e := range []string{"ed", "ing", "ado", "ada", "ados", "adas", "ido", "idos", "aron", "ieron", "nt"} {
		c.verbish = c.verbish || len(t.text) > 4 && strings.HasSuffix(t.text, e)
	}
	c.blurred = c.blurred || c.deny != strange
	if c.amount.kind == amount && c.amount.at == i-1 {
		c.shaky = true
	}
}

func (c *clause) denies(t *term) {
	if c.deny != strange && t.sense == nothing { // no ... ninguno
		return
	}
	c.deny, c.denyOf, c.blurred = t.sense, t.text, false
}

// denial returns what denies that which is said now, and lets go of it.
func (c *clause) denial() sense {
	d := c.deny
	c.unclear = c.unclear || d != strange && c.blurred
	c.deny, c.blurred, c.denying = strange, false, d != strange
	c.said++
	return d
}

// number takes a number of eggs, or a word for all or some of them.
func (c *clause) number(i int) {
	t := &c.terms[i]
	switch t.sense {
	case only:
		c.only = true
		return
	case except:
		c.part, c.except = true, true
		c.amount.kind = strange
		return
	case all:
		if c.deny == not && !c.blurred { // not all
			c.deny = strange
			c.amount = pending{kind: some, at: i}
			return
		}
	case amount:
		if c.except {
			c.except = false
			return
		}
		if i > 1 && c.terms[i-1].sense == of && (c.keptN > 0 && c.kept[c.keptN-1] <= t.n || c.lost > 0 && c.lost <= t.n) { // one left of three
			c.of = t.n
			return
		}
		if t.n == 0 && t.of == 0 {
			if next, _ := c.next(i); next == all || next == good {
				c.unclear = true
			}
			c.deny, c.denyOf, c.blurred = nothing, t.text, false
			return
		}
		if c.amount.kind == all && c.amount.at == i-1 {
			c.amount.n, c.amount.at = t.n, i
			return
		}
	case rest:
		c.subject = strange
	}
	if t.sense == some { // half an hour
		k := i + 1
		for k < len(c.terms) && c.terms[k].sense == little {
			k++
		}
		if k < len(c.terms) && units[c.terms[k].text] {
			return
		}
	}
	if c.amount.kind == amount {
		c.keepBare()
	}
	if t.sense == amount || t.sense == rest {
		c.subject = strange
	}
	c.amount = pending{kind: t.sense, n: t.n, of: t.of, at: i}
	c.shaky = false
}

// keepBare takes a number of which nothing was said. It counts eggs where little else stands in its clause.
func (c *clause) keepBare() {
	otherThing := c.subject == nest || c.subject == plant || c.subject == flag
	if c.amount.kind == some && c.subject == nest || c.amount.kind == all && (c.subject == plant || c.subject == flag || c.said == 0 && (otherThing || c.strange > 0)) { // tipped some; all grass
		c.amount.kind = strange
		return
	}
	if c.amount.kind == amount && c.said == 0 && c.agentAt >= 0 { // rain 17+18
		c.amount.kind = strange
		return
	}
	if c.amount.kind == amount && c.subject == egg && c.said == 0 && c.strange > 0 {
		c.unclear = true
	}
	if c.amount.kind == amount && c.amount.of == 0 && c.subject != egg {
		if c.said == 0 {
			c.bare++
		}
		for i := range c.terms {
			t := &c.terms[i]
			code := t.sense == filler && t.word < 0 && !t.inside // initials
			if code || c.said == 0 && (t.sense == spent || t.sense == plant || t.sense == flag) || (t.sense == good || t.sense == fair) && c.amount.n < usualEggs && c.amount.at > i {
				c.unclear = true
			}
		}
	}
	c.keep()
}

// keep takes the pending number for eggs that are there; it tells whether there was one.
func (c *clause) keep() bool {
	a := c.amount
	c.amount.kind, c.shaky = strange, false
	switch a.kind {
	case amount:
		if c.keptN < len(c.kept) {
			c.kept[c.keptN] = a.n
			c.keptN++
		}
		c.of = max(c.of, a.of)
	case all:
		c.whole = true
		if a.n > 0 && c.keptN < len(c.kept) {
			c.kept[c.keptN] = a.n
			c.keptN++
		}
	case some:
		c.part = true
	}
	return a.kind != strange
}

// lose takes the pending number for eggs that are gone.
func (c *clause) lose() {
	a := c.amount
	c.amount.kind, c.shaky = strange, false
	switch a.kind {
	case amount:
		c.lost += a.n
		c.of = max(c.of, a.of)
	case some, rest:
		c.part = true
	case strange:
		c.open = true
	}
}

// next returns the sense of the first term behind i that says something.
func (c *clause) next(i int) (sense, int) {
	for k := i + 1; k < len(c.terms); k++ {
		switch s := c.terms[k].sense; s {
		case filler, little, of, to, self, still:
		default:
			return s, k
		}
	}
	return strange, -1
}

// previous returns the sense of the last term before i that says something.
func (c *clause) previous(i int) sense {
	for k := i - 1; k >= 0; k-- {
		switch s := c.terms[k].sense; s {
		case filler, little, of, to, unable, still:
		default:
			return s
		}
	}
	return strange
}

// later tells whether one of the senses from a to b stands behind i.
func (c *clause) later(i int, from, upTo sense) bool {
	for _, t := range c.terms[i+1:] {
		if t.sense >= from && t.sense <= upTo {
			return true
		}
	}
	return false
}

// present takes words for eggs that are there.
func (c *clause) present(i int) {
	t := &c.terms[i]
	next, at := c.next(i)
	if at >= 0 && next == strange && t.sense == holds && c.deny == not && oneOf(t.text, "hay", "habia", "hubo") { // no había señal
		c.denial()
		c.unclear = true
		return
	}
	if t.sense == holds && c.deny != strange && next != egg && next != strange { // no hay vacas
		return
	}
	if t.sense == holds && oneOf(t.text, "left", "remaining", "remains") { // not a scrap left
		c.blurred = false
	}
	d := c.denial()
	if d != strange && t.text == "made" { // visit not made
		visited := false
		for k := range i {
			visited = visited || c.terms[k].sense == visit
		}
		c.firm[Skipped] = c.firm[Skipped] || visited
		c.unclear = c.unclear || !visited
		return
	}
	switch {
	case c.subject == flag || c.subject == plant:
		c.unmarked = c.unmarked || d != strange && c.subject == flag
	case c.subject == shell || c.noAgent:
	case d == nobody:
		c.unclear = c.unclear || t.sense == good
	case d != strange && t.sense == fair:
		c.unclear = true
	case d == nothing || d == not && c.amount.kind == strange:
		c.loss[gone] = true
	case d == not:
		c.loss[gone] = true
		c.lose()
	case c.keep():
	case t.sense == good:
		c.good = true
	case t.sense == holds:
		c.has = true
	case c.subject == egg:
		c.good = true
	default:
		c.fair = c.fair || c.agentAt < 0
	}
}

// loses takes words for eggs that are gone or broken.
func (c *clause) loses(i int) {
	t := &c.terms[i]
	object, _ := c.next(i)
	c.unclear = c.unclear || t.text == "flat" && c.strange > 0 && c.agentAt < 0
	if t.text == "hit" && c.deny != strange && i+1 < len(c.terms) && oneOf(c.terms[i+1].text, "it", "them", "em") {
		c.denial()
		c.unclear = true // whoever paced never came upon it
		return
	}
	if t.sense == got && c.deny == not && oneOf(t.text, "got", "gotten", "took") {
		c.notGot(i)
		return
	}
	if c.noAgent {
		c.denied, c.said = true, c.said+1
		return
	}
	byAgent := c.agentAt >= 0 && c.deny == not
	d := c.denial()
	switch {
	case c.subject == flag || object == flag && c.subject != egg:
		c.unmarked = c.unmarked || d == strange
		c.named = [agents]bool{}
		return
	case c.subject == plant || object == plant && c.subject != egg:
		c.named = [agents]bool{}
		c.denied = true
		return
	case c.subject == shell && d == strange:
		c.shells = true
		if t.sense != crushed && t.sense != broke && t.sense != got {
			c.loss[t.sense] = true
		}
		return
	case byAgent:
		c.denied = true
		c.named = [agents]bool{}
		return
	case d != strange:
		c.notLost(t.sense)
		return
	}
	if c.previous(i) == self {
		c.named[byPerson] = true
	}
	c.loss[t.sense] = true
	c.nestLoss = c.subject == nest && t.sense != gone && t.sense != ate && !slices.ContainsFunc(c.terms[:i], func(b term) bool { return b.sense == egg || b.sense == here || b.sense == good }) // eggs still in the bowl, cracked
	c.lose()
}

// notLost takes a loss that is denied: not eaten, none broken.
func (c *clause) notLost(s sense) {
	switch s {
	case gone, ate, got, broke:
		switch kept := c.keep(); {
		case s == ate && !kept:
			c.uneaten = true
		case !kept || c.whole:
			c.good = true
		}
	default:
		c.denied = true
		c.amount.kind = strange
	}
}

// notGot reads "did not get": to the nest, or eaten.
func (c *clause) notGot(i int) {
	if c.later(i, good, touch) {
		return // did not get eaten
	}
	c.denial()
	if k := i + 1; k < len(c.terms) && (c.terms[k].sense == to || oneOf(c.terms[k].text, "there", "in", "across", "over", "back", "around", "out")) {
		c.firm[Skipped] = true
		return
	}
	c.unclear = true
}

// harmed takes words that say something only where they are denied, and missing and lost.
func (c *clause) harmed(i int) {
	t := &c.terms[i]
	object, at := c.next(i)
	byAgent := c.agentAt >= 0 && c.deny == not
	d := c.denial()
	switch {
	case d != strange && byAgent:
		c.denied = true
		c.named = [agents]bool{}
	case d == nobody:
		c.spared = true
	case d != strange && t.sense == absent && d == not && t.text != "missing":
		c.unclear = true
	case d != strange:
		c.good = true
		c.amount.kind = strange
	case t.sense == touch:
	case t.sense == harm:
		c.loss[broke] = true
		c.lose()
	case c.subject == flag || object == flag:
		c.unmarked = true
	case c.amount.kind != strange || c.subject == egg || object == egg || object == amount || object == all || object == some:
		c.loss[gone] = true
		c.lose()
	case c.subject == nest || object == nest && c.terms[at].text != "bowl":
		c.firm[NotFound] = true
	case c.terms[0].text == "line" || c.terms[0].text == "linea": // line 2 lost one
		c.loss[gone] = true
		c.lose()
	default:
		c.absent = true
	}
}

// looks takes words for looking for a nest and for going there.
func (c *clause) looks(i int) {
	t := &c.terms[i]
	if c.deny == strange {
		switch {
		case t.sense == find && c.agentAt >= 0 && c.previous(i) == predator:
			c.loss[ate] = true // our dog found it
		case t.sense == find:
			c.found, c.has = true, true
			c.said++
		case t.sense == search:
			c.searched++
		}
		return
	}
	switch t.sense {
	case find:
		c.notFound(i)
	case search, visit:
		if strings.HasPrefix(t.text, "look") && c.later(i, gone, harm) && c.denyOf != "nobody" {
			return
		}
		c.denial()
		c.firm[Skipped] = true
	case goes:
		if c.later(i, good, visit) {
			return
		}
		cannot := oneOf(c.denyOf, "cant", "cannot", "couldnt", "unable", "cudnt") || c.previous(i) == unable
		d := c.denial()
		switch {
		case oneOf(t.text, "make", "made") && !cannot && d == not:
			c.notMade = true
		case oneOf(t.text, "be", "being", "does", "do", "did") && d == not:
			c.unclear = true
		default:
			c.firm[Skipped] = true
		}
	}
}

// weBetween tells whether the crew itself is named between two terms.
func (c *clause) weBetween(from, to int) bool {
	for i := from; i < to; i++ {
		if c.terms[i].sense == self {
			return true
		}
	}
	return false
}

// notFound takes a search that found nothing, by what it did not find.
func (c *clause) notFound(i int) {
	if c.agentAt >= 0 && c.deny == not && !c.weBetween(c.agentAt, i) || c.deny == nothing && i+1 < len(c.terms) && oneOf(c.terms[i+1].text, "it", "this", "them", "em", "nest") {
		c.denial()
		c.spared = true
		return
	}
	if next, _ := c.next(i); (next < gone || next > over) && c.later(i, gone, absent) { // did not find anything wrong
		return
	}
	c.denial()
	object := strange
	for _, t := range c.terms[i+1:] {
		switch t.sense {
		case nest, plant:
			object = nest
		case egg, shell, flag:
			if object == strange {
				object = t.sense
			}
		}
	}
	switch object {
	case egg, shell:
		c.loss[gone] = true
		c.open = true
	case flag:
		c.unmarked = true
	default:
		c.firm[NotFound] = true
	}
	c.subject = strange
}

// ends takes phrases that say by themselves that a nest was not found or not looked at.
func (c *clause) ends(t *term) {
	if c.denial() != strange {
		c.unclear = true
		return
	}
	switch t.sense {
	case lost:
		c.firm[NotFound] = true
	case unmarked:
		c.unmarked = true
	case skipped:
		c.firm[Skipped] = true
	case ended, removed:
		if c.subject != flag {
			c.ended = true
			c.struck = c.struck || t.sense == ended
		}
		c.taking = t.sense == removed
	}
	c.amount.kind = strange
}

// names takes those who may have done it.
func (c *clause) names(i int) {
	t := &c.terms[i]
	if c.amount.at == i-1 && c.amount.kind == amount { // 2 cows; but 4 cow is nest 4
		c.unclear = c.unclear || c.amount.n > 1 && t.sense == stock && !strings.HasSuffix(t.text, "s") && !oneOf(t.text, "cattle", "ganado", "elk", "sheep", "buffalo", "bison", "stock")
		c.amount.kind = strange
	}
	if c.deny != strange && !c.blurred && c.deny != nobody {
		c.deny = strange
		c.noAgent, c.denied = true, true
		return
	}
	c.noAgent = false
	c.agentAt = i
	who := byPredator
	switch t.sense {
	case stock:
		who = byStock
	case water:
		who = byWater
	case weather, bane:
		who = byBane
	case person:
		who = byPerson
	}
	if i > 0 && c.terms[i-1].sense == holds { // hay vacas
		c.about[who] = true
		return
	}
	c.named[who] = true
	c.verbless = c.verbless || t.sense == water || t.sense == weather || t.sense == raptor || t.sense == person
	if who == byPredator && c.animal == "" {
		c.animal = t.text
	}
}

// signed takes tracks, scat, holes and words for who was close by.
func (c *clause) signed(i int) {
	t := &c.terms[i]
	if c.amount.at == i-1 && c.amount.kind == amount {
		c.amount.kind = strange
	}
	switch {
	case c.deny != strange && !c.blurred:
		c.deny = strange
		c.noSign = true
		c.said++
	case t.sense == nearby:
		c.seen = true
	default:
		c.signs = true
		if strings.HasPrefix(t.text, "hoof") || strings.HasPrefix(t.text, "cow") {
			c.about[byStock] = true
		}
	}
}

// noun takes what is spoken of.
func (c *clause) noun(i int) {
	t := &c.terms[i]
	if c.deny != strange {
		if c.deniedNoun(i) {
			return
		}
	}
	switch t.sense {
	case egg:
		c.shaky = false
		if c.noSign {
			c.part = true
		}
		if c.has && c.amount.kind == strange && c.subject != egg {
			c.fair = true
		}
	case nest:
		if c.noSign {
			c.firm[NotFound] = true
		}
	case flag:
		c.flagged = true
		c.unmarked = c.unmarked || c.noSign
	}
	if t.sense != egg && c.amount.at == i-1 && c.amount.kind == amount { // 1 shell
		c.amount.kind = strange
	}
	if t.sense == shell {
		c.shells = true
		c.loss[gone] = c.loss[gone] || c.only
	}
	if i == 0 || !oneOf(c.terms[i-1].text, "in", "on", "at", "by", "from", "around", "under", "inside", "outside", "en", "del", "al") && c.terms[i-1].sense != nearby && !(i > 1 && c.terms[i-1].sense == little && oneOf(c.terms[i-2].text, "in", "on", "at", "by", "from", "around", "under", "en")) {
		c.subject = t.sense
	}
}

// deniedNoun reads "no eggs", "no flag"; false where the denial goes on to what follows: no eggs missing.
func (c *clause) deniedNoun(i int) bool {
	t := &c.terms[i]
	if t.sense != shell && t.sense != plant && c.later(i, good, absent) {
		return false
	}
	if c.later(i, find, visit) && t.sense != shell {
		return false
	}
	c.denial()
	switch t.sense {
	case egg:
		c.loss[gone] = true
	case nest:
		c.firm[NotFound] = true
	case flag:
		c.unmarked = true
	}
	return true
}

// finish settles what still waits at the end of a clause.
func (c *clause) finish() {
	if c.deny != strange {
		switch {
		case c.said > 0 && c.anyLoss() && c.terms[len(c.terms)-1].sense == nothing: // gone, no shell, no nothing
		case c.deny == not && c.terms[len(c.terms)-1].sense == unable && c.said == 0: // no pude
			c.firm[Skipped] = true
		case c.deny == nothing && (c.said > 0 || c.searched > 0):
			c.bareNone = c.searched > 0
		case c.deny == nothing || len(c.terms) == 1:
			c.bareNone = c.deny == nothing
		case c.amount.kind == amount: // uno no
			c.loss[gone] = true
			c.lose()
		default:
			c.unclear = true
		}
	}
	c.unclear = c.unclear || c.except
	c.good = c.good || c.fair && c.saysOnly(fair)
	c.fairAlone = c.fair && !c.anyLoss() && c.strange == 0
	switch {
	case c.amount.kind == strange:
	case c.open:
		c.lose()
	case c.shaky:
		c.unclear = true
	case c.denying && c.amount.kind != amount:
	case c.taking:
	default:
		c.keepBare()
	}
	if c.only && c.flagged && c.said == 0 {
		c.loss[gone] = true
	}
	if c.absent {
		for who := range byPerson {
			if c.named[who] {
				c.loss[got], c.absent = true, false
			}
		}
	}
	if c.signs || c.seen {
		for who := range agents {
			c.about[who] = c.about[who] || c.named[who]
		}
		if c.seen || !c.anyLoss() {
			c.named = [agents]bool{}
		}
	}
	if c.still {
		c.before = false
	}
	if c.maybe && !c.named[byPredator] && !c.about[byPredator] {
		c.doubt = true
	}
}

// saysOnly tells whether a clause holds words of one sense and what changes nothing.
func (c *clause) saysOnly(s sense) bool {
	for i := range c.terms {
		if t := c.terms[i].sense; t != s && t != little && t != stop {
			return false
		}
	}
	return true
}

func (c *claim) anyLoss() bool {
	for s := gone; s <= over; s++ {
		if c.loss[s] {
			return true
		}
	}
	return false
}
