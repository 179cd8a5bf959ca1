package lexicon

import "strings"

// Verbs by what they say of a nest, from which all their forms are made. English verbs are regular unless past and
// participle stand beside them; Spanish verbs stand in the infinitive, with what the rules do not make behind a colon.

var englishVerbs = map[sense]string{
	ate:     `eat ate eaten; devour; consume; depredate; predate; rob; raid; plunder; snatch; nab; swipe; steal stole stolen; chew; chomp; munch; gnaw; gobble; scavenge; peck; suck; slurp; pilfer; poach; loot; ransack; crunch; bite bitten bitten; swallow; scarf; nibble; puncture; pierce; pillage`,
	got:     `destroy; wreck; kill; demolish; ravage; shred; tear tore torn; whack; clobber; mangle; scramble; trash; rip; attack; claim`,
	broke:   `break broke broken; smash; shatter; crack; damage; ruin`,
	crushed: `crush; mash; squash; squish; smoosh; smush; flatten; mush`,
	split:   `bust; split split split`,
	trod:    `trample; tromp; stomp; tread trod trodden; stampede`,
	drowned: `inundate; drown; submerge; swamp; wash; engulf`,
	rotted:  `spoil; explode; addle; cook; bake; fry; boil; scorch; roast; leak; ooze; rupture; mow; hay; swathe; windrow; plow; plough; disk; disc; bale; bulldoze; torch; char; singe; fester; ferment; mildew`,
	touch:   `bother; touch; disturb; molest; harm; hurt hurt hurt; tamper; move; budge; bug; injure`,
	find:    `find found found; locate; relocate; see saw seen; spot`,
	search:  `search; hunt; comb; scour`,
	visit:   `check; visit; inspect; survey; walk; run ran run; enter; cross; reach; read read read; monitor; observe; arrive; go went gone; come came come; do did done; drive drove driven`,
	gone:    `disappear; vanish`,
	good:    `survive`,
}

var spanishVerbs = map[sense]string{
	ate:     `comer; tragar; robar; depredar; masticar; morder; saquear; devorar; chupar; roer: royo royeron; picotear; picar; vaciar; mordisquear; cenar; almorzar; desayunar; lamer; sorber; jambar`,
	got:     `llevar; destruir: destruyo destruyeron; destrozar; deshacer: deshizo deshicieron deshecho deshechos; arruinar; matar; agarrar; sacar; escarbar; chingar; fregar; arrancar; desbaratar; arrasar; despedazar; desenterrar; hozar; hocicar; atacar; joder; arrebatar; tumbar; arrastrar; cargar; acarrear; excavar`,
	broke:   `quebrar; romper: roto rota rotos rotas; partir; danar; estrellar; rajar; cascar; estropear`,
	crushed: `aplastar; machucar; apachurrar; despachurrar; achatar; prensar; magullar`,
	trod:    `pisar; pisotear; trompear; trompillar; patear; atrompillar`,
	drowned: `inundar; ahogar; anegar; encharcar; flotar; sumergir; desbordar; enlodar`,
	rotted:  `podrir: pudrio pudrieron; pudrir; reventar; tronar; quemar; congelar; helar; cocer; asar; segar; barbechar; granizar; agusanar; abombar; explotar; cocinar; chamuscar; apestar; fumigar; asolear; rebentar`,
	touch:   `tocar; molestar; mover; tentar; alterar; perturbar; estorbar; danar`,
	find:    `hallar: hallo; encontrar: encuentro encuentra encuentran encuentre; localizar; ubicar; ver: vi vimos vio vieron visto vista; topar; aparecer: aparece aparecen`,
	search:  `buscar`,
	visit:   `revisar; checar; chequear; visitar; llegar; entrar; pasar; ir: fui fue fuimos fueron voy vamos; hacer: hizo hice hicimos hicieron hecho; caminar; recorrer; monitorear; cruzar; salir; correr; contar; andar: anduvo anduvimos anduvieron anduve; seguir`,
	unable:  `poder: pude pudo pudimos pudieron puedo puede pueden; alcanzar`,
	gone:    `desaparecer; esfumar`,
	good:    `sobrevivir; aguantar; salvar; librar`,
	holds:   `quedar: queda quedan; restar: resta restan; sobrar: sobra sobran`,
	absent:  `faltar: falta faltan; perder: perdi pierden`,
}

// englishForms returns the forms of a verb: "eat ate eaten" or, where it is regular, "chew" alone.
func englishForms(verb string) []string {
	parts := strings.Fields(verb)
	base := parts[0]
	stem := base
	switch {
	case strings.HasSuffix(base, "e"):
		stem = base[:len(base)-1]
	case doubles(base):
		stem = base + base[len(base)-1:]
	}
	forms := []string{base, base + "s", stem + "ing", stem + "in"}
	if len(parts) == 3 {
		return append(forms, parts[1:]...)
	}
	if n := len(base) - 1; base[n] == 'y' && !strings.ContainsRune("aeou", rune(base[n-1])) {
		return append(forms, base[:n]+"ied", base[:n]+"ies")
	}
	if strings.HasSuffix(base, "sh") || strings.HasSuffix(base, "ch") || strings.HasSuffix(base, "ss") {
		forms[1] = base + "es"
	}
	return append(forms, stem+"ed")
}

// doubles tells whether the last letter of a short verb is written twice before an ending: rob, robbed.
func doubles(verb string) bool {
	n := len(verb)
	if n < 3 || n > 4 || strings.ContainsRune("aeiouwxy", rune(verb[n-1])) || !strings.ContainsRune("aeiou", rune(verb[n-2])) {
		return false
	}
	return !strings.ContainsRune("aeiou", rune(verb[n-3]))
}

// spanishForms returns the forms of a verb that tell what happened, without accents: the infinitive with and without the
// pronouns that hang on it, the past of he, they, I and we, what used to be, the participles and the gerund.
func spanishForms(verb string) []string {
	base, irregular, _ := strings.Cut(verb, ":")
	forms := strings.Fields(irregular)
	stem, ending := base[:len(base)-2], base[len(base)-2:]
	for _, pronoun := range []string{"", "lo", "los", "la", "las", "le", "les", "se", "selo", "selos"} {
		forms = append(forms, base+pronoun)
	}
	if base == "ir" || base == "ver" {
		return forms
	}
	endings := []string{"io", "ieron", "i", "imos", "ia", "ian", "ido", "ida", "idos", "idas", "iendo"}
	if ending == "ar" {
		endings = []string{"o", "aron", "amos", "aba", "aban", "ado", "ada", "ados", "adas", "ando"}
		forms = append(forms, softened(stem)+"e")
	}
	for _, e := range endings {
		forms = append(forms, stem+e)
	}
	return forms
}

// softened keeps the sound of a stem before e: buscar, busque.
func softened(stem string) string {
	n := len(stem) - 1
	switch stem[n] {
	case 'c':
		return stem[:n] + "qu"
	case 'g':
		return stem + "u"
	case 'z':
		return stem[:n] + "c"
	}
	return stem
}
