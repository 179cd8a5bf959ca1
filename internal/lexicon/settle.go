package lexicon

// settle reads the clauses of a cell and decides what they say together. The mark stays Unknown where two of them disagree,
// or where something that matters is not understood.
func (l *Lexicon) settle(t []term, out *Sight) {
	var all claim
	var subject sense
	doubted := false
	var lone claim // of a cell of one clause with a question mark
	for from := 0; from < len(t); {
		to := from
		for to < len(t) && !endsClause(t, from, to) {
			to++
		}
		c := clause{terms: t[from:to], subject: subject}
		c.read()
		subject = strange
		if c.said == 0 && c.keptN == 0 && c.amount.kind == strange && c.agentAt < 0 {
			subject = c.subject
		}
		asked := to < len(t) && t[to].mark == '?'
		if asked && !c.named[byPredator] && !c.firm[NotFound] || c.doubt || c.dropped {
			doubted = doubted || asked || c.doubt
			if asked && from == 0 && len(t) <= 4 && !c.doubt && !c.dropped && onlyMarks(t[to:]) {
				lone = c.claim
			}
			c.claim = claim{strange: c.strange, unclear: c.unclear && !asked}
		}
		opposed := to > 0 && from > 0 && t[from-1].sense == but
		if opposed && c.strange > 0 && c.empty() {
			c.unclear = true
		}
		all.add(&c.claim)
		from = to
		for from < len(t) && t[from].sense == stop || from < len(t) && from == to && (t[from].sense == but || t[from].sense == now) {
			from++
		}
	}
	out.decide(&all, doubted)
	if out.Mark == Taken && !all.loss[ate] && !all.named[byPredator] && failedOnly(out.Word) {
		out.Failed = all.keptN == 0 && !all.part && all.named == [agents]bool{}
		if causeUnknown.MatchString(out.Word) { // failed, cause unknown
			out.Mark = Unknown
		}
	}
	if out.Mark == SetOut && len(t) > 6 { // a note about many nests
		out.Mark = Unknown
	}
	if out.How == Phrase && len(t) <= 3 && all.strange == 0 {
		out.How = Known
	}
	if out.Mark == Unknown && !lone.empty() { // gone?
		out.decide(&lone, false)
		out.Doubt = out.Mark != Unknown
	}
}

// endsClause tells whether a clause that began at from ends before term i.
func endsClause(t []term, from, i int) bool {
	switch t[i].sense {
	case stop:
		return t[i].mark != ':' && !(t[i].mark == '-' && t[i].glued && i+1 < len(t) && t[i+1].glued)
	case but, now:
		return true
	}
	return false
}

// empty tells whether a claim says nothing at all.
func (c *claim) empty() bool {
	return !c.good && !c.fair && !c.uneaten && !c.denied && !c.spared && !c.anyLoss() && !c.firm[NotFound] && !c.firm[Skipped] && c.named == [agents]bool{} && !c.shells && !c.unmarked && !c.ended && !c.absent && c.keptN == 0 && !c.part && !c.whole
}

// add joins what a further clause says to what was said before.
func (c *claim) add(d *claim) {
	if c.firm[NotFound] && d.found { // could not find it at first, then found
		c.firm[NotFound] = false
	}
	c.good, c.fair, c.denied, c.spared = c.good || d.good, c.fair || d.fair, c.denied || d.denied, c.spared || d.spared
	for i := range c.loss {
		c.loss[i] = c.loss[i] || d.loss[i]
	}
	c.firm[NotFound], c.firm[Skipped] = c.firm[NotFound] || d.firm[NotFound], c.firm[Skipped] || d.firm[Skipped]
	for i := range c.named {
		c.named[i], c.about[i] = c.named[i] || d.named[i], c.about[i] || d.about[i]
	}
	c.nestLoss = c.nestLoss && !d.anyLoss() || d.nestLoss
	c.verbless = c.verbless || d.verbless
	c.uneaten = c.uneaten || d.uneaten
	c.struck, c.fairAlone = c.struck || d.struck, c.fairAlone || d.fairAlone
	c.set, c.spent = c.set || d.set, c.spent || d.spent
	c.shells, c.unmarked, c.ended, c.absent = c.shells || d.shells, c.unmarked || d.unmarked, c.ended || d.ended, c.absent || d.absent
	c.found, c.before, c.unclear = c.found || d.found, c.before || d.before, c.unclear || d.unclear
	c.notMade, c.bareNone = c.notMade || d.notMade, c.bareNone || d.bareNone
	c.stranger = c.stranger || d.stranger
	c.searched += d.searched
	c.strange += d.strange
	c.verbish, c.slip = c.verbish || d.verbish, c.slip || d.slip
	if c.animal == "" {
		c.animal = d.animal
	}
	for _, n := range d.kept[:d.keptN] {
		if c.keptN < len(c.kept) {
			c.kept[c.keptN] = n
			c.keptN++
		}
	}
	c.of = max(c.of, d.of)
	c.lost += d.lost
	c.bare += d.bare
	c.part, c.whole = c.part || d.part, c.whole || d.whole
}

