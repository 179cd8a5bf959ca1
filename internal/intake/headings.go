package intake

import (
	"strconv"
	"strings"
	"unicode"

	"tussock/internal/survey"
)

// A role is what a column holds.
type role uint8

const (
	roleNone role = iota
	roleRanch
	roleSite
	roleSeason
	roleTransect
	roleNest
	roleSubstrate
	rolePlant
	roleSetOn
	roleEggsSet
	roleCheckedOn
	roleState
	roleSecond // what a second person found
	roleWho    // who looked: told apart, never kept
	roleLook
	rolePairOn    // check1_on
	rolePairState // check1
	rolePairEggs  // eggs left at check 1
	roleDated     // a column headed by a date or a week, with states below
	roleSteps
	roleBearing
	roleSpot
	roleFeature // one of survey.Features
	roleTrace
	roleGuess
	roleEggsLeft
	roleLostHow
	roleCamera
	roleNotes
	roleLength
	roleLengthUnit
	roleWidth
	roleWidthUnit
	roleUnit // one unit for length and width
	roleStepLength
	roleCount // count_…
	roleClumps
	roleBelt
	roleOwner
	roleRegion
	roleType
	roleArea
	roleAreaUnit
)

// headingWords lists how each column may be headed, folded by fold. English and Spanish stand side by side; the first
// word is the column's name in our own sheets.
var headingWords = map[role][]string{
	roleRanch:      {"ranch", "rancho", "ranchname", "ranchcode", "ranchid", "nombredelrancho", "property", "propiedad", "farm", "finca", "predio"},
	roleSite:       {"site", "sitio", "pasture", "potrero", "unit", "unidad", "paddock", "sitename", "pasturename", "managementunit", "nombredelpotrero", "sitecode"},
	roleSeason:     {"season", "temporada", "year", "ano", "fieldseason", "surveyyear", "seasonyear"},
	roleTransect:   {"transect", "transecto", "line", "linea", "transectno", "transectnum", "transectnumber", "transectid", "transectname", "lineno", "linenum", "linenumber", "lineid", "linename", "trans", "numerodelinea", "lineanum"},
	roleNest:       {"nest", "nido", "stop", "neststop", "nestno", "nestnum", "nestnumber", "nestid", "neststopno", "nidonum", "numnido", "numerodenido", "nidono", "parada", "stopno", "stopnumber"},
	roleSubstrate:  {"substrate", "sustrato", "cover", "cobertura", "nestcover", "coberturadelnido", "covertype", "vegetation", "vegetacion", "nestsubstrate", "tipodecobertura", "substratetype", "placedin", "setin"},
	rolePlant:      {"plant", "planta", "species", "especie", "coverplant", "plantspecies", "plantname"},
	roleSetOn:      {"seton", "puestoel", "set", "setdate", "dateset", "setout", "setouton", "setoutdate", "putouton", "putout", "placed", "placedon", "dateplaced", "deployed", "deployedon", "datedeployed", "puesto", "fechapuesta", "fechadecolocacion", "fechadepuesta", "colocado", "colocadoel", "startdate", "dateout"},
	roleEggsSet:    {"eggsset", "eggsput", "eggsputout", "huevospuestos", "eggsout"},
	roleCheckedOn:  {"checkedon", "lookedon", "checkdate", "datechecked", "date", "fecha", "revisadoel", "visitdate", "visitedon", "datevisited", "lookdate", "dateofcheck", "dateofvisit", "fechaderevision", "fechaderevisado", "fecharevisado", "on"},
	roleState:      {"state", "estado", "found", "encontro", "queencontro", "whatyoufound", "status", "condition", "condicion", "fate", "result", "resultado", "outcome", "neststate", "nestfate", "hallado", "destino"},
	roleSecond:     {"secondlook", "secondstate", "secondperson", "segundamirada", "segundapersona", "segundaopinion"},
	roleWho:        {"observer", "observador", "observadora", "lookedby", "checkedby", "revisadopor", "initials", "iniciales", "quienreviso"},
	roleLook:       {"look", "lookno", "revision", "visit", "visitno", "visitnumber", "check", "checkno", "checknumber", "looknumber", "visita", "revisionnum"},
	roleSteps:      {"steps", "pasos", "paces"},
	roleBearing:    {"bearing", "rumbo", "direction", "direccion", "compass", "azimuth"},
	roleSpot:       {"spot", "place", "location", "lugar", "punto", "gps", "landmark", "sena", "ubicacion"},
	roleTrace:      {"trace", "tracks", "trackscathair", "tracksscathair", "huellas", "huellasexcrementopelo", "rastro"},
	roleGuess:      {"guess", "yourguess", "sucorazonada", "corazonada", "predator", "depredador", "culprit", "suspect", "predatorguess", "suspectedpredator", "eatenby", "takenby"},
	roleEggsLeft:   {"eggsleft", "huevosquequedan", "huevosquedan", "eggsremaining", "eggsfound", "eggspresent", "quedan"},
	roleLostHow:    {"losthow", "comoseperdio", "cause", "causa", "causeofloss", "causadeperdida"},
	roleCamera:     {"camera", "camara", "cam", "camerapredator", "trailcamera", "trailcam", "predatoroncamera", "camaratrampa", "camerahere", "camaraaqui"},
	roleNotes:      {"notes", "note", "nota", "notas", "comments", "comment", "comentarios", "comentario", "observaciones", "remarks"},
	roleLength:     {"length", "largo", "beltlength", "beltlong", "striplength", "longitud", "len", "beltlen"},
	roleLengthUnit: {"lengthunit", "unidaddelargo", "unidadlargo", "lengthunits", "unitoflength"},
	roleWidth:      {"width", "ancho", "beltwidth", "beltwide", "stripwidth", "anchura"},
	roleWidthUnit:  {"widthunit", "unidaddeancho", "unidadancho", "widthunits", "unitofwidth"},
	roleUnit:       {"units", "unidades", "measuredin"},
	roleStepLength: {"steplength", "stepft", "steplengthft", "paceft", "pace", "pacelength", "feetperpace", "feetperstep", "ftperstep", "piesporpaso", "largodelpaso", "pasopies"},
	roleClumps:     {"clumps", "count", "goodclumps", "macollosbuenos", "macollos", "conteo", "clumpcount", "total"},
	roleBelt:       {"belt", "strip", "franja", "beltno", "beltid", "beltnumber", "quadrat"},
	roleOwner:      {"owner", "dueno", "duena", "propietario", "propietaria", "landowner", "entity", "company"},
	roleRegion:     {"region", "regionname", "comarca", "zona", "zone", "district"},
	roleType:       {"sitetype", "tipo", "type", "tipodeterreno", "kindofground", "sitekind", "ecologicalsite", "sitioecologico", "tipodesitio"},
	roleArea:       {"area", "superficie", "size", "acreage"},
	roleAreaUnit:   {"areaunit", "unidaddearea", "unidaddesuperficie", "areaunits"},
}

