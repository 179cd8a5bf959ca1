package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"html/template"
	"io"
	"log/slog"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/jackc/pgx/v5"
	gormpg "gorm.io/driver/postgres"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"tussock/internal/access"
	"tussock/internal/demo"
	"tussock/internal/postgres/private"
)

// BenchmarkPages opens My ranch and Region of the demo as its landowner does, over a real connection to a service in
// the usual order. OneQuery is what they are measured against: a Fiber handler on the same database that runs one
// query by primary key through GORM, under no policy, and renders a template. Crowd is a page beside many other
// cooperatives. db-ms/op is the processor time that PostgreSQL takes for one page.
func BenchmarkPages(b *testing.B) {
	ctx := b.Context()
	s := demoService(b, dataFolder(b), true)
	defer s.close()
	ready, ended := make(chan string, 1), make(chan error, 1)
	ctx, stop := context.WithCancel(ctx)
	go func() {
		ended <- s.serve(ctx, func(address string) error { ready <- address; return nil })
	}()
	defer func() {
		stop()
		if err := <-ended; err != nil {
			b.Error(err)
		}
	}()
	address := <-ready
	v := signedIn(b, address, access.Landowner)
	hand, biologist := signedIn(b, address, access.Hand), signedIn(b, address, access.Biologist)
	mine := v.open(b, "/ranch").Request.URL.Path
	gatherStatistics(b, s) // as a server does by itself, and a throw-away one does not

	pages := []struct {
		name string
		v    visitor
		path string
	}{{"MyRanch", v, mine}, {"Region", v, "/region"}, {"About", v, "/about"}, {"Plan", v, "/plan/" + path.Base(mine)}, {"Hand", hand, "/hand"}, {"Named", biologist, "/region/named"}}
	for _, page := range pages {
		b.Run(page.name, func(b *testing.B) { openOften(b, page.v, page.path, s.adminURL) })
	}
	read := sendsLarge(b, v, path.Base(mine))
	for _, page := range pages {
		b.Run(page.name+"WhileReading", func(b *testing.B) { openOften(b, page.v, page.path, s.adminURL) })
	}
	read()
	for _, page := range pages[:len(pages)-1] { // what a biologist reads by name is computed again, and of so many nests not in time
		b.Run(page.name+"Large", func(b *testing.B) { openOften(b, page.v, page.path, s.adminURL) })
	}
	b.Run("MyRanchSeasonLarge", func(b *testing.B) { openOften(b, v, mine+"?season=2019", s.adminURL) })
	one := visitor{base: oneQuery(b, s.adminURL, strings.TrimPrefix(mine, "/ranch/")), client: http.DefaultClient}
	b.Run("OneQuery", func(b *testing.B) {
		for b.Loop() {
			one.open(b, "/")
		}
	})
	crowd(b, s, 390)
	for _, page := range pages[:2] {
		b.Run("Crowd"+page.name, func(b *testing.B) { openOften(b, page.v, page.path, s.adminURL) })
	}
}

// sendsLarge sends a sheet of 20 MB for the ranch. What it returns waits until the sheet is read.
func sendsLarge(b *testing.B, v visitor, ranch string) (read func()) {
	b.Helper()
	var sheet bytes.Buffer
	sheet.WriteString("season,site,transect,nest,substrate,set_on,check1_on,check1,check2_on,check2,bits,trace,notes\n")
	pastures, covers, found := []string{"north", "south", "east", "west"}, []string{"bunchgrass", "yucca", "sand sagebrush"}, []string{"intact,2019-05-29,taken", "intact,2019-05-29,intact", "taken,,", "lost,,"}
	for i := 0; sheet.Len() < 20<<20-200; i++ {
		signs := ",,"
		if i%4 == 2 {
			signs = "halves,tracks by the bowl,"
		}
		fmt.Fprintf(&sheet, "2019,%s,%d,%d,%s,2019-05-01,2019-05-15,%s,%sleft of the corner post where the old gate was\n", pastures[i/24%4], i/24, i%24+1, covers[i%3], found[i%4], signs)
	}
	begun := time.Now()
	page := v.send(b, ranch, "large.csv", sheet.Bytes())
	return func() {
		for end := begun.Add(10 * time.Minute); ; time.Sleep(time.Second) {
			res, err := v.client.Get(v.base + page)
			if err != nil {
				b.Fatal(err)
			}
			body, err := io.ReadAll(res.Body)
			res.Body.Close()
			if err == nil && !bytes.Contains(body, []byte(`http-equiv="refresh"`)) {
				break
			}
			if time.Now().After(end) {
				b.Fatal("the sheet is not read")
			}
		}
		b.Logf("a sheet of %d bytes is read after %.0f s", sheet.Len(), time.Since(begun).Seconds())
	}
}

