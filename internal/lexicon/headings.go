package lexicon

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"tussock/internal/survey"
)

// A Role is what a column holds.
type Role uint8

// The roles of columns. Check, CheckOn, Found and EggsLeft belong to a visit, whose number the heading may tell.
const (
	NoRole Role = iota
	Ranch
	Site
	Season
	Line
	Nest
	Substrate
	Plant
	SetOn
	EggsSet
	Check      // of a visit; the contents tell whether the day or what was found
	CheckOn    // the day of a check
	Found      // what was found
	EggsLeft   // how many eggs were left
	DaysOut    // the day of a check, counted from setting
	Event      // which visit a row tells of, by number or name
	SecondLook // what a second person found
	Who        // who looked
	Steps
	Bearing
	Spot
	Feature // one of survey.Features
	Trace
	Guess
	LostHow
	Camera
	CameraOn // the day on which a camera recorded the loss
	Notes
	Length
	LengthUnit
	Width
	WidthUnit
	Unit // one unit for length and width
	StepLength
	Count  // clumps of one cover
	Clumps // clumps, of the cover that another column names
	Belt
	BeltArea
	Owner
	Region
	SiteType
	Area
	AreaUnit
	RowNumber // a number for the row itself
	Passed    // something this program does not keep: weather, coordinates, a time stamp
	roles
)

// Roles is how many roles there are.
const Roles = int(roles)

var roleNames = [roles]string{
	NoRole: "", Ranch: "ranch", Site: "site", Season: "season", Line: "transect", Nest: "nest", Substrate: "substrate", Plant: "plant", SetOn: "set_on",
	EggsSet: "eggs_set", Check: "check", CheckOn: "checked_on", Found: "state", EggsLeft: "eggs_left", DaysOut: "days_out", Event: "look",
	SecondLook: "second_look", Who: "observer", Steps: "steps", Bearing: "bearing", Spot: "spot", Feature: "remains", Trace: "trace", Guess: "guess",
	LostHow: "lost_how", Camera: "camera", CameraOn: "camera_on", Notes: "notes", Length: "length", LengthUnit: "length_unit", Width: "width", WidthUnit: "width_unit",
	Unit: "unit", StepLength: "step_length", Count: "count", Clumps: "clumps", Belt: "belt", BeltArea: "belt_area", Owner: "owner", Region: "region",
	SiteType: "site_type", Area: "area", AreaUnit: "area_unit",
}

// Name is the role as the columns of our own sheets are headed; "" for a column that is not used.
func (r Role) Name() string { return roleNames[r] }

