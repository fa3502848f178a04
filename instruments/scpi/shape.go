package scpi

import (
	"context"
	"fmt"
	"math/bits"
	"regexp"
	"slices"
	"strings"
	"sync"

	"sealworthy/instruments/driver"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

// shapes remembers what the replies to measuring queries look like: an
// instrument keeps its number of digits within a range, a lost or doubled byte
// changes it. A reply of another shape is asked for again. An instrument that
// writes numbers in shortest form ("12" after "11.99") changes its shape by
// itself: of such a one a short reply may have lost a byte even where it looks like
// the one before, so it is asked for again, too.
type shapes struct {
	mu   sync.Mutex
	seen map[*profile.Point]*form
}

// form is how the replies to one query looked.
type form struct {
	last    string
	longest int    // digits behind the point, of plain numbers that were believed
	changed uint16 // whether that differed from the one before, of the latest 16
}

// shortened: so many changes among the latest replies make an instrument one that
// leaves trailing zeros out; a change of range comes once.
const shortened = 3

// newShapes watches the queries that measure.
func newShapes(p *profile.Profile) *shapes {
	s := &shapes{seen: map[*profile.Point]*form{}}
	if p.Supply != nil {
		s.seen[&p.Supply.MeasureVolts], s.seen[&p.Supply.MeasureAmps] = &form{}, &form{}
	}
	if p.Meter != nil {
		s.seen[&p.Meter.Current.Read], s.seen[&p.Meter.Voltage.Read] = &form{}, &form{}
	}
	return s
}

// usual tells whether a reply looks like the one before it, and not like one that may
// have lost a byte. The first does.
func (s *shapes) usual(pt *profile.Point, reply string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	f, watched := s.seen[pt]
	if !watched || f.last == "" {
		return true
	}
	short := bits.OnesCount16(f.changed) >= shortened && !exponential(reply) && behindPoint(reply) < f.longest
	return f.last == shape(reply) && !short
}

// full tells whether a reply has as many digits as the longest that was believed.
func (s *shapes) full(pt *profile.Point, reply string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	f, watched := s.seen[pt]
	return watched && bits.OnesCount16(f.changed) >= shortened && !exponential(reply) &&
		behindPoint(reply) == f.longest
}

// keep makes the shape of a reply the usual one.
func (s *shapes) keep(pt *profile.Point, reply string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f, watched := s.seen[pt]
	if !watched {
		return
	}
	f.changed <<= 1
	if f.last != "" && behindPoint(f.last) != behindPoint(reply) {
		f.changed |= 1
	}
	f.last = shape(reply)
	if !exponential(reply) {
		f.longest = max(f.longest, behindPoint(reply))
	}
}

// behindPoint counts the digits behind a decimal point.
func behindPoint(reply string) int {
	i := strings.IndexByte(reply, '.')
	if i < 0 {
		return 0
	}
	rest := reply[i+1:]
	n := strings.IndexFunc(rest, func(r rune) bool { return r < '0' || r > '9' })
	if n < 0 {
		n = len(rest)
	}
	return n
}

// hasExponent finds an exponent behind a number.
var hasExponent = regexp.MustCompile(`[0-9.][eE][-+]?[0-9]`)

func exponential(reply string) bool { return hasExponent.MatchString(reply) }

// shape keeps where digits, signs and other bytes stand.
func shape(reply string) string {
	out := []byte(reply)
	for i, c := range out {
		switch {
		case c >= '0' && c <= '9':
			out[i] = '0'
		case c == '-':
			out[i] = '+'
		}
	}
	return string(out)
}

// shapeTries is how often a number is asked for until two replies look alike. Of an
// instrument that leaves trailing zeros out, one reply in ten or so is short.
const shapeTries = 5

// Ask asks for a number. A reply that looks unlike the one before it is asked for
// again: two that look alike are believed.
func (pr *protocol) Ask(ctx context.Context, op string, pt *profile.Point, a profile.Args, urgent bool) (driver.Answer,
	error) {
	got, err := pr.askNumber(ctx, op, pt, a, urgent)
	if err != nil || got.Number.Mark != driver.Finite {
		return got, err // a mark carries no value
	}
	if pr.shapes.usual(pt, got.Raw) {
		pr.shapes.keep(pt, got.Raw)
		return got, nil
	}
	seen := []string{shape(got.Raw)}
	for range shapeTries - 1 {
		again, err := pr.askNumber(ctx, op, pt, a, urgent)
		if err != nil || again.Number.Mark != driver.Finite {
			return again, err
		}
		if slices.Contains(seen, shape(again.Raw)) || pr.shapes.usual(pt, again.Raw) || pr.shapes.full(pt, again.Raw) {
			pr.shapes.keep(pt, again.Raw)
			return again, nil
		}
		seen, got = append(seen, shape(again.Raw)), again
	}
	return driver.Answer{}, pr.garbled(op, exchange.Reply{Bytes: []byte(got.Raw)},
		fmt.Errorf("no two of %d replies look alike", shapeTries))
}

func (pr *protocol) askNumber(ctx context.Context, op string, pt *profile.Point, a profile.Args,
	urgent bool) (driver.Answer, error) {
	r, err := pr.ask(ctx, op, pt, a, urgent)
	if err != nil {
		return driver.Answer{}, err
	}
	n, err := pr.number(pt, string(r.Bytes))
	if err != nil {
		return driver.Answer{}, pr.garbled(op, r, err)
	}
	return driver.Answer{Number: n, Raw: string(r.Bytes), Sent: r.Sent, Start: r.Start, End: r.End}, nil
}
