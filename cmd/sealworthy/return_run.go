package main

import (
	"context"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// measureReturn leads through a return on the bench that the flags name.
func (a *atJack) measureReturn(ctx context.Context, e env, b build, o compare.WholeOptions,
	given session.ReturnAnswers) (string, error) {
	cfg, err := a.config(e, b.dir)
	if err != nil {
		return "", err
	}
	t := session.Return{Sitting: a.sitting(compare.Returned, o), Given: given}
	if t.Signature, err = b.signature(); err != nil {
		return "", err
	}
	if t.Weigh, err = b.returnOptions(); err != nil {
		return "", err
	}
	s, leave := sitDown(e, a.world, !a.unattended)
	defer leave()
	u, err := s.session(e, a.world, b, cfg)
	if err != nil {
		return "", err
	}
	return u.Return(ctx, t, cfg, a.over)
}
