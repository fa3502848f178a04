// Package scpi drives supplies, meters and relay boards that speak SCPI (SCPI-1999,
// IEEE 488.2) over a serial line: commands and replies with line ends, an error
// queue that is read to its end after every setting, settings read back.
//
// Start with New over an open port and a profile that speaks scpi. The drivers
// themselves are those of package driver.
//
// Numbers are read strictly (ParseNumber). After a lost or late reply the line
// is brought into step by the identity query, whose answer can't be mistaken for
// a number. MEAS? and READ? give fresh values; FETC? hands out what is in memory
// (SCPI-1999 vol. 2, ch. 3): with from_memory in the profile the meter waits first.
//
// Sources: SCPI-1999 volumes 1 and 2 (numbers 7.2.1, errors 21.8), IEEE 488.2-1992
// (numbers 8.7, common commands 10), as instrument guides quote them. Neither
// says how to talk over a serial line: speed, line ends, echo and remote mode are
// each instrument's own and stand in its profile; the built-in ones take 9600 8N1
// and a line feed (common practice, no source). Which bit of
// STATus:QUEStionable:CONDition? tells constant current is no more settled: the
// built-in profile takes SCPI's bit for current, 1; others set bit 0, since it is
// the voltage that isn't held then (from memory). Try it: a supply with nothing
// on it must not say that it limits.
package scpi

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"sync/atomic"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

// The drivers.
type (
	Supply = driver.Supply
	Meter  = driver.Meter
	Relays = driver.Relays
)

type protocol struct {
	line    *exchange.Line
	p       *profile.Profile
	name    string
	end     []byte
	frame   Prompted       // without a prompt where the instrument sends none
	pattern *regexp.Regexp // of the identity; may be nil
	remote  atomic.Bool    // remote mode was asked for
	cleared atomic.Bool
	spoken  atomic.Bool // something was sent
	shapes  *shapes
}

// New speaks SCPI with the instrument of a profile on an open port, for driver.New.
// portName is for messages.
func New(port instruments.Port, portName string, c clock.Clock, p *profile.Profile) (driver.Protocol, error) {
	if p.Speaks != profile.SCPI {
		return nil, fmt.Errorf("profile %q speaks %s, not scpi", p.Name, p.Speaks)
	}
	t := p.Talk
	pr := &protocol{p: p, name: portName, shapes: newShapes(p), end: profile.LineEnd(t.End),
		frame: Prompted{Prompt: []byte(t.Prompt), End: profile.LineEnd(t.ReplyEnd), Longest: t.Longest}}
	var err error
	if pr.pattern, err = p.Identity.Matches(); err != nil {
		return nil, fmt.Errorf("profile %q: %w", p.Name, err)
	}
	pr.line = exchange.New(port, c, portName, driver.LineOptions(p, portName, pr.end))
	return pr, nil
}

// message fills a template and puts the channel before it where the profile
// selects outputs by node: another may have been chosen at the front panel.
func (pr *protocol) message(template string, a profile.Args) ([]byte, error) {
	s, err := profile.Fill(template, a)
	if err != nil {
		return nil, err
	}
	var out []byte
	if pr.p.Channel.By == "node" {
		sel, err := profile.Fill(pr.p.Channel.Select, profile.Args{Channel: pr.p.Channel.Number})
		if err != nil {
			return nil, err
		}
		out = append(append(out, sel...), pr.end...)
	}
	return append(append(out, s...), pr.end...), nil
}

func (pr *protocol) Tell(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) error {
	m, err := pr.message(pt.Send, a)
	if err != nil {
		return fmt.Errorf("%s: %s: %w", pr.name, op, err)
	}
	if err := pr.prepare(ctx, urgent); err != nil {
		return err
	}
	return pr.tell(ctx, op, m, urgent)
}

