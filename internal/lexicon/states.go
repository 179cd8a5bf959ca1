package lexicon

import (
	"slices"
	"strings"
	"unicode"

	"tussock/internal/survey"
)

// A Mark is what one cell says about a nest, before it is known what the whole sheet means by a 0.
type Mark uint8

// The marks. The first three and the last four say no state.
const (
	Unknown  Mark = iota
	Blank         // nothing is written
	Skipped       // somebody wrote that nobody looked, or that there was nothing left to look at
	Intact        // all eggs there
	Taken         // by a predator
	Spoiled       // burst, rotten, hail, fire, plow
	Trampled      // by livestock
	Flooded       //
	NotFound      // the nest could not be found again
	Zero          // "0": no eggs left, or no damage
	One           // "1" beside zeros
	SetOut        // the row tells of setting the nest
	Yes           // y, yes, sí, +: depends on what is asked
	No            // n, no, -
)

var markStates = map[Mark]survey.State{
	Intact: survey.Intact, Taken: survey.Taken, Spoiled: survey.Spoiled,
	Trampled: survey.Trampled, Flooded: survey.Flooded, NotFound: survey.Lost,
}

var stateMarks = map[survey.State]Mark{
	survey.Intact: Intact, survey.Taken: Taken, survey.Spoiled: Spoiled,
	survey.Trampled: Trampled, survey.Flooded: Flooded, survey.Lost: NotFound,
}

// State returns the state a mark stands for, "" where it stands for none yet.
func (m Mark) State() survey.State { return markStates[m] }

// MarkOf returns the mark of a state; Unknown for "".
func MarkOf(s survey.State) Mark { return stateMarks[s] }

// A How says how a cell was understood.
type How uint8

// From our own word to a guess that is best shown to the sender.
const (
	Plain    How = iota // one of our own words
	Known               // another usual word or mark
	Misspelt            // a usual word with a slip of the hand
	Phrase              // a usual word among others that change nothing
)

// A Sight is what one cell says a look found.
type Sight struct {
	Mark    Mark
	Eggs    int    // how many were left; -1 where not said
	Of      int    // how many there had been, where the cell says; else 0
	Animal  string // the predator named in the cell, as written
	Doubt   bool   // two usual meanings
	How     How
	Word    string // as compared: see Words
	Already bool   // something that had happened before: gone already
	Faint   bool   // told by a word alone that may as well say who was about: cows, water
	Weak    bool   // only a letter or a lone mark: means this where the column holds states, and else anything
}

