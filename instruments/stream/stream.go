// Package stream reads meters that send by themselves: lines of text (speaks =
// "text stream") or 14-byte frames of display segments (speaks = "lcd stream").
//
// Start with New over an open port. A reading counts only if its integration
// window began after Read was called; what was on its way is passed over. A
// meter whose integration_ms is close to every_ms is therefore read at half its
// rate: that is the price of freshness.
//
// The frame of segments is a general scheme of hand-held meters: byte i of 14
// carries i in its high nibble and four segments in its low one. What a segment
// means stands in the profile. Neither form has a checksum: order, known
// figures, unit and range are what a reading must pass.
//
// Source: none that is public. Frame and segment table are from memory, 2400 8N1
// and the lines that power an isolated cable too; the text form is invented. Such
// meters can't be asked anything: their range is fixed by their key, and silence
// may mean that they have switched themselves off.
package stream

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/exchange"
	"sealworthy/instruments/profile"
)

// Shown is what a meter shows, in SI.
type Shown struct {
	Quantity   instruments.Quantity
	Status     instruments.Status
	Value      float64 // meaningless unless Status is OK
	Resolution float64 // SI, of the last digit shown; 0: not known
}

// form finds readings in bytes.
type form interface {
	// next finds the first whole frame: got[start:end]. What lies before start
	// is of no use; ok is false where none is complete, and start then tells how
	// much can be thrown away.
	next(got []byte) (start, end int, ok bool)
	// read tells what a frame shows.
	read(frame []byte) (Shown, error)
}

// Meter is a meter that sends by itself.
type Meter struct {
	name string
	port instruments.Port
	p    *profile.Profile
	clk  clock.Clock
	form form
	lock clock.Lock
}

var (
	_ instruments.Meter      = (*Meter)(nil)
	_ instruments.Identifier = (*Meter)(nil)
	_ instruments.Ranger     = (*Meter)(nil)
	_ instruments.Describer  = (*Meter)(nil)
)

// New reads the meter on an open port. portName is for messages.
func New(port instruments.Port, portName string, c clock.Clock, p *profile.Profile) (*Meter, error) {
	m := &Meter{name: portName, port: port, p: p, clk: c}
	var err error
	if m.form, err = formOf(p); err != nil {
		return nil, err
	}
	return m, nil
}

func formOf(p *profile.Profile) (form, error) {
	switch p.Speaks {
	case profile.Text:
		return newText(p)
	case profile.LCD:
		return newLCD(p.LCD)
	}
	return nil, fmt.Errorf("profile %q speaks %s: it doesn't send by itself", p.Name, p.Speaks)
}

// Identify answers with the name of the profile, once a reading of its form has
// come: such a meter can't say who it is, but something else on the port would
// not send this.
func (m *Meter) Identify(ctx context.Context) (string, error) {
	if err := m.lock.Acquire(ctx, m.clk, time.Time{}); err != nil {
		return "", err
	}
	defer m.lock.Release(m.clk)
	if _, err := m.await(ctx, "identify", func(f frame) (instruments.Reading, error) {
		_, err := m.form.read(f.bytes)
		return instruments.Reading{}, err
	}); err != nil {
		return "", err
	}
	return m.p.Name, nil
}

// FixRange names the smallest range that holds peak (SI) and returns
// instruments.ErrNotSet with it: only the meter's own key can fix it. Where the
// profile has one range for the quantity there is nothing to fix, and peak <= 0
// leaves the choice where it is.
func (m *Meter) FixRange(_ context.Context, q instruments.Quantity, peak float64) (instruments.Range, error) {
	if peak <= 0 {
		return instruments.Range{}, nil
	}
	ranges := m.p.RangesOf(q)
	for _, r := range ranges {
		switch {
		case peak > r.Max:
		case len(ranges) == 1:
			return r, nil
		default:
			return r, m.fail("fix range "+r.Name, instruments.ErrNotSet, "fix it by the meter's key")
		}
	}
	return instruments.Range{}, fmt.Errorf("%s: no range of the meter holds %.4g %s", m.name, peak, q.Unit())
}

// Describe tells what is known without asking.
func (m *Meter) Describe() instruments.Description {
	d := m.p.Describe()
	d.Identity, d.Simulated = m.p.Name, m.clk.Simulated()
	return d
}

// Close closes the port.
func (m *Meter) Close() error { return m.port.Close() }

// Read waits for the first reading that began after it was called.
func (m *Meter) Read(ctx context.Context, q instruments.Quantity) (instruments.Reading, error) {
	if err := m.lock.Acquire(ctx, m.clk, time.Time{}); err != nil {
		return instruments.Reading{}, err
	}
	defer m.lock.Release(m.clk)
	return m.await(ctx, "read "+string(q), func(f frame) (instruments.Reading, error) { return m.reading(q, f) })
}

