package page

import (
	"context"
	"maps"
	"sync"
	"time"

	"sealworthy/compare"
	"sealworthy/instruments"
)

// Bounds of looking whether files have changed (our own choice): what was told, saved or measured here is
// seen at once, what an editor or another program did within that time.
const (
	lookedEvery = 2 * time.Second
	mostPresent = 64
	// Files that are written all the time, as by a test in another window, are judged once they stand still.
	standStill = 5 * time.Second
	mostAgain  = 2
)

// present is how the files of the builds that are shown are now, so that a verdict is shown for no longer
// than what it was made of is there.
type present struct {
	mu      sync.Mutex
	of      map[string]filesAt // by the build's ID
	changed chan struct{}      // closed at the next change
}

// filesAt is how a build's files are.
type filesAt struct {
	state string    // stands for all that they say, as Work.Files gives it
	since time.Time // when it was seen first
	again int       // how often it changed with no pause between
	shown time.Time // when a page was given it last
}

// What stands in the place of files that nothing can be said of.
const (
	underTest  = "under test" // they grow
	unreadable = "unreadable"
)

func newPresent() *present {
	return &present{of: map[string]filesAt{}, changed: make(chan struct{})}
}

// saw takes in how a build's files are; shown: for a page. It tells whether that is new of a build that
// was shown before.
func (p *present) saw(id, state string, shown bool, now time.Time) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	was, known := p.of[id]
	if !known && !shown {
		return false
	}
	at := was
	if shown {
		at.shown = now
	}
	if at.state == state && known {
		p.of[id] = at
		return false
	}
	if at.again++; now.Sub(at.since) > standStill {
		at.again = 0
	}
	at.state, at.since = state, now
	p.of[id] = at
	for len(p.of) > mostPresent { // a page that still shows the one that goes is told so, and asks again
		oldest := id
		for x, f := range p.of {
			if f.shown.Before(p.of[oldest].shown) {
				oldest = x
			}
		}
		delete(p.of, oldest)
	}
	close(p.changed)
	p.changed = make(chan struct{})
	return known
}

// all tells how the files of each build are.
func (p *present) all() (state map[string]string, changed <-chan struct{}) {
	p.mu.Lock()
	defer p.mu.Unlock()
	state = map[string]string{}
	for id, f := range p.of {
		state[id] = f.state
	}
	return state, p.changed
}

// at tells how a build's files are, and since when.
func (p *present) at(id string) filesAt {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.of[id]
}

// stillTrue: what was found of a build from such files is what they say now. It's the one that decides
// whether a verdict is shown.
func (p *present) stillTrue(id, files string) bool {
	return files != "" && files != underTest && files != unreadable && p.at(id).state == files
}

// filesNow reads how a build's files are.
func (s *Server) filesNow(ctx context.Context, id string) string {
	if s.bench.tests(id) {
		return underTest
	}
	state, err := s.o.Work.Files(ctx, id)
	if err != nil {
		return unreadable
	}
	return state
}

// look looks how the files of a build are that was shown, and withdraws of the last test what they don't
// say any more. It tells whether they have changed.
func (s *Server) look(ctx context.Context, id string) bool {
	changed := ctx.Err() == nil && s.present.saw(id, s.filesNow(ctx, id), false, s.o.Now())
	if changed {
		s.again(id)
	}
	return changed
}

// lookAtAll looks at all that were shown.
func (s *Server) lookAtAll(ctx context.Context) {
	state, _ := s.present.all()
	for id := range maps.Keys(state) {
		s.look(ctx, id)
	}
}

// again has the findings of the last test judged anew, where they are of files that have changed since and can all
// be read.
func (s *Server) again(id string) {
	stale := false
	s.watch.change(func(st *State) {
		stale = st.Over != nil && st.Order.Build == id && len(st.Closures) > 0 && !s.present.stillTrue(id, st.FoundOf)
	})
	if state := s.present.at(id).state; !stale || state == underTest || state == unreadable {
		return
	}
	j := s.judgements.begin(id)
	instruments.Go(func() {
		<-j.done
		ctx := s.judgements.ctx
		var of Overview
		err := j.err
		if err == nil {
			of, err = s.o.Work.Overview(ctx, id)
		}
		s.watch.change(func(st *State) {
			if err == nil && st.Over != nil && st.Order.Build == id {
				st.Closures, st.FoundOf = ofClosure(j.what.Closures, st.Order.Closure), j.what.Files
				st.Glued, st.Parts = of.Glued, len(of.Parts)
			}
		})
		if j.holds(s.present, id) || ctx.Err() != nil {
			return // where it couldn't be judged it stays withdrawn
		}
		// Of files that couldn't all be read, or that were others for a moment: what is looked at next counts
		// as new. Nothing is judged more often than is looked.
		if j.err == nil && j.what.Files == "" || !s.look(ctx, id) {
			s.present.saw(id, unreadable, false, s.o.Now())
			s.watch.change(func(*State) {})
		}
	}, nil)
}

// notAgain says why the build of the last test isn't judged again as its files are now; "": it is.
func (s *Server) notAgain(id string) string {
	if s.present.at(id).state == unreadable {
		return whyUnreadable(nil)
	}
	if j := s.judgements.since(id, 0); j != nil && j.err != nil && j.holds(s.present, id) {
		return j.err.Error()
	}
	return ""
}

// ofClosure are the findings of a closure and of what closes inside it; "": all.
func ofClosure(all []compare.ClosureFinding, closure string) (out []compare.ClosureFinding) {
	for _, c := range all {
		if closure == "" || c.Closure == closure || within(all, c.Closure, closure) {
			out = append(out, c)
		}
	}
	return out
}

// stands waits until the files of a build stand still, where they were written all the time, and gives how they are
// then.
func (s *Server) stands(ctx context.Context, id string) (state string) {
	tick, stop := s.o.Every(lookedEvery)
	defer stop()
	for at := s.present.at(id); at.again > mostAgain && s.o.Now().Sub(at.since) < standStill; at = s.present.at(id) {
		select {
		case <-ctx.Done():
			return s.present.at(id).state
		case <-tick:
		}
	}
	return s.present.at(id).state
}

// keepLooking looks every now and then, while any page is open.
func (s *Server) keepLooking(ctx context.Context) {
	t := time.NewTicker(lookedEvery)
	defer t.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		if s.streams.Load() > 0 {
			s.lookAtAll(ctx)
		}
	}
}