// phrases are what people write for what they found, by the mark it stands for: words as Tokens and squeeze bring them,
// phrases parted by semicolons.
var phrases = map[Mark]string{
	Intact: `intact; ok; okay; good; fine; well; whole; here; there; still there; still here; present; safe; alive; untouched; undisturbed; unharmed; undamaged; unbroken; survived; surviving; survive; success; successful;
		active; live; full; complete; all right; alright; right; all here; all there; all eggs; eggs; eggs in; eggs ok; eggs there; eggs here; eggs present; eggs good; eggs all there; had eggs; had all eggs; kept eggs; all present; all safe; all good; all ok; all fine; all in; no change; no damage; no loss; no losses; no problem;
		none gone; none missing; nothing missing; nothing gone; not missing; looks good; looking good; doing fine; made; lasted; sitting pretty; not touched; not bothered; not disturbed; not damaged; not eaten; not taken; not hit; not gone; clutch full; full clutch; still good; still ok; still intact; still whole; holding;
		completo; completa; completos; completas; conpleto; intacto; intacta; intactos; intactas; bien; entero; entera; enteros; enteras; bueno; buena; buenos; buenas; sano; sanos; todo bien; todos bien; todas bien; todos; todo; todo ahi; todos ahi; ahi; ai; vivo; vivos; siguen; sigue; sin dano; sin novedad; sin cambio; no falta; no falta nada; no falta ninguno; nada falta; no toco; no tocaron; no comieron; hay huevos; con huevos; huevos; huevos bien; huevos completos; √; ☺;
		all accounted for; accounted for; unchanged; same as before; same as set; same as left; nothing wrong; in place; all in place; sitting there; good shape; good condition; fine shape; perfect; great; not broken; thumbs up; no trouble; a ok; aok;
		cabales; completitos; enteritos; intactitos; sin cambios; igual; perfecto; perfectos; en su lugar; no paso nada; no les paso nada`,
	Taken: `taken; gone; eaten; ate; eat; et; et up; eated; hit; got; got hit; got eaten; got taken; robbed; raided; depredated; depred; dep; depr; predated; predation; depredation; destroyed; destroy; wrecked; torn up; tore up; cleaned out; clean out; wiped out; all gone; all lost; all taken; all eaten; stolen; stole; swiped; carried off; dragged off; nothing left; none left; nothing there; nothing here; no eggs; no egg; eggs gone; eggs eaten; eggs taken; egg gone; egg eaten; eggs missing; egg missing; lost eggs; lost to predator; lost predator; empty; zilch; nada;
		shells; shell; shell bits; shells only; only shells; just shells; broken shells; eggshells; egg shells; shell pieces; chewed; chewed up; crunched; broken into; broke into; dug out; dug up; some gone; some eaten; some missing; some taken; part gone; partly gone; partly eaten; partial; missing eggs; missing egg; not there; not here; predator; animal; varmint; critter; something got; something ate; ✗; x; xx; xxx; dead; failed; fail; fate predated; not intact; not ok;
		comido; comida; comidos; comidas; comio; comieron; se comieron; llevo; llevaron; se llevaron; robado; robados; robaron; depredado; depredada; depredados; destruido; destruidos; acabado; acabaron; faltan; falta; faltaban; faltaba; faltan huevos; vacio; vacia; vacios; cascarones; cascaron; cascaras; puros cascarones; solo cascarones; nomas cascarones; cascarones rotos; perdidos; todo perdido; atacado; danado; danados; no huevos; sin huevos; no hay huevos; no habia huevos; no hay; no habia ningun huevo; ningun huevo; no quedo nada; no quedo; no queda nada; no quedan; nada quedo; ya no habia; ya no hay; ya no estaban; ya no estan; no estaban; no estan;
		shells all over; shells everywhere; shells scattered; scattered shells; shells strewn; shells around; yolk; licked clean; picked clean; cleaned up; nest empty; empty nest; empty bowl; bowl empty; got em; got them; got all; took em; took them; took eggs; took all; took; hauled off; packed off; drug off; ran off with; chomped; munched; pecked; pecked open; pecked holes; punctured; rooted up; rooted; nabbed; snatched; plundered; scavenged; consumed; devoured; half eaten; bitten; bit; opened up; opened; cracked open; breakfast; lunch; supper; snack; disappeared; vanished; no more eggs; out of eggs; eggs gone;
		tragaron; trago; tragados; masticado; masticados; mordido; no tiene huevos; no tenia huevos; no tiene nada; no tenia nada; no dejo nada; no dejaron nada; no quedaba nada; no quedaron; mordidos; saqueado; saqueados; vaciado; vaciaron; desaparecieron; desaparecido; desaparecidos; puras cascaras; nomas cascaras; nido vacio`,
	NotFound: `lost; not found; no find; no found; cant find; couldnt find; could not find; cannot find; can not find; did not find; didnt find; not find; never found; never could find; unable find; unable locate; unable relocate; could not locate; couldnt locate; not located; not relocated; could not relocate; couldnt relocate; not found again; no nest found; nest not found; spot not found; spot lost; nest lost; lost nest; lost spot; lost flag; flag lost; flag gone; flag missing; no flag; no nest; missing nest; missing flag; nf; unknown; unsure; not sure; cant tell; lost track; looked could not find; lost location; flag down;
		no hallo; no halle; no hallamos; no hallaron; no hallado; no encontro; no encontre; no encontramos; no encontraron; no encontrado; no encontrada; no encontrados; no localizado; no localizo; no aparecio; no aparece; no pude hallar; no pude encontrar; no pudimos hallar; nido no encontrado; sin bandera; no bandera; perdi bandera; desconocido; no sabe; no vi; no di; extraviado; missing; perdido; perdida;
		could not see; couldnt see; cant see; cant locate; can not locate; cannot locate; not able find; unable see; no luck; no luck finding; hunted no luck; looked looked; stake gone; stake missing; marker gone; marker missing; pin gone; pin flag gone; flag pulled; flag blown; flag blew; ribbon gone; ribbon missing; gave up; gave up looking; no trace nest; lost it;
		ni rastro; no encuentro; no dimos; estaca perdida; se perdio bandera; bandera perdida; bandera tirada`,
	Spoiled: `spoiled; spoilt; rotten; rot; rotted; burst; bursted; busted; busted open; bust; exploded; blew up; blown up; popped; pop; addled; stink; stinks; stunk; bad; bad eggs; eggs bad; went bad; gone bad; cooked; sun; heat; frozen; froze; cracked; cracked heat; hail; hailed; hailed out; hailed on; hail got; busted hail; fire; burned; burnt; burned over; burned up; grass fire; plowed; ploughed; plowed under; mowed; mowed over; hayed; swathed; disked; tractor; mower; run over; ran over; driven over; windblown; wind; weather; people; person; fungus; moldy; ant; ants got;
		podrido; podrida; podridos; podridas; pudrio; pudrieron; reventado; reventados; revento; reventaron; echaron perder; echo perder; granizo; granizado; granizada; lumbre; quemado; quemados; quemo; quemaron; helado; helados; calor; tractor paso; arado; apestan; apestosos;
		baked; boiled; fried; sun baked; leaking; leaked; ruptured; split; split open; swelled; swelled up; smelled bad; smells bad; stinking; smelly; maggots; soured; disced; sprayed; burned off; burn; prescribed burn; baled; windrowed; hay cut; cut hay; storm; froze broke; frost;
		tronado; tronados; tronaron; trono; secos; secaron; seco; echados perder; agusanado; agusanados; llovizna granizo; segado; segaron`,
	Trampled: `trampled; tramped; trampeled; trampled cow; tromped; tromped on; trompled; trodden; trod on; stepped; stepped on; stepped in; stepped right on; stepped right in; step on; squashed; squished; smashed cow; mashed; crushed cow; walked on; laid on; lay on; cow; cows; cattle; livestock; stock; heifer; heifers; calf; calves; bull; bulls; steer; steers; yearlings; yearling; hoof; hooves; hoofs; hoof print; hoofprint; horse; horses; sheep; ewe; ewes; bison; buffalo; foot print; beef; moo;
		pisado; pisada; pisados; pisadas; pisoteado; pisoteados; pisoteada; pisoteo; piso; pisaron; aplastado; aplastados; aplasto; vaca; vacas; ganado; becerro; becerros; toro; toros; caballo; caballos; novillo; novillos; borregas; res; reses; pezuna;
		stomped; stomped on; stomped flat; flattened; crushed; hoofed; squished flat; bedded on; bedded; rolled on; kicked; walked over; tramped down; run down; goat; goats; mule; mules; llama; dairy cow; cow bed; cow pie; cow stepped; cows stepped; cows bedded; bull stepped;
		apachurrado; apachurrados; apachurro; apachurraron; machucado; machucados; machuco; machucaron; chivas; chiva; burro; mula; borrego; borregos; becerra; becerras; yegua; yeguas; pateado; patearon`,
	Flooded: `flooded; flood; wet; soggy; sopping; floods; flooding; flooded out; washed out; washed away; washed; washout; wash out; water; water over; in water; under water; underwater; water got; drowned; rained out; rain; high water; creek got; creek came; creek came up; creek up; creek; standing water; soaked; river; ponded;
		agua; inundado; inundada; inundados; inundacion; lluvia; llovio; arroyo; creciente; crecio arroyo; llevo agua; llevo arroyo; ahogado; ahogados; mojado; bajo agua; encharcado;
		slough; slough came; slough came up; pond; pond came up; puddle; lake; crick; crick came up; crick got; floated; floated off; floated away; swept away; washed off; washed down; silt; silted; silted over; mud; muddy; swamped; gully washer; cloudburst; irrigation; irrigated; runoff; draw ran; draw came up; came up over; ran over bank;
		corriente; llevo corriente; anegado; anegados; enlodado; lodo; aguacero; creciente arroyo; tormenta; presa; acequia; canal`,
	Skipped: `not checked; no check; not visited; no visit; not looked; no look; not looked at; did not look; didnt look; did not check; didnt check; did not visit; didnt visit; did not go; didnt go; didnt get; did not get; did not get there; didnt get there; didnt make; never got; never went; nobody went; no one went; not seen; skipped; skip; skiped; no trip; no access; no go; gate locked; locked gate; too wet; nc; na; not applicable; no data; not done; nobody looked; unchecked; missed; missed check; not run;
		no reviso; no revise; no revisado; no revisamos; no revisaron; sin revisar; sin revision; no fui; no fuimos; no visito; no visitado; no llegue; no llegamos; nadie fue; no vimos; porton cerrado;
		already gone; gone already; gone before; already done; already lost; already taken; already eaten; already dead; gone last time; done; done before; finished; finished already; finished before; finished earlier; nest finished; over; no need; no need look; nothing left look; nothing left check; nothing check; see above; pulled; picked up; ended; closed; ya perdido; ya comido; ya estaba; ya habia perdido; terminado; acabo; ya terminado; sin nido;
		ran out time; ran out daylight; no time; too dark; too hot; too muddy; roads bad; road out; road closed; could not cross; couldnt cross; couldnt get across; could not get across; couldnt get in; could not get in; cant get there; could not get there; couldnt get there; could not make; couldnt make; gate chained; creek too high; bull pasture; bull in pasture; not there yet; did not walk; didnt walk; not walked; line not walked; not run; did not run; didnt run; not this time; later; next time; no observation; not observed; no obs; left out;
		no alcanzamos; no alcanzo; no alcanzo tiempo; falto revisar; falto; no pudo entrar; no pudimos pasar; no pudimos entrar; no pudimos; no pude; sin tiempo; no hubo tiempo; sin visita; no anduvimos; no camino; no caminamos; camino cerrado; puerta cerrada; sin dato; sin datos; no aplica`,
	SetOut: `set; set out; setout; set up; put out; putout; placed; place; deployed; deploy; new; start; started; start nest; built; made nest; installed; laid; initial; begin; out; put; puesto; puesta; puso; puse; pusimos; pusieron; colocado; colocada; colocacion; instalado; instalacion; inicio; salida; set nest; nest set; eggs set; eggs out; eggs put`,
	Yes:    `yes; y; yep; yeah; si; s; true; t; +; verdadero`,
	No:     `no; n; nope; false; f; -; falso`,
}