// usualEggs is how many eggs a nest is usually set with (common practice, no source).
const usualEggs = 3

// decide turns what all clauses say together into a mark.
func (s *Sight) decide(c *claim, doubted bool) {
	s.How, s.Animal = Phrase, c.animal
	s.Agent = c.loss[trod] || c.loss[drowned] || c.loss[rotted] || c.named[byStock] || c.named[byWater] || c.named[byBane]
	if c.slip {
		s.How = Misspelt
	}
	if c.unclear || c.bare > 1 || c.bare > 0 && c.strange > 0 {
		return
	}
	if c.notMade {
		if !c.named[byPredator] {
			if c.firm[Skipped] {
				s.Mark = Skipped
			}
			return
		}
		c.loss[got] = true
	}
	if c.searched > 1 || c.searched > 0 && c.bareNone {
		c.firm[NotFound] = true
	}
	if !s.sums(c) {
		return
	}
	end, certain := c.end()
	if !certain {
		return
	}
	if c.uneaten && end == Unknown && !c.good {
		if end = c.cause(Unknown); end == Taken {
			end = Unknown
		}
		c.good = end == Unknown
	}
	whole := c.good || c.whole
	switch {
	case c.stranger && c.ended && !c.struck && !whole && end == Unknown: // somebody picked up the eggs
		s.Mark, s.Agent = Spoiled, true
	case c.ended && s.Already && !whole:
		s.Mark = Skipped
	case c.struck && end != Unknown:
	case whole && (c.absent || c.spent):
	case c.firm[Skipped]:
		if end == Unknown && !whole && !c.firm[NotFound] && !c.part || c.before && end != Unknown {
			s.Mark = Skipped
		}
		s.Already = s.Already || c.before
	case c.before:
		if (end != Unknown || c.ended) && !whole && !doubted {
			s.Mark, s.Already = Skipped, true
		}
	case c.firm[NotFound]:
		if end == Unknown && !whole && !c.part {
			s.Mark = NotFound
		}
	case end != Unknown && c.fairAlone && !c.nestLoss && c.named == [agents]bool{}: // 16/5 good 30/5 eaten
	case end != Unknown && whole:
		if c.nestLoss {
			s.Mark = Intact
		}
	case end != Unknown:
		s.Mark = end
	case c.part:
		s.Mark = c.cause(Taken)
	case whole && c.set && !c.good:
		s.setOut(c)
	case whole:
		if !c.verbish {
			s.Mark = Intact
		}
	case doubted:
	case c.absent && c.cause(Unknown) != Unknown: // lost - hail
		s.Mark = c.cause(Unknown)
	case c.absent && c.unmarked:
		s.Mark = NotFound
	case c.absent:
		s.Mark, s.Doubt = NotFound, true
	case c.spared:
		s.Mark = Intact
	case c.ended:
		s.Mark = Skipped
	case c.unmarked:
		s.Mark = NotFound
	default:
		s.soft(c)
		if s.Mark == Unknown {
			s.setOut(c)
		}
	}
	if s.Mark != Taken && s.Mark != Intact {
		s.Eggs = -1
	}
}

// setOut takes words that tell of setting a nest, and of nothing else but how many eggs: "put out 3 eggs".
func (s *Sight) setOut(c *claim) {
	if c.set && c.strange == 0 && !c.good && !c.fair && !c.denied && !c.absent && !c.shells && c.lost == 0 && c.keptN <= 1 && c.named == [agents]bool{} {
		s.Mark = SetOut
	}
}

