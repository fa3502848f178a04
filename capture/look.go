package capture

import (
	"context"
	"strings"
)

// AllRight is StepRecord.Seen where the maker saw what should be seen.
const AllRight = "all right"

// look powers what it can and asks what the maker sees. With a relay or one
// clip for all of it that is one question; else one for each terminal, since
// one clip can't be on two.
func (e *engine) look(ctx context.Context, s Step) error {
	if unattended(e.f) {
		return ErrUnattended
	}
	if err := e.prepare(ctx, s, false); err != nil {
		return err
	}
	parts := [][]string{s.On}
	if _, rest := e.channels(s.On); len(rest) > 1 && s.Way != Joined {
		parts = nil
		for _, t := range s.On {
			parts = append(parts, []string{t})
		}
	}
	var wrong []string
	for _, on := range parts {
		saw, err := e.lookAt(ctx, s, on)
		if err != nil {
			return err
		}
		if saw != "" {
			wrong = append(wrong, saw)
		}
	}
	e.rec.Seen = AllRight
	if len(wrong) > 0 {
		e.rec.Seen = strings.Join(wrong, "; ")
	}
	return e.mark(Mark{Kind: MarkLooked, Seen: e.rec.Seen})
}

// lookAt powers terminals and asks; "" is all right.
func (e *engine) lookAt(ctx context.Context, s Step, on []string) (wrong string, err error) {
	if _, err := e.connect(ctx, s, on); err != nil {
		return "", err
	}
	if err := e.ramp(ctx, s); err != nil {
		return "", err
	}
	if err := e.settle(ctx, s); err != nil {
		return "", err
	}
	a, err := e.askWatched(ctx, Question{Kind: AskLook, Text: lookText(s, on),
		Choices: []string{"right", "wrong", "skip", "stop"}, Step: &s})
	if err != nil {
		return "", err
	}
	if err := e.off(ctx); err != nil {
		return "", err
	}
	if a.Choice == "wrong" {
		if strings.TrimSpace(a.Text) == "" {
			a.Text = "something in " + quoted(on)
		}
		return a.Text, nil
	}
	return "", choice(a)
}

func lookText(s Step, on []string) string {
	text := "Look: is everything lit as it should be?"
	if len(on) < len(s.On) {
		text = "Look: is " + quoted(on) + " lit as it should be?"
	}
	see := s.See
	if len(on) < len(s.On) && s.SeeBy != nil {
		see = nil
		for _, t := range on {
			see = append(see, s.SeeBy[t]...)
		}
	}
	if len(see) > 0 {
		text += " You should see: " + strings.Join(see, "; ") + "."
	}
	return text + " The output is on; some lights flash."
}
