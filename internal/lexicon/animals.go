package lexicon

import (
	"sort"
	"strings"

	"tussock/internal/survey"
)

// predatorWords are the animals of the key under their other names.
var predatorWords = map[survey.Predator]string{
	survey.Raccoon:   `raccoons; racoon; racoons; raccon; racc; coon; coons; ringtail coon; mapache; mapaches`,
	survey.Skunk:     `skunks; skunky; striped skunk; spotted skunk; hog nosed skunk; hognose skunk; polecat; zorrillo; zorrillos; sorrillo; sorrillos; zorrilla`,
	survey.Opossum:   `opossums; possum; possums; oppossum; tlacuache; tlacuaches; tacuache; tacuaches`,
	survey.Coyote:    `coyotes; coyot; coyots; yote; yotes; kyote; kyotes; kiyote; kiyotes; coy dog; collote; collotes; coyotito; coyota; coyotillo`,
	survey.Fox:       `foxes; gray fox; grey fox; red fox; swift fox; kit fox; zorra; zorras; zorro; zorros; zorra gris; zorrita`,
	survey.Bobcat:    `bobcats; bob cat; wildcat; lynx; gato montes; gatos monteses; lince; gato de monte`,
	survey.Badger:    `badgers; tlalcoyote; tlalcoyotes; talcoyote; talcoyotes`,
	survey.Armadillo: `armadillos; armadilla; dillo; dillos; armadio`,
	survey.Hog:       `hog; hogs; pig; pigs; feral hogs; feral pig; feral pigs; wild hog; wild hogs; wild pig; wild pigs; boar; boars; sow; sows; swine; marrano; marranos; marrana; marranos alzados; marrano alzado; puerco; puercos; cochi; cochis; cochino; cochinos; cuchi; cuchis`,
	survey.Bird:      `birds; crow; crows; raven; ravens; turkey; turkeys; wild turkey; jay; jays; blue jay; magpie; magpies; corvid; corvids; hawk; roadrunner; roadrunners; road runner; grackle; grackles; gull; gulls; seagull; starling; cuervo; cuervos; urraca; urracas; correcaminos; paisano; chaparral bird; guajolote; guajolotes; guajolote silvestre; cocono silvestre; cocono; ave; aves; pajaro; pajaros; pajarraco; zanate; zanates; tordo; chanate; chanates; gavilan; aguila`,
	survey.Snake:     `snakes; rat snake; ratsnake; rat snakes; bullsnake; bullsnakes; bull snake; bull snakes; gopher snake; gophersnake; coachwhip; coach whip; king snake; kingsnake; rattlesnake; rattle snake; rattlesnakes; rattler; rattlers; hognose snake; racer; culebra; culebras; culebra ratonera; ratonera; vibora; viboras; vibora de cascabel; cascabel; serpiente; serpientes; chirrionera; alicante; cincuate; sincuate`,
	survey.Rodent:    `rodents; roedor; roedores; rat; rats; woodrat; woodrats; wood rat; wood rats; packrat; packrats; pack rat; pack rats; cotton rat; cotton rats; kangaroo rat; k rat; mouse; mice; field mice; deer mouse; squirrel; squirrels; ground squirrel; ground squirrels; gr sq; grd sq; gr squirrel; grnd squirrel; 13 lined; 13 lined ground squirrel; 13 lined gr sq; thirteen lined; thirteen lined ground squirrel; striped gopher; gopher; gophers; prairie dog; prairie dogs; chipmunk; vole; voles; ardilla; ardillas; ardilla de tierra; ardillon; ardillones; rata; ratas; rata de campo; ratas de campo; rata canguro; raton; ratones; raton de campo; tuza; tuzas; tuzo; juancito; juancitos`,
	survey.Other:     `dog; dogs; our dog; stray dog; feral dog; cat; cats; feral cat; barn cat; house cat; tomcat; fire ant; fire ants; javelina; javelinas; javalina; javalinas; javelin; peccary; peccaries; weasel; weasels; mink; minks; perro; perros; perra; perrada; gato; gatos; hormiga; hormigas; hormiga brava; jabalina; jabalinas; jabalin; jabalines; jabali; jabalies; pecari; pecaries; people or dog; gente o perro; domestic dog; comadreja; comadrejas`,
}