// await waits for the first frame that began after it was called and that take
// makes a reading of. A dial that stands elsewhere ends it.
func (m *Meter) await(ctx context.Context, op string,
	take func(frame) (instruments.Reading, error)) (instruments.Reading, error) {
	called := m.clk.Now()
	deadline := called.Add(m.p.Timeout())
	m.port.Discard()
	in := &arrivals{char: m.p.SerialLine().CharTime(), longest: m.p.Talk.Longest}
	var last error // why what came was no reading
	for {
		frame, ok := in.frame(m.form)
		if ok {
			if frame.start.Add(-m.p.Window()).Before(called) {
				continue // it began too early
			}
			r, err := take(frame)
			if err == nil {
				return r, nil
			}
			last = err
			var wrong *wrongQuantity
			if errors.As(err, &wrong) {
				return instruments.Reading{}, m.fail(op, err, wrong.hint)
			}
			continue
		}
		if !m.clk.Now().Before(deadline) {
			return instruments.Reading{}, m.nothing(op, in, last)
		}
		var buf [256]byte
		n, came, err := exchange.ReadStamped(ctx, m.port, m.clk, buf[:], deadline)
		switch {
		case errors.Is(err, clock.ErrDeadline):
			return instruments.Reading{}, m.nothing(op, in, last)
		case ctx.Err() != nil:
			return instruments.Reading{}, m.fail(op, ctx.Err(), "")
		case err != nil:
			if !errors.Is(err, instruments.ErrPortGone) {
				err = fmt.Errorf("%w: %w", instruments.ErrPortGone, err)
			}
			return instruments.Reading{}, m.fail(op, err, "plug it in and open it again")
		}
		in.add(buf[:n], came)
	}
}

func (m *Meter) nothing(op string, in *arrivals, last error) error {
	switch {
	case last != nil:
		return m.fail(op, last, "")
	case in.total == 0:
		return m.fail(op, instruments.ErrNoReply, "has the meter switched itself off? wake it, and let it send")
	}
	return m.fail(op, fmt.Errorf("%w: %d bytes and no reading in them", instruments.ErrGarbled, in.total),
		"is the baud rate right?")
}

func (m *Meter) fail(op string, err error, hint string) error {
	return &instruments.PortError{Port: m.name, Op: op, Err: err, Hint: hint}
}

// wrongQuantity is a dial that stands elsewhere: asking again won't help.
type wrongQuantity struct{ shows, hint string }

func (w *wrongQuantity) Error() string { return "the meter shows " + w.shows }

// reading makes a Reading of a frame.
func (m *Meter) reading(q instruments.Quantity, f frame) (instruments.Reading, error) {
	s, err := m.form.read(f.bytes)
	if err != nil {
		return instruments.Reading{}, err
	}
	if s.Quantity != q {
		return instruments.Reading{}, &wrongQuantity{shows: string(s.Quantity), hint: "turn its dial to " + string(q)}
	}
	r := instruments.Reading{
		Instrument: "meter", Quantity: q, Unit: q.Unit(), Status: s.Status, Raw: m.raw(f.bytes),
		At: f.start, Window: m.p.Window(), Latency: f.end.Sub(f.start),
	}
	if s.Status != instruments.OK {
		return r, nil
	}
	ranges := m.p.RangesOf(q)
	in, ok := shownRange(ranges, s)
	if !ok {
		return instruments.Reading{}, fmt.Errorf("%w: %s is more than the meter can show", instruments.ErrGarbled,
			r.Raw)
	}
	v := s.Value
	r.Value, r.HalfWidth, r.Range = &v, in.Accuracy.HalfWidth(v), in.Name
	return r, nil
}

func (m *Meter) raw(b []byte) string {
	if m.p.Speaks == profile.LCD {
		return fmt.Sprintf("% x", b)
	}
	return string(b)
}

// shownRange is the range whose last digit has the resolution shown; where the
// profile has none, the coarsest that could show the value. ok is false where no
// range can: more than its full scale with its last digit is a digit too many.
func shownRange(ranges []instruments.Range, s Shown) (instruments.Range, bool) {
	var found instruments.Range
	ok, known := false, false
	for _, r := range ranges {
		this := s.Resolution > 0 && math.Abs(r.Resolution-s.Resolution) < 0.01*s.Resolution
		known = known || this
		switch fits := math.Abs(s.Value) <= r.Max*1.1; {
		case fits && this:
			return r, true
		case fits:
			found, ok = r, true
		}
	}
	return found, ok && !known
}

// frame is one frame and its times on the line.
type frame struct {
	bytes      []byte
	start, end time.Time
}

// arrivals keeps bytes with the time at which each began on the line.
type arrivals struct {
	char    time.Duration
	longest int
	total   int
	bytes   []byte
	began   []time.Time
}

// add takes a batch: its bytes came one after another.
func (a *arrivals) add(b []byte, now time.Time) {
	for i := range b {
		at := now.Add(-time.Duration(len(b)-i) * a.char)
		if n := len(a.began); n > 0 && at.Before(a.began[n-1]) {
			at = a.began[n-1]
		}
		a.began = append(a.began, at)
	}
	a.bytes = append(a.bytes, b...)
	a.total += len(b)
}

func (a *arrivals) frame(f form) (frame, bool) {
	start, end, ok := f.next(a.bytes)
	if !ok {
		if over := len(a.bytes) - 4*a.longest; over > start {
			start = over
		}
		a.drop(start)
		return frame{}, false
	}
	out := frame{bytes: append([]byte{}, a.bytes[start:end]...), start: a.began[start],
		end: a.began[end-1].Add(a.char)}
	a.drop(end)
	return out, true
}

func (a *arrivals) drop(n int) {
	a.bytes, a.began = a.bytes[n:], a.began[n:]
}

// Knows tells whether bytes that came unasked hold a whole reading of a meter of
// this profile.
func Knows(p *profile.Profile, heard []byte) bool {
	f, err := formOf(p)
	if err != nil {
		return false
	}
	for len(heard) > 0 {
		start, end, ok := f.next(heard)
		if !ok {
			return false
		}
		if _, err := f.read(heard[start:end]); err == nil {
			return true
		}
		heard = heard[max(end, 1):]
	}
	return false
}
