package pages_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"tussock/internal/access"
)

// faulty is a sheet with something wrong in nearly every row.
const faulty = "ranch,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,boots\n" +
	",A,1,grass,2026-04-28,2026-05-12,ok,2026-05-26,,wet\n" + // no note at the second check
	",A,2,tasajillo,2026-04-28,2026-05-12,gone,,,\n" + // a plant nobody knows
	",A,3,yucca,2026-04-28,2026-05-12,missing,,,\n" + // two meanings
	",A,4,yucca,2026-04-28,2042-05-12,intact,,,\n" + // a day to come
	",A,5,yucca,2026-04-28,2026-05-12,frobbed,,,\n" + // a word nobody knows
	"Bar J,A,6,yucca,2026-04-28,2026-05-12,intact,,,\n" + // another ranch's
	",A,7,yucca,2026-05-28,2026-05-12,intact,,,\n" + // looked at before it was set
	",A,8,yucca,2026-04-28,2026-05-12,intact,2026-05-26,intact,\n" +
	"TOTAL,,,,,,2,,1,\n"

// english are words that no Spanish sentence has. What the sheet says stands in quotation marks, or is a file's name.
var (
	english    = regexp.MustCompile(`(?i)\b(the|and|of|rows?|we|is|are|not|nests?|was|were|to|with|your?|please|tab|belts?|checks?|eggs?|set|keep|on|by|it|taken|lost|left|right|yes|send|sent|sheet|questions?|answers?|undo|today)\b`)
	sheetsWord = regexp.MustCompile(`“[^”]*”|[\w .]+\.(csv|xlsx)`)
)

func (m *member) wantNoEnglish(a answer) {
	m.t.Helper()
	text := sheetsWord.ReplaceAllString(a.text(), " ")
	for _, at := range english.FindAllStringIndex(text, -1) {
		m.t.Errorf("%q is English: …%s…", text[at[0]:at[1]], text[max(0, at[0]-60):min(len(text), at[1]+60)])
	}
}

// A sender who reads Spanish reads it everywhere, and the same sheet is said again in English to somebody else.
func TestSendInSpanish(t *testing.T) {
	st := sharedStage(t)
	rosa := st.cooperative("Sandhill Grass")
	ranch := rosa.adds("Cottonwood Draw", "Ada Marsh")
	ada, luis := rosa.invites(access.Landowner, ranch), rosa.invites(access.Hand, ranch)
	ada.speaks, luis.speaks = "es", "es"

	form := ada.opens("/send")
	ada.want(form, http.StatusOK, "Mandar los resultados de una temporada", "Mande la hoja como está")
	ada.wantNoEnglish(form)
	for _, name := range []string{"large", "under-way", "here", "failed", "broken", "stopped"} {
		if said := regexp.MustCompile(`data-` + name + `="([^"]*)"`).FindStringSubmatch(form.body); said == nil || english.MatchString(said[1]) {
			t.Errorf("data-%s is %q, want Spanish for the script to say", name, said)
		}
	}
	picture := ada.sends([]sheet{{"hoja.JPG", "\xff\xd8\xff"}})
	ada.want(picture, http.StatusUnprocessableEntity, "es una foto. No podemos leer números de una foto")
	ada.wantNoEnglish(picture)

	id, page := ada.kept(ada.sends([]sheet{{"nidos.csv", faulty}}))
	ada.want(page, http.StatusOK, "¿Está bien?", "4 nidos en 1 línea: 1 con todos los huevos en la última revisión, 2 comidos, 1 no encontrado; 1 nido espera su respuesta.",
		"¿Ya no había huevos, o no se pudo hallar el nido?", "¿Se trabó una tecla?", "que no es el rancho para el que manda", "Su hoja dice, en el renglón 10",
		"Lo demás está bien: aceptarla con 4 preguntas abiertas", "Revisión 1: qué se halló", "no se usa", "Lo que dejamos aparte", "guardado tal como llegó")
	page.body = regexp.MustCompile(`(?s)<tbody.*?</tbody>`).ReplaceAllString(page.body, "") // the sheet itself is the sender's
	plain := strings.NewReplacer("Cottonwood Draw", "", ada.actor.Name, "", "check1_on", "", "check1", "", "check2", "", "Bar J", "", "TOTAL", "",
		"frobbed", "", "set_on", "", "tasajillo", "").Replace(page.body)
	ada.wantNoEnglish(answer{body: plain})

	luis.speaks = ""
	luis.want(luis.opens("/uploads/"+string(id)), http.StatusOK, "4 nests on 1 line", "Did a key stick?", "Check 1: found")
	luis.speaks = "es"
	home := luis.opens("/hand")
	luis.want(home, http.StatusOK, "Antes de salir", "Línea A")
	luis.wantNoEnglish(answer{body: strings.ReplaceAll(home.body, "Cottonwood Draw", "")})
	list := ada.opens("/uploads")
	ada.want(list, http.StatusOK, "Lo que se mandó", "Cuenta:")
	ada.wantNoEnglish(answer{body: strings.ReplaceAll(list.body, "Cottonwood Draw", "")})
}
