package page

import (
	"cmp"
	"context"
	"io"
	"net/http"
	"strings"
	"sync"
	"time"

	"sealworthy/plots/photo"
)

// Photographer is Work that keeps photos beside a record.
type Photographer interface {
	// Photo keeps a photo of a closure, "" of all of the build, as it came from a browser.
	Photo(ctx context.Context, id, closure string, src []byte) error
	// PhotoFile writes one that is kept, as JPEG.
	PhotoFile(ctx context.Context, id, name string, w io.Writer) error
}

// Photo is one that is kept.
type Photo struct {
	Name      string // for Photographer.PhotoFile
	Of, Stage string // the closure that it is of, "" for all of it, and when in its making
	At        time.Time
	Client    bool   // it stands on the client's page
	Missing   string // why it can't be shown; "": it can
}

// photo names the one by which a build is told from others: the latest of all of it, else the latest; "":
// there is none.
func (o Overview) photo() string {
	last, whole := "", ""
	for _, x := range o.Photos {
		if x.Missing != "" {
			continue
		}
		if last = x.Name; x.Of == "" {
			whole = x.Name
		}
	}
	return cmp.Or(whole, last)
}

// litBuild stands for the ID of the build that is under test.
const litBuild = "lit"

// bringsPhoto: a request brings a photo of a build.
func bringsPhoto(r *http.Request) bool {
	p := r.URL.Path
	return r.Method == http.MethodPost && strings.HasPrefix(p, "/build/") && strings.HasSuffix(p, "/photo") &&
		strings.Count(p, "/") == 3
}

// photoPolicy: a photo is a picture and nothing else, even where a browser opens it alone.
const photoPolicy = "default-src 'none'; sandbox; frame-ancestors 'none'"

// photos bounds the work of taking photos in: one at a time.
type photos struct{ mu sync.Mutex }

func (s *Server) photoRoutes(m *http.ServeMux, p Photographer) {
	m.HandleFunc("POST /build/{id}/photo", func(w http.ResponseWriter, r *http.Request) { s.takePhoto(w, r, p) })
	m.HandleFunc("GET /build/{id}/photo/{name}", func(w http.ResponseWriter, r *http.Request) { s.photo(w, r, p) })
}

// takePhoto takes a photo in: of a build, or of the one under test and the part that is lit.
func (s *Server) takePhoto(w http.ResponseWriter, r *http.Request, p Photographer) {
	if !s.taking.mu.TryLock() {
		http.Error(w, "Another photo is being taken in. Once more in a moment.", http.StatusTooManyRequests)
		return
	}
	defer s.taking.mu.Unlock()
	src, err := io.ReadAll(http.MaxBytesReader(w, r.Body, photo.MostBytes))
	if err != nil {
		http.Error(w, "The photo is too large, or didn't come whole.", http.StatusRequestEntityTooLarge)
		return
	}
	_ = http.NewResponseController(w).SetWriteDeadline(time.Now().Add(pageIn)) // it may have come slowly
	id, of := r.PathValue("id"), r.URL.Query().Get("of")
	if id == litBuild {
		if id, of = s.watch.lit(); id == "" {
			http.Error(w, "No test was begun here: take it on the build's own page.", http.StatusConflict)
			return
		}
	}
	if err := p.Photo(r.Context(), id, of, src); err != nil {
		http.Error(w, s.clean(err.Error()), http.StatusUnprocessableEntity)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

// photo shows one. Whatever lies there, it's taken for a JPEG picture and never for a page.
func (s *Server) photo(w http.ResponseWriter, r *http.Request, p Photographer) {
	b := &bounded{most: photo.MostBytes}
	if err := p.PhotoFile(r.Context(), r.PathValue("id"), r.PathValue("name"), b); err != nil {
		s.failed(w, err)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "image/jpeg")
	h.Set("Content-Security-Policy", photoPolicy)
	h.Set("Content-Disposition", "attachment; filename=photo.jpg")
	_, _ = w.Write(b.src) // whoever asked may be gone
}

// bounded holds what is written, up to so many bytes.
type bounded struct {
	src  []byte
	most int
}

func (b *bounded) Write(p []byte) (int, error) {
	if len(b.src)+len(p) > b.most {
		return 0, photo.ErrTooLarge
	}
	b.src = append(b.src, p...)
	return len(p), nil
}

// lit is the build of the test that is under way or was last, and the part of it.
func (w *Watch) lit() (build, closure string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	closure = w.state.Order.Closure
	if w.state.Step != nil {
		closure = w.state.Step.Closure
	}
	return w.state.Order.Build, closure
}
