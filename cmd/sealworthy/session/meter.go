package session

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/compare"
	"sealworthy/compare/scene"
	"sealworthy/compare/words"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
)

// AskMeter asks for the meter that takes the place of one that was given up: done (it is
// plugged in), typed (the maker types what it shows), keep (the old one, after all), stop.
const AskMeter capture.QuestionKind = "another meter"

// Typed is the choice of a meter that is read by the maker.
const Typed = "typed"

// KeepOld is the choice of the meter that was given up by mistake.
const KeepOld = "keep"

// NewMeter is a meter that took the place of another one in the middle of a test.
type NewMeter struct {
	Was string `json:"was"` // who the old one said that it is
	Is  string `json:"is"`  // the same of the new one
	// Unseen are the groups, not measured yet, whose least branch the old one's reading
	// would have told from healthy and the new one's doesn't.
	Unseen []string `json:"unseen"`
	// Stands: groups that the old one measured: what it settled stays settled.
	Stands []string `json:"stands"`
	// Stated: the new one's limits of error are known; else those of usual ones are taken.
	Stated bool `json:"stated"`
	// FuseA is the fuse of an earlier meter that limits stay below still, in A: the new
	// one's is larger or isn't known, and nobody stated it. 0: none.
	FuseA float64 `json:"fuse_a,omitempty"`
	// Anew is what is measured with one meter from beginning to end, so that it begins
	// anew with the new one; "": groups, each by itself.
	Anew Anew `json:"anew,omitempty"`
}

// Anew is what is measured with one meter from beginning to end.
type Anew string

// What is: readings of two meters, each with its own error, would be taken for a change of
// the model, or of the piece.
const (
	AnewModel Anew = "model" // the whole one, at its jack
	AnewPiece Anew = "piece" // a loose one; those that are whole stand
)

// GivenUp tells whether a test ended because its maker takes another meter, and for that
// alone: with the output off for sure, and all that was measured kept.
func GivenUp(err error) bool {
	a, ok := capture.GivenUp(err)
	return ok && a.Which == theMeter
}

// stillThere: the meter that was given up isn't lost: its maker gave it up, who may have meant
// something else.
func stillThere(err error) bool {
	a, ok := capture.GivenUp(err)
	return ok && a.Which == theMeter && a.InPlace
}

// withMeters does what is measured, and goes on with it each time that its maker has taken
// another meter: do gets the proof of the bench that was made before; nil: none was. What was
// gone on with comes back in t.
func (s *Session) withMeters(ctx context.Context, t *Sitting,
	do func(*capture.Proof) (file string, err error)) (file string, err error) {
	if err := s.knowsFuse(ctx, *t); err != nil {
		return "", err
	}
	if err := s.goesOnWithOthers(ctx, t); err != nil {
		return "", err
	}
	var proof *capture.Proof // of the bench as it is
	for {
		if err := s.knowsChange(*t); err != nil {
			return file, err
		}
		now, err := "", error(nil)
		if t.Prove && proof == nil {
			proof, err = s.Prove(ctx, t.HandsFree)
		}
		if err == nil {
			now, err = do(proof)
		}
		file = cmp.Or(now, file)
		if s.Desk.Nobody() || !GivenUp(err) {
			return file, err
		}
		if file != "" { // what was to be done again is marked so
			t.Resume, t.Redo = true, nil
		}
		kept, err := s.AnotherMeter(ctx, *t, stillThere(err))
		switch {
		case err != nil:
			return file, err
		case !kept:
			t.Prove, proof = t.Reprove, nil
		case now != "": // what was proved counts still, and is in its record
			t.Prove, proof = false, nil
		}
	}
}

// goesOnWithOthers has the bench proved where a test is gone on with and other instruments
// are there than before. What bench.toml says of the fuse may be the old meter's.
func (s *Session) goesOnWithOthers(ctx context.Context, t *Sitting) error {
	if !t.Resume || !t.Reprove {
		return nil
	}
	others, err := s.Another(t.Stage)
	if err != nil || len(others) == 0 {
		return err
	}
	s.Desk.Tell(Event{What: Cautioned,
		Text: "There is another " + words.List(others) + " than before: the bench is proved with it first."})
	t.Prove = true
	if !slices.Contains(others, theMeter) || s.Bench.tellsMeter() {
		return nil
	}
	fuseA, err := s.askFuse(ctx)
	if err == nil && fuseA != nil {
		s.fused(*fuseA)
	}
	return err
}