// featureWords lists other spellings of the columns of survey.Features.
var featureWords = map[string]string{
	"pedazos": "bits", "shellpieces": "bits", "piecesize": "bits",
	"bitsfar": "bits_far_ft", "howfar": "bits_far_ft", "aquedistancia": "bits_far_ft", "distanciaft": "bits_far_ft",
	"montoncitos": "heaps", "heap": "heaps",
	"abiertopor": "opened_at", "opened": "opened_at",
	"biteruns": "bite_way", "sentidodelamordida": "bite_way", "bite": "bite_way",
	"agujeros": "holes", "yolkleft": "inside", "yema": "inside",
	"suelo": "ground", "nestbowl": "bowl", "camadelnido": "bowl", "cama": "bowl",
}

// A column is one column of a table, once its heading is understood.
type column struct {
	role    role
	heading string // as the sheet spells it
	number  int    // of a visit in a pair, from 1; of a week in a dated column
	feature int    // index into survey.Features
	count   survey.Substrate
	unit    string // unit named in the heading: length_ft
	date    string // the heading of a dated column
}

// vocabulary is headingWords turned round, with survey.Features.
type vocabulary map[string]column

func newVocabulary() vocabulary {
	v := vocabulary{}
	for r, words := range headingWords {
		for _, w := range words {
			v[w] = column{role: r}
		}
	}
	for i, f := range survey.Features {
		v[fold(f.Name)] = column{role: roleFeature, feature: i}
		for w, name := range featureWords {
			if name == f.Name {
				v[w] = column{role: roleFeature, feature: i}
			}
		}
	}
	for _, unit := range []string{"ft", "yd", "m", "in", "feet", "yards", "meters", "metres", "inches", "steps", "pasos", "pies", "metros"} {
		for _, r := range []role{roleLength, roleWidth} {
			for _, w := range headingWords[r] {
				v[w+unit] = column{role: r, unit: unit}
			}
		}
	}
	for _, w := range []string{"acres", "areaacres", "sizeacres"} {
		v[w] = column{role: roleArea, unit: "acre"}
	}
	for _, w := range []string{"ha", "hectares", "hectareas", "areaha", "areahectares"} {
		v[w] = column{role: roleArea, unit: "ha"}
	}
	return v
}

