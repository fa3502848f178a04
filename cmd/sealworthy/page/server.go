package page

import (
	"bytes"
	"cmp"
	"context"
	"embed"
	"errors"
	"html/template"
	"io"
	"io/fs"
	"net/http"
	"sync/atomic"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/clock"
	"sealworthy/plots/plain"
)

//go:embed templates/*.html
var templates embed.FS

//go:embed static
var static embed.FS

// Options say how a page is served.
type Options struct {
	Work   Work
	Plans  Plans            // how plans are changed; nil: not from here
	Now    func() time.Time // the time of day
	Hosts  []string         // the names that it's served under, with their port: "127.0.0.1:8765"
	Secure bool             // over TLS
	Beyond *Beyond          // how it's served beyond this computer from its start; nil: it isn't
	// Listen opens a way to other devices once the bench's own page asks for it; nil: it can't.
	Listen func() (*Beyond, error)
	First  string // the ID of the build that it opens with; "": the list
	// Alone is after how long without any open page, and without a test, it ends; 0:
	// never.
	Alone time.Duration
	// Every ticks at such a pace until stop is called, while files are waited for that are written all the time; nil:
	// by the machine's clock.
	Every func(d time.Duration) (tick <-chan time.Time, stop func())
	// Clock is that of what stands on the bench; nil: the machine's.
	Clock clock.Clock
	Faces []session.Face // that are told of each test besides, without a say in what is seen
	// ReckonedWith is how long a plan's page waits for what comes of it before it's served without; 0: a tenth of a
	// second.
	ReckonedWith time.Duration
	// MissedAfter is how long a page may be silent before nobody is taken to see it; 0: a
	// second.
	MissedAfter time.Duration
}

// Server is the bench page.
type Server struct {
	o          Options
	keys       *keys
	watch      *Watch
	bench      *bench
	judgements *judgements
	reckonings *reckonings
	shown      shown
	present    *present
	listening  listening
	streams    atomic.Int32
	pages      *template.Template
	drafts     *drafts
	taking     photos
}

// New makes a server. What is under way ends with ctx; Close waits for that.
func New(ctx context.Context, o Options) (*Server, error) {
	if o.Clock == nil {
		o.Clock = clock.Wall{}
	}
	if o.Every == nil {
		o.Every = everyWall
	}
	s := &Server{o: o, keys: newKeys(o.Now), watch: newWatch(o.Now, cmp.Or(o.MissedAfter, missedAfter)),
		drafts: &drafts{of: map[string]*draft{}}, present: newPresent()}
	s.listening.now = o.Beyond
	s.bench = &bench{work: o.Work, watch: s.watch, now: o.Now, clock: o.Clock, faces: o.Faces, ctx: ctx,
		listing: make(chan struct{}, 1)}
	s.bench.over = func(id string) { s.look(ctx, id) }
	s.judgements = newJudgements(ctx, o.Work, s.stands)
	s.reckonings = newReckonings(ctx, o.Plans)
	var err error
	s.pages, err = template.New("").Funcs(helpers).Funcs(template.FuncMap{"card": s.cardOf, "when": s.when}).Funcs(
		sketchHelpers).ParseFS(templates, "templates/*.html")
	return s, err
}

// everyWall ticks by the machine's clock.
func everyWall(d time.Duration) (tick <-chan time.Time, stop func()) {
	t := time.NewTicker(d)
	return t.C, t.Stop
}

// Close stops what is under way, its output off, and waits for its end.
func (s *Server) Close() { s.bench.close() }

// Code gives a code for the door that is good once, to a maker's page.
func (s *Server) Code() string { return s.keys.code(Maker) }

// Entry is the path that a code opens.
func Entry(code string) string { return doorPath + "?code=" + code }

// Handler serves the page under its names on this computer.
func (s *Server) Handler() http.Handler { return s.fenced(s.o.names()) }

// fenced serves the page under some names.
func (s *Server) fenced(n names) http.Handler {
	return fence{names: n, hosts: n.asNamed(), keys: s.keys, cross: http.NewCrossOriginProtection(), next: s.routes(),
		refuse: s.turnAway, forbid: s.forbid}
}

