package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"sealworthy/compare/words"
	"sealworthy/instruments/rig"
)

// controls is what may be typed while a simulated bench is up: the hands that
// a test asks for.
const controls = `While it is up it takes lines: what your hands would do at a real bench.

  clip FEED, FEED      clip the plus lead to these; "clip" alone to none
  open | together      hold the clips apart, or together
  resistor OHMS        a resistor between the clips
  press BOARD          its button, once
  unplug | replug X    the cable of supply, meter or relays
  blow | fuse          the meter's fuse blows; a new one is put in
  warm DEGC            the room
  state                says what the output does`

// hands carries out lines on a bench until they end.
func hands(b *rig.Bench, in io.Reader, say func(string)) {
	s := bufio.NewScanner(in)
	for s.Scan() {
		line := strings.TrimSpace(s.Text())
		if line == "" {
			continue
		}
		done, err := hand(b, line)
		if err != nil {
			done = "? " + err.Error()
		}
		say(done)
	}
}

// together is the resistance of two clips held together, ohms: common
// practice, no source.
const togetherOhm = 0.001

// hand carries out one line and says what was done.
func hand(b *rig.Bench, line string) (string, error) {
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	done := "ok: " + line
	switch word {
	case "clip":
		if err := b.Connect(feedNames(rest)...); err != nil {
			return "", err
		}
		b.Across(0)
	case "open":
		b.Across(0)
		return done, b.Connect()
	case "together":
		b.Across(togetherOhm)
	case "resistor":
		ohms, err := strconv.ParseFloat(rest, 64)
		if err != nil || !(ohms > 0) {
			return "", fmt.Errorf("%q is no resistance; write ohms, as: resistor 1000", rest)
		}
		b.Across(ohms)
	case "press":
		b.Press(rest)
	case "unplug":
		if err := isInstrument(rest); err != nil {
			return "", err
		}
		return done, b.Unplug(rest)
	case "replug":
		port, err := b.Replug(rest, false)
		return done + ": " + port, err
	case "blow":
		b.BlowMeterFuse()
	case "fuse":
		b.ReplaceMeterFuse()
	case "warm":
		c, err := strconv.ParseFloat(rest, 64)
		if err != nil {
			return "", fmt.Errorf("%q is no temperature; write degC, as: warm 30", rest)
		}
		b.Warm(c)
	case "state":
		return outputText(b.Output()), nil
	default:
		return "", fmt.Errorf("%q is nothing that hands can do here; sealworthy rig -h lists it", word)
	}
	return done, nil
}

func feedNames(list string) []string {
	var out []string
	for _, x := range strings.Split(list, ",") {
		if x = strings.TrimSpace(x); x != "" {
			out = append(out, x)
		}
	}
	return out
}

func isInstrument(name string) error {
	switch name {
	case rig.Supply, rig.Meter, rig.Relays:
		return nil
	}
	return fmt.Errorf("the bench has no instrument %q; it has supply, meter and relays", name)
}

func outputText(o rig.OutputState) string {
	if !o.On {
		return "output off"
	}
	return fmt.Sprintf("OUTPUT ON %.2f V, limit %s, %s flows", o.Volts, words.Milliamps(o.LimitA, 0.002), words.Milliamps(o.Amps, 0))
}

// watchOutput says each switching of the output until ctx ends.
func watchOutput(ctx context.Context, b *rig.Bench, say func(string)) {
	t := time.NewTicker(20 * time.Millisecond)
	defer t.Stop()
	seen := 0
	for {
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
		for _, x := range b.Outputs()[seen:] {
			seen++
			if x.On {
				say(fmt.Sprintf("OUTPUT ON %.2f V, limit %s", x.Volts, words.Milliamps(x.LimitA, 0.002)))
			} else {
				say("output off (" + x.Why + ")")
			}
		}
	}
}

// ended is what is printed with --json when the bench is taken down.
type rigEnd struct {
	Output  string            `json:"output"` // as it was left
	Outputs []rig.OutputEvent `json:"outputs"`
}

// operate runs a bench that is up: hands, what the output does, the end.
func operate(ctx context.Context, e env, b *rig.Bench, verbose, asJSON bool) error {
	lines := make(chan string, 64)
	say := func(s string) {
		select {
		case lines <- s:
		case <-ctx.Done():
		}
	}
	ignoreBackground()
	go hands(b, e.stdin, say) // ends with the process: a read can't be stopped
	if verbose {
		go watchOutput(ctx, b, say)
	}
	var werr error
	for ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case s := <-lines:
			if _, err := fmt.Fprintln(e.stderr, s); err != nil {
				werr = err // nobody reads: the bench stays up all the same
			}
		}
	}
	end := rigEnd{Output: outputText(b.Output()), Outputs: b.Outputs()}
	if asJSON {
		return errors.Join(werr, writeJSON(e.stdout, end))
	}
	if verbose {
		fmt.Fprintf(e.stderr, "at the end: %s\n", end.Output)
	}
	return werr
}
