package session

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/byhand"
	"sealworthy/capture/record"
)

// AskFuse asks for the fuse behind the jack of a meter that is new, A: number, don't know. It
// has no text: each face has words of its own.
const AskFuse capture.QuestionKind = "fuse"

// The fuses that are asked for, A: those of meters' jacks lie well between (common practice,
// no source).
const (
	leastFuseA = 0.01
	mostFuseA  = 30.0
)

// askFuse asks for the fuse of the meter that is in use; nil: it isn't known.
func (s *Session) askFuse(ctx context.Context) (*float64, error) {
	ctx, done := s.Guard.Context(ctx) // a signal ends the question
	defer done()
	q := inquirer{desk: s}
	a, err := q.ask(ctx, AskFuse, About{Least: leastFuseA, Most: mostFuseA, FuseA: s.Bench.MeterFuseAmps}, "number",
		DontKnow)
	if err != nil || a.Choice == DontKnow {
		return nil, err
	}
	return a.Number, nil
}

// fuseNote names what is kept of a fuse that was stated: bench.toml has it not, and a test that
// is gone on with needs it.
const fuseNote = "fuse of the meter's jack"

// statedFuse is what is kept of it.
type statedFuse struct {
	Meter string  `json:"meter"`          // as it calls itself; "": it can't
	Port  string  `json:"port,omitempty"` // that it was on; "": none, or it wasn't kept
	Amps  float64 `json:"amps"`
}

// fused takes over what is said of the fuse of the meter that is in use, to be kept.
func (s *Session) fused(amps float64) {
	s.Bench.fused(amps)
	s.fuse = &statedFuse{Meter: s.Bench.who(theMeter), Port: s.Bench.meterPort(), Amps: amps}
}

// keepFuse keeps what was said of a fuse, once.
func (s *Session) keepFuse(k *record.Keeper, stage string) error {
	if s.fuse == nil {
		return nil
	}
	src, err := json.Marshal(s.fuse)
	if err != nil {
		return err
	}
	s.fuse = nil
	return k.Note(fuseNote, string(src), stage, s.now())
}

// knowsFuse takes over what was said of the fuse of the meter that is in use, where a test is
// gone on with: bench.toml may tell of the meter before it, but where it names the meter. Where
// it can't be told whether that was of this one, it's asked for again.
func (s *Session) knowsFuse(ctx context.Context, t Sitting) error {
	if !t.Resume || s.Bench.tellsMeter() {
		return nil
	}
	f, err := record.ReadDir(s.Record.Dir)
	if err != nil {
		return err
	}
	var others *statedFuse // the latest of a meter that may be another one
	for _, n := range slices.Backward(f.Notes) {
		var was statedFuse
		if n.Name != fuseNote {
			continue
		}
		if err := json.Unmarshal([]byte(n.Text), &was); err != nil {
			return fmt.Errorf("what was kept of a meter's fuse can't be read: %w", err)
		}
		switch {
		case was.Meter != s.Bench.who(theMeter) || was.Amps <= 0:
		case s.Bench.isThisMeter(was.Port):
			s.Bench.fused(was.Amps)
			return nil
		case others == nil:
			others = &was
		}
	}
	if others == nil {
		return nil
	}
	return s.asksOfAnother(ctx, *others)
}

// asksOfAnother asks for the fuse of a meter that calls itself as another one does, of whose
// fuse was is known. Unless it's stated, that stays the bound where it's smaller.
func (s *Session) asksOfAnother(ctx context.Context, was statedFuse) error {
	var statedA *float64
	if !s.Desk.Nobody() {
		var err error
		if statedA, err = s.askFuse(ctx); err != nil {
			return err
		}
	}
	switch known := s.Bench.MeterFuseAmps; {
	case statedA != nil:
		s.fused(*statedA)
	case known == 0 || was.Amps < known:
		s.Bench.fused(was.Amps)
	}
	return nil
}

// isThisMeter: the meter in use is the one that calls itself as it does and was on a port. One
// without a name of its own is that on its port alone.
func (b *Bench) isThisMeter(port string) bool {
	return b.meterPort() == port || !namesNone(describe(b.Meter))
}

// meterPort is the port of the meter that is in use; "": it's read by its maker.
func (b *Bench) meterPort() string {
	if _, typed := b.Meter.(*byhand.Meter); typed {
		return ""
	}
	return b.at[theMeter]
}

// tellsMeter: bench.toml says which meter is in use.
func (b *Bench) tellsMeter() bool {
	m := b.again.cfg.Meter
	return m.Identity != "" && b.isThisMeter(m.Port)
}
