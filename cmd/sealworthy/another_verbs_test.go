package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/sample"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// giver is a maker who gives the meter up in the middle of a reading, and puts another one in
// or reads it himself. He has hands.
type giver struct {
	swapper
	r      *rig.Bench
	desk   *session.Desk
	at     func(capture.Event) bool // gives it up when the engine shows this
	atAsk  capture.QuestionKind     // or when this is asked
	gives  bool
	other  bool // another one is in its place
	sweeps bool // what nobody can type in
	// nameless: no meter has a serial number, so that all answer alike.
	nameless bool
	breaks   bool // he stops as soon as the other one is in its place
	proofs   int
	wrong    error
}

func (f *giver) Tell(e session.Event) {
	f.swapper.Tell(e)
	switch {
	case e.What == session.Proved:
		f.proofs++
	case e.What == session.Shown && f.at != nil && f.at(*e.Test):
		f.at, f.gives = nil, true
	}
}

// overheard is a port; what goes over it is a moment between two events.
type overheard struct {
	instruments.Port
	f      *giver
	before []byte // the last ones
}

// serial is a meter's serial number, or as much of it as has come.
var serial = regexp.MustCompile(`,METER,[SNX0-9]+`)

// ReadUntil has the meter call itself something else once another one is taken. What comes may
// come in pieces.
func (p *overheard) ReadUntil(ctx context.Context, b []byte, deadline time.Time) (int, error) {
	n, err := p.Port.ReadUntil(ctx, b, deadline)
	all := append(p.before, b[:n]...)
	switch {
	case p.f.nameless:
		all = serial.ReplaceAllFunc(all, func(b []byte) []byte {
			return append([]byte(",METER,"), bytes.Repeat([]byte("0"), len(b)-len(",METER,"))...)
		})
	case p.f.other:
		all = bytes.ReplaceAll(all, []byte(",METER,SN"), []byte(",METER,SX"))
	}
	copy(b, all[len(p.before):])
	p.before = slices.Clone(all[max(0, len(all)-len(",METER,SN00000")):])
	return n, err
}

func (p *overheard) Write(ctx context.Context, b []byte) error {
	if p.f.gives {
		p.f.gives = false
		p.f.desk.Interrupt(capture.AnotherMeter())
	}
	return p.Port.Write(ctx, b)
}

func (f *giver) Ask(ctx context.Context, q session.Question) (capture.Answer, error) {
	switch {
	case f.breaks && f.other && q.Kind == capture.AskClip:
		return capture.Answer{Choice: "stop"}, nil
	case f.atAsk != "" && q.Kind == f.atAsk:
		f.atAsk = ""
		f.desk.Interrupt(capture.AnotherMeter())
		<-ctx.Done()
		return capture.Answer{}, ctx.Err()
	case q.Kind == capture.AskNumber:
		return capture.Answer{Choice: "number", Text: fmt.Sprintf("%.5f A", f.r.Output().Amps)}, nil
	case q.Kind == session.AskMeter:
		if f.r.Output().On {
			f.wrong = errors.New("the output is on while another meter is put in")
		}
		f.other = f.answers[0] != session.KeepOld
		if sweeps := !slices.Contains(q.Choices, session.Typed); sweeps != f.sweeps {
			f.wrong = fmt.Errorf("offered %q", q.Choices)
		}
	case q.Kind == capture.AskClip && strings.Contains(q.Text, "together"):
		f.r.Across(togetherOhm)
	case q.Kind == capture.AskClip && strings.Contains(q.Text, "resistor"):
		f.r.Across(1000)
	case q.Kind == capture.AskClip && q.Step == nil:
		f.r.Across(0)
		_ = f.r.Connect()
	case q.Kind == capture.AskClip && q.Step.Kind == capture.Power && len(q.Step.Groups) == 0: // a loose piece
		f.r.Across(0)
		_ = f.r.Connect("stern lamp")
	case q.Kind == capture.AskClip:
		f.r.Across(0)
		_ = f.r.Connect(q.Step.On...)
	}
	return f.swapper.Ask(ctx, q)
}

// readBy are the steps that ended as measured, with who read them.
func readBy(f record.Folded) (ids, who []string) {
	for _, s := range f.Steps {
		if s.Outcome == capture.Measured && len(s.Instruments) > 0 {
			ids, who = append(ids, s.Step.ID), append(who, s.Instruments[compare.MeterName].Identity)
		}
	}
	return ids, who
}

// nth is the nth step of a kind that is read.
func nth(n int, kind capture.Kind) func(capture.Event) bool {
	step := ""
	return func(e capture.Event) bool {
		if e.Step == nil || e.Step.Kind != kind || e.What != capture.Sampling && e.What != capture.Settling {
			return false
		}
		if e.Step.ID != step {
			step = e.Step.ID
			n--
		}
		return n == 0
	}
}

func whole(o compare.WholeOptions) *compare.WholeOptions { return &o }

