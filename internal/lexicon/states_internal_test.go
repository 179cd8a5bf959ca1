package lexicon

import (
	"strings"
	"testing"
)

// TestPhrasesAgree holds that no phrase stands for two states once the words that change nothing are gone.
func TestPhrasesAgree(t *testing.T) {
	marks := map[string]Mark{}
	for mark, list := range phrases {
		for p := range strings.SplitSeq(list, ";") {
			key := strings.Join(squeeze(Tokens(p)), " ")
			if was, ok := marks[key]; ok && was != mark {
				t.Errorf("%q (%q) stands for %d and %d", strings.TrimSpace(p), key, was, mark)
			}
			marks[key] = mark
		}
	}
}