// headingWords lists how each column may be headed, folded. English and Spanish stand side by side.
var headingWords = map[Role][]string{
	Ranch:      {"ranch", "rancho", "ranchname", "ranchcode", "ranchid", "nombredelrancho", "property", "propiedad", "farm", "finca", "predio", "outfit", "place", "cooperator", "cooperador", "producer", "productor", "operator", "permittee"},
	Site:       {"site", "sitio", "pasture", "potrero", "unit", "unidad", "paddock", "sitename", "pasturename", "managementunit", "nombredelpotrero", "sitecode", "field", "allotment", "past", "pot", "camp", "section"},
	Season:     {"season", "temporada", "year", "ano", "fieldseason", "surveyyear", "seasonyear", "yr"},
	Line:       {"transect", "transecto", "line", "linea", "linia", "lin", "ln", "transectno", "transectnum", "transectnumber", "transectid", "transectname", "lineno", "linenum", "linenumber", "lineid", "linename", "trans", "tr", "trn", "tran", "numerodelinea", "lineanum", "walk", "route", "raya", "nestline", "egglines", "lines", "transects", "lineas", "trx", "tx", "tsect", "trnsct", "lineletter", "linenr", "whichline", "quelinea"},
	Nest:       {"nest", "nido", "stop", "neststop", "nestno", "nestnum", "nestnumber", "nestid", "neststopno", "nidonum", "numnido", "numerodenido", "nidono", "parada", "stopno", "stopnumber", "nst", "st", "nests", "nidos", "nestname", "flag", "flagno", "estacion", "station", "point", "punto", "lineanido", "linenest", "transectnest", "egg", "eggsite", "clutch", "nid", "nstid", "nestcode", "nestlabel", "nestnr", "stn", "stnno", "flagnum", "flagnumber", "numeronido", "nnido", "neststation"},
	Substrate:  {"substrate", "sustrato", "cover", "cobertura", "nestcover", "coberturadelnido", "covertype", "vegetation", "vegetacion", "nestsubstrate", "tipodecobertura", "substratetype", "placedin", "setin", "veg", "cov", "sub", "subst", "in", "where", "mata", "en", "donde", "hiddenin", "clumptype", "kind", "habitat", "nestin", "nestedin", "vegtype", "tipodemata", "clump", "plantcode", "spcode", "sppcode", "vegcode", "covcode", "covercode", "cubierta", "nestplant", "tipodeplanta", "under", "underwhat", "inwhat", "enque", "bajo", "coverkind", "kindofcover", "kindofclump", "clumpkind", "bowlin", "nestsin", "sitsin", "sitin", "whattheysitin", "whatitsitsin", "whatitisin", "putin", "eggsin", "clumpof", "typeofclump", "clumptypes", "whatkind", "kindofplant", "hidingplace"},
	Plant:      {"plant", "planta", "species", "especie", "coverplant", "plantspecies", "plantname", "sp", "spp"},
	SetOn:      {"seton", "puestoel", "set", "setdate", "dateset", "setout", "setouton", "setoutdate", "putouton", "putout", "placed", "placedon", "dateplaced", "deployed", "deployedon", "datedeployed", "puesto", "puesta", "fechapuesta", "fechadecolocacion", "fechadepuesta", "colocado", "colocadoel", "startdate", "dateout", "out", "put", "outdate", "daysetout", "dayset", "sethere", "setday", "sepuso", "puse", "fechapuesto", "start", "begin", "dateputout", "nestset", "laid"},
	EggsSet:    {"eggsset", "eggsput", "eggsputout", "huevospuestos", "eggsout"},
	CheckOn:    {"checkedon", "lookedon", "checkdate", "datechecked", "date", "fecha", "revisadoel", "visitdate", "visitedon", "datevisited", "lookdate", "dateofcheck", "dateofvisit", "fechaderevision", "fechaderevisado", "fecharevisado", "on", "when", "cuando", "checked", "looked", "visited", "dt", "datelooked", "dia", "finalcheckdate", "obsdate", "date checked", "lookedat", "revisado", "revise", "doy", "julian", "dayofyear", "julianday", "jday", "yday", "diadelano", "diajuliano", "diames", "mesdia", "daymonth", "monthday", "mmdd", "ddmm"},
	Found:      {"state", "estado", "found", "encontro", "queencontro", "whatyoufound", "status", "condition", "condicion", "fate", "result", "resultado", "outcome", "neststate", "nestfate", "hallado", "destino", "how", "howwasit", "saw", "whatwesaw", "whatisaw", "whatifound", "whatwefound", "cond", "res", "comoestaba", "comoestaban", "como", "quehabia", "quehalle", "finding", "findings", "nestcondition", "stat", "good", "code", "cod", "codigo", "howwereeggs", "howwerethey", "nestresult", "finalstate", "finalfate", "sehallo", "oberved", "observed", "whathappened", "whatwasfound", "whatfound"},
	EggsLeft:   {"eggsleft", "huevosquequedan", "huevosquedan", "eggsremaining", "eggspresent", "eggsseen", "eggsfound", "eggscounted", "huevosvistos", "quedan", "left", "huevos", "eggs", "eggcount", "eggsthere", "nohuevos", "noeggs", "neggs"},
	DaysOut:    {"daysout", "days", "dias", "daysafter", "daysaftersetting", "daysafterset", "dayssinceset", "diasdespues", "age", "nestage", "exposuredays", "daysin", "daysset"},
	Event:      {"look", "lookno", "revision", "visit", "visitno", "visitnumber", "check", "checkno", "checknumber", "looknumber", "visita", "revisionnum", "event", "evento", "action", "what", "whatwedid", "whatidid", "trip", "round", "visittype", "activity", "did", "step", "vuelta", "job", "kindofvisit", "formtype", "recordtype", "type of visit", "stage", "quehicimos", "accion"},
	SecondLook: {"secondlook", "secondstate", "secondperson", "segundamirada", "segundapersona", "segundaopinion"},
	Who:        {"observer", "observador", "observadora", "lookedby", "checkedby", "revisadopor", "initials", "iniciales", "quienreviso", "obs", "init", "crew", "who", "whowalked", "walker", "walkedby", "by", "quien", "reviso", "name", "nombre", "person", "surveyor", "tech", "team", "whochecked", "wholooked", "recordedby", "collector"},
	Steps:      {"steps", "pasos", "paces"},
	Bearing:    {"bearing", "rumbo", "direction", "direccion", "compass", "azimuth", "brg", "deg", "degrees"},
	Spot:       {"spot", "location", "lugar", "gps", "landmark", "sena", "ubicacion", "flagnotes", "wherefrom", "marker", "flagcolor", "bandera", "flagnote", "tofind", "howtofind"},
	Trace:      {"trace", "tracks", "trackscathair", "tracksscathair", "huellas", "huellasexcrementopelo", "rastro", "remains", "sign", "signs", "evidence", "restos", "senas", "whatwasleft", "leftbehind", "clues", "leavings", "signseen"},
	Guess:      {"guess", "yourguess", "sucorazonada", "corazonada", "predator", "depredador", "culprit", "suspect", "predatorguess", "suspectedpredator", "eatenby", "takenby", "whodowethink", "whodoneit", "whodunit", "animal", "whotookit", "bestguess", "ourguess", "myguess", "creo", "quienfue", "critter", "varmint", "suspects", "pred", "likelypredator", "quienselocomio", "possiblepredator", "whatdidit", "whodidit", "whatgotit", "whogotit", "whatateit", "whoateit", "whattookit", "takenbywhat", "quefue", "quelocomio", "animalseen", "whowhat", "whoorwhat", "whowhatdidit", "whoorwhatdidit", "whatwhodidit", "whowhattookit", "whowhatgotit", "quienlohizo", "quienoque"},
	LostHow:    {"killedby", "lostto", "lostby", "destroyedby", "damagedby", "gotby", "whatkilledit", "mortality", "mortalitycause", "failcause", "failurecause", "causeoffailure", "reasonfailed", "reasonlost", "losscause", "lossreason", "losthow", "comoseperdio", "cause", "causa", "causeofloss", "causadeperdida", "howlost", "why", "reason", "porque"},
	Camera:     {"camera", "camara", "cam", "camerapredator", "trailcamera", "trailcam", "predatoroncamera", "camaratrampa", "camerahere", "camaraaqui"},
	CameraOn:   {"cameraon", "lossoncamera", "lostoncamera", "takenoncamera", "goneoncamera", "perdidaencamara", "perdidoencamara", "comidoencamara"},
	Notes:      {"notes", "note", "nota", "notas", "comments", "comment", "comentarios", "comentario", "observaciones", "observacion", "observations", "observation", "remarks", "remark", "cm", "cmt", "memo", "other", "misc", "miscellaneous", "anotaciones", "apuntes", "whatisaid", "obsnotes", "details", "description", "rmk", "rmks", "remks", "comm", "coment", "coments", "fieldnotes", "anything else", "anythingelse"},
	Length:     {"length", "largo", "beltlength", "beltlong", "striplength", "longitud", "len", "beltlen", "howlong", "long", "distance", "dist", "distancia", "howfar", "stepswalked", "numpasos"},
	LengthUnit: {"lengthunit", "unidaddelargo", "unidadlargo", "lengthunits", "unitoflength"},
	Width:      {"width", "ancho", "beltwidth", "beltwide", "stripwidth", "anchura", "wide", "wid", "howwide"},
	WidthUnit:  {"widthunit", "unidaddeancho", "unidadancho", "widthunits", "unitofwidth"},
	Unit:       {"units", "unidades", "measuredin"},
	StepLength: {"steplength", "stepft", "steplengthft", "paceft", "pace", "pacelength", "feetperpace", "feetperstep", "ftperstep", "piesporpaso", "largodelpaso", "pasopies", "stepin", "stepinches", "ftstep", "ftpace"},
	Clumps:     {"clumps", "goodclumps", "macollosbuenos", "macollos", "conteo", "clumpcount", "bunches", "matas", "nclumps", "numberofclumps", "count", "counted", "cuantas"},
	Belt:       {"belt", "strip", "franja", "beltno", "beltid", "beltnumber", "quadrat", "faja", "stripno"},
	BeltArea:   {"beltarea", "striparea"},
	Owner:      {"owner", "dueno", "duena", "propietario", "propietaria", "landowner", "entity", "company"},
	Region:     {"region", "regionname", "comarca", "zona", "zone", "district"},
	SiteType:   {"sitetype", "tipo", "tipodeterreno", "kindofground", "sitekind", "ecologicalsite", "sitioecologico", "tipodesitio", "siteclass"},
	Area:       {"area", "superficie", "size", "acreage"},
	AreaUnit:   {"areaunit", "unidaddearea", "unidaddesuperficie", "areaunits"},
	RowNumber:  {"id", "rowid", "row", "record", "recno", "recordid", "submission", "submissionid", "objectid", "fid", "oid", "uuid", "globalid", "index", "instanceid", "registro", "folio", "entry", "formid"},
	Passed:     {"lat", "latitude", "latitud", "lon", "long", "lng", "longitude", "accuracy", "accuracym", "elev", "elevation", "altitude", "easting", "northing", "utm", "weather", "clima", "wind", "viento", "temp", "temperature", "temperatura", "sky", "time", "hora", "timestamp", "started", "finished", "start_time", "end_time", "deviceid", "device", "phone", "formrev", "photo", "photos", "foto", "picture", "symbol", "rain", "lluvia", "humidity", "eggs put", "shell", "eggcolor", "lot", "egglot", "ended", "end", "endtime", "starttime", "startedat", "endedat", "created", "createdat", "modified", "updated", "submittedat", "battery", "appversion", "version"},
}

