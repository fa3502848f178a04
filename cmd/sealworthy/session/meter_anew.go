package session

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/instruments"
)

// anew is what of a test is measured with one meter from beginning to end; "": nothing.
func (t Sitting) anew() Anew {
	switch {
	case t.pieces:
		return AnewPiece
	case t.Whole != nil:
		return AnewModel
	}
	return ""
}

// sweeps: the whole model is measured at many voltages, which nobody types in.
func (t Sitting) sweeps() bool { return t.Whole != nil && !t.Whole.NoSweep }

// who is the name of an instrument that is in use; "": it can't say.
func (b *Bench) who(which string) string {
	if o := b.opened[which]; o != nil && o.Identities[which] != "" {
		return o.Identities[which]
	}
	if which == theMeter {
		return describe(b.Meter).Identity
	}
	return ""
}

// readByAnother: a step was read with another meter than the one that is in use. Where two
// would answer alike, or are read by the maker, the moment of the change tells.
func (b *Bench) readByAnother(r capture.StepRecord) bool {
	d, read := r.Instruments[compare.MeterName]
	was, is := d.Identity, b.who(theMeter)
	switch {
	case !read:
		return false
	case was != "" && is != "" && was != is:
		return true
	}
	before := r.Began.Before(b.remetered) || r.BeganAt > 0 && !r.BeganAt.After(b.changed)
	return before && namesNone(d)
}

// changeNote names what is kept of a change of meters, with who the new one is: of two that can't
// be told apart the record alone knows, in another run, what was read before it.
const changeNote = "another meter"

// keepChange keeps that another meter is in use from now on, at once: the test may be broken off
// before anything is read with it. Where nothing is gone on with there is nothing to part.
func (s *Session) keepChange(t Sitting) error {
	if !t.Resume {
		return nil
	}
	m := capture.Mark{Kind: capture.MarkNote, StepID: changeNote, Reason: s.Bench.who(theMeter),
		Simulated: s.Bench.Simulated()}
	return s.Record.Mark(t.Stage, []capture.Mark{m}, s.now())
}

// knowsChange takes over when another meter was taken last, where a test is gone on with.
func (s *Session) knowsChange(t Sitting) error {
	if !t.Resume {
		return nil
	}
	f, err := record.ReadDir(s.Record.Dir)
	if err != nil {
		return err
	}
	for _, n := range f.Notes {
		if n.Name == changeNote {
			s.Bench.changed = max(s.Bench.changed, n.Order)
		}
	}
	return nil
}

// namesNone: who a meter says that it is doesn't tell it from another one.
func namesNone(d instruments.Description) bool {
	return d.Identity == "" || d.Profile == byhand.Profile || capture.NamelessAs(d.Profile, d.Identity)
}

// sameMeter leaves of the steps that were recorded those that a test can go on with: of the
// whole model, what was read with the meter that is in use, and what was seen.
func (b *Bench) sameMeter(t Sitting, have []capture.StepRecord) []capture.StepRecord {
	if t.anew() != AnewModel {
		return have
	}
	return slices.DeleteFunc(slices.Clone(have), func(r capture.StepRecord) bool {
		return r.Step.Kind == capture.Whole && b.readByAnother(r)
	})
}

// wholePieces leaves of the pieces that were measured those that are whole: what another
// meter than the one in use has begun is measured anew. Of what was, the latest counts.
func (b *Bench) wholePieces(steps []capture.Step, all []capture.StepRecord) []capture.StepRecord {
	var done []capture.StepRecord
	for _, r := range all {
		done = slices.DeleteFunc(done, func(x capture.StepRecord) bool { return x.Step.ID == r.Step.ID })
		done = append(done, r)
	}
	of := func(piece string) (n int) {
		for _, s := range steps {
			if s.Feed == piece {
				n++
			}
		}
		return n
	}
	read, strange := map[string]int{}, map[string]bool{}
	for _, r := range done {
		read[r.Step.Feed]++
		strange[r.Step.Feed] = strange[r.Step.Feed] || b.readByAnother(r)
	}
	return slices.DeleteFunc(done, func(r capture.StepRecord) bool {
		return strange[r.Step.Feed] && read[r.Step.Feed] < of(r.Step.Feed)
	})
}