// AnotherMeter has another meter put into the bench, after a test ended with GivenUp. The
// bench is to be proved with it before the test goes on. Where the old one is in its place still,
// and nothing was tried with another, it can be kept: then nothing has changed.
func (s *Session) AnotherMeter(ctx context.Context, t Sitting, inPlace bool) (kept bool, err error) {
	ctx, done := s.Guard.Context(ctx)
	defer done()
	_ = s.Desk.Interrupted() // it was heard
	b := s.Bench
	was := describe(b.Meter)
	q := capture.Question{Kind: AskMeter, Text: "Put the other meter into the plus lead, in place of the old one, " +
		"and switch it on. The output is off. If it talks to the computer, plug that in, too.",
		Help: "What the old one has settled stands. The bench is proved with the new one, which has its own error."}
	for {
		q.Choices = meterChoices(t, inPlace)
		a, err := s.ask(ctx, Question{Question: q})
		switch {
		case GivenUp(err): // that is what is asked
			continue
		case err != nil:
			return false, err
		case a.Choice == "stop":
			return false, capture.ErrStopped
		case a.Choice == KeepOld:
			err := b.keptMeter(ctx)
			if err == nil {
				return true, nil
			}
			if ctx.Err() != nil {
				return false, context.Cause(ctx)
			}
			q.Text = "The old meter doesn't answer: " + err.Error() + ". Put it back, or another one in its place."
			continue
		case a.Choice == Typed:
			b.typed(s.Desk)
		default:
			inPlace = false // its leads may have been out
			if err := b.again.anotherMeter(ctx); err != nil {
				if ctx.Err() != nil {
					return false, context.Cause(ctx)
				}
				q.Text = "No meter answers: " + err.Error() + ". Is it plugged in and on?"
				if same := (*sameMeterError)(nil); errors.As(err, &same) {
					q.Text = "It's the same meter as before: " + same.Error() + ". Put the other one in its place. " +
						"To go on with the old one choose stop, then go on with this test."
				}
				if !t.sweeps() {
					q.Text += " Or type what it shows."
				}
				continue
			}
		}
		break
	}
	return false, s.metersChanged(ctx, t, was)
}

// meterChoices are the ways to go on where another meter is taken.
func meterChoices(t Sitting, inPlace bool) []string {
	out := []string{"done"}
	if !t.sweeps() {
		out = append(out, Typed)
	}
	if inPlace {
		out = append(out, KeepOld)
	}
	return append(out, "stop")
}

// keptMeter goes on with the meter that was given up. It is opened anew, as one is that was lost:
// one that calls itself something else isn't it. One that is read by its maker needs nothing.
func (b *Bench) keptMeter(ctx context.Context) error {
	if _, typed := b.Meter.(*byhand.Meter); typed {
		return nil
	}
	m, err := b.ReopenMeter(ctx)
	if err == nil {
		b.Meter = m
	}
	return err
}

// metersChanged keeps that another meter is in use, and says what that means.
func (s *Session) metersChanged(ctx context.Context, t Sitting, was instruments.Description) error {
	if err := s.keepChange(t); err != nil {
		return err
	}
	stated, err := s.askFuse(ctx)
	if err != nil {
		return err
	}
	change, err := s.changed(t, was)
	if err != nil {
		return err
	}
	if change.FuseA = s.Bench.metered(stated); stated != nil {
		s.fused(*stated)
	}
	s.Desk.Tell(Event{What: Remetered, Meter: change})
	return nil
}

// typed puts a meter into the bench that its maker reads.
func (b *Bench) typed(f capture.Face) {
	_ = b.opened[theMeter].Close() // it is given up
	b.Meter, b.ReopenMeter = &byhand.Meter{Face: f, Clock: b.Clock}, nil
	b.opened[theMeter] = &bench.Opened{}
}

// metered takes over what the meter that is new says of itself. Its profile is a guess, or
// that of the old one: a fuse that is known from before stays the bound where it's smaller,
// until the new one's is stated. That is given, in A; 0: the new one's own counts.
func (b *Bench) metered(statedA *float64) (fromBefore float64) {
	was := b.MeterFuseAmps
	b.remetered = b.Clock.Now()
	b.Window, b.MeterFuseAmps = 0, 0
	if statedA != nil {
		b.fused(*statedA)
	}
	b.described()
	if was == 0 || statedA != nil || b.MeterFuseAmps > 0 && b.MeterFuseAmps <= was {
		return 0
	}
	b.MeterFuseAmps = was
	return was
}