// doubtful words have two usual meanings: the first is in force until the sender says.
var doubtful = []string{"missing", "perdido", "perdida", "lost", "lost nest"}

// weakSigns are words after which an animal's name tells who came by, not who took the eggs.
var weakSigns = []string{"track", "tracks", "print", "prints", "scat", "sign", "signs", "smell", "smells", "hair", "droppings", "dropping", "poop", "turd", "seen", "saw", "nearby", "around", "near", "walked", "passed", "huella", "huellas", "sena", "senas", "excremento", "cagada", "olor", "pelo", "cerca", "rastro", "rastros", "pasos"}

// little are words that change nothing; they fall away before phrases are looked for.
var little = set(littleWords)

// aside are words that may stand beside a state without changing it.
var aside = set(asideWords)

// faint are words that say little alone.
var faint = set(`eggs here there huevos right well over all todo todos ahi shells shell done full out rain wind sun left made lost cow cows cattle vaca vacas ganado stock water agua animal dead heat calor creek missing whole bad live`)

const littleWords = `the a an of it its is was were be been has have i we he she they them their this that these those at to for by with as so my our your el la los las lo le les se de del al un una unos unas es era fue fueron esta son su sus me nos y que con por muy mas ha han eso ese esa`

const asideWords = `again now today still just only very really quite some about only maybe probably likely think guess guessing suspect suppose looks look like seems seemed when got found came went there here nest nests egg eggs bowl clump grass bunch near close right left side whole big small large little piece pieces bit bits shell shells yolk white dried licked clean neat messy open opened end ends hole holes inside outside on in under over out and or but also then than from into off one two three few most more fresh new put back down dead hen chicken washer rock post fence road gate line sure idea what no sign signs tracks track scat hair smell prints dug digging hot cold windy wet dry early late rain sun moved found again same time times day days week weeks first second third last check visit photo picture pic see note notes per estaba estan estaban creo cree parece quizas tal vez huevo huevos nido nidos bandera zacate pedazos pedazo cascara cascaron junto cerca lejos aqui alla solo nomas todavia otra vez dia primera segunda revision nuevo nuevos chico grande limpio limpios abierto punta lado ni en sin pero busque buscamos media hora huella huellas`

