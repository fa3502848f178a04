package session

import (
	"context"

	"sealworthy/capture"
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
	a, err := q.ask(ctx, AskFuse, About{Least: leastFuseA, Most: mostFuseA}, "number", DontKnow)
	if err != nil || a.Choice == DontKnow {
		return nil, err
	}
	return a.Number, nil
}
