package survey_test

import (
	"testing"

	"tussock/internal/survey"
)

// TestSame: one nest, however its line and its number are written, and never two that people tell apart. The spellings are what people and
// spreadsheet programs write, common practice, no source.
func TestSame(t *testing.T) {
	for want, list := range map[string][]string{
		"1": {"1", "01", "001", "１", "٠١", "#1", "# 1", "1.0", "1.00", "1,0", "01.0", " 1 ", "1\u200b", "\u00ad1", "1.", "(1)", "①", "Line 1", "line1", "LINE-1", "L1", "l 1", "T1", "T-01", "Tr. 1", "Transect 1",
			"transect no. 1", "No. 1", "№ 1", "Nº 1", "Línea 1", "linea 01", "Transecto 1", "Lıne 1", "line one", "One", "uno", "línea uno"},
		"10":    {"10", "010", "10.0", "Line 10"},
		"a2":    {"A2", "a-2", "A 02", "А2", "line A2", "Á2"},
		"1 2":   {"1-2", "1.2", "01/02", "1 2"},
		"1 10":  {"1.10", "1-10"},
		"north": {"North", "NORTH ", "north line", "Line North"},
		"l":     {"L", "l", "line L"},
		"line":  {"line"},
		"0":     {"0", "00"},
		"3b":    {"3b", "3 B", "03-b"},
		"?":     {"?", " ? "},
	} {
		for _, name := range list {
			if got := survey.SameLine(name); got != want {
				t.Errorf("line %q: got %q, want %q", name, got, want)
			}
		}
	}
	for want, list := range map[string][]string{
		"1":   {"1", "01", "１", "#1", "1.0", "N1", "n-1", "Nest 1", "nido 1", "nest no. 1", "nest one"},
		"t1":  {"T1", "t 1"},
		"3 2": {"3 (2)"},
	} {
		for _, name := range list {
			if got := survey.SameNest(name); got != want {
				t.Errorf("nest %q: got %q, want %q", name, got, want)
			}
		}
	}
	if survey.SamePasture("North  Pasture") != survey.SamePasture("north pasture") || survey.SamePasture("North") == survey.SamePasture("north pasture") {
		t.Error("pastures")
	}
}

func BenchmarkSame(b *testing.B) {
	for b.Loop() {
		survey.SameLine("Line 12")
	}
}
