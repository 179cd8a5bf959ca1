package lexicon

import (
	"strings"

	"tussock/internal/survey"
)

// A Cover is what one cell says a nest sits in.
type Cover struct {
	Substrate survey.Substrate
	Plant     bool // the word names a plant of that kind
	How       How
	Weak      bool // a letter or two that mean this in a column of covers, and else anything
}

var coverWords = map[survey.Substrate]string{
	survey.Bunchgrass:  `bunchgrass; bunch grass; bunchgrasses; bunch grasses; bunch; bunches; grass; grasses; grass clump; grass clumps; grass bunch; bunches grass; bunches of grass; clump of grass; tall grass; native grass; tussock; zacate; zacates; sacate; sacates; zacate amacollado; pasto; pastos; pasto amacollado; macollo; macollos; mata de zacate; zacaton; zacatal`,
	survey.PricklyPear: `prickly pear; prickly pears; pear; pears; p pear; pr pear; prickly pr; prickly; pricklypear; pear cactus; prickly pear cactus; opuntia; nopal; nopales; nopalera; cactus; cacti; cacto; pear flat; tuna`,
	survey.Yucca:       `yucca; yuccas; yuca; yucas; soapweed; soapweeds; soap weed; palmilla; palmillas; palma; bear grass; beargrass; spanish bayonet`,
	survey.Shrub:       `shrub; shrubs; bush; bushes; brush; woody; arbusto; arbustos; matorral; chaparro; mata lenosa`,
	survey.Forb:        `forb; forbs; weed; weeds; weedy; tall weeds; hierba; hierbas; yerba; yerbas; herb; herbs; broadleaf; broadleaf weeds; maleza; quelite`,
}

// plantWords are plants that crews write down for the cover they make (common practice, no source).
var plantWords = map[survey.Substrate]string{
	survey.Bunchgrass:  `bluebunch; schizachyrium; bouteloua; andropogon; pascopyrum; nassella; hesperostipa; stipa; festuca; koeleria; sporobolus; panicum; pseudoroegneria; calamovilfa; little bluestem; little blue; lbs; bluestem; blue stem; big bluestem; big blue; silver bluestem; cane bluestem; sand bluestem; grama; sideoats grama; side oats grama; side oats; sideoats; blue grama; navajita; sacaton; alkali sacaton; switchgrass; switch grass; indiangrass; indian grass; needlegrass; needle grass; green needlegrass; three awn; threeawn; lovegrass; love grass; dropseed; sand dropseed; tobosa; muhly; tanglehead; needle and thread; needle thread; needle & thread; wheatgrass; wheat grass; western wheatgrass; fescue; junegrass; june grass; ricegrass; rice grass; galleta; cordgrass; prairie sandreed; sandreed; bromegrass; brome; wildrye; wild rye; toboso; banderita; zacate banderita; zacate navajita; zacate cola de zorra; tridente; liendrilla; popotillo; crested wheat; crested wheatgrass; porcupine grass; canary grass; prairie dropseed; buffelgrass; buffel; zacate buffel; bufel`,
	survey.PricklyPear: `plains prickly pear; opuntia polyacantha; opuntia engelmannii; nopal cegador; cegador`,
	survey.Yucca:       `soapweed yucca; small soapweed; yucca glauca; great plains yucca`,
	survey.Shrub:       `symphoricarpos; artemisia; shepherdia; atriplex; sarcobatus; juniperus; krascheninnikovia; chrysothamnus; ericameria; rhus trilobata; prunus; sagebrush; sage brush; sage; sages; sand sagebrush; sand sage; sandsage; big sage; silver sage; silver sagebrush; fringed sage; mesquite; mezquite; juniper; cedar; sumac; skunkbush; skunk bush; skunkbrush; shinnery; shin oak; shinnery oak; sand plum; plum; chokecherry; lotebush; catclaw; rabbitbrush; rabbit brush; saltbush; salt bush; fourwing saltbush; creosote; agarito; snowberry; buckbrush; buffaloberry; thorny buffaloberry; silver buffaloberry; wild rose; rosebush; rose; currant; greasewood; winterfat; broom snakeweed; snakeweed; huizache; granjeno; gobernadora; chamizo; jarilla; huajillo; guajillo; cenizo; chaparro prieto; una de gato; artemisa; salvia; willow; leadplant; silverberry; wolfberry`,
	survey.Forb:        `helianthus; ambrosia; solidago; melilotus; grindelia; ragweed; western ragweed; croton; sunflower; sunflowers; broomweed; thistle; kochia; sweetclover; sweet clover; clover; goldenrod; girasol; mirasol; cardo; tumbleweed; russian thistle; milkweed; curlycup gumweed; gumweed; pigweed; lambsquarters; mullein; alfalfa`,
}

