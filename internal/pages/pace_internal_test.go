package pages

import (
	"fmt"
	"testing"
	"time"
)

// A burst passes, then one at a time as time goes by; keys do not slow each other, and memory has an end.
func TestPace(t *testing.T) {
	now := time.Now()
	p := newPace(3, time.Second, func() time.Time { return now })
	for i, want := range []time.Duration{0, 0, 0, time.Second, time.Second} {
		if got := p.take("ada"); got != want {
			t.Errorf("take %d: wait %v, want %v", i, got, want)
		}
	}
	if got := p.take("bo"); got != 0 {
		t.Errorf("another waits %v", got)
	}
	now = now.Add(1500 * time.Millisecond)
	if got := p.take("ada"); got != 0 {
		t.Errorf("after a second and a half: %v", got)
	}
	if got := p.take("ada"); got != 500*time.Millisecond {
		t.Errorf("and again: %v", got)
	}
	for i := range 3 * paceKeys {
		p.take(fmt.Sprint(i))
	}
	if len(p.left) > paceKeys {
		t.Errorf("%d keys are kept", len(p.left))
	}
}