func gatherStatistics(b *testing.B, s *service) {
	b.Helper()
	o, err := s.owner(b.Context())
	if err != nil {
		b.Fatal(err)
	}
	defer o.Close()
	if _, err := o.Exec(b.Context(), "ANALYZE"); err != nil {
		b.Fatal(err)
	}
}

// openOften opens a page as often as the benchmark says, a few times before it is measured.
func openOften(b *testing.B, v visitor, path, adminURL string) {
	for range 10 {
		v.open(b, path)
	}
	before := processorTime(b, adminURL)
	for b.Loop() {
		v.open(b, path)
	}
	b.ReportMetric((processorTime(b, adminURL)-before)*1000/float64(b.N), "db-ms/op")
}

// processorTime is what the connections to the database have used of the processors, in seconds.
func processorTime(b *testing.B, adminURL string) (seconds float64) {
	b.Helper()
	db, err := gorm.Open(gormpg.Open(adminURL), &gorm.Config{Logger: logger.Discard})
	if err != nil {
		b.Fatal(err)
	}
	pool, err := db.DB()
	if err != nil {
		b.Fatal(err)
	}
	defer pool.Close()
	var pids []int
	if err := db.Raw("SELECT pid FROM pg_stat_activity WHERE application_name = 'tussock' AND pid <> pg_backend_pid()").Scan(&pids).Error; err != nil {
		b.Fatal(err)
	}
	for _, pid := range pids {
		stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
		if err != nil {
			b.Skip("processor time is measured on Linux:", err)
		}
		// proc(5): the name in parentheses is field 2; utime and stime are fields 14 and 15, in hundredths of a second.
		fields := strings.Fields(string(stat[strings.LastIndexByte(string(stat), ')')+1:]))
		for _, field := range fields[11:13] {
			ticks, err := strconv.ParseFloat(field, 64)
			if err != nil {
				b.Fatal(err)
			}
			seconds += ticks / 100
		}
	}
	return seconds
}

// crowd adds cooperatives of thirty ranches each, with an owner, a yes and a sheet a ranch. No trigger runs at the owners, who are looked into one by one.
func crowd(b *testing.B, s *service, n int) {
	b.Helper()
	conn, err := pgx.Connect(b.Context(), s.adminURL)
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close(b.Context())
	for _, statement := range []string{
		"INSERT INTO tussock.coop (name) SELECT 'Crowd ' || i FROM generate_series(1, $1::integer) i",
		"INSERT INTO tussock.entity (coop_id, name) SELECT c.coop_id, 'Owner ' || i FROM tussock.coop c, generate_series(1, 30) i WHERE c.name LIKE 'Crowd %' AND $1::integer > 0",
		"INSERT INTO tussock.ranch (coop_id, name, entity_id) SELECT e.coop_id, e.name, e.id FROM tussock.entity e JOIN tussock.coop c USING (coop_id) WHERE c.name LIKE 'Crowd %' AND $1::integer > 0",
		"INSERT INTO tussock.person (coop_id, name, role) SELECT r.coop_id, r.name, 'landowner' FROM tussock.ranch r JOIN tussock.coop c USING (coop_id) WHERE c.name LIKE 'Crowd %' AND $1::integer > 0",
		"SET session_replication_role = replica",
		`INSERT INTO tussock.assignment (coop_id, person_id, ranch_id, entity_id, kind) SELECT r.coop_id, p.id, r.id, r.entity_id, 'owner'
			FROM tussock.ranch r JOIN tussock.coop c USING (coop_id) JOIN tussock.person p ON p.coop_id = r.coop_id AND p.name = r.name WHERE c.name LIKE 'Crowd %' AND $1::integer > 0`,
		"SET session_replication_role = origin",
		`INSERT INTO tussock.consent (coop_id, ranch_id, level, given_by) SELECT a.coop_id, a.ranch_id, 1, a.person_id
			FROM tussock.assignment a JOIN tussock.coop c USING (coop_id) WHERE c.name LIKE 'Crowd %' AND $1::integer > 0`,
		`INSERT INTO tussock.upload (coop_id, ranch_id, season, sent_by, sent_at) SELECT a.coop_id, a.ranch_id, 2025, a.person_id, now()
			FROM tussock.assignment a JOIN tussock.coop c USING (coop_id) WHERE c.name LIKE 'Crowd %' AND $1::integer > 0`,
		"ANALYZE",
	} {
		var args []any
		if strings.Contains(statement, "$1") {
			args = append(args, n)
		}
		if _, err := conn.Exec(b.Context(), statement, args...); err != nil {
			b.Fatalf("%s: %v", statement, err)
		}
	}
}