func set(words string) map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(words) {
		m[w] = true
	}
	return m
}

// A matcher finds usual phrases in a run of tokens.
type matcher struct {
	longest int
	marks   map[string]Mark
	bySound map[string]Mark // Unknown where two phrases of different marks sound alike
}

func newMatcher() *matcher {
	m := &matcher{marks: map[string]Mark{}, bySound: map[string]Mark{}}
	for mark, list := range phrases {
		for p := range strings.SplitSeq(list, ";") {
			key := strings.Join(squeeze(Tokens(p)), " ")
			if key == "" {
				continue
			}
			m.marks[key] = mark
			if s := sound(key); len(key) >= 5 {
				if was, twice := m.bySound[s]; twice && was != mark {
					m.bySound[s] = Unknown
				} else {
					m.bySound[s] = mark
				}
			}
			m.longest = max(m.longest, strings.Count(key, " ")+1)
		}
	}
	return m
}

// squeeze takes out the words that change nothing, and the sentence marks.
func squeeze(tokens []string) []string {
	out := make([]string, 0, len(tokens))
	for _, t := range tokens {
		if little[t] || oneOf(t, ".", ",", ";", ":", "\n", "(", ")", "[", "]", "#", "…", "&") {
			continue
		}
		out = append(out, t)
	}
	return out
}