// fold brings a heading or a word to the form in which it is compared: lower case, without accents, spaces or marks.
func fold(s string) string {
	var b strings.Builder
	for _, c := range s {
		c = plain(unicode.ToLower(c))
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			b.WriteRune(c)
		}
	}
	return b.String()
}

// plain takes the accent off a small letter of Spanish and its neighbours.
func plain(c rune) rune {
	if c < 0x80 {
		return c
	}
	const with, without = "áàâäãåéèêëíìîïóòôöõúùûüñç", "aaaaaaeeeeiiiiooooouuuunc"
	i := 0
	for _, w := range with {
		if w == c {
			return rune(without[i])
		}
		i++
	}
	return c
}

// words brings a text to lower case words without accents, one space between, marks other than . / ? kept out.
func words(s string) string {
	var b strings.Builder
	space := false
	for _, c := range s {
		c = plain(unicode.ToLower(c))
		if unicode.IsSpace(c) || c == '_' || c == '-' || c == '–' || c == ',' || c == ';' || c == '!' || c == '(' || c == ')' || c == '"' || c == ':' || c == '.' {
			space = b.Len() > 0
			continue
		}
		if space {
			b.WriteByte(' ')
			space = false
		}
		b.WriteRune(c)
	}
	return b.String()
}

// heading says what a column under this heading holds; role roleNone where nobody knows.
func (v vocabulary) heading(text string) column {
	text = tidy(text)
	key := fold(text)
	c, ok := v[key]
	if !ok {
		c = v.composed(text, key)
	}
	c.heading = text
	return c
}

func (v vocabulary) composed(text, key string) column {
	if key == "" {
		return column{}
	}
	if c, ok := pairHeading(key); ok {
		return c
	}
	if rest, ok := cutAny(key, "countof", "count", "conteode", "conteo", "clumpsof", "clumps", "numberof", "macollosde"); ok && rest != "" {
		return column{role: roleCount, count: countSubstrate(text, rest)}
	}
	if strings.ContainsAny(text, "0123456789") {
		if date := dateWithin(text); date != "" {
			return column{role: roleDated, date: date}
		}
	}
	return column{}
}

// dateWithin finds the date in a heading that is one, or that says no more than which check it was: "Check 1 (5/12)".
func dateWithin(text string) string {
	if isDateHeading(text) {
		return text
	}
	date := ""
	for _, t := range strings.FieldsFunc(text, func(c rune) bool { return unicode.IsSpace(c) || c == '(' || c == ')' || c == ':' || c == ',' }) {
		switch _, number := atoi(t); {
		case strings.ContainsAny(t, "/-") && isDateHeading(t):
			if date != "" {
				return ""
			}
			date = t
		case number && len(t) <= 2, oneOf(fold(t), "", "check", "look", "visit", "week", "date", "on", "revision", "visita", "semana", "1st", "2nd", "first", "second"):
		default:
			return ""
		}
	}
	return date
}

