package main

import (
	"context"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
)

// alone is a bench with nobody at it.
type alone struct{}

func (alone) Nobody() bool       { return true }
func (alone) Show(capture.Event) {}
func (alone) Ask(context.Context, capture.Question) (capture.Answer, error) {
	return capture.Answer{}, capture.ErrUnattended
}

// awake answers questions as told.
type awake struct {
	answer func(capture.Question) capture.Answer
}

func (awake) Show(capture.Event) {}
func (a awake) Ask(_ context.Context, q capture.Question) (capture.Answer, error) {
	return a.answer(q), nil
}

// before is who sits before a session: shown what the engine shows, and asked.
type before struct{ capture.Face }

func (x before) Tell(e session.Event) {
	if e.What == session.Shown {
		x.Show(*e.Test)
	}
}

func (x before) Ask(ctx context.Context, q session.Question) (capture.Answer, error) {
	return x.Face.Ask(ctx, q.Question)
}

// deskOf is the desk with somebody before it.
func deskOf(f capture.Face) *session.Desk {
	n, ok := f.(interface{ Nobody() bool })
	return session.NewDesk(ok && n.Nobody(), instruments.Go, before{f})
}

// useOf is a session on a bench that is open.
func useOf(b build, bs *session.Bench, f capture.Face) (*session.Session, error) {
	j, err := b.judge(bs.Leads)
	var beside *session.Beside
	if x, ok := f.(interface{ Beside() *session.Beside }); ok {
		beside = x.Beside()
	}
	return &session.Session{Beside: beside, World: session.World{Clock: bs.Clock}, Record: b.record(quiet()), Judge: j,
		Guard: capture.NewGuard(bs.Clock), Desk: deskOf(f), Bench: bs}, err
}
