package plots_test

import (
	"bytes"
	"math"
	"os"
	"strings"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/scene"
	"sealworthy/compare/stages"
	"sealworthy/plots"
)

// parted is an invented trace of the invented lightship, taken apart: a board
// whose outputs take turns, one of them dead, and a lantern.
func parted() (stages.Reading, blink.Parted) {
	a := blink.Parted{BaseA: 0.3831, BaseU: 4e-5, Known: true, WindowS: 0.1, Beats: []blink.Beat{
		{Name: "beacon", PeriodS: 1.62, StartS: -0.4, Outputs: []blink.Blinking{
			{Name: "port beacon", Spans: [][2]float64{{0, 0.41}}, StepA: 0.0157, StepU: 5e-5, State: blink.Running},
			{Name: "starboard beacon", Spans: [][2]float64{{0.5, 0.91}}, State: blink.StaysDark}}},
		{Name: "lamp driver", PeriodS: 2.41, StartS: -1.1, Outputs: []blink.Blinking{
			{Name: "lantern", Spans: [][2]float64{{0, 0.5}}, StepA: 0.0362, StepU: 6e-5, State: blink.Running}}},
		{Name: "bell buoy", PeriodS: 3.1, StartS: -1, Outputs: []blink.Blinking{
			{Name: "buoy", Spans: [][2]float64{{0, 0.2}}, State: blink.StaysLit},
			{Name: "wreck light", Spans: [][2]float64{{0.4, 0.6}}, State: blink.Unsettled}}}}}
	x := stages.Reading{Scene: scene.Scene{Volts: scene.Is(12)}, At: began, WindowS: 0.1, Simulated: true,
		HalfWidthA: 0.0004}
	for i := range 150 {
		s := 0.1 + 0.2*(float64(i)+0.3*wobble(i))
		x.Trace = append(x.Trace, blink.Sample{AtS: s, Amps: a.At(s) + 0.0002*wobble(i+7)})
	}
	return x, a
}

// ExampleBlinkers draws the trace of a whole model with what blinks in it.
func ExampleBlinkers() {
	x, a := parted()
	drawTo("blinkers", func(w *os.File, f plots.Format) error {
		return plots.Blinkers(w, f, style(), plots.BlinkersOf("the whole model at jack main, returned", x, a))
	})
	// Output:
}

func TestBlinkersGolden(t *testing.T) { golden(t, "blinkers", ExampleBlinkers) }

func TestABlinkersPictureSaysWhatEachDoes(t *testing.T) {
	x, a := parted()
	var b bytes.Buffer
	if err := plots.Blinkers(&b, plots.SVG, style(), plots.BlinkersOf("whole", x, a)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"port beacon: runs, every 1.620 s, adds 15.70 mA", "starboard beacon: stays dark",
		"buoy: stays lit", "wreck light: can&#39;t tell",
		plots.SimulatedBench, "always lit: 383.1 mA", "of 30 s"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing", want)
		}
	}
	a.Known, a.Poor = false, true
	b.Reset()
	if err := plots.Blinkers(&b, plots.SVG, style(), plots.BlinkersOf("whole", x, a)); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"take turns without a dark moment", "Something else changes as well"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("%q is missing", want)
		}
	}
}

func TestLanesAreLitWhereTheFitIs(t *testing.T) {
	x, a := parted()
	d := plots.BlinkersOf("whole", x, a)
	if len(d.Lanes) != 5 || len(d.Lanes[1].Lit) > 0 {
		t.Fatalf("%+v", d.Lanes)
	}
	for _, i := range []int{0, 2} {
		sum := 0.0
		for k, s := range d.Lanes[i].Lit {
			sum += s[1] - s[0]
			if s[1] <= s[0] || k > 0 && s[0] < d.Lanes[i].Lit[k-1][1] {
				t.Errorf("%s: lit %v", d.Lanes[i].Name, d.Lanes[i].Lit)
			}
		}
		span := d.Samples[len(d.Samples)-1].S - d.Samples[0].S
		if share := sum / span; math.Abs(share-[]float64{0.41, 0, 0.5}[i]) > 0.04 {
			t.Errorf("%s: lit %.2f of the time", d.Lanes[i].Name, share)
		}
	}
}

func TestBlinkersThatCantBeDrawnAreRefused(t *testing.T) {
	for name, spoil := range map[string]func(*plots.BlinkersData){
		"nothing read":   func(d *plots.BlinkersData) { d.Samples = nil },
		"nothing blinks": func(d *plots.BlinkersData) { d.Lanes = nil },
		"no number":      func(d *plots.BlinkersData) { d.Samples[3].A = math.NaN() },
		"no fit":         func(d *plots.BlinkersData) { d.Fitted = nil },
		"a bad fit":      func(d *plots.BlinkersData) { d.Fitted = func(float64) float64 { return math.Inf(1) } },
		"back in time":   func(d *plots.BlinkersData) { d.Samples[3].S = 0 },
	} {
		x, a := parted()
		d := plots.BlinkersOf("whole", x, a)
		spoil(&d)
		var b bytes.Buffer
		if err := plots.Blinkers(&b, plots.SVG, style(), d); err == nil || b.Len() > 0 {
			t.Errorf("%s: %v, %d bytes", name, err, b.Len())
		}
	}
}