// featureWords lists other spellings of the columns of survey.Features.
var featureWords = map[string]string{
	"pedazos": "bits", "shellpieces": "bits", "shlpcs": "bits", "piecesize": "bits",
	"bitsfar": "bits_far_ft", "aquedistancia": "bits_far_ft", "distanciaft": "bits_far_ft",
	"montoncitos": "heaps", "heap": "heaps",
	"abiertopor": "opened_at", "opened": "opened_at", "opn": "opened_at", "opnd": "opened_at",
	"biteruns": "bite_way", "sentidodelamordida": "bite_way", "bite": "bite_way",
	"agujeros": "holes", "yolkleft": "inside", "yema": "inside",
	"suelo": "ground", "nestbowl": "bowl", "camadelnido": "bowl", "cama": "bowl",
}

// A Heading is what a column's heading says about what stands below it.
type Heading struct {
	Text    string
	Role    Role
	Sure    float64 // 0 to 1: how firmly the heading alone says so
	Also    []Role  // other roles that words of a long heading name; what stands below decides
	Visit   int     // the number of the visit, from 1; 0 where not said, Last for the last one
	After   int     // the visit's day after setting, from "week 2"; 0 where not said
	Date    Date    // a day named in the heading
	Set     bool    // the day named is that of setting
	OfEggs  bool    // it speaks of eggs
	Asks    Mark    // what a yes below means: Intact ("eggs there?"), Taken ("hit?"); NotFound where no means that ("relocated?"); Unknown where it asks nothing
	Feature int     // the index in survey.Features
	Cover   survey.Substrate
	Unit    string  // of a length, a width or an area
	Step    float64 // feet a step, from "paces (2.5 ft)"
}