// match returns the mark of the longest usual phrase that begins at i, and how many tokens it takes.
func (m *matcher) match(t []string, i int) (Mark, int) {
	for n := min(m.longest, len(t)-i); n > 0; n-- {
		if mark, ok := m.marks[strings.Join(t[i:i+n], " ")]; ok {
			return mark, n
		}
	}
	return Unknown, 0
}

// sounds returns the mark of the usual phrase that a whole text sounds like: "no lo alle".
func (m *matcher) sounds(t []string) (Mark, bool) {
	mark, ok := m.bySound[sound(strings.Join(t, " "))]
	return mark, ok && mark != Unknown
}

// Sight reads what one cell says a look found. The zero Mark is returned where it says nothing that can be told.
func (l *Lexicon) Sight(raw string) Sight {
	out := Sight{Eggs: -1, Word: Words(raw)}
	if raw == "" {
		out.Mark = Blank
		return out
	}
	if m, ok := stateMarks[survey.State(out.Word)]; ok {
		out.Mark, out.Doubt = m, false
		return out
	}
	out.How = Known
	tokens := Tokens(raw)
	words := squeeze(tokens)
	out.Already = slices.Contains(words, "already") || slices.Contains(words, "ya")
	switch Fold(raw) {
	case "i":
		out.Mark, out.Weak = Intact, true
		return out
	case "y":
		out.Mark, out.Weak = Yes, true
		return out
	case "na":
		out.Mark = Skipped
		return out
	case "none", "ninguno", "cero":
		out.Mark, out.Weak = Zero, true
		return out
	}
	if len(words) == 0 && strings.ContainsFunc(raw, unicode.IsLetter) {
		return out
	}
	if len(words) == 0 || !slices.ContainsFunc(words, func(w string) bool { return !oneOf(w, "-", "/", "=", "~") }) {
		out.Mark, out.Weak = Skipped, true // a dash or a full stop alone
		return out
	}
	if len(words) == 1 && oneOf(words[0], "?", "??") {
		return out
	}
	if l.count(words, &out) {
		return out
	}
	if m, n := l.phrases.match(words, 0); n == len(words) {
		out.Mark, out.Faint = m, n == 1 && faint[words[0]]
		out.Doubt = oneOf(strings.Join(words, " "), doubtful...)
		out.Weak = len(words) == 1 && len([]rune(words[0])) == 1 && m != Intact || oneOf(strings.Join(words, " "), "out", "over", "right", "well", "here", "rain", "wind", "sun", "water", "new", "eggs", "huevos", "todo", "todos", "left", "start", "put", "place", "bad", "res", "no hay", "river", "creek", "stock", "arroyo")
		return out
	}
	if m, ok := l.phrases.sounds(words); ok {
		out.Mark, out.How = m, Misspelt
		return out
	}
	l.sentence(words, &out)
	return out
}

