package capture

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// NotPowered begins the reason of a step that was left out because something in
// it may burn: once that is mended or allowed it is to be measured after all.
const NotPowered = "not powered, it may burn: "

// hazardTries is how often a name or a reason is asked for before the step is
// left out: nobody switches on by answering wrongly often enough.
const hazardTries = 5

// withoutAllowed is a step without the hazards that were allowed in this test
// already, as far as they go no further than what was allowed.
func (e *engine) withoutAllowed(s Step) Step {
	var left []Hazard
	for _, h := range s.Hazards {
		if most, ok := e.allowed[h.Check]; !ok || h.Value > most {
			left = append(left, h)
		}
	}
	s.Hazards = left
	return s
}

// cleared asks what is to be done about a step in which something may burn, with
// the output off. It returns the step without its hazards once each of them was
// allowed by its name and for a reason; else a skipError or ErrStopped. Nobody
// there is no permission.
func (e *engine) cleared(ctx context.Context, s Step) (Step, error) {
	for len(s.Hazards) > 0 {
		h := s.Hazards[0]
		if unattended(e.f) {
			return s, &skipError{NotPowered + h.Text}
		}
		if err := e.off(ctx); err != nil {
			return s, err
		}
		reason, err := e.askHazard(ctx, s, h)
		if err != nil {
			return s, err
		}
		if err := e.mark(Mark{Kind: MarkAllowed, Check: h.Check, Reason: reason, Value: h.Value}); err != nil {
			return s, err
		}
		// What is to be powered against the program's word stands on disk first.
		if err := e.r.Sync(); err != nil {
			return s, errors.Join(errors.New("the record can't be kept"), err)
		}
		e.allowed[h.Check] = h.Value
		e.warn(fmt.Sprintf("%s: allowed: %s", h.Check, reason))
		s = e.withoutAllowed(s)
		e.rec.Step.Hazards = s.Hazards
	}
	return s, nil
}

// askHazard says what may burn and how to mend it, and gives the maker's reason
// for powering it all the same.
func (e *engine) askHazard(ctx context.Context, s Step, h Hazard) (string, error) {
	skip := &skipError{NotPowered + h.Text}
	text := fmt.Sprintf("NOT POWERED: %s. Mend it: %s. To power it all the same, type its name: %s", h.Text, h.Cure,
		h.Check)
	for try := 0; ; try++ {
		a, err := e.ask(ctx, Question{Kind: AskHazard, Text: text, Choices: []string{"skip", "allow", "stop"},
			Step: &s})
		if err != nil {
			return "", err
		}
		switch {
		case a.Choice == "stop":
			return "", ErrStopped
		case a.Choice != "allow" || try == hazardTries:
			return "", skip
		}
		if sameName(a.Text, h.Check) {
			break
		}
		text = fmt.Sprintf("Not powered. The name of the check is: %s", h.Check)
	}
	text = fmt.Sprintf("Why is it powered although %s? The reason stands on the sheet, and the closure is at best "+
		"closed by choice.", h.Text)
	for range hazardTries {
		a, err := e.ask(ctx, Question{Kind: AskReason, Text: text, Choices: []string{"reason", "skip", "stop"},
			Step: &s})
		if err != nil {
			return "", err
		}
		reason := strings.TrimSpace(a.Text)
		switch {
		case a.Choice == "stop":
			return "", ErrStopped
		case a.Choice != "reason":
			return "", skip
		case reason != "":
			return reason, nil
		}
	}
	return "", skip
}

// sameName compares a typed name: case and spaces don't matter.
func sameName(typed, name string) bool {
	return strings.EqualFold(strings.Join(strings.Fields(typed), " "), strings.Join(strings.Fields(name), " "))
}

// uncleared refuses a step in which something may burn: the last look before
// the output goes on.
func (e *engine) uncleared() error {
	if e.rec == nil || len(e.rec.Step.Hazards) == 0 {
		return nil
	}
	return &brokenError{which: "step", err: errors.New(NotPowered + e.rec.Step.Hazards[0].Text)}
}