// Last is the number of a visit called the last or final one.
const Last = -1

var (
	dayWords    = set("date day dates when fecha dia cuando on")
	settingWord = set("set setout puso pusieron out put placed deployed puesto puesta puse pusimos colocado colocada colocacion planted start")
	checkWord   = set("check checks checked chk ck look looks looked visit visits visited trip round revision revisiones revise revisado reviso rev visita visitas vuelta chequeo inspection survey ronda go mirada recorrido")
	stateWord   = set("state found fate status result condition outcome how saw code estado encontro resultado condicion hallado como good survival cond what finding egg eggs huevos left quedan remaining res cod happened relocated refound reencontrado")
	goodWord    = set("intact ok good there here alive survived survive whole present left still safe fine bien completo completos intacto vivo lasted active")
	badWord     = set("gone hit lost taken eaten destroyed damaged depredated predated dead failed robbed missing comido perdido danado depredado damage loss")
	foundWord   = set("relocated refound reencontrado")
	eggWord     = set("egg eggs huevo huevos")
	ordinals    = map[string]int{"first": 1, "1st": 1, "primera": 1, "primer": 1, "primero": 1, "one": 1, "uno": 1, "second": 2, "segunda": 2, "segundo": 2, "two": 2, "third": 3, "tercera": 3, "tercer": 3, "three": 3, "fourth": 4, "cuarta": 4, "cuarto": 4, "four": 4, "last": Last, "final": Last, "ultima": Last, "ultimo": Last, "end": Last}
)

// Heading says what a column under this heading holds; Role is NoRole where the heading alone does not tell.
func (l *Lexicon) Heading(text string) Heading {
	h := Heading{Text: Tidy(text), Feature: -1}
	if h.Text == "" {
		return h
	}
	key := Fold(h.Text)
	h.OfEggs = slices.ContainsFunc(Tokens(h.Text), func(t string) bool { return eggWord[t] })
	if IsNumberSign(h.Text) {
		h.Role, h.Sure = Nest, 0.6
		return h
	}
	if i, ok := featureNamed(key); ok {
		h.Role, h.Sure, h.Feature = Feature, 1, i
		return h
	}
	if r, ok := l.headings[key]; ok {
		h.Role, h.Sure = r, 1
		if oneOf(key, "on", "in", "out", "where", "en", "by", "left", "how", "kind", "place", "st", "x", "y", "long", "good", "row", "type", "name", "put", "when", "code", "eggs", "huevos", "count", "what", "point", "section", "field", "days", "check", "look", "visit", "step", "clump", "egg", "obs", "other", "start", "age", "other") {
			h.Sure = 0.6
		}
		if r == Found {
			h.asks(Tokens(h.Text))
		}
		if r == SecondLook && (strings.HasPrefix(key, "secondlook") || strings.HasPrefix(key, "segundamirada")) {
			h.Visit = 2
		}
		return h
	}
	l.composed(&h, key)
	return h
}

// IsNumberSign tells whether a heading is nothing but a sign for a number: #, No., Nº.
func IsNumberSign(text string) bool {
	return oneOf(strings.ToLower(text), "#", "no.", "nº", "n°", "nr.", "num.", "núm.", "no.:", "# :")
}

func featureNamed(key string) (int, bool) {
	for i, f := range survey.Features {
		if Fold(f.Name) == key || featureWords[key] == f.Name {
			return i, true
		}
	}
	return 0, false
}

// humps is where the next word of a heading without spaces begins.
var humps = regexp.MustCompile(`(\p{Ll})(\p{Lu})`)

// saidBehind is a heading with more said in brackets.
var saidBehind = regexp.MustCompile(`^(.+?)\s*\(.*\pL.*\)$`)

