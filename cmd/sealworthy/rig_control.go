package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/load"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
	"sealworthy/instruments/rig"
)

// controls is what may be typed while a simulated bench is up: the hands that
// a test asks for.
const controls = `While it is up it takes lines: what your hands would do at a real bench.

  clip FEED, FEED      clip the plus lead to these; "clip" alone to none. A
                       group on a board's output has its current from there
  open | together      hold the clips apart, or together
  resistor OHMS        a resistor between the clips
  press BOARD          its button, once
  unplug | replug X    the cable of supply, meter or relays
  key on | key off     the supply's own output key
  cure PLACE           mends what is wrong at a group, joint or board;
                       "cure" alone all
  fault GROUP=FAULT    breaks something, as --fault does
  blow | fuse          the meter's fuse blows; a new one is put in
  warm DEGC            the room
  q                    takes the bench down, as Ctrl-C does
  state                says what the output does`

// atRig is a simulated bench with the model that is on it.
type atRig struct {
	*rig.Bench
	plan   *plan.Plan
	faults []fault.Fault
	seed   uint64
	o      load.Options
	broken int // faults that hands have made so far
}

// put puts the same pieces on the bench, with these faults.
func (a *atRig) put(faults []fault.Fault) error {
	l, err := load.New(a.plan, faults, a.seed, a.o)
	if err != nil {
		return err
	}
	if err := a.Put(l); err != nil {
		return err
	}
	a.faults = faults
	return nil
}

// cure mends what is wrong at a place; "" is all places.
func (a *atRig) cure(place string) error {
	var left []fault.Fault
	var names []string
	for _, f := range a.faults {
		names = append(names, f.String())
		if place != "" && f.Group != place && f.At != place {
			left = append(left, f)
		}
	}
	switch {
	case len(names) == 0:
		return errors.New("nothing is broken that could be mended")
	case len(left) == len(a.faults):
		return fmt.Errorf("nothing is broken at %q; what is: %s", place, strings.Join(names, "; "))
	}
	return a.put(left)
}

// spoil breaks something.
func (a *atRig) spoil(what string) error {
	a.broken++
	f, err := fault.Parse(a.plan, what, rand.New(rand.NewPCG(a.seed, 0xfa17+uint64(a.broken))))
	if err != nil {
		return err
	}
	return a.put(append(slices.Clone(a.faults), f))
}

// feeds are the feeds that the clips go to for these names, and a word on those that
// hang on a board.
func (a *atRig) feeds(names []string) (feeds []string, note string) {
	for _, n := range names {
		feed := n
		if g, ok := a.plan.Group(n); ok && g.Board != "" {
			feed = g.Board
			note += fmt.Sprintf("; %s has its current from %s, so the clip is there", n, feed)
		}
		if !slices.Contains(feeds, feed) {
			feeds = append(feeds, feed)
		}
	}
	return feeds, note
}

// hands carries out lines on a bench until they end, or one of them is to stop.
func hands(b *atRig, in io.Reader, say func(string), stop func()) {
	s := bufio.NewScanner(in)
	for s.Scan() {
		line := strings.TrimSpace(s.Text())
		if line == "" {
			continue
		}
		if stops(line) {
			stop()
			return
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
func hand(b *atRig, line string) (string, error) {
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.TrimSpace(rest)
	done := "ok: " + line
	switch word {
	case "clip":
		feeds, note := b.feeds(feedNames(rest))
		if err := b.Connect(feeds...); err != nil {
			return "", err
		}
		b.Across(0)
		return done + note, nil
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
	case "key":
		if rest != "on" && rest != "off" {
			return "", fmt.Errorf("%q is nothing that a key does; write: key on, or: key off", rest)
		}
		b.Key(rest == "on")
	case "cure":
		return done, b.cure(rest)
	case "fault":
		return done, b.spoil(rest)
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
	return fmt.Sprintf("OUTPUT ON %.2f V, limit %s, %s flows", o.Volts, words.Milliamps(o.LimitA, 0.002),
		words.Milliamps(o.Amps, 0))
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
func operate(ctx context.Context, e env, b *atRig, verbose, asJSON bool) error {
	lines := make(chan string, 64)
	say := func(s string) {
		select {
		case lines <- s:
		case <-ctx.Done():
		}
	}
	ignoreBackground()
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	go hands(b, e.stdin, say, stop) // ends with the process: a read can't be stopped
	if verbose {
		go watchOutput(ctx, b.Bench, say)
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
