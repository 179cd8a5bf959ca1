// Inside the package: a device's name is only a word on a page.

package pages

import (
	"testing"

	"tussock/internal/words"
)

// The forms of User-Agent are those of the browsers' own documentation as MDN's page on the header gathers it, from
// memory.
func TestDevice(t *testing.T) {
	const webkit = " AppleWebKit/537.36 (KHTML, like Gecko) "
	for _, tt := range []struct{ agent, want string }{
		{"Mozilla/5.0 (Windows NT 10.0; Win64; x64)" + webkit + "Chrome/124.0.0.0 Safari/537.36", "Chrome on Windows"},
		{"Mozilla/5.0 (Windows NT 10.0; Win64; x64)" + webkit + "Chrome/124.0.0.0 Safari/537.36 Edg/124.0.0.0", "Edge on Windows"},
		{"Mozilla/5.0 (Linux; Android 10; K)" + webkit + "Chrome/124.0.0.0 Mobile Safari/537.36", "Chrome on an Android device"},
		{"Mozilla/5.0 (X11; Linux x86_64; rv:125.0) Gecko/20100101 Firefox/125.0", "Firefox on Linux"},
		{"Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/17.4 Safari/605.1.15", "Safari on a Mac"},
		{"", "A browser on a device we do not know"},
		{"<script>", "A browser on a device we do not know"},
	} {
		if got := device(words.Speaker{}, tt.agent); got != tt.want {
			t.Errorf("device(%q) = %q, want %q", tt.agent, got, tt.want)
		}
	}
}