// composed reads a heading of several words, or one that carries a number, a day or a unit.
func (l *Lexicon) composed(h *Heading, key string) {
	if m := sizesBehind.FindStringIndex(h.Text); m != nil { // Clumps (300 ft x 12 ft)
		if r := l.headings[Fold(h.Text[:m[0]])]; r == Clumps || r == Belt {
			h.Role, h.Sure = r, 0.9
			return
		}
	}
	if l.namesCovers(h.Text) { // Grass/Yucca
		h.Role, h.Sure = Substrate, 0.8
		return
	}
	tokens := Tokens(h.Text)
	if l.countHeading(h, tokens) {
		return
	}
	if m := saidBehind.FindStringSubmatch(h.Text); m != nil && l.headings[Fold(m[1])] == Clumps { // Clumps (grass and yucca together)
		h.Role, h.Sure = Clumps, 0.9
		return
	}
	if d := FindDates(h.Text); len(d) == 1 {
		h.Date = d[0].Date
	} else if d := ReadDate(h.Text, false); d.Form == TextDate || d.Form == SlashDate || d.Form == FullDate {
		h.Date = d
	}
	words := tokens
	if h.Date.Form != NoDate {
		words = withoutDates(h.Text)
	}
	if h.cameraHeading(tokens) {
		return
	}
	l.visitHeading(h, words)
	if h.Role != NoRole {
		return
	}
	if h.Date.Form != NoDate {
		h.Role, h.Sure = Check, 0.9
		return
	}
	if perArea.MatchString(h.Text) { // worked out from the others
		h.Role, h.Sure = Passed, 0.9
		return
	}
	if l.measureHeading(h, tokens) {
		return
	}
	if apart := humps.ReplaceAllString(h.Text, "$1 $2"); apart != h.Text { // BeltLenFt
		if joined := *h; l.measureHeading(&joined, Tokens(apart)) && joined.Unit != "" {
			*h = joined
			return
		}
	}
	l.loose(h, key, tokens)
}

var perArea = regexp.MustCompile(`(?i)(?:\bper\s+|\bpor\s+|/\s*|\ban\s+)(?:ac|acre|ha|hectare|hect[aá]rea)\b`)

var eitherCover = regexp.MustCompile(`(?i)\s*(?:/|,|\bor\b|\bo\b)\s*`)

// namesCovers tells whether a heading is nothing but two covers or more: what stands below is one of them.
func (l *Lexicon) namesCovers(text string) bool {
	parts := eitherCover.Split(text, -1)
	seen := map[survey.Substrate]bool{}
	for _, p := range parts {
		c, ok := l.Cover(strings.Trim(p, " ?"))
		if !ok || c.How == Misspelt || seen[c.Substrate] {
			return false
		}
		seen[c.Substrate] = true
	}
	return len(parts) >= 2
}

// sizesBehind are the sizes of a belt behind the word for what was counted on it.
var sizesBehind = regexp.MustCompile(`(?i)[\s,(]+(?:in |on |en )?(?:a |an |un |una )?\d[\d.,]*\s*(?:(?:ft|feet|foot|m|meters|metros|pies|yds?|yards|steps|paces|pasos|by|por)\b|'|[x×]\s*\d).*$`)

// cameraHeading understands the day of a camera: camera date, date taken (camera), día en la cámara. That on which it was put up or taken in is not kept.
func (h *Heading) cameraHeading(tokens []string) bool {
	camera, day, moved := false, false, false
	for _, t := range tokens {
		camera = camera || oneOf(t, "camera", "cameras", "camara", "camaras", "cam", "trailcam", "trailcamera")
		day = day || dayWords[t] && t != "on"
		moved = moved || settingWord[t] || oneOf(t, "in", "up", "down", "back", "pulled", "removed", "installed", "retrieved", "battery", "end", "quito", "retiro")
	}
	switch {
	case !camera || !day:
		return false
	case moved:
		h.Role, h.Sure = Passed, 0.9
	default:
		h.Role, h.Sure = CameraOn, 0.9
	}
	return true
}

func withoutDates(text string) []string {
	found := FindDates(text)
	if len(found) == 0 {
		return nil
	}
	var b strings.Builder
	at := 0
	for _, f := range found {
		b.WriteString(text[at:f.From])
		b.WriteByte(' ')
		at = f.To
	}
	b.WriteString(text[at:])
	return Tokens(b.String())
}

// asks finds the yes-or-no question that a heading puts.
func (h *Heading) asks(tokens []string) {
	good, bad, no := false, false, false
	for _, t := range tokens {
		if foundWord[t] { // no is "not found"; yes leaves open what was found
			h.Asks = NotFound
			return
		}
		good = good || goodWord[t]
		bad = bad || badWord[t]
		no = no || oneOf(t, "no", "not", "sin")
	}
	switch {
	case good && !bad && !no:
		h.Asks = Intact
	case bad && !good && !no:
		h.Asks = Taken
	}
}

// Short headings of crews: V1, V1ST, CHK2_DT, D1, FATE2.
var (
	shortVisit = regexp.MustCompile(`^(v|vis|visit|visita|chk|ck|check|look|lk|rev|c|l|trip)([1-4])([a-z]*)$`)
	plannedDay = regexp.MustCompile(`^d(1[345]|2[789])$`) // about day 14 and 28
	shortWhat  = regexp.MustCompile(`^([a-z]+)([1-4])$`)
)

