package session

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/returns"
)

// adapterNote names what is kept of the adapter that goes along.
const adapterNote = "adapter that goes along"

// Along asks for the adapter that goes along with a model, alone on the bench, idle and
// on the resistor that draws what the model draws, and keeps it. nil: none goes along.
func (s *Session) Along(ctx context.Context, sig *returns.Signature) (*returns.Adapter, error) {
	ctx, done := s.Guard.Context(ctx)
	defer done()
	about := aboutJack(s.Record, sig)
	about.Along = true
	q := inquirer{desk: s, about: about, have: ReturnAnswers{},
		keep: func(capture.QuestionKind, string) error { return nil }}
	if err := q.adapter(ctx); err != nil {
		return nil, err
	}
	a := q.have.Adapter()
	if a == nil || !a.Sent {
		return nil, nil
	}
	src, err := json.Marshal(a)
	if err != nil {
		return nil, err
	}
	return a, s.Record.Tell(func(rec *record.Recorder, now time.Time, stage string) error {
		k := record.Keep(rec)
		if err := k.Note(adapterNote, string(src), stage, now); err != nil {
			return err
		}
		return k.Sync()
	})
}

// AlongIn is the adapter that went along, as it was kept last; nil: none was.
func AlongIn(notes []record.Note) (*returns.Adapter, error) {
	var out *returns.Adapter
	for _, n := range notes {
		if n.Name == adapterNote {
			out = &returns.Adapter{}
			if err := json.Unmarshal([]byte(n.Text), out); err != nil {
				return nil, fmt.Errorf("what was kept of the adapter can't be read: %w", err)
			}
		}
	}
	return out, nil
}