// tell sends commands that have no answer, and waits for their prompts where the
// instrument sends some.
func (pr *protocol) tell(ctx context.Context, op string, m []byte, urgent bool) error {
	pr.spoken.Store(true)
	switch {
	case len(pr.frame.Prompt) == 0:
		return pr.line.Tell(ctx, op, m, urgent)
	case urgent:
		_, err := pr.line.Push(ctx, op, m, pr.frame.Told(pr.commands(m)))
		return err
	}
	_, err := pr.line.Ask(ctx, op, m, pr.frame.Told(pr.commands(m)), false)
	return err
}

// commands counts the lines of a message: one may choose the output.
func (pr *protocol) commands(m []byte) int { return bytes.Count(m, pr.end) }

// asked frames the reply to a message.
func (pr *protocol) asked(m []byte) exchange.Split {
	if len(pr.frame.Prompt) == 0 {
		return SplitLines(pr.frame.End, pr.frame.Longest)
	}
	return pr.frame.Asked(pr.commands(m))
}

// prepare asks for remote mode before the first setting, and empties the error
// queue of what happened before us. An urgent command waits for neither.
func (pr *protocol) prepare(ctx context.Context, urgent bool) error {
	if c := pr.p.Talk.Clear; c != "" && !urgent && pr.cleared.CompareAndSwap(false, true) {
		if err := pr.tell(ctx, "clear the error queue", append([]byte(c), pr.end...), false); err != nil {
			pr.cleared.Store(false)
			return err
		}
	}
	if r := pr.p.Talk.Remote; r != "" && pr.remote.CompareAndSwap(false, true) {
		if err := pr.tell(ctx, "remote mode", append([]byte(r), pr.end...), urgent); err != nil {
			pr.remote.Store(false)
			return err
		}
	}
	return nil
}

func (pr *protocol) ask(ctx context.Context, op string, pt *profile.Point, a profile.Args,
	urgent bool) (exchange.Reply, error) {
	if err := pr.prepare(ctx, urgent); err != nil {
		return exchange.Reply{}, err
	}
	// Every second question carries a mark, and its reply the mark's answer: a
	// reply to the question before can't pass for it.
	mark := ""
	r, err := pr.line.AskNumbered(ctx, op, func(n uint64) ([]byte, exchange.Split, error) {
		if pr.p.Talk.Mark != "" && n%2 == 1 {
			mark = ";" + pr.p.Talk.Mark
		}
		m, err := pr.message(pt.Send+mark, a)
		return m, pr.asked(m), err
	}, urgent)
	pr.spoken.Store(true)
	if err != nil {
		return exchange.Reply{}, err
	}
	if mark != "" {
		body, ok := bytes.CutSuffix(r.Bytes, []byte(";1"))
		if !ok {
			return exchange.Reply{}, pr.garbled(op, r, errors.New("the answer to the mark is missing"))
		}
		r.Bytes = body
	}
	return r, nil
}

// number reads the number that pt wants out of a reply.
func (pr *protocol) number(pt *profile.Point, reply string) (driver.Number, error) {
	reply, err := pt.Take(reply)
	if err != nil {
		return driver.Number{}, err
	}
	switch strings.ToUpper(strings.TrimSpace(reply)) {
	case "ON":
		return driver.Number{Value: pt.Scale, Mark: driver.Finite}, nil
	case "OFF":
		return driver.Number{Mark: driver.Finite}, nil
	}
	list, units, err := parseList(reply)
	if err != nil {
		return driver.Number{}, err
	}
	item := pt.Item
	if item == 0 {
		if len(list) != 1 {
			return driver.Number{}, fmt.Errorf("%d numbers where one was asked for", len(list))
		}
		item = 1
	}
	if item > len(list) {
		return driver.Number{}, fmt.Errorf("%d numbers, the profile wants number %d", len(list), item)
	}
	n := list[item-1]
	if is := units[item-1]; is != "" && pt.Unit != "" && is != pt.Unit {
		return driver.Number{}, fmt.Errorf("in %s where %s were asked for", is, pt.Unit)
	}
	if n.Mark == driver.Finite {
		n.Value *= pt.Scale
	}
	return n, nil
}