// oneQuery serves the baseline and returns its address.
func oneQuery(b *testing.B, database, ranch string) string {
	b.Helper()
	db, err := gorm.Open(gormpg.Open(database), &gorm.Config{Logger: logger.Discard})
	if err != nil {
		b.Fatal(err)
	}
	page := template.Must(template.New("").Parse(`<!doctype html><title>{{.Name}}</title><h1>{{.Name}}</h1>`))
	app := fiber.New(fiber.Config{DisableStartupMessage: true})
	app.Get("/", func(c *fiber.Ctx) error {
		var row struct{ ID, Name string }
		if err := db.WithContext(c.UserContext()).Table("tussock.ranch").Where("id = ?", ranch).Take(&row).Error; err != nil {
			return err
		}
		c.Type("html", "utf-8")
		return page.Execute(c, row)
	})
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	go app.Listener(listener)
	b.Cleanup(func() {
		app.Shutdown()
		if pool, err := db.DB(); err == nil {
			pool.Close()
		}
	})
	return "http://" + listener.Addr().String()
}

// BenchmarkStart starts the built program on a data folder that holds the demo, and measures until its first answer.
// PostgreSQL is what it is measured against: the start of the database alone, on the same folder. The files are in the
// machine's cache, as after a restart of the service, not of the machine. The process that answers requests is weighed
// twice: when it has just started, and after somebody signed in and read for a while.
func BenchmarkStart(b *testing.B) {
	data := dataFolder(b)
	demoService(b, data, false).close()
	program := filepath.Join(b.TempDir(), "tussock")
	if out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}

	b.Run("FirstAnswer", func(b *testing.B) {
		var idle, used float64
		for b.Loop() {
			p := startProgram(b, program, data)
			b.StopTimer()
			idle = p.memory(b)
			used = max(used, p.readFor(b))
			p.stop(b)
			b.StartTimer()
		}
		b.ReportMetric(idle, "MB-idle")
		b.ReportMetric(used, "MB-read")
	})
	b.Run("PostgreSQL", func(b *testing.B) {
		for b.Loop() {
			p, err := private.Start(b.Context(), private.Options{Dir: data})
			if err != nil {
				b.Fatal(err)
			}
			b.StopTimer()
			if err := p.Stop(); err != nil {
				b.Fatal(err)
			}
			b.StartTimer()
		}
	})
}

// A program is "tussock serve" as an operator has it.
type program struct {
	cmd     *exec.Cmd
	address string
}

// startProgram returns when the first page has come.
func startProgram(b *testing.B, path, data string) *program {
	b.Helper()
	p := &program{cmd: exec.Command(path, "serve", "--addr", "127.0.0.1:0", "--data", data)}
	p.cmd.Env = []string{"PATH=" + os.Getenv("PATH"), "HOME=" + os.Getenv("HOME")}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		b.Fatal(err)
	}
	if err := p.cmd.Start(); err != nil {
		b.Fatal(err)
	}
	for lines := bufio.NewScanner(out); p.address == "" && lines.Scan(); {
		p.address, _ = strings.CutPrefix(lines.Text(), "Tussock is at ")
	}
	go io.Copy(io.Discard, out)
	visitor{p.address, http.DefaultClient}.open(b, "/")
	return p
}

// memory is what the process that answers requests holds of the machine's memory, in MB of a million bytes.
func (p *program) memory(b *testing.B) float64 {
	b.Helper()
	pid := p.cmd.Process.Pid
	children, _ := os.ReadFile(fmt.Sprintf("/proc/%d/task/%[1]d/children", pid))
	for _, child := range strings.Fields(string(children)) {
		if said, _ := os.ReadFile("/proc/" + child + "/cmdline"); strings.Contains(string(said), "serve\x00--tethered") {
			pid, _ = strconv.Atoi(child)
		}
	}
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		b.Skip("memory is measured on Linux:", err)
	}
	found := regexp.MustCompile(`VmRSS:\s+(\d+) kB`).FindSubmatch(status)
	if found == nil {
		b.Fatal("no VmRSS in /proc")
	}
	kib, err := strconv.ParseFloat(string(found[1]), 64)
	if err != nil {
		b.Fatal(err)
	}
	return kib * 1024 / 1e6
}