// A hit is one usual phrase or animal in a longer text.
type hit struct {
	mark  Mark
	weak  bool // an animal that only left tracks, or a word that says little
	size  int
	slips bool
}

// sentence looks for usual phrases in a longer text and settles what they say together.
func (l *Lexicon) sentence(words []string, out *Sight) {
	for i, w := range words { // eggs put back say nothing about what was found
		if oneOf(w, "fresh", "replaced", "nuevos") && i > 0 {
			words = words[:i]
			break
		}
	}
	var hits []hit
	strange := 0
	sign := false
	for i := 0; i < len(words); {
		if i+1 < len(words) && oneOf(words[i]+" "+words[i+1], "all over", "all around", "all round", "by now", "right there", "right on", "up over") && i > 0 {
			i += 2
			continue
		}
		if mark, n := l.phrases.match(words, i); n > 0 && mark != Yes && mark != No && mark != SetOut {
			single := n == 1 && len(words[i]) <= 2 && !oneOf(words[i], "ok", "nf", "√", "✗", "x")
			if !single {
				hits = append(hits, hit{mark: mark, size: n, weak: n == 1 && faint[words[i]]})
				i += n
				continue
			}
		}
		if n, used := l.eggsAt(words, i, out); used > 0 {
			hits = append(hits, hit{mark: n, size: used})
			i += used
			continue
		}
		if oneOf(words[i], weakSigns...) {
			sign = i == 0 || !oneOf(words[i-1], "no", "sin")
			i++
			continue
		}
		if p, n := l.animalAt(words, i); n > 0 {
			weak := sign || i+n < len(words) && oneOf(words[i+n], weakSigns...) || i+n+1 < len(words) && oneOf(words[i+n+1], weakSigns...)
			hits = append(hits, hit{mark: Taken, weak: weak || true, size: n})
			if weak {
				hits[len(hits)-1].size = 0
			}
			if out.Animal == "" {
				out.Animal = p
			}
			i += n
			continue
		}
		if !aside[words[i]] && !little[words[i]] && !isNumber(words[i]) && len(words[i]) > 1 {
			if mark, ok := l.slip(words[i]); ok {
				hits = append(hits, hit{mark: mark, size: 1, slips: true})
			} else {
				strange++
			}
		}
		i++
	}
	out.settle(hits, len(words), strange)
}

// settle decides what a text says as a whole; it stays Unknown where two phrases disagree.
func (s *Sight) settle(hits []hit, words, strange int) {
	strong, weak := map[Mark]int{}, map[Mark]int{}
	slips := false
	for _, h := range hits {
		slips = slips || h.slips
		switch {
		case h.size == 0: // an animal's tracks
		case h.weak:
			weak[h.mark]++
		default:
			strong[h.mark]++
		}
	}
	s.How = Phrase
	if slips && words == 1 {
		s.How = Misspelt
	}
	only := func(m map[Mark]int, marks ...Mark) bool {
		for k := range m {
			if !slices.Contains(marks, k) {
				return false
			}
		}
		return len(m) > 0
	}
	switch {
	case strong[Skipped] > 0 && (only(strong, Skipped) || s.Already):
		s.Mark = Skipped
	case strong[NotFound] > 0 && only(strong, NotFound, Taken, Intact) && strong[Taken]+strong[Intact] <= strong[NotFound]:
		s.Mark = NotFound
	case only(strong, Intact):
		s.Mark = Intact
	case only(strong, Taken):
		s.Mark = Taken
		if weak[Trampled] > 0 && s.Animal == "" {
			s.Mark = Trampled
		}
	case only(strong, Trampled), only(strong, Trampled, Taken):
		s.Mark = Trampled
	case only(strong, Flooded), only(strong, Flooded, Taken):
		s.Mark = Flooded
	case only(strong, Spoiled), only(strong, Spoiled, Taken), only(strong, Spoiled, NotFound):
		s.Mark = Spoiled
	case len(strong) == 0 && only(weak, Trampled), len(strong) == 0 && only(weak, Flooded), len(strong) == 0 && only(weak, Spoiled), len(strong) == 0 && only(weak, Taken), len(strong) == 0 && only(weak, NotFound):
		for k := range weak {
			s.Mark = k
		}
		s.Faint = true
	case len(strong) == 0 && only(weak, Intact) && strange == 0:
		s.Mark = Intact
	case len(strong) == 0 && only(weak, Taken, Intact) && s.Animal == "" && strange == 0: // shells there
		s.Mark = Taken
	}
	if s.Mark == Unknown {
		return
	}
	if s.Mark == Taken && s.Eggs == s.count3() && s.Eggs > 0 {
		s.Eggs = -1
	}
}