func (s *Server) routes() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET "+doorPath, s.door)
	m.HandleFunc("POST "+doorPath, s.comeIn)
	m.HandleFunc("GET /devices", s.devicesPage)
	m.HandleFunc("POST /devices", s.newDevice)
	m.HandleFunc("POST /listen", s.beginListening)
	m.HandleFunc("POST /listen/end", s.endListening)
	m.HandleFunc("POST "+leadPath, s.lead)
	m.HandleFunc("GET /role.css", s.role)
	m.HandleFunc("GET /{$}", s.home)
	m.HandleFunc("GET /bench", s.benchPage)
	m.HandleFunc("GET /build/{id}", s.buildPage)
	m.HandleFunc("GET /build/{id}/judged", s.buildJudged)
	m.HandleFunc("GET /build/{id}/picture/{name}", s.picture)
	m.HandleFunc("GET /build/{id}/sheet/{form}", s.sheet)
	m.HandleFunc("GET /stream", s.stream)
	m.HandleFunc("POST /seen", s.seen)
	m.HandleFunc("POST /answer", s.answerTo)
	m.HandleFunc("POST /stop", s.stop)
	m.HandleFunc("POST /begin", s.begin)
	m.HandleFunc("POST /tell", s.tell)
	m.HandleFunc("POST /hand", s.hand)
	m.HandleFunc("POST /meter", s.anotherMeter)
	m.HandleFunc("POST /light", s.light)
	m.HandleFunc("POST /new", s.newBuild)
	m.HandleFunc("POST /simulated", s.simulated)
	if p, ok := s.o.Work.(Photographer); ok {
		s.photoRoutes(m, p)
	}
	if b, ok := s.o.Work.(Bencher); ok {
		s.benchRoutes(m, b)
	}
	if s.o.Plans != nil {
		s.sketchRoutes(m)
	}
	if a, ok := s.o.Work.(Asker); ok {
		s.askRoutes(m, a)
	}
	files, _ := fs.Sub(static, "static") // the folder is embedded
	m.Handle("GET /static/", http.StripPrefix("/static/", http.FileServerFS(files)))
	m.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.refuse(w, http.StatusNotFound, "There is no such page.", "Go back to the builds.")
	})
	return m
}

// clean makes text from outside harmless.
func (s *Server) clean(text string) string { return plain.Clean(text) }

// show writes a page. All of it goes through package plain, whatever stood in it.
func (s *Server) show(w http.ResponseWriter, status int, name string, data any) {
	src, err := s.fill(name, data)
	if err != nil {
		http.Error(w, "this page can't be shown: "+s.clean(err.Error()), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(src) // whoever asked may be gone
}

// fill fills a template in. What came with a command to type is said without it.
func (s *Server) fill(name string, data any) ([]byte, error) {
	var b bytes.Buffer
	if err := s.pages.ExecuteTemplate(&b, name, data); err != nil {
		return nil, err
	}
	return plain.Append(nil, []byte(here(b.String()))), nil
}

// refuse says to who was let in why something isn't done, and what to do. STOP stands
// there, too.
func (s *Server) refuse(w http.ResponseWriter, status int, what, todo string) {
	s.show(w, status, "notdone", s.frame("Not done", refused{What: what, Todo: todo}))
}

// forbid says to a page that it may not have something done.
func (s *Server) forbid(w http.ResponseWriter, r *http.Request, from standing) {
	what, todo := from.notMay()
	if m := r.Header.Get("Sec-Fetch-Mode"); m != "" && m != "navigate" { // a script asked: it shows the words
		http.Error(w, what+" "+todo, http.StatusForbidden)
		return
	}
	s.show(w, http.StatusForbidden, "notdone", s.frame("Not done", refused{What: what, Todo: todo}))
}

// turnAway is refuse for who wasn't let in: nothing of the bench is shown.
func (s *Server) turnAway(w http.ResponseWriter, status int, what, todo string) {
	s.show(w, status, "refused", refused{What: what, Todo: todo})
}

// failed is refuse for an error of the program's.
func (s *Server) failed(w http.ResponseWriter, err error) {
	status := http.StatusUnprocessableEntity
	if errors.Is(err, fs.ErrNotExist) {
		status = http.StatusNotFound
	}
	if errors.Is(err, errBusy) {
		status = http.StatusConflict
	}
	s.show(w, status, "notdone", s.frame("Not done", refusedOf(err)))
}

func readAll(r *http.Request) ([]byte, error) { return io.ReadAll(r.Body) }
