package page

import (
	"context"
	"net/http"
	"strings"
)

// Bencher is Work that finds the instruments of the maker's bench: an order of the verb
// Bench looks for them, tries them and writes them down.
type Bencher interface {
	// Instruments tells what is written down and, where listed is wanted, which ports are
	// plugged in: listing them may open ports that a test has in use.
	Instruments(ctx context.Context, listed bool) (Instruments, error)
}

// Instruments are those of the maker's bench.
type Instruments struct {
	Written  []string // what is written down, an instrument a sentence
	File     string   // where, or where it will be; "": there is no place for it
	Problem  string   // why that can't be read; "": it can
	Ports    []Port   // that are plugged in
	Profiles []Profile
	Broken   []string // profiles of the maker's own that can't be read, and why
	Listed   bool     // Ports were asked for
}

// Port is one that an instrument may be on, by the name that lasts; Hint says what it is.
type Port struct{ Name, Hint string }

// Profile is one way in which an instrument speaks: Kind is supply, meter or relays, About
// says in a line for which instruments it is.
type Profile struct{ Name, Kind, About string }

// BenchName is what the maker's bench is called where a build's name stands otherwise.
const BenchName = "Your bench"

// leaveOut is the choice of a port that isn't looked at.
const leaveOut = "-"

// benchRoutes are those of the maker's bench.
func (s *Server) benchRoutes(m *http.ServeMux, b Bencher) {
	m.HandleFunc("GET /instruments", func(w http.ResponseWriter, r *http.Request) { s.instrumentsPage(w, r, b) })
	m.HandleFunc("POST /instruments", s.findInstruments)
}

// instrumentsPage shows the maker's bench, its ports to the page that starts tests alone.
func (s *Server) instrumentsPage(w http.ResponseWriter, r *http.Request, b Bencher) {
	at := visitOf(r).standing
	x, err := s.instruments(r.Context(), b, at)
	if err != nil {
		s.failed(w, err)
		return
	}
	v := benchView{Instruments: x, Elsewhere: !at.mayTouchPorts(),
		Leads: []Lead{leadsSupply, leadsMeter, leadsGroup, leadsWhole, leadsVolts}}
	builds, err := s.o.Work.Builds(r.Context())
	if err != nil {
		s.failed(w, err)
		return
	}
	for _, x := range builds {
		if x.Problem == "" && !x.Simulated {
			v.Builds = append(v.Builds, x)
		}
	}
	s.show(w, http.StatusOK, "instruments", s.frame(BenchName, v))
}

// instruments tells of the maker's bench what a page of that standing may know.
func (s *Server) instruments(ctx context.Context, b Bencher, at standing) (x Instruments, err error) {
	if !at.mayTouchPorts() {
		return b.Instruments(ctx, false)
	}
	err = s.bench.idle(ctx, func(idle bool) (err error) {
		x, err = b.Instruments(ctx, idle)
		return err
	})
	return x, err
}

// benchView is the page of the maker's bench.
type benchView struct {
	Instruments
	Elsewhere bool // another page starts tests, and looks at ports
	Leads     []Lead
	Builds    []Build // that a simulated bench can stand in for
}

// findInstruments begins a search.
func (s *Server) findInstruments(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	f := r.PostForm
	o := Order{Verb: Bench, TypedMeter: f.Has("typed"), SupplyByHand: f.Has("byhand"), As: map[string]string{}}
	as := f["as"]
	for i, port := range f["port"] {
		switch {
		case i >= len(as) || as[i] == leaveOut:
		case as[i] != "":
			o.As[port] = as[i]
			fallthrough
		default:
			o.Ports = append(o.Ports, port)
		}
	}
	if n := strings.TrimSpace(f.Get("network")); n != "" {
		o.Ports = append(o.Ports, n)
	}
	if len(o.Ports) == 0 && !o.TypedMeter && !o.SupplyByHand {
		s.refuse(w, http.StatusUnprocessableEntity, "No port was chosen, so nothing was looked at.",
			"Plug an instrument in, or say that you set the supply or read the meter.")
		return
	}
	if err := s.bench.begin(o, Overview{Build: Build{Name: BenchName}}); err != nil {
		s.failed(w, err)
		return
	}
	http.Redirect(w, r, "/bench", http.StatusSeeOther)
}