func (s *Sight) count3() int {
	if s.Of > 0 {
		return s.Of
	}
	return 3
}

// count reads a cell that is a count of eggs: 2, 2 of 3, 2/3, 3 eggs, los 3, two left, one gone, all three.
func (l *Lexicon) count(words []string, out *Sight) bool {
	if len(words) == 1 {
		n, ok := Atoi(words[0])
		if !ok {
			if n, ok = numberWords[words[0]]; !ok || n == 0 {
				return false
			}
		}
		if n > 20 {
			return false
		}
		out.Weak = true
		switch {
		case n == 0:
			out.Mark = Zero
		case n == 1 && words[0] == "1":
			out.Mark = One
		case n < 3:
			out.Mark, out.Eggs = Taken, n
		default:
			out.Mark, out.Eggs = Intact, n
		}
		return true
	}
	trial := *out
	mark, used := l.eggsAt(words, 0, &trial)
	if used == 0 || used < len(words) {
		return false
	}
	*out = trial
	out.Mark = mark
	return true
}

// eggsAt reads a count of eggs that begins at i: how many tokens it takes, 0 for none.
func (l *Lexicon) eggsAt(words []string, i int, out *Sight) (Mark, int) {
	num := func(k int) (int, bool) {
		if k >= len(words) {
			return 0, false
		}
		if n, ok := Atoi(words[k]); ok && n <= 12 {
			return n, true
		}
		if words[k] == "all" {
			return 0, false
		}
		n, ok := numberWords[words[k]]
		return n, ok
	}
	is := func(k int, list ...string) bool { return k < len(words) && oneOf(words[k], list...) }
	from := i
	if is(i, "all", "todos", "todas", "only", "solo", "nomas", "just", "had", "hay", "habia", "estaban", "estan", "quedan", "quedaban", "queda", "ahi", "ai", "aun", "still", "x", "siguen") {
		i++
	}
	lead := i > from
	missing := false
	if is(i, "missing", "faltan", "falta", "faltaban", "faltaba", "lost") {
		missing = true
		i++
	}
	n, ok := num(i)
	if !ok {
		return Unknown, 0
	}
	i++
	of := 0
	counted := lead || missing
	if is(i, "/", "de", "out") || i < len(words) && words[i] == "of" {
		if m, ok := num(i + 1); ok && m >= n && m > 0 {
			of, i, counted = m, i+2, true
		}
	} else if m, ok := num(i); ok && m >= n && m >= 2 && m <= 6 && (is(i+1, "egg", "eggs", "gone", "left", "there", "missing", "huevos") || i+1 == len(words) && from == i-1) {
		of, i, counted = m, i+1, true // "of" fell away with the little words
	}
	if is(i, "egg", "eggs", "huevo", "huevos", "blanquillos") {
		i++
		counted = true
	}
	switch {
	case is(i, "gone", "missing", "taken", "eaten", "lost", "broken", "broke", "short", "stolen", "menos", "comido", "comidos", "faltan", "faltaba", "faltaban", "falta"):
		missing, counted = true, true
		i++
	case is(i, "left", "remaining", "remain", "remains", "there", "here", "present", "intact", "ok", "good", "quedan", "queda", "quedaron", "quedo", "still", "bien", "in", "whole", "enteros"):
		counted = true
		i++
		if is(i, "there", "here", "left") {
			i++
		}
	}
	if !counted {
		return Unknown, 0
	}
	total := of
	if total == 0 {
		total = 3 // the usual clump (common practice, no source)
	}
	left := n
	if missing {
		if left = total - n; left < 0 {
			return Unknown, 0
		}
	}
	out.Eggs, out.Of = left, of
	switch {
	case left == 0:
		out.Eggs = 0
		return Taken, i - from
	case left < total:
		return Taken, i - from
	}
	return Intact, i - from
}

