package main

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/rig"
)

// slowHands are a maker who, before answering a question the first time, does something at the
// supply, and sees what becomes of it.
type slowHands struct {
	benchMaker
	rig   *rig.Bench
	at    map[capture.QuestionKind]func() // what is done before that question is answered; once
	lost  []string                        // what was asked about a supply that can't be read
	found int                             // how often it was told that somebody switched it on
}

func (h *slowHands) Tell(e session.Event) {
	if e.What == session.Shown && e.Test.What == capture.Warning &&
		strings.Contains(e.Test.Text, "somebody switched it on") {
		h.found++
	}
	h.benchMaker.Tell(e)
}

func (h *slowHands) Ask(ctx context.Context, q session.Question) (capture.Answer, error) {
	if q.Kind == capture.AskPlug {
		h.lost = append(h.lost, q.Text)
		if _, err := h.rig.Replug("supply", false); err != nil {
			return capture.Answer{}, err
		}
		<-ctx.Done() // it answers itself
		return capture.Answer{}, ctx.Err()
	}
	if do := h.at[q.Kind]; do != nil {
		delete(h.at, q.Kind)
		do()
		select {
		case <-ctx.Done(): // taken back, to come again with what was found
			return capture.Answer{}, ctx.Err()
		case <-time.After(20 * time.Second):
			return capture.Answer{}, errors.New("the question stands as if nothing had happened")
		}
	}
	return h.benchMaker.Ask(ctx, q)
}

// While a search asks, from the trial of the supply on, its output is read back: what somebody
// switches on at the supply is switched off and told, and where it can't be read it's said that
// it isn't known.
func TestBenchMindsTheOutputWhileItAsks(t *testing.T) {
	t.Parallel()
	key := func(b *rig.Bench) error { b.Key(true); return nil }
	out := func(b *rig.Bench) error { return b.Unplug("supply") }
	for _, c := range []struct {
		name        string
		at          capture.QuestionKind
		do          func(*rig.Bench) error
		found, lost int
	}{
		{"switched on in the trial", session.AskFree, key, 1, 0},
		{"lost in the trial", session.AskFree, out, 0, 1},
		{"switched on after it", session.AskWritten, key, 1, 0},
		{"lost after it", session.AskWritten, out, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			x := workbenchBy(t, clock.Wall{}, clock.Wall{}.Outside, nil, nil)
			h := &slowHands{rig: x.rig}
			h.at = map[capture.QuestionKind]func(){c.at: func() { must(t, c.do(x.rig)) }}
			h.t, h.says = t, []string{"try try", "free yes", "write down leave"}
			finder, _ := finderOf(x.w, "")
			speaks, err := profile.Load("scpi supply", "")
			must(t, err)
			g, port := capture.NewGuard(x.w.Clock), x.rig.Ports().Supply
			s := session.Search{World: x.w.World, Guard: g, Desk: session.NewDesk(false, g.Go, h), Finder: finder,
				Ports: []string{port}, Chosen: map[string]*profile.Profile{port: speaks}, Folder: t.TempDir(),
				Keep: func([]*session.Looked) (string, error) { return "", errors.New("it was left") }}
			got, err := s.Run(t.Context())
			if err != nil || len(h.says) > 0 {
				t.Fatalf("%v; never asked %q\n%s", err, h.says, h.told.String())
			}
			if !got.Looked[0].Tried || h.found != c.found || len(h.lost) != c.lost || x.rig.Output().On {
				t.Errorf("tried %v, found on %d times, lost %q, on at the end %v", got.Looked[0].Tried, h.found, h.lost,
					x.rig.Output().On)
			}
			for _, says := range h.lost {
				if !strings.Contains(says, "whether it is now isn't known") {
					t.Error(says)
				}
			}
			for _, e := range x.rig.Outputs() {
				if e.On && e.Why == "command" && (e.Volts > 1.01 || e.LimitA > 0.011) {
					t.Errorf("switched on at %g V and %g A", e.Volts, e.LimitA)
				}
			}
		})
	}
}