var shortRoles = map[string]Role{
	"st": Found, "stat": Found, "status": Found, "state": Found, "fate": Found, "res": Found, "result": Found, "cond": Found, "obs": Found, "r": Found, "f": Found, "found": Found, "code": Found, "cd": Found, "estado": Found, "outcome": Found,
	"d": CheckOn, "dt": CheckOn, "date": CheckOn, "day": CheckOn, "fecha": CheckOn, "on": CheckOn,
	"eggs": EggsLeft, "egg": EggsLeft, "e": EggsLeft, "n": EggsLeft, "cnt": EggsLeft, "count": EggsLeft, "huevos": EggsLeft, "left": EggsLeft,
	"by": Who, "init": Who, "obsr": Who, "who": Who, "notes": Notes, "note": Notes, "rmk": Notes, "rmks": Notes, "cmt": Notes,
}

// short understands the headings of crews that number their visits.
func (h *Heading) short() bool {
	key := Fold(h.Text)
	if m := shortVisit.FindStringSubmatch(key); m != nil {
		role, ok := shortRoles[m[3]]
		if m[3] == "" {
			role, ok = Check, true
		}
		if ok {
			h.Role, h.Visit, h.Sure = role, int(m[2][0]-'0'), 0.9
			if len(m[1]) == 1 && m[1] != "v" {
				h.Sure = 0.6
			}
			return true
		}
	}
	if m := plannedDay.FindStringSubmatch(key); m != nil {
		h.After, _ = Atoi(m[1])
		h.Role, h.Sure = Check, 0.6
		return true
	}
	if m := shortWhat.FindStringSubmatch(key); m != nil {
		if role, ok := shortRoles[m[1]]; ok && role != Who && role != Notes {
			h.Role, h.Visit, h.Sure = role, int(m[2][0]-'0'), 0.9
			if len(m[1]) == 1 {
				h.Sure = 0.6
			}
			return true
		}
	}
	return false
}

// visitHeading understands check1_on, Check 1 – date, date 2, week 4, 2nd check, revisión 1, put out, eggs there wk 2?
func (l *Lexicon) visitHeading(h *Heading, tokens []string) {
	if h.short() || len(tokens) == 0 {
		return
	}
	var day, setting, check, state, eggs, week, known int
	question := strings.Contains(h.Text, "?") || oneOf(tokens[0], "what", "how", "which", "when", "where", "who", "que", "cuantos", "cuantas", "cuando", "donde", "quien")
	quantity := slices.ContainsFunc(tokens, func(t string) bool { return oneOf(t, "many", "cuantos", "cuantas") })
	asksDay := len(tokens) > 2 && (oneOf(tokens[0], "when", "cuando") || oneOf(tokens[0], "what", "which", "que") && oneOf(tokens[1], "day", "date", "dia", "fecha"))
	number := 0
	total := 0
	counted := false // the number is that of a day since setting: "result day 14"
	for i, t := range tokens {
		if n, ok := Atoi(t); ok {
			counted = counted || n >= 7 && (i > 0 && dayWords[tokens[i-1]] || i+1 < len(tokens) && oneOf(tokens[i+1], "day", "days", "dia", "dias"))
			if question && i+1 < len(tokens) && eggWord[tokens[i+1]] { // all 3 eggs
				continue
			}
			if i+1 < len(tokens) && oneOf(tokens[i+1], "st", "nd", "rd") {
				known++
				total++
			}
			if i+1 < len(tokens) && oneOf(tokens[i+1], "st", "nd", "rd", "th", "a", "ra", "da", "o", "er") || len(tokens) > 1 {
				number = n
				continue
			}
			total++
			continue
		}
		if oneOf(t, "st", "nd", "rd", "th", "a", "ra", "da", "ta", "er", "o") && i > 0 && Digit(tokens[i-1][0]) || oneOf(t, "#", "(", ")", "-", ":", "?", ".", ",", "/", "the", "of", "at", "was", "de", "la", "el", "we", "i", "it", "del", "no", "num", "\n", "were", "for", "in", "y", "n", "yes", "si", "/", "los", "las", "later") || t == "a" && i > 0 || question && oneOf(t, "after", "all", "still", "are", "is", "you", "your", "they", "them", "which", "many", "an", "and", "or", "to", "with", "from", "una", "un", "los", "las", "esta", "estan", "estaban", "cuantos", "despues") {
			continue
		}
		if question && ordinals[t] != 0 && i+1 < len(tokens) && eggWord[tokens[i+1]] { // of the three eggs
			continue
		}
		total++
		if n, ok := ordinals[t]; ok {
			if number == 0 {
				number = n
			}
			known++
			continue
		}
		switch {
		case oneOf(t, "week", "wk", "weeks", "semana", "semanas", "sem", "w"):
			week = 7
			known++
		case oneOf(t, "days", "dias", "d") && i > 0 && len(tokens) <= 7 && number >= 7: // 14 days
			week = 1
			known++
		case checkWord[t]:
			check++
			known++
		case settingWord[t]:
			setting++
			known++
		case t == "on" && len(tokens) > 4: // which ranch are you on?
			total--
		case dayWords[t]:
			day++
			known++
		case eggWord[t]:
			eggs++
			known++
		case stateWord[t] || goodWord[t] || badWord[t]:
			state++
			known++
		}
	}
	if total > known+1 || known == 0 && h.Date.Form == NoDate {
		return
	}
	h.asks(tokens)
	switch {
	case quantity && setting > 0 && eggs > 0 && (state == 0 || state == 1 && slices.Contains(tokens, "how")) && check == 0 && week == 0 && number == 0: // put out May 6 - how many eggs?
		h.Role, h.Sure, h.Asks = EggsSet, 0.8, Unknown
		return
	case quantity && (state > 0 || eggs > 0): // how many were left?
		h.Asks = Unknown
		if h.Visit = 0; number != 0 && number <= 8 {
			h.Visit = number
		}
		h.Role, h.Sure = EggsLeft, 0.7
		if week > 0 && number > 0 && number*week < 400 {
			h.Visit, h.After = 0, number*week
		}
		return
	case asksDay && setting > 0:
		h.Set, h.Role, h.Sure, h.Asks = true, SetOn, 0.9, Unknown
		return
	case asksDay:
		day, state, eggs, h.Asks = day+1, 0, 0, Unknown
	}
	if day > 0 && week == 0 && number >= 7 && (check == 0 && state == 0 || counted) && setting == 0 { // day 14
		week, day = 1, day-1
	}
	if day > 0 && number == 0 && check == 0 && state == 0 && slices.Contains(tokens, "0") { // day 0
		h.Set = true
		h.Role, h.Sure = SetOn, 0.9
		return
	}
	if week == 0 && day == 0 && number >= 12 && number <= 31 && setting == 0 && (state > 0 || check > 0 || eggs > 0) && h.Date.Form == NoDate { // survived_14
		week = 1
	}
	if week > 0 && number > 0 && number*week < 400 {
		h.After = number * week
		number = 0
	}
	if number <= 8 {
		h.Visit = number
	}
	sure := 0.9
	if total > known {
		sure = 0.7
	}
	switch {
	case setting > 0 && check == 0 && h.After == 0 && (number == 0 || number == 1) && state == 0 && eggs == 0:
		h.Set, h.Visit = true, 0
		h.Role, h.Sure = SetOn, sure
	case setting > 0 && eggs > 0:
		h.Role, h.Sure = EggsSet, sure
	case day > 0 && state == 0 && eggs == 0 && (check > 0 || number != 0 || h.After > 0):
		h.Role, h.Sure = CheckOn, sure
	case day > 0 && check == 0 && state == 0 && eggs == 0 && setting == 0:
		h.Role, h.Sure = CheckOn, sure
	case eggs > 0 && h.Asks == Unknown && (number != 0 || h.After > 0 || check > 0):
		h.Role, h.Sure = EggsLeft, sure
	case eggs > 0 && h.Asks != Unknown:
		h.Role, h.Sure = Found, sure
	case state > 0 && (number != 0 || h.After > 0 || check > 0 || total == known):
		h.Role, h.Sure = Found, sure
	case (check > 0 || week > 0 || h.After > 0) && (number != 0 || h.After > 0 || h.Date.Form != NoDate):
		h.Role, h.Sure = Check, sure
	case check > 0:
		h.Role, h.Sure = Check, 0.5
	case number != 0 && total == known: // 1st, 2nd
		h.Role, h.Sure = Check, 0.4
	}
}

