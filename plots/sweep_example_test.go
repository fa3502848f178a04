package plots_test

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/compare/fault"
	"sealworthy/compare/returns"
	"sealworthy/plots"
)

// comeBack is an invented diagnosis of the invented lightship.
func comeBack() *returns.Diagnosis {
	d := &returns.Diagnosis{Build: "Brackwater", At: time.Date(2029, 5, 2, 9, 0, 0, 0, time.UTC),
		SignatureAt: time.Date(2026, 12, 1, 9, 0, 0, 0, time.UTC),
		Simulated:   true, Verdict: returns.OneOf, Alarm: true, Twins: []returns.Twin{{A: "saloon", B: "engine room"}},
		Adapter: &returns.AdapterSays{Verdict: "good", Text: "The adapter gives 12.05 V, as it should."}}
	saloon := returns.Cause{Place: "saloon", P: 0.62, Text: "\"saloon\": one of its lights or segments is dark",
		Closure: "deckhouse",
		Classes: []returns.ClassP{{Class: fault.OpenBranch, P: 0.6}}}
	engine := returns.Cause{Place: "engine room", P: 0.35, Text: "\"engine room\": about 100 ohm in its wire",
		Closure: "hull",
		Classes: []returns.ClassP{{Class: fault.BadJoint, P: 0.3}}}
	for v := 2.0; v <= 12; v += 0.5 {
		healthy := 0.018*math.Max(0, v-2.5) + 0.06*math.Max(0, v-8.6)
		lost := -0.0042 * math.Max(0, v-8.6)
		d.Volts, d.HealthyA, d.NoiseA = append(d.Volts, v), append(d.HealthyA, healthy),
			append(d.NoiseA, 0.0002+0.001*healthy)
		d.MeasuredA = append(d.MeasuredA, healthy+lost+0.0003*math.Sin(9*v))
		saloon.DeltaA, engine.DeltaA = append(saloon.DeltaA, lost),
			append(engine.DeltaA, 0.8*lost-0.0003*math.Max(0, v-9))
	}
	d.NoiseA[10] = 0.1 // a board's lowest voltage
	d.Ranked = []returns.Cause{saloon, engine}
	d.Set = d.Ranked
	return d
}

// ExampleSweep draws a return's sweep against its signature.
func ExampleSweep() {
	drawTo("sweep", func(w *os.File, f plots.Format) error {
		return plots.Sweep(w, f, style(),
			plots.SweepOf(comeBack()))
	})
	// Output:
}

func TestSweepGolden(t *testing.T) { golden(t, "sweep", ExampleSweep) }

func TestASweepThatCantBeDrawnIsRefused(t *testing.T) {
	for name, spoil := range map[string]func(*plots.SweepData){
		"one point": func(d *plots.SweepData) { d.Volts = d.Volts[:1] },
		"a hole":    func(d *plots.SweepData) { d.MeasuredA = d.MeasuredA[1:] },
		"no number": func(d *plots.SweepData) { d.HealthyA[3] = math.NaN() },
		"a cause":   func(d *plots.SweepData) { d.Explained[0].DeltaA = nil },
	} {
		d := plots.SweepOf(comeBack())
		spoil(&d)
		var b bytes.Buffer
		if err := plots.Sweep(&b, plots.SVG, style(), d); err == nil || b.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, err, b.Len())
		}
	}
}

func TestTheClientsPageHasNoCurrentsAndNoChances(t *testing.T) {
	d := plots.DeliveryData{Build: "Brackwater <i>", Volts: 12, AdapterAmps: 1, Plug: "5.5 x 2.1 mm, centre minus",
		Centre: "minus", Flashes: true,
		Lights:  []plots.DeliveryLight{{Name: "saloon", See: "10 windows"}},
		Buttons: []plots.DeliveryButton{{Board: "lamp driver", Steps: []string{"slow", "fast"}}}}
	var b bytes.Buffer
	if err := plots.Delivery(&b, d); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, want := range []string{"12 V DC, at least 1 A", "minus in the centre", "10 windows", "slow, then fast",
		"Serial number", "photosensitive", "Brackwater &lt;i&gt;", "class=\"blank\""} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, never := range []string{" mA", "probab", "<i>"} {
		if strings.Contains(page, never) {
			t.Errorf("%q stands on the client's page", never)
		}
	}
	if err := plots.Delivery(&b, plots.DeliveryData{}); err == nil {
		t.Error("a page of nothing")
	}
}

func TestThePageOfAReturn(t *testing.T) {
	var b bytes.Buffer
	if err := plots.ReturnSheet(&b, plots.ReturnData{Build: "Brackwater", Serial: "BW-1", Diagnosis: comeBack(),
		Style: style()}); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	for _, want := range []string{"in one of the places below", "62 %", "35 %", "The deckhouse, or the hull",
		plots.SimulatedBench, "<svg", "BW-1", "look alike from the jack", "12.05 V", "2 May 2029"} {
		if !strings.Contains(page, want) {
			t.Errorf("%q is missing", want)
		}
	}
	standsAlone(t, page)
	// Without a sweep, as after a short, the page stands without a picture.
	d := comeBack()
	d.Volts, d.MeasuredA, d.Set, d.Verdict = nil, nil, nil, returns.ShortedUp
	b.Reset()
	if err := plots.ReturnSheet(&b, plots.ReturnData{Build: "Brackwater", Diagnosis: d, Style: style()}); err != nil ||
		strings.Contains(b.String(), "<svg") {
		t.Errorf("%v", err)
	}
}