// signed is a model that was measured and left, with its signature.
func signed(t *testing.T, b build) {
	sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 1}, sittingBegan)
	sit(t, b, session.Sitting{Stage: compare.Delivered, Seed: 2,
		Whole: whole(compare.WholeOptions{AllPaces: true, Warm: time.Minute})}, sittingBegan.AddDate(0, 0, 1))
	_, _, err := b.keep(quiet())
	must(t, err)
}

// returned leads through a return, with some questions answered before.
func returned(t *testing.T, given session.ReturnAnswers, resume bool) func(u *session.Session, b build) error {
	return func(u *session.Session, b build) error {
		r := session.Return{Sitting: session.Sitting{Stage: compare.Returned, Reprove: true, Resume: resume,
			Whole: whole(compare.WholeOptions{AllPaces: true, Warm: 10 * time.Second, For: 2 * time.Second})},
			Given: given}
		var err error
		if r.Signature, err = b.signature(); err != nil {
			return err
		}
		if r.Weigh, err = b.returnOptions(); err != nil {
			return err
		}
		_, err = u.Return(t.Context(), r, &bench.Config{}, bench.Overrides{})
		return err
	}
}

// walked are the answers before a return that ask for nothing more.
func walked() session.ReturnAnswers {
	return session.ReturnAnswers{session.AskAdapter: session.NotSent, session.AskClient: session.NothingSaid,
		session.AskColours: session.Judges, session.AskEye: session.NothingSeen}
}

// Whatever is measured goes on with another meter where its maker takes one in the middle: the
// output goes off, the bench is proved with the new one, and no reading of two meters is taken
// for one of a single meter. What is measured with one from beginning to end begins anew.
func TestAnotherMeterInEveryVerb(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		answer string
		before func(t *testing.T, b build)
		at     func(capture.Event) bool
		do     func(u *session.Session, b build) error
		anew   session.Anew
		twice  []string // steps that are measured with both
	}{
		{"measure", session.Typed, nil, nth(2, capture.Power), func(u *session.Session, _ build) error {
			_, err := u.Run(t.Context(), session.Sitting{Stage: compare.Fitted, Closure: "hull", OneVoltage: true,
				Reprove: true})
			return err
		}, "", nil},
		{"keep", "done", func(t *testing.T, b build) {
			sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 1}, sittingBegan)
		}, nth(1, capture.Whole), func(u *session.Session, b build) error {
			if _, err := u.Run(t.Context(), session.Sitting{Stage: compare.Delivered, Reprove: true,
				Whole: whole(compare.WholeOptions{AllPaces: true, Warm: 10 * time.Second,
					For: 2 * time.Second})}); err != nil {
				return err
			}
			_, _, err := b.keep(quiet())
			return err
		}, session.AnewModel, nil},
		{"soak", session.Typed, nil, nth(1, capture.Whole), func(u *session.Session, _ build) error {
			_, err := u.Run(t.Context(), session.Sitting{Stage: compare.Closed, Reprove: true,
				Whole: whole(soakOptions(time.Minute))})
			return err
		}, session.AnewModel, nil},
		{"return", "done", signed, nth(2, capture.Whole), returned(t, walked(), false),
			session.AnewModel, []string{"limit/main"}},
		{"return, nameless", "done", signed, nth(2, capture.Whole), returned(t, walked(), false),
			session.AnewModel, []string{"limit/main"}},
		{"return, asked first", "done", signed, nil,
			returned(t, session.ReturnAnswers{session.AskAdapter: session.NotSent}, false), session.AnewModel, nil},
		{"next", session.Typed, func(t *testing.T, b build) {
			sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 1, OneVoltage: true}, sittingBegan,
				"bench lamps=open branch")
		}, nth(1, capture.Look), func(u *session.Session, _ build) error {
			_, err := u.Diagnose(t.Context(),
				session.Diagnosis{How: session.Sitting{Stage: compare.Fitted, Reprove: true}})
			return err
		}, "", nil},
		{"part", session.Typed, nil, nth(3, capture.Power), func(u *session.Session, _ build) error {
			p, err := plan.Find("smd warm white 12 V")
			if err != nil {
				return err
			}
			x := sample.Sampling{Part: p, Pieces: 2}
			x.Bench.Volts = 12
			_, err = u.Sample(t.Context(), x, "lamp of this bag", session.Sitting{Reprove: true})
			return err
		}, session.AnewPiece, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := &giver{swapper: swapper{answers: []string{c.answer}}, at: c.at, sweeps: c.name == "keep" ||
				strings.HasPrefix(c.name, "return"), nameless: strings.HasSuffix(c.name, "nameless")}
			if c.at == nil && strings.HasPrefix(c.name, "return") {
				f.atAsk = session.AskEye
			}
			u, b, _ := giving(t, f, c.before)
			must(t, c.do(u, b))
			must(t, f.wrong)
			if f.r.Output().On {
				t.Error("the output is still on")
			}
			if len(f.changes) != 1 || f.changes[0].Anew != c.anew || f.proofs != 1 {
				t.Fatalf("changes %+v, %d proofs", f.changes, f.proofs)
			}
			said := strings.Join(wording.Remetered(f.changes[0]), " ")
			if anew := strings.Contains(said, "begins anew"); anew != (c.anew != "") {
				t.Errorf("said: %s", said)
			}
			folded, err := record.ReadDir(u.Record.Dir)
			must(t, err)
			ids, who := readBy(folded)
			with := map[string][]string{} // who measured a step
			for i, id := range ids {
				if f.nameless || !slices.Contains(with[id], who[i]) {
					with[id] = append(with[id], who[i])
				}
			}
			if len(who) == 0 || who[len(who)-1] != f.changes[0].Is || who[0] == who[len(who)-1] &&
				c.name != "soak" && c.at != nil && !f.nameless {
				t.Errorf("measured %q with %q", ids, who)
			}
			for _, id := range c.twice {
				if len(with[id]) != 2 {
					t.Errorf("%s was measured with %v", id, with[id])
				}
			}
		})
	}
}