// countHeading understands headings of counts of clumps of one cover: count_yucca, Grass clumps, # of yucca, SUB1 is not.
func (l *Lexicon) countHeading(h *Heading, tokens []string) bool {
	text := strings.ToLower(h.Text)
	if percent.MatchString(text) { // a share of the ground, not a count
		return false
	}
	counts := false
	var rest []string
	for _, t := range tokens {
		if oneOf(t, "count", "counts", "clump", "clumps", "number", "conteo", "matas", "mata", "macollos", "num", "#", "total", "bunches", "good", "no", "of", "de", "n", "plants", "plantas", "counted", "per") {
			counts = counts || !oneOf(t, "of", "de", "good", "total", "no", "n", "per")
			if oneOf(t, "bunches") {
				rest = append(rest, t)
			}
			continue
		}
		rest = append(rest, t)
	}
	name := strings.Join(rest, " ")
	if c, ok := l.Cover(name); ok && name != "" && !(c.Weak && !counts) && c.How != Misspelt {
		h.Cover = c.Substrate
		h.Role, h.Sure = Count, 0.7
		if counts {
			h.Sure = 1
		}
		return true
	}
	if counts && name != "" && (strings.HasPrefix(text, "count") || strings.HasPrefix(text, "conteo")) {
		for _, p := range []string{"count of", "count", "conteo de", "conteo"} {
			if strings.HasPrefix(text, p) && len(text) == len(h.Text) {
				own := strings.Join(strings.FieldsFunc(h.Text[len(p):], func(c rune) bool { return c == '_' || c == '-' || c == ':' || c == ' ' }), " ")
				if oneOf(Fold(own), "ed", "er", "y", "total", "date") || own == "" {
					break
				}
				h.Role, h.Sure, h.Cover = Count, 1, survey.Substrate(own)
				return true
			}
		}
	}
	return false
}