// readFor signs in, reads two pages fifty times each and returns the memory held then.
func (p *program) readFor(b *testing.B) float64 {
	b.Helper()
	v := signedIn(b, p.address, access.Landowner)
	for range 50 {
		v.open(b, "/ranch")
		v.open(b, "/region")
	}
	return p.memory(b)
}

func (p *program) stop(b *testing.B) {
	b.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		b.Fatal(err)
	}
	if err := p.cmd.Wait(); err != nil {
		b.Fatal(err)
	}
}

// demoService opens a service over a database in the folder and fills it with the demo.
func demoService(b *testing.B, data string, throwaway bool) *service {
	b.Helper()
	cfg, err := readConfig(func(string) string { return "" })
	if err != nil {
		b.Fatal(err)
	}
	cfg.Addr, cfg.Data = "127.0.0.1:0", data
	s, err := openService(b.Context(), cfg, throwaway, slog.New(slog.DiscardHandler))
	if err != nil {
		b.Fatal(err)
	}
	if err := fillDemo(b.Context(), s); err != nil {
		s.close()
		b.Fatal(err)
	}
	return s
}

// A visitor is a browser without a screen.
type visitor struct {
	base   string
	client *http.Client
}

// signedIn signs in somebody of the demo.
func signedIn(b *testing.B, base string, role access.Role) visitor {
	b.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		b.Fatal(err)
	}
	v := visitor{base, &http.Client{Jar: jar}}
	word := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`)
	res, err := v.client.Get(base + "/sign-in")
	if err != nil {
		b.Fatal(err)
	}
	defer res.Body.Close()
	form, err := io.ReadAll(res.Body)
	if err != nil {
		b.Fatal(err)
	}
	found := word.FindSubmatch(form)
	if found == nil {
		b.Fatal("no form on the sign-in page")
	}
	in, err := v.client.PostForm(base+"/sign-in", url.Values{"csrf": {string(found[1])}, "email": {emails()[role]}, "password": {demo.Password}})
	if err != nil {
		b.Fatal(err)
	}
	in.Body.Close()
	if in.Request.URL.Path == "/sign-in" {
		b.Fatal("the sign-in failed")
	}
	return v
}

// send sends a file for a ranch, and returns the page that comes of it.
func (v visitor) send(b *testing.B, ranch, name string, data []byte) string {
	b.Helper()
	res, err := v.client.Get(v.base + "/send")
	if err != nil {
		b.Fatal(err)
	}
	defer res.Body.Close()
	form, err := io.ReadAll(res.Body)
	if err != nil {
		b.Fatal(err)
	}
	found := regexp.MustCompile(`name="csrf" value="([0-9a-f]+)"`).FindSubmatch(form)
	if found == nil {
		b.Fatal("no form to send a sheet by")
	}
	var body bytes.Buffer
	w := multipart.NewWriter(&body)
	w.WriteField("csrf", string(found[1]))
	w.WriteField("ranch", ranch)
	part, err := w.CreateFormFile("file", name)
	if err != nil {
		b.Fatal(err)
	}
	part.Write(data)
	w.Close()
	sent, err := v.client.Post(v.base+"/send", w.FormDataContentType(), &body)
	if err != nil {
		b.Fatal(err)
	}
	sent.Body.Close()
	if sent.StatusCode != http.StatusOK {
		b.Fatalf("sending gives status %d", sent.StatusCode)
	}
	return sent.Request.URL.Path
}

// open reads a page to its end.
func (v visitor) open(b *testing.B, path string) *http.Response {
	b.Helper()
	res, err := v.client.Get(v.base + path)
	if err != nil {
		b.Fatal(err)
	}
	defer res.Body.Close()
	if _, err := io.Copy(io.Discard, res.Body); err != nil {
		b.Fatal(err)
	}
	if res.StatusCode != http.StatusOK {
		b.Fatalf("%s: status %d", path, res.StatusCode)
	}
	return res
}