// AskChannels reads a channel list: (@1,3), (@1:3), 1,3 or nothing.
func (pr *protocol) AskChannels(ctx context.Context, op string, pt *profile.Point, r *profile.Relays) ([]int, error) {
	reply, err := pr.ask(ctx, op, pt, profile.Args{}, false)
	if err != nil {
		return nil, err
	}
	body, err := pt.Take(string(reply.Bytes))
	if err != nil {
		return nil, pr.garbled(op, reply, err)
	}
	list, err := ParseChannels(body, r.First, r.First+r.Channels-1)
	if err != nil {
		return nil, pr.garbled(op, reply, err)
	}
	return list, nil
}

// mostErrors bounds the reading of an error queue that never ends.
const mostErrors = 32

// Check waits for the settings to be carried out, where the profile says how,
// and reads the error queue to its end.
func (pr *protocol) Check(ctx context.Context, op string) error {
	if pr.p.Talk.Complete != "" {
		done := profile.Point{Send: pr.p.Talk.Complete, Scale: 1}
		a, err := pr.Ask(ctx, op+": carried out?", &done, profile.Args{}, false)
		if again := err != nil && !errors.Is(err, instruments.ErrPortGone) || err == nil &&
			a.Number.Value != 1; again && ctx.Err() == nil {
			a, err = pr.Ask(ctx, op+": carried out?", &done, profile.Args{}, false) // one bad reply is no refusal
		}
		if err != nil {
			return err
		}
		if a.Number.Value != 1 {
			return pr.garbled(op, exchange.Reply{Bytes: []byte(a.Raw)}, errors.New("not carried out"))
		}
	}
	if pr.p.Talk.Errors == "" {
		return nil
	}
	pt := profile.Point{Send: pr.p.Talk.Errors}
	var found []error
	asked := false
	for range mostErrors {
		r, err := pr.ask(ctx, op+": error queue", &pt, profile.Args{}, false)
		if err != nil && !errors.Is(err, instruments.ErrPortGone) && !asked && ctx.Err() == nil {
			// A question may be asked once more. An entry whose reply was lost or
			// garbled is lost: what was set is read back all the same.
			asked = true
			continue
		}
		if err != nil {
			return errors.Join(append(found, err)...)
		}
		e, err := ParseQueueError(string(r.Bytes))
		if err != nil && !asked && ctx.Err() == nil {
			asked = true
			pr.Doubt()
			continue
		}
		if err != nil {
			return errors.Join(append(found, pr.garbled(op, r, err))...)
		}
		if e.Code == 0 {
			return pr.refused(op, found)
		}
		found = append(found, e)
	}
	return pr.refused(op, append(found, errors.New("the error queue has no end")))
}

func (pr *protocol) refused(op string, found []error) error {
	if len(found) == 0 {
		return nil
	}
	pr.remote.Store(false) // it may have fallen back to local
	return &instruments.PortError{Port: pr.name, Op: op, Err: fmt.Errorf("%w: %w", instruments.ErrNotSet,
		errors.Join(found...))}
}

// Close gives the front panel back, where the profile says how, and closes the port.
func (pr *protocol) Close() error {
	if m := pr.p.Talk.Local; m != "" && pr.spoken.Load() {
		// Whether it was heard can't be told, and nothing hangs on it.
		_ = pr.tell(context.Background(), "back to local", append([]byte(m), pr.end...), true)
	}
	return pr.line.Close()
}

// Shown is how long the instrument takes for a command, 0 before it has shown it.
func (pr *protocol) Shown() time.Duration { return pr.line.Shown() }

// Doubt brings the line into step before the next question.
func (pr *protocol) Doubt() { pr.line.Doubt() }

func (pr *protocol) garbled(op string, r exchange.Reply, err error) error {
	pr.Doubt() // a good reply may still be on its way
	return &instruments.PortError{Port: pr.name, Op: op, Err: fmt.Errorf("%w: %q: %w", instruments.ErrGarbled,
		r.Bytes, err)}
}
