package capture

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

// A contact that isn't held back and that fits one feed alone is said by its second reading; what
// it draws at the lowest voltage is looked at in the second that hands have.
func TestWhatIsFeltIsSaidAtOnce(t *testing.T) {
	b, x := feelBench(t, handed{2 * s1, feeds["cabin"]})
	f := newFeeler(t, b, map[string][]Answer{"sense off": {{Choice: "stop"}}})
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	contact, off, low := f.kinds(Contact), f.kinds(HandsOff), time.Time{}
	if len(recs) != 1 || len(contact) != 1 || len(off) != 1 {
		t.Fatalf("%v, %d contacts, %d times hands off", outcomes(recs), len(contact), len(off))
	}
	if d := off[0].At.Sub(contact[0].At); d > 100*time.Millisecond {
		t.Errorf("hands off %v after the contact", d)
	}
	for _, e := range f.kinds(SensingOn) {
		if e.SetVolts == 0.5 && e.Reading != nil && e.At.After(off[0].At) && e.At.Before(recs[0].On) {
			low = e.At
		}
	}
	if low.IsZero() || recs[0].On.Sub(off[0].At) < handsOffFor {
		t.Errorf("read at the lowest voltage: %v; on %v after the word", low, recs[0].On.Sub(off[0].At))
	}
}

// What draws at the highest voltage what a feed draws, and at the lowest one what it doesn't, isn't
// ramped, though it was announced.
func TestWhatFitsAtOneVoltageIsNotRamped(t *testing.T) {
	leak := func(v float64) float64 { return v / 3 * feeds["nav lights"](3) }
	b, x := feelBench(t, handed{2 * s1, leak})
	f := newFeeler(t, b, nil)
	recs, _, err := feel(t, b, x, newFeelGuide("nav lights", "cabin"), f, handsFree())
	wantErr(t, err, ErrStopped)
	q := f.questions(AskSense)
	if len(f.kinds(HandsOff)) != 1 || len(recs) != 0 || b.highest() > 3 ||
		!strings.Contains(q[len(q)-1].Text, "It fits nothing that is left: it isn't powered.") {
		t.Errorf("%v, up to %v V, asked %q", outcomes(recs), b.highest(), q[len(q)-1].Text)
	}
}

// What was felt begins its ramp after the first point: its limit there is that of any ramp after
// that point. Told by hand, clipped on long before, or held back, it gets every point.
func TestTheRampOfWhatWasFelt(t *testing.T) {
	for _, c := range []struct {
		name  string
		felt  *contact
		first float64 // V, of the ramp
	}{
		{"felt", &contact{volts: 3, amps: 0.002, free: true}, 5},
		{"not felt", nil, 1},
		{"held back", &contact{volts: 3, amps: 0.002}, 1},
		{"long ago", &contact{volts: 3, amps: 0.002, free: true,
			until: time.Date(2026, 11, 25, 6, 59, 58, 0, time.UTC)}, 1},
		{"below the first point", &contact{volts: 0.5, amps: 0.002, free: true}, 1},
		{"more than its feed draws", &contact{volts: 3, amps: 0.02, free: true}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, led)
			e, err := newEngine(b.Bench(), &guide{}, &face{}, &record{}, seeded())
			if err != nil {
				t.Fatal(err)
			}
			s := ledStep("1", "nav lights")
			s.Ramp = []RampPoint{{1, 0.006, 0, 0.004}, {3, 0.010, 0.002, 0.008}, {5, 0.020, 0.006, 0.016},
				{12, 0.030, 0.020, 0.028}}
			if e.felt = c.felt; c.felt != nil && c.felt.until.IsZero() {
				e.felt.until = b.c.Now()
			}
			e.rec = &StepRecord{Step: s}
			var gone *letGoError // where what was felt isn't what hangs there
			if err := e.ramp(t.Context(), s); err != nil && !errors.As(err, &gone) {
				t.Fatal(err)
			}
			set := slices.DeleteFunc(b.lines(), func(l string) bool { return !strings.HasPrefix(l, "set ") })
			if want := fmt.Sprintf("set %.2f ", c.first); !strings.HasPrefix(set[0], want) {
				t.Errorf("begins with %q, want %q", set[0], want)
			}
			e.off(t.Context())
			b.mustOff()
		})
	}
}

// What trips at the first voltage that it's ramped to is looked for from the lowest point on, felt or not.
func TestATripOfWhatWasFelt(t *testing.T) {
	b := newBench(t, func(v float64, _ []int, _ time.Duration) float64 { return max(0, v-0.5) * 0.1 })
	e, err := newEngine(b.Bench(), &guide{}, &face{}, &record{}, seeded())
	if err != nil {
		t.Fatal(err)
	}
	s := ledStep("1", "nav lights")
	s.Ramp = []RampPoint{{1, 0.006, 0, 0.004}, {3, 0.010, 0.002, 0.008}, {12, 0.030, 0.020, 0.028}}
	e.felt = &contact{volts: 3, amps: 0.002, free: true, until: b.c.Now()}
	e.rec = &StepRecord{Step: s}
	var trip *tripError
	if err := e.ramp(t.Context(), s); !errors.As(err, &trip) || trip.volts != 1 {
		t.Errorf("%v", err)
	}
	e.off(t.Context())
	b.mustOff()
}

// The readings by which a draw was found at rest are of the trace where reading may end early, and
// none of another voltage is; one that is kept is read from then on.
func TestWhatItSettledByCounts(t *testing.T) {
	for _, c := range []struct {
		name  string
		e     Enough
		early bool
	}{{"may end early", Enough{Readings: 8, UA: 1e-4}, true}, {"kept", Enough{}, false}} {
		b := newBench(t, led)
		s := ledStep("1", "nav lights")
		s.Enough = c.e
		f := &face{}
		rec, r := runOne(t, b, b.Bench(), s, f)
		trace := rec.Trace("meter", instruments.Current)
		for _, x := range trace {
			if v, _ := x.Float(); math.Abs(v-led(12, nil, 0)) > 1e-4 {
				t.Errorf("%s: %v A in the trace", c.name, v)
			}
		}
		since := 0 // read once it was known to be at rest
		for _, ev := range f.kinds(Sampling) {
			if ev.Reading != nil && ev.Reading.Instrument == "meter" {
				since++
			}
		}
		for _, m := range r.marks {
			if m.Kind == MarkSettled && !m.At.Equal(rec.Settled) {
				t.Errorf("%s: the record says %v, it is %v", c.name, m.At, rec.Settled)
			}
		}
		if len(trace) < 8 || c.early != (len(trace) == 8) || c.early != (since < len(trace)) {
			t.Errorf("%s: %d readings in the trace, %d since it was at rest", c.name, len(trace), since)
		}
	}
}