var percent = regexp.MustCompile(`%|\b(?:percent|pct|porcentaje|por ciento)\b`)

// measureHeading understands lengths, widths and areas with their unit: length ft, Steps (mine are 2.5 ft), Strip width ft.
func (l *Lexicon) measureHeading(h *Heading, tokens []string) bool {
	var length, width, step, area, strip bool
	unit := ""
	for i, t := range tokens {
		switch {
		case oneOf(t, "length", "long", "len", "largo", "longitud", "distance"):
			length = true
		case oneOf(t, "width", "wide", "wid", "ancho", "anchura"):
			width = true
		case oneOf(t, "step", "steps", "pace", "paces", "paso", "pasos"):
			step = true
		case oneOf(t, "area", "acres", "acre", "ac", "acreage", "superficie", "ha", "hectares", "hectareas"):
			area = true
			if !oneOf(t, "area", "acreage", "superficie") {
				unit = t
			}
		case oneOf(t, "belt", "strip", "franja", "faja", "clump"):
			strip = true
		case oneOf(t, "l", "w") && i > 0 && strip: // Belt L (ft)
			length, width = length || t == "l", width || t == "w"
		default:
			if _, ok := FeetPer(t); ok && (i > 0 || len(tokens) > 1) && t != "'" {
				unit = t
			} else if len(t) >= 5 { // lenth, widht
				length = length || near(t, "length")
				width = width || near(t, "width")
			}
		}
	}
	switch {
	case width && !length:
		h.Role, h.Sure, h.Unit = Width, 0.9, unit
	case length && step && !oneOf(tokens[0], "step", "pace", "paso", "steps", "paces", "pasos"):
		h.Role, h.Sure, h.Unit, h.Step = Length, 0.9, "steps", StepIn(h.Text)
	case step && length, step && !width && strings.Contains(Fold(h.Text), "per"):
		h.Role, h.Sure, h.Unit = StepLength, 0.8, unit
	case step:
		h.Role, h.Sure, h.Unit = Steps, 0.8, "steps"
		h.Step = StepIn(h.Text)
		if h.Step > 0 || strip {
			h.Role = Length
		}
	case length:
		h.Role, h.Sure, h.Unit = Length, 0.9, unit
		if unit == "" && step {
			h.Unit = "steps"
		}
	case area:
		h.Role, h.Sure, h.Unit = Area, 0.8, unit
		if strip {
			h.Role = BeltArea
		}
	case strip && unit != "" && len(tokens) == 2: // Belt ft
		h.Role, h.Sure, h.Unit = Length, 0.8, unit
	default:
		return false
	}
	return true
}

// loose takes the one word of a heading that is known, or a heading with a slip of the hand.
func (l *Lexicon) loose(h *Heading, key string, tokens []string) {
	if len(key) >= 5 {
		for w, r := range l.headings {
			if len(w) >= 5 && r != Passed && w[0] == key[0] && near(w, key) {
				if h.Role != NoRole && h.Role != r {
					h.Role = NoRole
					break
				}
				h.Role, h.Sure = r, 0.8
			}
		}
		if h.Role != NoRole {
			return
		}
	}
	for _, t := range tokens {
		if oneOf(t, "guess", "guesses", "guessed", "suspect", "suspected", "culprit", "corazonada", "sospecha", "think", "thinks", "reckon", "creo", "creemos") {
			h.Role, h.Sure = Guess, 0.8
			return
		}
	}
	best := NoRole
	for i, t := range tokens {
		for _, k := range []string{t, pairKey(tokens, i)} {
			r, ok := l.headings[k]
			if !ok || len(k) < 3 || r == Passed || oneOf(k, "where", "what", "how", "who", "the", "good", "left", "out", "put", "set", "count", "long", "name", "point", "type", "kind", "place", "egg", "flag", "clump", "section", "time", "start", "step") {
				continue
			}
			if best == NoRole || r == Nest || r == Line && best != Nest {
				best = r
			}
			if !slices.Contains(h.Also, r) {
				h.Also = append(h.Also, r)
			}
		}
	}
	if best != NoRole && (len(tokens) <= 6 || strings.Contains(h.Text, "?") && len(tokens) <= 14) {
		h.Role, h.Sure = best, 0.5
		if best == Length || best == Width {
			for _, t := range tokens[1:] {
				if _, ok := FeetPer(t); ok && t != "'" {
					h.Unit = t
				}
			}
		}
		return
	}
	for _, t := range tokens {
		if r, ok := l.headings[t]; ok && r == Passed {
			h.Role, h.Sure = Passed, 0.5
		}
	}
}

func pairKey(tokens []string, i int) string {
	if i+1 < len(tokens) {
		return tokens[i] + tokens[i+1]
	}
	return ""
}

// CheckName is how the columns of the n-th check are headed in our own sheets.
func CheckName(r Role, n int) string {
	s := "check" + strconv.Itoa(n)
	switch r {
	case CheckOn, DaysOut:
		return s + "_on"
	case EggsLeft:
		return s + "_eggs"
	}
	return s
}