// fused takes over what its maker says of the fuse behind the meter's jack.
func (b *Bench) fused(amps float64) {
	b.MeterFuseAmps = amps
	if m, ok := b.Meter.(*byhand.Meter); ok {
		m.JackFuseAmps = amps
	}
	cfg := *b.again.cfg // one that is opened again has it, too
	cfg.Meter.FuseAmps = amps
	b.again.cfg = &cfg
	if b.ReopenMeter != nil {
		b.ReopenMeter = b.again.meter
	}
}

// sameMeterError: the meter that was given up answers again.
type sameMeterError struct{ who, port string }

func (e *sameMeterError) Error() string { return fmt.Sprintf("%q answers on %s", e.who, e.port) }

// other opens a meter on a port, if it isn't the one that was given up. One that can't say
// which of its kind it is may be another, as its maker says.
func (r reopener) other(ctx context.Context, port string) (*bench.Opened, error) {
	o, err := r.on(ctx, theMeter, port, "")
	if err != nil {
		return nil, err
	}
	was, is := r.set.opened[theMeter].Identities[theMeter], o.Identities[theMeter]
	if was != "" && is == was && !capture.Nameless(o.Meter, is) {
		return nil, errors.Join(&sameMeterError{is, port}, o.Close())
	}
	return o, nil
}

// anotherMeter looks for a meter that isn't the old one: on its port, then on those that
// the system lists and this bench doesn't use; as its profile speaks, then by SCPI.
func (r reopener) anotherMeter(ctx context.Context) error {
	was := r.set.opened[theMeter]
	_ = was.Close() // it is given up
	cfg := *r.cfg
	cfg.Meter = bench.Meter{Profile: r.cfg.Meter.Profile}
	profiles := []string{cfg.Meter.Profile}
	if cfg.Meter.Profile != "" {
		profiles = append(profiles, "") // the usual one
	}
	var first error
	for _, p := range r.ports(theMeter) {
		for _, cfg.Meter.Profile = range profiles {
			x := r
			x.cfg = &cfg
			o, err := x.other(ctx, p)
			if err == nil {
				own := cfg
				x.cfg = &own
				r.set.again, r.set.Meter, r.set.ReopenMeter = x, o.Meter, x.meter
				r.set.opened[theMeter], r.set.at[theMeter] = o, p
				return nil
			}
			if ctx.Err() != nil {
				return context.Cause(ctx)
			}
			if same := (*sameMeterError)(nil); errors.As(err, &same) {
				first = err // that tells most, and speaks by no other profile
				break
			}
			if first == nil {
				first = err
			}
		}
	}
	if first == nil {
		first = errors.New("no port is left that it could be on")
	}
	return first
}

// changed says what another meter means for what is left of a test.
func (s *Session) changed(t Sitting, was instruments.Description) (*NewMeter, error) {
	is := describe(s.Bench.Meter)
	out := &NewMeter{Was: was.Identity, Is: is.Identity, Unseen: []string{}, Stands: []string{}, Anew: t.anew()}
	for _, r := range is.Ranges {
		out.Stated = out.Stated || r.Quantity == instruments.Current && r.Accuracy != (instruments.Accuracy{})
	}
	if out.Anew != "" {
		return out, nil
	}
	_, have, err := s.Record.GoesOn(t.Stage)
	if err != nil && !errors.As(err, new(*NoTestError)) {
		return nil, err
	}
	for _, r := range have {
		if r.Step.Kind != capture.Power || !counts(r) {
			continue
		}
		for _, g := range r.Step.Groups {
			if !slices.Contains(out.Stands, g) {
				out.Stands = append(out.Stands, g)
			}
		}
	}
	l := s.Bench.Leads
	c := scene.Scene{Loose: t.Stage == compare.Loose, LeadsOhm: l.Ohm, LeadsHalfOhm: l.HalfOhm,
		Room: scene.Measured(t.RoomC)}
	unseen, err := s.Judge.Expected.NotSeenWith(c, was, is)
	if err != nil {
		return nil, fmt.Errorf("what the other meter can tell isn't known: %w", err)
	}
	for _, g := range unseen {
		if !slices.Contains(out.Stands, g) {
			out.Unseen = append(out.Unseen, g)
		}
	}
	return out, nil
}

// describe is what a meter says of itself.
func describe(m instruments.Meter) instruments.Description {
	if d, ok := m.(instruments.Describer); ok && m != nil {
		return d.Describe()
	}
	return instruments.Description{}
}