// otherAnimals rob nests too, and are not in the key.
const otherAnimals = `mammal; mammals; mammalian; avian; canid; canids; canine; mustelid; felid; carnivore; mamifero; ave; turtle; turtles; box turtle; terrapin; tortoise; tortuga; tortugas; ferret; otter; bear; bears; black bear; oso; osos; mountain lion; lion; cougar; puma; leon; ringtail; ringtail cat; cacomixtle; coati; coatis; coatimundi; tejon; tejones; porcupine; puercoespin; deer; jackrabbit; lizard; lagartija; iguana; beetle; beetles; marmot; wolf; lobo; lobos; wolves; jackal`

// noAnimal are entries under predator or camera that name none.
var noAnimal = []string{"", "none", "no", "yes", "y", "n", "si", "nothing", "unknown", "unk", "?", "can't tell", "cant tell", "cant_tell", "not sure", "no se sabe", "no se", "nada", "na", "n/a", "not seen", "no idea", "dont know", "don't know", "quien sabe", "dunno", "idk"}

// animals are the names of animals by their predator in the key, and the ways to look for them.
type animals struct {
	key   map[string]survey.Predator
	rob   map[string]bool // of all that rob nests
	slips *slipIndex
}

func newAnimals() *animals {
	a := &animals{key: map[string]survey.Predator{}, rob: map[string]bool{}, slips: newSlipIndex(5)}
	for p, list := range predatorWords {
		for w := range strings.SplitSeq(list+";"+string(p), ";") {
			a.key[nameOf(w)] = p
		}
	}
	delete(a.key, "other")
	for w := range a.key {
		if !strings.Contains(w, "hormiga") && !strings.Contains(w, " ant") && w != "" {
			a.rob[w] = true
		}
	}
	for w := range strings.SplitSeq(otherAnimals, ";") {
		a.rob[nameOf(w)] = true
	}
	var single []string
	for w := range a.rob {
		if !strings.Contains(w, " ") {
			single = append(single, w)
		}
	}
	sort.Strings(single)
	for _, w := range single {
		a.slips.add(w)
	}
	return a
}

func nameOf(s string) string { return strings.Join(squeeze(Tokens(s)), " ") }

// Predator reads the name of an animal. Known without an animal are entries such as "unknown".
func (l *Lexicon) Predator(raw string) (p survey.Predator, known bool) {
	w := Words(raw)
	if oneOf(w, noAnimal...) {
		return "", true
	}
	p, ok := l.animals.key[nameOf(raw)]
	return p, ok
}

// NamesAnimal tells whether a text names an animal of the key anywhere.
func (l *Lexicon) NamesAnimal(raw string) bool {
	words := squeeze(Tokens(raw))
	for i := range words {
		if _, n := l.animalAt(words, i); n > 0 {
			return true
		}
	}
	return false
}

// animalAt reads an animal's name that begins at i.
func (l *Lexicon) animalAt(words []string, i int) (string, int) {
	for n := min(4, len(words)-i); n > 0; n-- {
		name := words[i]
		if n > 1 {
			name = strings.Join(words[i:i+n], " ")
		}
		if _, ok := l.animals.key[name]; ok {
			return name, n
		}
	}
	if l.states.senseOf(words[i]) != strange {
		return "", 0
	}
	found := ""
	l.animals.slips.each(words[i], func(name string) bool {
		if _, ok := l.animals.key[name]; ok {
			found = name
		}
		return found == ""
	})
	if found != "" {
		return found, 1
	}
	return "", 0
}

// AnimalAt returns the animal whose name begins at token i, and how many tokens it takes.
func (l *Lexicon) AnimalAt(words []string, i int) (string, int) { return l.animalAt(words, i) }

// Cause tells whether an entry under predator or "how lost" names an end that no animal of the key brought.
func (l *Lexicon) Cause(raw string) (survey.State, bool) {
	if _, animal := l.Predator(raw); animal {
		return "", false
	}
	switch s := l.Sight(raw); s.Mark {
	case Trampled, Flooded, Spoiled:
		if s.Animal == "" {
			return s.Mark.State(), true
		}
	}
	return "", false
}
