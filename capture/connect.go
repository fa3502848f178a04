package capture

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// relayRest: relays bounce for some milliseconds (common practice, no source).
const relayRest = 50 * time.Millisecond

// connect puts current on the terminals: by relay where there is one for them,
// for the rest the maker moves the clip. byClip tells that it hangs on a clip.
func (e *engine) connect(ctx context.Context, s Step, on []string) (byClip bool, err error) {
	channels, rest := e.channels(on)
	if s.First != "" && len(rest) == 0 && e.readied != s.ID {
		if err := e.askHands(ctx, s, s.First); err != nil {
			return false, err
		}
		e.readied = s.ID
	}
	if e.b.Relays != nil {
		if err := e.b.Relays.Close(ctx, channels...); err != nil {
			return false, of(theRelays, err)
		}
		if err := e.wait(ctx, e.b.Clock.Now().Add(relayRest), StepBegins); err != nil {
			return false, err
		}
	}
	if len(rest) > 0 {
		if err := e.askClip(ctx, s, rest); err != nil {
			return true, err
		}
	}
	if err := e.askOutputs(ctx, s, on); err != nil {
		return true, err
	}
	return len(rest) > 0, e.wasAway(ctx)
}

// askOutputs has the maker part the outputs of a board that a relay feeds, and
// join them again before the next step that wants all of them.
func (e *engine) askOutputs(ctx context.Context, s Step, on []string) error {
	text, parted := "", ""
	switch {
	case !e.byRelay(s.Board) && len(s.Outputs) > 0:
		return nil // the clip was asked for with the outputs
	case len(s.Outputs) > 0:
		text, parted = s.Ask, s.Board+fmt.Sprint(s.Outputs)
	case e.parted != "" && slices.ContainsFunc(on, func(t string) bool { return strings.HasPrefix(e.parted, t+"[") }):
		text = "Clip every output of " + quoted(on) + " on again."
	}
	if parted == e.parted || text == "" {
		return nil
	}
	if err := e.askHands(ctx, s, text); err != nil {
		return err
	}
	e.parted = parted
	return nil
}

// askHands has the maker move something, with the output off.
func (e *engine) askHands(ctx context.Context, s Step, text string) error {
	if e.out.on {
		if err := e.off(ctx); err != nil {
			return err
		}
	}
	a, err := e.ask(ctx, Question{Kind: AskClip, Text: text + " The output is off.",
		Choices: []string{"done", "skip", "stop"}, Step: &s})
	if err != nil {
		return err
	}
	return choice(a)
}

// wasAway asks what was touched where the question before stood open for long.
// Whatever was, this step begins after it.
func (e *engine) wasAway(ctx context.Context) error {
	if e.away == 0 {
		return nil
	}
	voided, err := e.touch(ctx, awayText(e.away), nil)
	if err == nil && len(voided) > 0 {
		return &againError{"something was touched before it"}
	}
	return err
}

// channels gives the relays of the terminals, and the terminals without one.
func (e *engine) channels(on []string) (channels []int, rest []string) {
	for _, t := range on {
		if e.byRelay(t) {
			channels = append(channels, e.b.Channels[t])
		} else {
			rest = append(rest, t)
		}
	}
	return channels, rest
}

func (e *engine) byRelay(terminal string) bool {
	_, ok := e.b.Channels[terminal]
	return ok && e.b.Relays != nil
}

// clipOn is where a clip is, as engine.clip keeps it.
func clipOn(on []string, outputs []int) string { return strings.Join(on, ", ") + fmt.Sprint(outputs) }

// askClip has the maker put the clip on, unless it is there already.
func (e *engine) askClip(ctx context.Context, s Step, on []string) error {
	where := clipOn(on, s.Outputs)
	if e.clip == where {
		return nil
	}
	if skip := e.leaves; skip != nil {
		e.leaves = nil
		return skip
	}
	text := s.Ask
	if text == "" || len(on) < len(s.On) {
		text = "Clip the plus lead onto " + quoted(on) + "."
	}
	if e.whyNot != "" {
		text += " Not felt: " + e.whyNot + "."
	}
	if err := e.askHands(ctx, s, text); err != nil {
		return err
	}
	e.clip = where
	return nil
}

func quoted(names []string) string {
	out := make([]string, len(names))
	for i, name := range names {
		out[i] = strconv.Quote(name)
	}
	return strings.Join(out, ", ")
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func without(all []string, one string) []string {
	var out []string
	for _, x := range all {
		if x != one {
			out = append(out, x)
		}
	}
	return out
}