// sums counts the eggs; false where the numbers disagree.
func (s *Sight) sums(c *claim) bool {
	total := c.of
	if total == 0 {
		total = usualEggs
	}
	sum, most, least := 0, 0, 100
	for _, n := range c.kept[:c.keptN] {
		sum += n
		most, least = max(most, n), min(least, n)
	}
	s.Of = c.of
	switch {
	case c.keptN == 0 && c.lost > max(total, 5): // the number is a nest's
		return false
	case c.keptN == 0:
		if c.lost > 0 && c.lost <= total {
			s.Eggs = total - c.lost
			c.part = c.part || c.lost < total
		}
	case c.keptN == 1:
		s.Eggs = most
		c.whole = c.whole || most >= total && !c.part
		c.part = c.part || most < total && !c.whole
	case most >= total && least < total:
		return false
	case most >= total:
		c.whole = true
	case sum == total && c.good && c.lost == 0:
		c.whole = true
	case sum >= total && c.lost == 0:
		return false
	default:
		c.part = true
	}
	return !(c.whole && c.lost > 0)
}

// end returns the mark of the losses that were told, Unknown where none was; certain is false where they disagree.
func (c *claim) end() (end Mark, certain bool) {
	certain = true
	say := func(m Mark) {
		if end != Unknown && end != m {
			certain = false
		}
		end = m
	}
	if c.loss[ate] {
		say(Taken)
	}
	if c.loss[trod] {
		say(c.trodden())
	}
	if c.loss[drowned] {
		say(Flooded)
	}
	if c.loss[rotted] {
		say(Spoiled)
	}
	if end != Unknown {
		if !certain {
			return end, false
		}
		for who := range agents { // and somebody else is named
			if c.named[who] && agentMarks[who] != end && !(who == byWater || who == byBane && end == Flooded) && !(end == Trampled && who == byPerson) {
				return end, false
			}
		}
		return end, true
	}
	open := c.loss[gone] || c.loss[got] || c.loss[broke] || c.loss[crushed] || c.loss[split] || c.loss[over]
	if !open {
		return Unknown, true
	}
	default_ := Unknown
	switch {
	case c.loss[crushed]:
		default_ = Trampled
	case c.loss[split]:
		default_ = Spoiled
	case c.loss[gone], c.loss[got], c.loss[broke] && (c.lost > 0 || c.keptN > 0 || c.part):
		default_ = Taken
	}
	if c.loss[gone] && !c.loss[got] && c.verbless && (c.named[byWater] || c.named[byBane]) { // gone, rain
		return Unknown, false
	}
	m := c.cause(default_)
	if m == Unknown && (c.loss[broke] || c.loss[gone] || c.loss[got]) {
		return Unknown, false
	}
	return m, true
}

// trodden is the mark of eggs that were stepped on, by who did it.
func (c *claim) trodden() Mark {
	switch {
	case c.named[byStock]:
		return Trampled
	case c.named[byPredator]:
		return Taken
	case c.named[byPerson], c.named[byBane]:
		return Spoiled
	}
	return Trampled
}

// cause returns the mark of the one who is named; of none the usual one, of two Unknown.
func (c *claim) cause(usual Mark) Mark {
	found := Unknown
	for who := range agents {
		if !c.named[who] || who == byPerson && !(c.loss[broke] || c.loss[over] || c.loss[crushed]) {
			continue
		}
		if m := agentMarks[who]; found == Unknown || found == m {
			found = m
		} else {
			return Unknown
		}
	}
	if found == Unknown && c.about[byStock] && !c.about[byPredator] && (c.loss[broke] || c.loss[crushed] || c.loss[over]) {
		return Trampled
	}
	if found == Unknown {
		return usual
	}
	return found
}

// soft decides where only words stand that say little alone: somebody who may have done it, shells, "good".
func (s *Sight) soft(c *claim) {
	who := c.cause(Unknown)
	switch {
	case c.fair && who == Unknown && !c.shells && c.strange == 0 && c.named == [agents]bool{}:
		s.Mark = Intact
	case c.fair && !c.shells:
	case c.shells && (who == Unknown && c.named == [agents]bool{} && !c.about[byStock] || who == Taken):
		s.Mark, s.Faint = Taken, true
	case c.shells, c.verbless, c.strange > 0:
	case who != Unknown:
		s.Mark, s.Faint = who, true
	}
}