func isNumber(w string) bool { return w != "" && Digit(w[0]) }

// animalAt reads an animal's name that begins at i.
func (l *Lexicon) animalAt(words []string, i int) (string, int) {
	for n := min(3, len(words)-i); n > 0; n-- {
		name := strings.Join(words[i:i+n], " ")
		if _, ok := l.animals[name]; ok {
			return name, n
		}
	}
	if len(words[i]) >= 5 {
		for _, name := range l.animalWords {
			if name[0] == words[i][0] && near(name, words[i]) {
				return name, 1
			}
		}
	}
	return "", 0
}

// slip finds the one mark whose usual words come near a misspelled one.
func (l *Lexicon) slip(w string) (Mark, bool) {
	found := Unknown
	for _, s := range l.singles {
		if s.word[0] != w[0] && s.word[len(s.word)-1] != w[len(w)-1] || !near(s.word, w) {
			continue
		}
		if found != Unknown && found != s.mark {
			return Unknown, false
		}
		found = s.mark
	}
	return found, found != Unknown
}

// A Token is a word of a longer text with its place in it. Words that change nothing are left out of runs of tokens.
type Token struct {
	Word     string // as Tokens brings it
	From, To int    // bytes in the text
}

// Scan cuts a longer text into tokens with their places, without the words that change nothing; sentence marks stay.
func Scan(text string) []Token {
	var out []Token
	at := 0
	for _, w := range tokensKept(text) {
		from := at + strings.Index(text[at:], w.raw)
		to := from + len(w.raw)
		at = to
		if little[w.low] {
			continue
		}
		out = append(out, Token{w.low, from, to})
	}
	return out
}

type keptToken struct{ low, raw string }

// tokensKept is Tokens with the spelling of each token.
func tokensKept(s string) []keptToken {
	var out []keptToken
	from, kind := -1, 0
	flush := func(to int) {
		if from >= 0 {
			raw := s[from:to]
			low := strings.Join(Tokens(raw), "")
			if low != "" {
				out = append(out, keptToken{low, raw})
			}
		}
		from, kind = -1, 0
	}
	for i, c := range s {
		k := 3
		switch {
		case unicode.IsLetter(c) || (c == '\'' || c == '’') && kind == 1:
			k = 1
		case unicode.IsDigit(c) || (c == '.' || c == ',') && kind == 2 && i+1 < len(s) && Digit(s[i+1]):
			k = 2
		case unicode.IsSpace(c) && c != '\n' && c != '\r':
			k = 0
		}
		if k == 0 {
			flush(i)
			continue
		}
		if k != kind || k == 3 {
			flush(i)
			from, kind = i, k
		}
	}
	flush(len(s))
	return out
}

// PhraseAt returns the mark of the longest usual phrase that begins at token i, and how many tokens it takes.
func (l *Lexicon) PhraseAt(words []string, i int) (Mark, int) {
	if mark, n := l.phrases.match(words, i); n > 0 {
		return mark, n
	}
	s := Sight{Eggs: -1}
	mark, n := l.eggsAt(words, i, &s)
	for _, w := range words[i : i+n] { // in a sentence a bare number is more likely a nest's
		if w == "of" || s.Of > 0 {
			return mark, n
		}
	}
	return Unknown, 0
}

// CoverAt returns the cover that begins at token i, and how many tokens it takes.
func (l *Lexicon) CoverAt(words []string, i int) (Cover, int) {
	s, plant, n, how := l.coverAt(words, i)
	return Cover{Substrate: s, Plant: plant, How: how}, n
}

// AnimalAt returns the animal whose name begins at token i, and how many tokens it takes.
func (l *Lexicon) AnimalAt(words []string, i int) (string, int) { return l.animalAt(words, i) }
