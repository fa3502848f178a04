package stream

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

func textForm(t testing.TB) *text {
	t.Helper()
	x, err := newText(builtIn(t, "text meter"))
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestLinesOfText(t *testing.T) {
	x := textForm(t)
	for line, want := range map[string]struct {
		status instruments.Status
		value  float64
		res    float64
	}{
		"DC  +12.34 mA\r\n":     {instruments.OK, 0.01234, 1e-5},
		"DC -0.5 V\r\n":         {instruments.OK, -0.5, 0.1},
		"DC  - 12.3 uA\r\n":     {instruments.OK, -12.3e-6, 1e-7},
		"DC 250 mV\r\n":         {instruments.OK, 0.25, 1e-3},
		"DC  OL mA\r\n":         {instruments.Overload, 0, 0},
		"DC 1.00 mA HOLD\r\n":   {instruments.Held, 0, 0},
		"AC  +12.34 mA\r\n":     {},
		"DC  +12.34 mW\r\n":     {},
		"DC  +1.2.3 mA\r\n":     {},
		"DC  +12.34 mA x\r\n":   {},
		"2.34 mA\r\n":           {},
		"DC  +12\x00.34 mA\r\n": {},
		"DC 1.00 HOLD\r\n":      {},
	} {
		s, err := x.read([]byte(line))
		if (err != nil) != (want.status == "") || err == nil && (s.Status != want.status ||
			math.Abs(s.Value-want.value) > 1e-12 || math.Abs(s.Resolution-want.res) > 1e-9) {
			t.Errorf("%q: %+v, %v", line, s, err)
		}
	}
}

func FuzzTextLine(f *testing.F) {
	f.Add("DC  +12.34 mA\r\n")
	f.Add("DC  OL mA\r\n")
	f.Add("DC 1e5 V\r\n")
	x := textForm(f)
	f.Fuzz(func(t *testing.T, line string) {
		if start, end, ok := x.next([]byte(line)); ok &&
			(start != 0 || end < 2 || !strings.HasSuffix(line[:end], "\r\n")) {
			t.Errorf("%q: %d to %d", line, start, end)
		}
		s, err := x.read([]byte(line))
		if err == nil && s.Status == instruments.OK && (math.IsNaN(s.Value) || math.IsInf(s.Value, 0) ||
			s.Quantity == "") {
			t.Errorf("%q: %+v", line, s)
		}
		if v, decimals, ok := plainNumber(line); ok && (math.IsNaN(v) || decimals < 0) {
			t.Errorf("%q is %v", line, v)
		}
	})
}

// on puts a meter up whose other end the test writes to.
func on(t *testing.T, profileName string) (*clock.Simulated, *Meter, *wire.Memory) {
	t.Helper()
	c := clock.NewSimulated(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC))
	mine, theirs := wire.Pair(c, "memory")
	m, err := New(mine, "memory", c, builtIn(t, profileName))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = mine.Close() })
	return c, m, theirs
}

// later writes when its time has come.
func later(c *clock.Simulated, p *wire.Memory, after time.Duration, b []byte) {
	c.Go(func() {
		_ = c.Wait(context.Background(), nil, c.Now().Add(after))
		_ = p.Write(context.Background(), b)
	})
}

func TestALineUnderWayIsPassedOver(t *testing.T) {
	bg := context.Background()
	c, m, far := on(t, "text meter")
	_ = far.Write(bg, []byte("DC  +99.00 mA\r\nDC  +1"))
	later(c, far, 5*time.Millisecond, []byte("1.00 mA\r\n")) // the rest of a line
	later(c, far, 30*time.Millisecond, []byte("DC  +22.00 mA\r\n"))
	later(c, far, 400*time.Millisecond, []byte("DC  +33.00 mA\r\n"))
	r, err := m.Read(bg, instruments.Current)
	if v, ok := r.Float(); err != nil || !ok || math.Abs(v-0.033) > 1e-9 {
		t.Errorf("%+v, %v", r, err)
	}
	if r.Range != "60 mA" || math.Abs(r.HalfWidth-(0.00033+5e-5)) > 1e-9 { // ±(1 % + 5 counts), by hand
		t.Errorf("%s ± %v", r.Range, r.HalfWidth)
	}
}

