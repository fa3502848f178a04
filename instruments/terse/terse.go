// Package terse drives supplies, meters and relay boards that speak in short
// ASCII commands, often without line ends, and answer with a fixed number of
// bytes: a command such as "VSET1:12.00", a question "VSET1?" answered by the
// five bytes "12.00", a status byte of bits.
//
// Start with New over an open port and a profile that speaks terse. Such
// instruments have neither checksum nor error queue: every setting is read back,
// and the reply must have exactly the form that the profile gives. A binary reply
// can take any value, so a flipped bit in it can't be seen.
//
// Source: none that is public; the built-in profile's commands, its status byte,
// 9600 8N1 and the 50 ms between commands are from memory of what such supplies
// have in common. Supplies that look alike differ in the width of their numbers
// and in the bits of the status byte: compare with the manual of yours.
package terse

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

type protocol struct {
	line     *exchange.Line
	p        *profile.Profile
	name     string
	end      []byte
	replyEnd []byte
	pattern  *regexp.Regexp
	remote   atomic.Bool
	spoken   atomic.Bool // something was sent
}

// New speaks short fixed commands with the instrument of a profile on an open port, for driver.New.
// portName is for messages.
func New(port instruments.Port, portName string, c clock.Clock, p *profile.Profile) (driver.Protocol, error) {
	if p.Speaks != profile.Terse {
		return nil, fmt.Errorf("profile %q speaks %s, not terse", p.Name, p.Speaks)
	}
	t := p.Talk
	pr := &protocol{p: p, name: portName, end: profile.LineEnd(t.End), replyEnd: profile.LineEnd(t.ReplyEnd)}
	var err error
	if pr.pattern, err = p.Identity.Matches(); err != nil {
		return nil, fmt.Errorf("profile %q: %w", p.Name, err)
	}
	pr.line = exchange.New(port, c, portName, driver.LineOptions(p, portName, pr.end))
	pr.line.SetSync(syncByLength(p, pr))
	return pr, nil
}

// syncByLength brings the line into step by a question whose reply has another
// length than all others: instruments answer in order, so when all that came
// has such a length, nothing is owed any more. nil: no such question.
func syncByLength(p *profile.Profile, pr *protocol) *exchange.Sync {
	if p.Supply == nil {
		return nil
	}
	s, other := &p.Supply.GetOutput, p.Supply.GetVolts.Length+len(pr.replyEnd)
	short := s.Length + len(pr.replyEnd)
	for _, pt := range []*profile.Point{&p.Supply.GetAmps, &p.Supply.MeasureVolts, &p.Supply.MeasureAmps} {
		if pt.Length+len(pr.replyEnd) != other {
			return nil
		}
	}
	m, err := pr.message(s.Send, profile.Args{Channel: p.Channel.Number})
	if err != nil || short%other == 0 {
		return nil
	}
	return &exchange.Sync{Message: m, Mine: func(all []byte) bool {
		return len(all) >= short && len(all)%other == short%other
	}}
}

// SplitFixed frames replies of length bytes, with end after them.
func SplitFixed(length int, end []byte) exchange.Split {
	return func(got []byte) (int, []byte, error) {
		n := length + len(end)
		if len(got) < n {
			return 0, nil, nil
		}
		if !bytes.Equal(got[length:n], end) {
			return 0, nil, fmt.Errorf("%q where the end of the reply should be", got[length:n])
		}
		return n, got[:length], nil
	}
}

// ParseReply reads the number that pt says is in a reply, in SI.
func ParseReply(pt *profile.Point, reply []byte) (driver.Number, error) {
	if len(reply) != pt.Length {
		return driver.Number{}, fmt.Errorf("%d bytes, the profile says %d", len(reply), pt.Length)
	}
	to := len(reply)
	if pt.Digits > 0 {
		to = pt.From + pt.Digits
	}
	if pt.From < 0 || pt.From >= to || to > len(reply) {
		return driver.Number{}, errors.New("the number lies outside the reply")
	}
	part := reply[pt.From:to]
	var raw float64
	if pt.Binary {
		raw = float64(binary(part, pt.Signed))
	} else {
		var err error
		if raw, err = decimal(string(part)); err != nil {
			return driver.Number{}, err
		}
	}
	if pt.Over != nil && raw == float64(*pt.Over) {
		return driver.Number{Mark: driver.Over}, nil
	}
	return driver.Number{Value: raw * pt.Scale, Mark: driver.Finite}, nil
}

// binary is the number of up to four bytes, high byte first.
func binary(part []byte, signed bool) int64 {
	var n int64
	for _, b := range part {
		n = n<<8 | int64(b)
	}
	if bits := 8 * len(part); signed && n>>(bits-1)&1 == 1 {
		n -= 1 << bits
	}
	return n
}

// decimal reads digits with a sign and a point at most, blanks before it: a
// fixed field is filled up with them. No exponent, nothing after it.
func decimal(s string) (float64, error) {
	bad := fmt.Errorf("%q is no number", s)
	body := strings.TrimLeft(s, " ")
	rest := body
	if rest != "" && (rest[0] == '+' || rest[0] == '-') {
		rest = rest[1:]
	}
	digits, points := 0, 0
	for _, c := range rest {
		switch {
		case c >= '0' && c <= '9':
			digits++
		case c == '.':
			points++
		default:
			return 0, bad
		}
	}
	if digits == 0 || points > 1 {
		return 0, bad
	}
	v, err := strconv.ParseFloat(body, 64)
	if err != nil {
		return 0, bad
	}
	return v, nil
}