// giving is a session of the gig's, with somebody before it who gives the meter up; again is the
// same in another run.
func giving(t *testing.T, f *giver, before func(*testing.T, build)) (u *session.Session, b build,
	again func(*giver) *session.Session) {
	t.Helper()
	b, cfg, c, r, open := twoRigs(t)
	if before != nil {
		before(t, b)
	}
	again = func(f *giver) *session.Session {
		return sessionOf(t, f, b, cfg, c, r, open, r.Ports().Meter)
	}
	return again(f), b, again
}

// sessionOf is a run of the program at a rig, with a maker before it and the meter on a port.
func sessionOf(t *testing.T, f *giver, b build, cfg *bench.Config, c clock.Clock, r *rig.Bench,
	open instruments.Opener, meter string) *session.Session {
	t.Helper()
	d := session.NewDesk(false, instruments.Go, f)
	f.desk, f.r = d, r
	own, over := *cfg, bench.Overrides{SupplyPort: r.Ports().Supply, MeterPort: meter}
	hear := func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
		p, err := open(ctx, port, l)
		return &overheard{Port: p, f: f}, err
	}
	w := session.World{Clock: c, Open: hear, Others: func() []string { return nil }}
	bs, err := session.OpenBench(t.Context(), w, b.plan, &own, over, d)
	must(t, err)
	t.Cleanup(func() { _ = bs.Close() })
	u, err := useOf(b, bs, alone{})
	must(t, err)
	u.Desk = d
	return u
}

// Of two meters that can't be told apart the record tells when the one took the other's place: a
// run that is broken off before anything is read with the new one isn't gone on with as if the old
// one were there still. What is measured with one from beginning to end begins anew.
func TestMetersThatAnswerAlikeInAnotherRun(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name   string
		before func(*testing.T, build)
		at     func(capture.Event) bool
		do     func(u *session.Session, b build, resume bool) error
		twice  []string // what is measured in both runs
		once   []string
	}{
		{"return", signed, nth(2, capture.Whole), func(u *session.Session, b build, resume bool) error {
			return returned(t, walked(), resume)(u, b)
		}, []string{"limit/main"}, nil},
		{"part", nil, nth(8, capture.Power), func(u *session.Session, _ build, resume bool) error {
			p, err := plan.Find("smd warm white 12 V")
			if err != nil {
				return err
			}
			x := sample.Sampling{Part: p, Pieces: 2}
			x.Bench.Volts = 12
			u.Record = session.Record{Dir: u.Record.Dir, Files: u.Record.Files}
			_, err = u.Sample(t.Context(), x, "lamp of this bag", session.Sitting{Reprove: true, Resume: resume})
			return err
		}, []string{"smd warm white 12 V/piece 2/8.40 V"},
			[]string{"smd warm white 12 V/piece 1/8.40 V"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f := &giver{swapper: swapper{answers: []string{"done"}}, at: c.at, sweeps: c.name == "return",
				nameless: true, breaks: true}
			u, b, again := giving(t, f, c.before)
			if err := c.do(u, b, false); !errors.Is(err, capture.ErrStopped) || !f.other {
				t.Fatalf("the first run: %v", err)
			}
			must(t, f.wrong)
			must(t, u.Bench.Close())
			if s := lastSitting(t, u.Record.Dir); !strings.HasPrefix(s.BrokeOff, "there is another meter now") {
				t.Errorf("the sitting of the old meter: %+v", s)
			}
			f = &giver{nameless: true}
			u = again(f)
			must(t, c.do(u, b, true))
			if s := lastSitting(t, u.Record.Dir); !s.Whole || s.BrokeOff != "" {
				t.Errorf("the one that came to its end: %+v", s)
			}
			folded, err := record.ReadDir(u.Record.Dir)
			must(t, err)
			n := map[string]int{}
			ids, _ := readBy(folded)
			for _, id := range ids {
				n[id]++
			}
			for _, id := range c.twice {
				if n[id] != 2 {
					t.Errorf("%s was measured %d times, want with each of the two: %q", id, n[id], ids)
				}
			}
			for _, id := range c.once {
				if n[id] != 1 {
					t.Errorf("%s was measured %d times, it was whole: %q", id, n[id], ids)
				}
			}
		})
	}
}