func TestDialElsewhere(t *testing.T) {
	c, m, far := on(t, "text meter")
	later(c, far, 200*time.Millisecond, []byte("DC  +3.00 V\r\n"))
	_, err := m.Read(context.Background(), instruments.Current)
	if err == nil || !strings.Contains(err.Error(), "turn its dial to current") {
		t.Error(err)
	}
}

func TestSilenceAsksWhetherItSleeps(t *testing.T) {
	_, m, _ := on(t, "lcd meter")
	_, err := m.Read(context.Background(), instruments.Current)
	if !errors.Is(err, instruments.ErrNoReply) || !strings.Contains(err.Error(), "switched itself off") {
		t.Error(err)
	}
}

func TestWrongBaudRateIsHinted(t *testing.T) {
	c, m, far := on(t, "lcd meter")
	for i := range 10 {
		later(c, far, time.Duration(200+50*i)*time.Millisecond, []byte{0xFE, 0x80, 0xF8, 0x00})
	}
	_, err := m.Read(context.Background(), instruments.Current)
	if !errors.Is(err, instruments.ErrGarbled) || !strings.Contains(err.Error(), "baud rate") {
		t.Error(err)
	}
}

func TestValueBeyondEveryRange(t *testing.T) {
	c, m, far := on(t, "text meter")
	for i := range 5 {
		later(c, far, time.Duration(200+400*i)*time.Millisecond, []byte("DC  +99.00 A\r\n"))
	}
	if r, err := m.Read(context.Background(), instruments.Current); !errors.Is(err, instruments.ErrGarbled) {
		t.Errorf("%+v, %v", r, err)
	}
}

// Only the meter's key can fix its range: the range that it should be is named.
func TestRangeByItsKey(t *testing.T) {
	_, m, _ := on(t, "text meter")
	for peak, want := range map[float64]string{0.026: "60 mA", 0.06: "60 mA", 0.061: "600 mA", 2: "10 A"} {
		r, err := m.FixRange(context.Background(), instruments.Current, peak)
		if !errors.Is(err, instruments.ErrNotSet) || r.Name != want {
			t.Errorf("%v A: %q, %v", peak, r.Name, err)
		}
	}
	if r, err := m.FixRange(context.Background(), instruments.Current, 11); err == nil || r.Name != "" ||
		errors.Is(err, instruments.ErrNotSet) {
		t.Errorf("more than it has: %+v, %v", r, err)
	}
	if r, err := m.FixRange(context.Background(), instruments.Voltage, 12); err != nil || r.Name != "60 V" {
		t.Errorf("the one range there is: %+v, %v", r, err)
	}
	if _, err := m.FixRange(context.Background(), instruments.Current, 0); err != nil {
		t.Errorf("giving the choice back: %v", err)
	}
}

// Something that sends other bytes is not this meter.
func TestIdentifyWaitsForAReading(t *testing.T) {
	bg := context.Background()
	c, m, far := on(t, "text meter")
	later(c, far, 200*time.Millisecond, []byte("T: 21.3 C\r\nT: 21.4 C\r\n"))
	if id, err := m.Identify(bg); err == nil {
		t.Errorf("a thermometer is %q", id)
	}
	later(c, far, 200*time.Millisecond, []byte("DC  +3.00 V\r\n")) // its dial doesn't matter
	if id, err := m.Identify(bg); err != nil || id != "text meter" {
		t.Errorf("%q, %v", id, err)
	}
	if _, err := m.Identify(bg); !errors.Is(err, instruments.ErrNoReply) {
		t.Errorf("silent: %v", err)
	}
}

// A digit that came twice makes a number that no range of the meter shows.
func TestADigitTooMany(t *testing.T) {
	c, m, far := on(t, "text meter")
	for i := range 5 { // +22.04 mA on its range of 60 mA
		later(c, far, time.Duration(200+400*i)*time.Millisecond, []byte("DC  +222.04 mA\r\n"))
	}
	if r, err := m.Read(context.Background(), instruments.Current); !errors.Is(err, instruments.ErrGarbled) {
		t.Errorf("%+v, %v", r, err)
	}
	later(c, far, 200*time.Millisecond, []byte("DC  +222.0 mA\r\n"))
	if r, err := m.Read(context.Background(), instruments.Current); err != nil || r.Range != "600 mA" {
		t.Errorf("%+v, %v", r, err)
	}
}
