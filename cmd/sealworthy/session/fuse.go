package session

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"sealworthy/capture"
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
	q := inquirer{desk: s.Desk}
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
	Meter string  `json:"meter"` // as it calls itself; "": it can't
	Amps  float64 `json:"amps"`
}

// fused takes over what is said of the fuse of the meter that is in use, to be kept.
func (s *Session) fused(amps float64) {
	s.Bench.fused(amps)
	s.fuse = &statedFuse{s.Bench.who(theMeter), amps}
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
// gone on with: bench.toml may tell of the meter before it, but where it names the meter.
func (s *Session) knowsFuse(t Sitting) error {
	if !t.Resume || s.Bench.again.cfg.Meter.Identity != "" {
		return nil
	}
	f, err := record.ReadDir(s.Record.Dir)
	if err != nil {
		return err
	}
	for _, n := range slices.Backward(f.Notes) {
		var was statedFuse
		if n.Name != fuseNote {
			continue
		}
		if err := json.Unmarshal([]byte(n.Text), &was); err != nil {
			return fmt.Errorf("what was kept of a meter's fuse can't be read: %w", err)
		}
		if was.Meter == s.Bench.who(theMeter) && was.Amps > 0 {
			s.Bench.fused(was.Amps)
			return nil
		}
	}
	return nil
}
