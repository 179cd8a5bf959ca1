package lexicon

// units are what a number may count that is no egg: feet, minutes, times.
var units = set(`ft feet foot inch inches yd yds yard yards m meter meters metro metros mt mts cm mm km mi mile miles pie pies pulgada pulgadas
	min mins minute minutes minuto minutos hr hrs hour hours hora horas am pm a.m p.m step steps pace paces paso pasos times time veces vez degrees
	percent pct lb lbs acre acres year years yrs ano anos week weeks wk wks day days dia dias semana semanas sem d month months mes meses night nights
	noche noches head plus`)

// numbered are things that a number names: nest 6, wk 4.
var numbered = set(`wk week day check chk ck visit nest line photo pic stop trip round nido linea revision visita dia semana sem look d v w c l n t
	transect pasture gate tank row page video img image map crew camera nests parada vuelta at loop unit flag revised year yr hwy road highway no num`)

// ordinalEnds follow the digits of first, second, third.
var ordinalEnds = set("st nd rd th a o ra da ro er era ta do")

// onesOfTheir kind: "this one" counts nothing.
var pointing = set("this that which another every each last lucky bad first other next the same good any")

// counted tells the numbers of eggs from dates, times, measures and names, which become words that change nothing.
func counted(t []term) []term {
	out := t[:0]
	for i := 0; i < len(t); {
		if t[i].sense != amount {
			out = append(out, t[i])
			i++
			continue
		}
		got, n := numberAt(t, i)
		if got.sense == filler && len(out) > 0 && monthBefore(t, i) {
			out[len(out)-1].sense = filler
		}
		out = append(out, got)
		i += n
	}
	return out
}

// numberAt reads the number that begins at i: what it is, and how many terms it takes.
func numberAt(t []term, i int) (term, int) {
	it := t[i]
	digits := Digit(it.text[0])
	quiet := func(n int) (term, int) {
		it.sense, it.inside = filler, true
		return it, n
	}
	doubtful := func(n int) (term, int) {
		it.sense = unsure
		return it, n
	}
	if digits {
		if n := dateAt(t, i); n > 0 {
			it.day = true
			return quiet(n)
		}
		if codeAt(t, i) {
			it.sense = strange
			return it, 1
		}
		if n := rangeAt(t, i); n > 0 {
			if i+n < len(t) && (t[i+n].sense == egg || t[i+n].sense >= here && t[i+n].sense <= absent) {
				return doubtful(n)
			}
			return quiet(n)
		}
		if is(t, i+1, ':') && isDigits(t, i+2) {
			return quiet(3)
		}
		if is(t, i+1, '/') && isDigits(t, i+2) {
			return fractionAt(t, i, quiet, doubtful)
		}
		if is(t, i+1, '.') && isDigits(t, i+2) && t[i+2].glued {
			return quiet(3)
		}
		if i+1 < len(t) && t[i+1].glued && ordinalEnds[t[i+1].text] {
			return quiet(2)
		}
		if is(t, i+1, '+') && isDigits(t, i+2) && it.n+t[i+2].n > 12 { // rain, 17+18 hundredths
			return quiet(3)
		}
		if is(t, i+1, '%') {
			if it.n == 100 {
				it.sense = good
				return it, 2
			}
			return doubtful(2)
		}
		if is(t, i+1, '\'') || i > 0 && is(t, i-1, '#') {
			return quiet(1)
		}
	}
	if n := measureAt(t, i); n > 0 {
		return quiet(n)
	}
	if n, to := changeAt(t, i); n > 0 {
		if it.n > to && it.n <= 20 {
			it.n, it.of, it.sense = to, it.n, amount
			return it, n
		}
		return doubtful(n)
	}
	if digits && i > 0 && numbered[t[i-1].text] && !(i+1 < len(t) && (t[i+1].sense == egg || t[i+1].sense == of)) {
		return quiet(1)
	}
	if m, n := outOf(t, i); n > 0 {
		it.of = m
		return it, n
	}
	switch {
	case it.n > 20 || len(it.text) > 1 && it.text[0] == '0':
		return quiet(1)
	case it.text == "un" || it.text == "una":
		if !(i+1 < len(t) && (t[i+1].sense == egg)) {
			it.sense, it.inside = little, true
		}
	case (it.text == "one" || it.text == "uno") && i > 0 && pointing[t[i-1].text]:
		it.sense = filler
	}
	return it, 1
}

