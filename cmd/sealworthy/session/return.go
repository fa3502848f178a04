package session

import (
	"context"
	"errors"
	"slices"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare/returns"
	"sealworthy/instruments/bench"
)

// Return is the test of a model that came back.
type Return struct {
	Sitting
	Signature *returns.Signature // what it was when it left
	Weigh     returns.Options    // how probable faults are held before anything is measured
	Given     ReturnAnswers      // what needn't be asked
}

// Return leads through a return: the bench is opened, where it isn't yet, so that its output
// is off for sure; then what is seen by eye and what the client's adapter gives, and the model
// is measured. All of it goes into one record, whose file is returned once there is one.
func (s *Session) Return(ctx context.Context, t Return, cfg *bench.Config, over bench.Overrides) (
	file string, err error) {
	if s.Bench == nil {
		if err := s.OpenBench(ctx, cfg, over); err != nil {
			return "", err
		}
		defer s.Bench.Close()
	}
	return s.withMeters(ctx, &t.Sitting, func(p *capture.Proof) (string, error) { return s.back(ctx, t, p) })
}

// back is Return with the meter that is there.
func (s *Session) back(ctx context.Context, t Return, proof *capture.Proof) (file string, err error) {
	var series []int
	var before []capture.StepRecord
	if t.Resume {
		if series, before, err = s.Record.GoesOn(t.Stage); err != nil {
			return "", err
		}
	}
	rec, err := s.Record.Begin(record.Opening{Stage: t.Stage, What: record.ForTest, Now: s.now(),
		Bench: s.Bench.Who(), Simulated: s.Bench.Simulated(), GoesOn: LastOf(series), Go: s.Guard.Go})
	if err != nil {
		return "", err
	}
	defer func() { err = errors.Join(err, rec.End(err)) }()
	defer s.Beside.open(rec, t.Stage)()
	file, keeper := rec.Path(), record.Keep(rec)
	s.Desk.Tell(Event{What: Recording, File: file})
	if err := errors.Join(keepProof(keeper, proof, t.Stage), s.keepFuse(keeper, t.Stage)); err != nil {
		return file, err
	}
	said := AnswersIn(before)
	if err := s.inquire(ctx, t, keeper, said); err != nil {
		return file, err
	}
	s.Bench.AmbientC = t.RoomC
	steps, err := s.returnSteps(t)
	if err != nil {
		return file, err
	}
	guide := newReturnGuide(s.Record.Plan, t, s.Bench.Leads, steps)
	guide.nobody, guide.said = s.Desk.Nobody(), said
	guide.byHand = s.Bench.Relays == nil && !s.Desk.Nobody()
	f := &returnFace{desk: s.Desk, face: s.face(t.Sitting, nil), g: guide, begun: map[Purpose]bool{}}
	done := wholeDone(s.Bench.sameMeter(t.Sitting, before))
	o := s.options(t.Sitting, done, 0)
	o.ColoursAsked, o.NoColours = true, said[AskColours] == JudgesNot
	_, err = capture.Run(ctx, s.Bench.Bench, guide, f, keeper, o)
	return file, err
}

// inquire asks what is looked at and measured before the model gets current. What
// is given counts over what was said before, and is kept, too.
func (s *Session) inquire(ctx context.Context, t Return, k *record.Keeper, said ReturnAnswers) error {
	keep := func(q capture.QuestionKind, answer string) error {
		return keepAnswer(k, s.Record.Plan.Revision, q, answer, s.now())
	}
	if _, known := said[AskColours]; !known { // said once, it holds for every return
		f, err := s.Record.folded()
		if err != nil {
			return err
		}
		switch judges, known := JudgesColours(f); {
		case known && judges:
			said[AskColours] = Judges
		case known:
			said[AskColours] = JudgesNot
		}
	}
	for _, q := range toldOrAsked {
		if a, ok := t.Given[q]; ok && said[q] != a {
			said[q] = a
			if err := keep(q, a); err != nil {
				return err
			}
		}
	}
	if s.Desk.Nobody() {
		return nil
	}
	ctx, cancel := s.Guard.Context(ctx) // a signal ends a question
	defer cancel()
	q := inquirer{desk: s, about: aboutJack(s.Record, t.Signature), have: said, keep: keep,
		heard: func(a ReturnAnswers) string {
			_, why := a.Heard(s.Record.Plan, t.Signature)
			return why
		}}
	return q.all(ctx)
}

// wholeDone are the steps of a return that was cut, that needn't be done again.
func wholeDone(before []capture.StepRecord) []capture.StepRecord {
	var out []capture.StepRecord
	for _, r := range before {
		if slices.Contains([]capture.Kind{capture.Whole, capture.Look, capture.Resistor}, r.Step.Kind) && counts(r) {
			out = append(out, r)
		}
	}
	return out
}

// returnSteps makes the steps of the guide for this bench.
func (s *Session) returnSteps(t Return) (returns.Guided, error) {
	x := t.Sitting
	o := *t.Whole
	x.Whole = &o
	_, _, warm, err := s.stepsOf(x)
	if err != nil {
		return returns.Guided{}, err
	}
	o.Warm = 0 // what comes after the warm-up finds it warm
	if r := t.Signature.Resistor; r != nil {
		o.ResistorOhm, o.ResistorAgain = r.Ohm(), true
	}
	_, _, plain, err := s.stepsOf(x)
	if err != nil {
		return returns.Guided{}, err
	}
	plug := ""
	if p := returns.JackOf(s.Record.Plan, t.Signature).Plug; p != "" {
		plug = " Its plug: " + p + "."
	}
	for i := range plain {
		if plain[i].Kind == capture.Whole {
			plain[i].Ask = "Now the clips onto the model's own jack, the meter back in its mA jack." + plug
		}
	}
	return returns.NewGuided(plain, warm[0].Settle, t.Signature.Names())
}