// countSubstrate names the substrate of a count column from its heading: the known one, else the sheet's own words.
func countSubstrate(text, rest string) survey.Substrate {
	if s, ok := substrateOf(rest); ok {
		return s
	}
	lower := strings.ToLower(text)
	for _, p := range []string{"count of", "count", "conteo de", "conteo", "clumps of", "clumps", "number of", "macollos de"} {
		if i := strings.Index(lower, p); i == 0 && len(lower) == len(text) {
			own := strings.Join(strings.FieldsFunc(text[len(p):], func(c rune) bool { return c == '_' || c == '-' || c == ':' || unicode.IsSpace(c) }), " ")
			return survey.Substrate(own)
		}
	}
	return survey.Substrate(rest)
}

// pairHeading understands check1_on, Check 1 – date, date 2, week 4, 2nd check, revisión 1 and their like.
func pairHeading(key string) (column, bool) {
	for i, ordinal := range [][]string{{"first", "1st", "primera", "primer", "1a", "1ra"}, {"second", "2nd", "segunda", "segundo", "2a", "2da"}, {"third", "3rd", "tercera", "tercer", "3a", "3ra"}, {"fourth", "4th", "cuarta", "cuarto", "4a", "4ta"}} {
		if rest, ok := cutAny(key, ordinal...); ok {
			for _, stem := range []string{"check", "look", "visit", "revision", "visita"} {
				if tail, ok := strings.CutPrefix(rest, stem); ok {
					key = stem + strconv.Itoa(i+1) + tail
				}
			}
		}
	}
	at := strings.IndexAny(key, "0123456789")
	if at <= 0 {
		return column{}, false
	}
	end := at
	for end < len(key) && key[end] >= '0' && key[end] <= '9' {
		end++
	}
	stem, tail := key[:at], key[end:]
	n, err := strconv.Atoi(key[at:end])
	if err != nil || n < 1 || n > 400 {
		return column{}, false
	}
	return pairColumn(stem, tail, n)
}

func pairColumn(stem, tail string, n int) (column, bool) {
	date := tail
	isDate := oneOf(date, "on", "date", "day", "fecha", "el", "dia", "checkedon", "lookedon")
	isState := oneOf(date, "", "state", "status", "result", "found", "fate", "estado", "resultado", "condition", "outcome", "encontro")
	isEggs := oneOf(date, "eggs", "eggsleft", "huevos", "egg")
	switch stem {
	case "check", "look", "visit", "revision", "visita", "chk", "revisado", "chequeo":
		if stem == "revisado" && date == "" {
			isDate, isState = true, false
		}
	case "checkdate", "date", "fecha", "visitdate", "lookdate", "dateofcheck", "dateofvisit", "checkedon", "lookedon", "revisadoel", "datecheck":
		isDate, isState, isEggs = date == "", false, false
	case "state", "found", "fate", "status", "result", "estado", "resultado", "checkstate", "checkresult", "outcome":
		isDate, isState, isEggs = false, date == "", false
	case "eggs", "eggsleft", "checkeggs", "huevos":
		isDate, isState, isEggs = false, false, date == ""
	case "week", "wk", "semana", "day", "dia":
		if stem != "day" && stem != "dia" {
			n *= 7
		}
		switch {
		case isState:
			return column{role: roleDated, number: n}, true
		case isDate:
			return column{role: rolePairOn, number: -n}, true
		}
		return column{}, false
	default:
		return column{}, false
	}
	if n > 99 {
		return column{}, false
	}
	switch {
	case isDate:
		return column{role: rolePairOn, number: n}, true
	case isState:
		return column{role: rolePairState, number: n}, true
	case isEggs:
		return column{role: rolePairEggs, number: n}, true
	}
	return column{}, false
}

func cutAny(s string, prefixes ...string) (string, bool) {
	for _, p := range prefixes {
		if rest, ok := strings.CutPrefix(s, p); ok {
			return rest, true
		}
	}
	return s, false
}

func oneOf(s string, list ...string) bool {
	for _, l := range list {
		if s == l {
			return true
		}
	}
	return false
}