// codeAt tells whether a number is part of a code such as L2N4 or 6cb8: it touches letters that are no word.
func codeAt(t []term, i int) bool {
	isCode := func(k int) bool {
		return (t[k].word < 0 || len(t[k].text) == 1 && t[k].text != "x") && t[k].sense != stop && t[k].sense != amount && !units[t[k].text] && !ordinalEnds[t[k].text]
	}
	return i > 0 && t[i].glued && isCode(i-1) || i+1 < len(t) && t[i+1].glued && isCode(i+1)
}

// rangeAt reads "3-5", which names a nest of a line, or two numbers between which nobody chose.
func rangeAt(t []term, i int) int {
	if is(t, i+1, '-') && t[i+1].glued && isDigits(t, i+2) && t[i+2].glued {
		return 3
	}
	return 0
}

func is(t []term, i int, mark byte) bool {
	return i >= 0 && i < len(t) && t[i].sense == stop && t[i].mark == mark
}

func isDigits(t []term, i int) bool { return i < len(t) && Digit(t[i].text[0]) }

// fractionAt reads 2/3 as two of three. One half could be anything.
func fractionAt(t []term, i int, quiet, doubtful func(int) (term, int)) (term, int) {
	a, b := t[i], t[i+2]
	if i+3 < len(t) && units[t[i+3].text] {
		return quiet(4)
	}
	if a.n > b.n || b.n < 2 || b.n > 6 || a.n == 1 && b.n == 2 {
		return doubtful(3)
	}
	a.of = b.n
	return a, 3
}

// dateAt tells how many terms the day takes that begins at i: 5/28, 5-28-24, 28 mayo, 12-may-24; 0 for none.
func dateAt(t []term, i int) int {
	if monthBefore(t, i) {
		return 1
	}
	k := i + 1
	for k < len(t) && (is(t, k, '-') || is(t, k, '/') || t[k].sense == of || t[k].text == "th" || t[k].text == "st" || t[k].text == "nd" || t[k].text == "rd") && k < i+3 {
		k++
	}
	if k < len(t) && t[k].sense != stop && t[k].sense != amount {
		if _, month := monthWords[t[k].text]; month {
			n := k + 1 - i
			if (is(t, k+1, '-') || is(t, k+1, '/')) && isDigits(t, k+2) {
				n += 2
			}
			return n
		}
	}
	for _, mark := range []byte{'/', '-', '.'} {
		if !is(t, i+1, mark) || !isDigits(t, i+2) || !t[i+2].glued {
			continue
		}
		if is(t, i+3, mark) && isDigits(t, i+4) {
			return 5
		}
		if a, b := t[i].n, t[i+2].n; mark != '.' && dayAndMonth(a, b) && (a > b || b > 6) {
			return 3
		}
	}
	return 0
}

// monthBefore tells whether a month stands before a number: may 15.
func monthBefore(t []term, i int) bool {
	if i == 0 || t[i].n < 1 || t[i].n > 31 {
		return false
	}
	_, month := monthWords[t[i-1].text]
	return month
}

// measureAt tells how many terms a number takes that counts feet, minutes or days; 0 where it does not.
func measureAt(t []term, i int) int {
	k := i + 1
	if is(t, k, '-') && k+1 < len(t) && t[k+1].glued {
		k++
	}
	if k >= len(t) || t[k].sense == stop {
		return 0
	}
	if units[t[k].text] {
		return k + 1 - i
	}
	if t[k].text == "in" && (k+1 == len(t) || t[k+1].sense == stop || t[k+1].sense == of || oneOf(t[k+1].text, "off", "from", "away", "deep", "tall", "high", "over", "to")) {
		return k + 1 - i
	}
	return 0
}

// changeAt reads "3 -> 0" and "3 to 1": how many terms it takes, and what is left.
func changeAt(t []term, i int) (n, left int) {
	k := i + 1
	if is(t, k, '-') || is(t, k, '=') {
		k++
	}
	switch {
	case is(t, k, '>'):
	case k == i+1 && k < len(t) && (t[k].sense == to || t[k].text == "a"):
	default:
		return 0, 0
	}
	if k+1 >= len(t) || t[k+1].sense != amount {
		return 0, 0
	}
	return k + 2 - i, t[k+1].n
}

// outOf reads "of 3", "out of 3", "de 3" behind a number.
func outOf(t []term, i int) (m, n int) {
	k := i + 1
	if k < len(t) && t[k].text == "out" {
		k++
	}
	if k >= len(t) || t[k].sense != of && t[k].text != "for" && t[k].text != "out" {
		return 0, 0
	}
	k++
	for k < len(t) && t[k].sense == little {
		k++
	}
	if k >= len(t) || t[k].sense != amount || t[k].n < t[i].n || t[k].n == 0 || t[k].n > 12 {
		return 0, 0
	}
	return t[k].n, k + 1 - i
}
