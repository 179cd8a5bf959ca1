package lexicon

import (
	"strings"

	"tussock/internal/survey"
)

// A stateLexicon holds the words about what was found, ready to be looked up.
type stateLexicon struct {
	words map[string]knownWord
	turns map[uint64]turn // phrases of several words, word by word
	nodes uint32
	slips *slipIndex
}

type knownWord struct {
	id    int32
	sense sense
}

// A turn is one step from word to word of a phrase.
type turn struct {
	node  uint32 // what may follow
	sense sense
	ends  bool // a phrase ends here
}

func turnKey(node uint32, word int32) uint64 { return uint64(node)<<32 | uint64(uint32(word)) }

// newStateLexicon files all words, the forms of all verbs, and the animals that rob nests.
func newStateLexicon(animals map[string]bool) *stateLexicon {
	s := &stateLexicon{words: map[string]knownWord{}, turns: map[uint64]turn{}, slips: newSlipIndex(4)}
	for w := range numberWords {
		s.word(w, amount)
	}
	for sn := filler; sn <= stop; sn++ { // in the order of the senses, so that the result is always the same
		for p := range strings.SplitSeq(stateWords[sn], ";") {
			if sn == little {
				for w := range strings.FieldsSeq(p) {
					s.word(w, sn)
				}
				continue
			}
			s.phrase(p, sn)
		}
	}
	for sn := filler; sn <= stop; sn++ {
		for v := range strings.SplitSeq(englishVerbs[sn], ";") {
			s.forms(v, sn, englishForms)
		}
		for v := range strings.SplitSeq(spanishVerbs[sn], ";") {
			s.forms(v, sn, spanishForms)
		}
	}
	for name := range animals {
		s.phrase(name, predator)
	}
	for w := range strings.FieldsSeq(asideWords) {
		s.word(w, filler)
	}
	for _, lists := range []map[survey.Substrate]string{plantWords, coverWords} {
		for _, list := range lists {
			for w := range strings.SplitSeq(list, ";") {
				if w = strings.TrimSpace(w); len(w) > 3 && !strings.Contains(w, " ") {
					s.cover(w)
				}
			}
		}
	}
	for w, known := range s.words {
		if known.sense != strange && known.sense != little && known.sense != filler {
			s.slips.add(w)
		}
	}
	return s
}

// word files a word; the sense it was first filed with holds.
func (s *stateLexicon) word(w string, sn sense) int32 {
	was, ok := s.words[w]
	if !ok {
		was = knownWord{int32(len(s.words)), sn}
	} else if was.sense == strange {
		was.sense = sn
	}
	s.words[w] = was
	return was.id
}

// cover files the name of a cover, unless it says something else about a nest.
func (s *stateLexicon) cover(name string) {
	for _, w := range []string{name, name + "s"} {
		if _, known := s.words[w]; !known {
			s.word(w, plant)
		}
	}
}

func (s *stateLexicon) forms(verb string, sn sense, of func(string) []string) {
	if strings.TrimSpace(verb) == "" {
		return
	}
	for _, f := range of(strings.TrimSpace(verb)) {
		s.word(f, sn)
	}
}

// phrase files a phrase of one word or more, as it stands and without its little words.
func (s *stateLexicon) phrase(p string, sn sense) {
	words := phraseWords(p)
	switch len(words) {
	case 0:
		return
	case 1:
		s.word(words[0], sn)
		return
	}
	s.path(words, sn)
	kept := words[:0:0]
	for _, w := range words {
		if !littleSet[w] {
			kept = append(kept, w)
		}
	}
	if len(kept) > 1 && len(kept) < len(words) {
		s.path(kept, sn)
	}
}

var littleSet = set(stateWords[little])

func phraseWords(p string) []string {
	var buf [mostTerms]term
	t, _ := pieces(simplified(strings.TrimSpace(p)), buf[:])
	var out []string
	for i := range t {
		if t[i].sense != stop {
			out = append(out, t[i].text)
		}
	}
	return out
}

func (s *stateLexicon) path(words []string, sn sense) {
	node := uint32(0)
	for i, w := range words {
		key := turnKey(node, s.word(w, strange))
		next, ok := s.turns[key]
		if !ok {
			s.nodes++
			next.node = s.nodes
		}
		if i == len(words)-1 && !next.ends {
			next.sense, next.ends = sn, true
		}
		s.turns[key] = next
		node = next.node
	}
}

// longest returns the sense of the longest phrase that begins at word i of a run of words, and how many words it takes.
func (s *stateLexicon) longest(words []string, i int) (found sense, n int) {
	w, ok := s.words[words[i]]
	if !ok {
		return strange, 0
	}
	if w.sense != strange && w.sense != filler && w.sense != little {
		found, n = w.sense, 1
	}
	node := uint32(0)
	for k := i; k < len(words); k++ {
		w, ok := s.words[words[k]]
		if !ok {
			break
		}
		next, ok := s.turns[turnKey(node, w.id)]
		if !ok {
			break
		}
		node = next.node
		if next.ends {
			found, n = next.sense, k+1-i
		}
	}
	return found, n
}