// coverCodes are letters that stand for a cover in a column of covers.
var coverCodes = map[string]survey.Substrate{
	"bg": survey.Bunchgrass, "gr": survey.Bunchgrass, "g": survey.Bunchgrass, "bnch": survey.Bunchgrass, "bgr": survey.Bunchgrass, "bunchg": survey.Bunchgrass, "za": survey.Bunchgrass, "z": survey.Bunchgrass, "zac": survey.Bunchgrass, "grs": survey.Bunchgrass, "lb": survey.Bunchgrass, "bgrass": survey.Bunchgrass, "bug": survey.Bunchgrass,
	"pp": survey.PricklyPear, "np": survey.PricklyPear, "nop": survey.PricklyPear, "ppear": survey.PricklyPear, "opu": survey.PricklyPear, "pric": survey.PricklyPear,
	"yu": survey.Yucca, "yuc": survey.Yucca, "y": survey.Yucca, "sw": survey.Yucca, "yucc": survey.Yucca, "yuca": survey.Yucca, "ycc": survey.Yucca,
	"sh": survey.Shrub, "shr": survey.Shrub, "shrb": survey.Shrub, "sb": survey.Shrub, "sg": survey.Shrub, "sag": survey.Shrub,
	"fb": survey.Forb, "fo": survey.Forb, "wd": survey.Forb, "fbs": survey.Forb,
}

// coverEndings are ends of words that tell the kind of a plant nobody listed.
var coverEndings = []struct {
	end       string
	substrate survey.Substrate
}{{"grass", survey.Bunchgrass}, {"stem", survey.Bunchgrass}, {"brush", survey.Shrub}, {"bush", survey.Shrub}, {"weed", survey.Forb}}

type coverEntry struct {
	substrate survey.Substrate
	plant     bool
}

// Cover reads what one cell says a nest sits in.
func (l *Lexicon) Cover(raw string) (Cover, bool) {
	words := squeeze(Tokens(strings.ReplaceAll(raw, "-", " ")))
	if len(words) == 0 {
		words = Tokens(raw)
	}
	if len(words) == 0 || len(words) > 8 {
		return Cover{}, false
	}
	key := strings.Join(words, " ")
	if e, ok := l.covers[key]; ok {
		how := Known
		if Fold(raw) == Fold(string(e.substrate)) {
			how = Plain
		}
		return Cover{Substrate: e.substrate, Plant: e.plant, How: how}, true
	}
	if s, ok := coverCodes[strings.Join(words, "")]; ok {
		return Cover{Substrate: s, How: Known, Weak: len(strings.Join(words, "")) <= 2}, true
	}
	return l.coverAmong(words)
}

// coverAmong finds the one cover that a longer text names.
func (l *Lexicon) coverAmong(words []string) (Cover, bool) {
	var found survey.Substrate
	plant := false
	how := Phrase
	for i := 0; i < len(words); {
		s, p, n, h := l.coverAt(words, i)
		if n == 0 {
			if (oneOf(words[i], "no", "not", "sin", "none") || len(words[i]) > 2 && Digit(words[i][0])) && found == "" {
				return Cover{}, false
			}
			i++
			continue
		}
		if found != "" && found != s {
			if !plant && p || plant && !p { // "grass, by sagebrush": the first word wins only where it is the plain one
				return Cover{}, false
			}
			return Cover{}, false
		}
		found, plant = s, plant || p
		if h == Misspelt {
			how = Misspelt
		}
		i += n
	}
	return Cover{Substrate: found, Plant: plant, How: how}, found != ""
}

// coverAt reads a cover that begins at word i: how many words it takes, 0 for none.
func (l *Lexicon) coverAt(words []string, i int) (survey.Substrate, bool, int, How) {
	for n := min(4, len(words)-i); n > 0; n-- {
		if e, ok := l.covers[strings.Join(words[i:i+n], " ")]; ok {
			return e.substrate, e.plant, n, Known
		}
	}
	w := words[i]
	if len(w) < 4 {
		return "", false, 0, Known
	}
	if one, ok := strings.CutSuffix(w, "s"); ok {
		if e, ok := l.covers[one]; ok {
			return e.substrate, e.plant, 1, Known
		}
	}
	var slipped survey.Substrate
	plant := false
	for name, e := range l.covers {
		if len(name) >= 4 && name[0] == w[0] && !strings.Contains(name, " ") && near(name, w) {
			if slipped != "" && slipped != e.substrate {
				slipped = ""
				break
			}
			slipped, plant = e.substrate, e.plant
		}
	}
	if slipped != "" {
		return slipped, plant, 1, Misspelt
	}
	for _, e := range coverEndings {
		if len(w) > len(e.end)+2 && strings.HasSuffix(w, e.end) {
			return e.substrate, true, 1, Phrase
		}
	}
	return "", false, 0, Known
}
