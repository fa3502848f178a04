package page

import (
	"encoding/json"
	"fmt"
	"net/http"
	"sync"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/tones"
)

// mostStreams are open at once: one a browser, some more where it has no shared worker.
const mostStreams = 24

// Pages are told at most so often what changed; who doesn't take it in time is dropped.
const (
	toldEvery = 100 * time.Millisecond
	takesIn   = 4 * time.Second
)

// told is what a stream tells: regions that changed, new sounds, and of which builds a judgement ended.
type told struct {
	Regions map[string]string `json:"regions,omitempty"`
	Tones   []tones.Name      `json:"tones,omitempty"`
	Judged  map[string]uint64 `json:"judged,omitempty"` // the latest of each
	Files   map[string]string `json:"files,omitempty"`  // how those of builds that are shown are now
}

// shown is the state as regions, written once for all streams.
type shown struct {
	mu      sync.Mutex
	version uint64
	regions map[string]string
}

// regions gives the state as regions of HTML, anew where it changed.
func (s *Server) regions() (regions map[string]string, changed <-chan struct{}, toned uint64, latest []tone) {
	w := s.watch
	w.passes()
	w.mu.Lock()
	state, version, changed := w.state, w.version, w.changed
	toned, latest = w.toned, append(latest, w.tones...)
	w.mu.Unlock()
	s.shown.mu.Lock()
	defer s.shown.mu.Unlock()
	if s.shown.regions == nil || version > s.shown.version {
		s.shown.version, s.shown.regions = version, s.write(state)
	}
	return s.shown.regions, changed, toned, latest
}

// stream tells a browser what changes, as server-sent events. Nothing is queued: who
// is slow gets the latest, and who takes nothing is dropped.
func (s *Server) stream(w http.ResponseWriter, r *http.Request) {
	if s.streams.Add(1) > mostStreams {
		s.streams.Add(-1)
		s.refuse(w, http.StatusServiceUnavailable, "Too many pages are open.", "Close some of them.")
		return
	}
	defer s.streams.Add(-1)
	out := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	has, judged, files := map[string]string{}, map[string]uint64{}, map[string]string{}
	_, _, heard, _ := s.regions()
	beat := time.NewTicker(beatEvery)
	defer beat.Stop()
	due := func() error { // before anything else is waited for: what changes all the time doesn't hold a beat up
		select {
		case <-beat.C:
			return s.send(w, out, "beat", []byte("{}"))
		default:
			return nil
		}
	}
	for {
		regions, changed, toned, latest := s.regions()
		over, ended := s.judgements.over()
		var t told
		for id, nth := range over {
			if judged[id] != nth {
				if t.Judged == nil {
					t.Judged = map[string]uint64{}
				}
				judged[id], t.Judged[id] = nth, nth
			}
		}
		present, other := s.present.all()
		for id := range files {
			if _, still := present[id]; !still {
				present[id] = "" // not looked at any more: a page that shows it asks
			}
		}
		for id, state := range present {
			if was, told := files[id]; !told || was != state {
				if t.Files == nil {
					t.Files = map[string]string{}
				}
				files[id], t.Files[id] = state, state
			}
		}
		for id, html := range regions {
			// What is empty is told, too, at first: a page that comes back may still show what stood there.
			if had, told := has[id]; !told || had != html {
				if t.Regions == nil {
					t.Regions = map[string]string{}
				}
				has[id], t.Regions[id] = html, html
			}
		}
		for _, x := range latest {
			if x.n > heard {
				t.Tones = append(t.Tones, x.name)
			}
		}
		heard = toned
		if t.Regions != nil || t.Tones != nil || t.Judged != nil || t.Files != nil {
			b, err := json.Marshal(t)
			if err != nil || s.send(w, out, "told", b) != nil {
				return
			}
		}
		select {
		case <-time.After(toldEvery):
		case <-r.Context().Done():
			return
		}
	wait:
		for {
			if due() != nil {
				return
			}
			select {
			case <-changed:
				break wait
			case <-ended:
				break wait
			case <-other:
				break wait
			case <-beat.C:
				s.watch.passes()
				if s.send(w, out, "beat", []byte("{}")) != nil {
					return
				}
			case <-r.Context().Done():
				return
			}
		}
	}
}

// send writes an event within a deadline.
func (s *Server) send(w http.ResponseWriter, out *http.ResponseController, event string, data []byte) error {
	if err := out.SetWriteDeadline(time.Now().Add(takesIn)); err != nil {
		return err
	}
	if _, err := fmt.Fprintf(w, "event: %s\ndata: %s\n\n", event, data); err != nil {
		return err
	}
	return out.Flush()
}

// seen takes the answer to a beat: a page of that browser is to be seen. A test goes on
// for the page that starts it; what others see, who may be anywhere, doesn't count.
func (s *Server) seen(w http.ResponseWriter, r *http.Request) {
	if visitOf(r).standing != leads {
		w.WriteHeader(http.StatusConflict) // it shows then that another one starts tests
		return
	}
	s.watch.Seen()
	w.WriteHeader(http.StatusNoContent)
}

// answerTo takes an answer, as a line of a stream of events has it.
func (s *Server) answerTo(w http.ResponseWriter, r *http.Request) {
	src, err := readAll(r)
	if err != nil {
		http.Error(w, "too long", http.StatusRequestEntityTooLarge)
		return
	}
	line, err := session.ParseLine(src)
	switch {
	case err != nil:
		http.Error(w, "that is no answer", http.StatusBadRequest)
		return
	case line.Stop:
		s.bench.stop()
	case line.Meter:
		err = s.bench.anotherMeter()
	case line.Light:
		err = s.bench.light()
	default:
		err = s.bench.answer(line.Answer)
	}
	if err != nil {
		http.Error(w, s.clean(err.Error()), http.StatusConflict)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// stop switches off.
func (s *Server) stop(w http.ResponseWriter, r *http.Request) {
	s.bench.stop()
	if scripted(r) {
		w.WriteHeader(http.StatusNoContent)
		return
	}
	http.Redirect(w, r, "/bench", http.StatusSeeOther)
}

// scripted: the page's own script asks, which shows nothing else for it.
func scripted(r *http.Request) bool { return r.Header.Get("Accept") == "application/json" }
