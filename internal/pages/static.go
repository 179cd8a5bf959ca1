package pages

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"mime"
	"path"
	"regexp"
	"strings"

	"github.com/gofiber/fiber/v2"
)

// assets are the static files, compressed once at start and served under names that carry a hash of their content, so
// that a browser may keep them for good.
type assets struct {
	hashed map[string]string // vendor/echarts.min.js → /static/vendor/echarts.min.1a2b3c4d5e.js
	files  map[string]asset  // by hashed path
}

type asset struct {
	contentType string
	plain, gzip []byte
}

func loadAssets(files fs.FS) (*assets, error) {
	as := &assets{hashed: map[string]string{}, files: map[string]asset{}}
	plain := map[string][]byte{}
	err := fs.WalkDir(files, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || strings.HasPrefix(d.Name(), ".") {
			return err
		}
		text, err := fs.ReadFile(files, name)
		plain[strings.TrimPrefix(name, "static/")] = text
		return err
	})
	for name := range plain {
		as.settle(name, plain)
	}
	return as, err
}

var scriptImport = regexp.MustCompile(`(from|import) "\./([a-z-]+\.js)"`)

// settle adds a file after those that it imports, whose names in it get their hashes: so a script's own name changes
// when one that it imports does.
func (as *assets) settle(name string, plain map[string][]byte) {
	if as.has(name) {
		return
	}
	text := plain[name]
	if path.Ext(name) == ".js" && !strings.HasPrefix(name, "vendor/") {
		text = scriptImport.ReplaceAllFunc(text, func(m []byte) []byte {
			parts := scriptImport.FindSubmatch(m)
			other := string(parts[2])
			as.settle(other, plain)
			return []byte(string(parts[1]) + ` "./` + path.Base(as.path(other)) + `"`)
		})
	}
	as.add(name, text)
}

func (as *assets) add(name string, plain []byte) {
	sum := sha256.Sum256(plain)
	ext := path.Ext(name)
	hashed := "/static/" + strings.TrimSuffix(name, ext) + "." + hex.EncodeToString(sum[:5]) + ext
	var b bytes.Buffer
	z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is valid
	z.Write(plain)                                        // a Buffer takes everything
	z.Close()
	as.hashed[name] = hashed
	as.files[hashed] = asset{contentType(ext), plain, b.Bytes()}
}

func contentType(ext string) string {
	switch ext {
	case ".css":
		return "text/css; charset=utf-8"
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	}
	if t := mime.TypeByExtension(ext); t != "" {
		return t
	}
	return fiber.MIMEOctetStream
}

// path returns the URL of the static file called name, or "" where there is none.
func (as *assets) path(name string) string { return as.hashed[name] }

func (as *assets) has(name string) bool { return as.hashed[name] != "" }

func (s *server) static(c *fiber.Ctx) error {
	as := s.assets
	f, ok := as.files[c.Path()]
	if !ok {
		return fiber.ErrNotFound
	}
	c.Set(fiber.HeaderCacheControl, "public, max-age=31536000, immutable")
	c.Set(fiber.HeaderContentType, f.contentType)
	c.Set(fiber.HeaderVary, fiber.HeaderAcceptEncoding)
	if strings.Contains(c.Get(fiber.HeaderAcceptEncoding), "gzip") {
		c.Set(fiber.HeaderContentEncoding, "gzip")
		return c.Send(f.gzip)
	}
	return c.Send(f.plain)
}