func (pr *protocol) message(template string, a profile.Args) ([]byte, error) {
	s, err := profile.Fill(template, a)
	if err != nil {
		return nil, err
	}
	return append([]byte(s), pr.end...), nil
}

func (pr *protocol) Tell(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) error {
	m, err := pr.message(pt.Send, a)
	if err != nil {
		return fmt.Errorf("%s: %s: %w", pr.name, op, err)
	}
	pr.spoken.Store(true)
	if r := pr.p.Talk.Remote; r != "" && pr.remote.CompareAndSwap(false, true) {
		if err := pr.line.Tell(ctx, "remote mode", append([]byte(r), pr.end...), urgent); err != nil {
			pr.remote.Store(false)
			return err
		}
	}
	return pr.line.Tell(ctx, op, m, urgent)
}

func (pr *protocol) ask(ctx context.Context, op string, pt *profile.Point, a profile.Args,
	urgent bool) (exchange.Reply, error) {
	m, err := pr.message(pt.Send, a)
	if err != nil {
		return exchange.Reply{}, fmt.Errorf("%s: %s: %w", pr.name, op, err)
	}
	pr.spoken.Store(true)
	r, err := pr.line.Ask(ctx, op, m, SplitFixed(pt.Length, pr.replyEnd), urgent)
	if err != nil {
		return exchange.Reply{}, err
	}
	if _, err := pt.Take(string(r.Bytes)); err != nil {
		return exchange.Reply{}, pr.garbled(op, r, err)
	}
	return r, nil
}

func (pr *protocol) Ask(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) (driver.Answer,
	error) {
	r, err := pr.ask(ctx, op, pt, a, urgent)
	if err != nil {
		return driver.Answer{}, err
	}
	n, err := ParseReply(pt, r.Bytes)
	if err != nil {
		return driver.Answer{}, pr.garbled(op, r, err)
	}
	return driver.Answer{Number: n, Raw: string(r.Bytes), Sent: r.Sent, Start: r.Start, End: r.End}, nil
}

// AskChannels reads a number whose bits are the relays, the first one lowest.
func (pr *protocol) AskChannels(ctx context.Context, op string, pt *profile.Point, r *profile.Relays) ([]int, error) {
	a, err := pr.Ask(ctx, op, pt, profile.Args{}, false)
	if err != nil {
		return nil, err
	}
	n := int64(a.Number.Value)
	if a.Number.Mark != driver.Finite || n < 0 || float64(n) != a.Number.Value || r.Channels < 63 &&
		n>>r.Channels != 0 {
		return nil, pr.garbled(op, exchange.Reply{Bytes: []byte(a.Raw)}, errors.New("not the state of the relays"))
	}
	var out []int
	for i := range r.Channels {
		if n>>i&1 == 1 {
			out = append(out, r.First+i)
		}
	}
	return out, nil
}

// Check knows no more than what is read back: there is no error queue.
func (pr *protocol) Check(context.Context, string) error { return nil }

// Identify asks for the identity and compares it with the profile's pattern.
func (pr *protocol) Identify(ctx context.Context) (string, error) {
	ask := &pr.p.Identity.Ask
	if !ask.Given() {
		return "", nil
	}
	r, err := pr.ask(ctx, "identify", ask, profile.Args{}, false)
	if err != nil {
		return "", err
	}
	id := strings.TrimRight(string(r.Bytes), " \x00\r\n")
	if pr.pattern != nil && !pr.pattern.MatchString(id) {
		return "", &instruments.PortError{Port: pr.name, Op: "identify",
			Err:  fmt.Errorf("%w: %q is not what profile %q expects", instruments.ErrGarbled, id, pr.p.Name),
			Hint: "is it the right instrument on this port?"}
	}
	m, err := pr.message(ask.Send, profile.Args{})
	if err != nil {
		return "", err
	}
	whole := append([]byte{}, r.Bytes...)
	pr.line.SetSync(&exchange.Sync{Message: m, Split: splitKnown(whole, pr.replyEnd),
		Mine: func([]byte) bool { return true }})
	return id, nil
}

// splitKnown finds exactly these bytes; whatever comes before them is an error
// that the search steps over.
func splitKnown(whole, end []byte) exchange.Split {
	want := append(append([]byte{}, whole...), end...)
	return func(got []byte) (int, []byte, error) {
		n := min(len(got), len(want))
		if !bytes.Equal(got[:n], want[:n]) {
			return 0, nil, errors.New("something else")
		}
		if n < len(want) {
			return 0, nil, nil
		}
		return n, got[:n], nil
	}
}

// Shown is how long the instrument takes for a command, 0 before it has shown it.
func (pr *protocol) Shown() time.Duration { return pr.line.Shown() }

// Doubt puts the line out of step.
func (pr *protocol) Doubt() { pr.line.Doubt() }

// Close gives the front panel back, where the profile says how, and closes the port.
func (pr *protocol) Close() error {
	if m := pr.p.Talk.Local; m != "" && pr.spoken.Load() {
		// Whether it was heard can't be told, and nothing hangs on it.
		_ = pr.line.Tell(context.Background(), "back to local", append([]byte(m), pr.end...), true)
	}
	return pr.line.Close()
}

func (pr *protocol) garbled(op string, r exchange.Reply, err error) error {
	pr.Doubt()
	return &instruments.PortError{Port: pr.name, Op: op, Err: fmt.Errorf("%w: %q: %w", instruments.ErrGarbled,
		r.Bytes, err)}
}
