package returns

import (
	"math"
	"math/rand/v2"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
)

// onlooker is somebody who looks at a return: his rates are drawn from wider than
// what is believed of a look, and what he overlooks he overlooks altogether.
// Invented.
type onlooker struct {
	overlooked, invented, dim, flicker, hidden float64
}

func anybody(r *rand.Rand) onlooker {
	return onlooker{0.05 * r.Float64(), 0.008 * r.Float64(), 0.2 + 0.6*r.Float64(), 0.2 + 0.6*r.Float64(), 0.1}
}

// looksAt gives what he says of each group, and whether the fault can be seen from
// where he stands.
func (o onlooker) looksAt(ls []lamp, f trueFault, r *rand.Rand) (all []Seen, shows bool) {
	for _, l := range ls {
		s := Seen{Group: l.name, Look: look.Look{Saw: look.AllLit}}
		dark, dim, flickers := l.darkened(f)
		switch {
		case r.Float64() < o.hidden:
			s.Look = look.Look{Saw: look.Otherwise, What: look.NotSeen}
		case dark > 0:
			shows = true
			if r.Float64() >= o.overlooked {
				s.Look = look.Look{Saw: look.SomeDark, Dark: dark}
			}
		case dim:
			shows = true
			if r.Float64() >= o.dim {
				s.Look = look.Look{Saw: look.Otherwise, What: look.Dim}
			}
		case flickers && r.Float64() < 0.2 && r.Float64() >= o.flicker:
			s.Look = look.Look{Saw: look.Otherwise, What: look.Flickers}
		case r.Float64() < o.invented:
			s.Look = look.Look{Saw: look.SomeDark, Dark: 1}
		}
		all = append(all, s)
	}
	return all, shows
}

// darkened is what a fault does to the lights of a lamp: so many dark, or all dim
// (to less than a third), or a joint that may flicker.
func (l lamp) darkened(f trueFault) (dark int, dim, flickers bool) {
	switch {
	case f.place == "board "+l.name, f.place == l.name && (f.class == fault.OpenWire || f.class == fault.StuckDark):
		return l.n * l.leds, false, false
	case f.place != l.name:
		return 0, false, false
	case f.class == fault.OpenBranch:
		return int(f.param) * l.leds, false, false
	case f.class == fault.ShortedLED:
		return 1, false, false
	case f.class == fault.BadJoint:
		share := l.draw(12, 0, f) / l.draw(12, 0, trueFault{})
		if share < 0.03 {
			return l.n * l.leds, false, false
		}
		return 0, share < 1.0/3, true
	}
	return 0, false, false
}

// traced is a trace at 12 V: 20 s, ten readings a second over 90 ms each.
func traced(ls []lamp, f trueFault, r *rand.Rand) []blink.Sample {
	const window = 0.09
	var steps []float64
	var phases []float64
	base := 0.0
	for _, l := range ls {
		a, d := l.draw(12, 0, f), 0.0
		switch {
		case f.place == "board "+l.name, f.place == l.name && f.class == fault.StuckDark:
		case f.place == l.name && f.class == fault.StuckLit, l.periodS == 0:
			base += a
		default:
			d = a
		}
		if l.periodS > 0 && f.place != "board "+l.name {
			base += standing(12)
		}
		steps, phases = append(steps, d), append(phases, r.Float64())
	}
	if f.class == fault.Leak {
		base += 12 / f.param
	}
	var out []blink.Sample
	for at := window; at < 20; at += 0.1 * (0.9 + 0.2*r.Float64()) {
		a := base
		for i, l := range ls {
			if steps[i] == 0 {
				continue
			}
			sum := 0.0 // of 18 moments in the window
			for k := range 18 {
				x := (at-window*(float64(k)+0.5)/18)/l.periodS + phases[i]
				if x-math.Floor(x) < l.duty {
					sum += 1.0 / 18
				}
			}
			a += steps[i] * sum
		}
		out = append(out, blink.Sample{AtS: at, Amps: a * (1 + 2e-4*r.NormFloat64())})
	}
	return out
}

// tallyOf counts what is said of returns.
type tallyOf struct{ n, right, wrong, asItLeft, alarm int }

func (t *tallyOf) add(d *Diagnosis, f trueFault) {
	t.n++
	if d.Alarm {
		t.alarm++
	}
	switch {
	case d.Verdict == AsItLeft:
		t.asItLeft++
	case d.Named == nil:
	case d.Named.Place == f.place || d.Named.Second == f.place:
		t.right++
	default:
		t.wrong++
	}
}

func (t *tallyOf) rate(k int) float64 { return float64(k) / float64(max(1, t.n)) }

// What a look adds to a return: a trace and a sweep on another bench, faults with
// the shares of the prototype's test, onlookers of all kinds. Of the faults that
// show, 80 of 100 are to be named and no more than one wrongly; of healthy models
// 95 are to be told so with a look. (Without one, beside what can be told at all:
// TestWithoutALookBesideAnOracle.)
func TestWhatALookAdds(t *testing.T) {
	if raceDetector {
		t.Skip("statistics: without -race")
	}
	faults, models := 24, 2
	if long() {
		faults, models = 300, 20
	}
	seed := seedOf(21)
	t.Logf("seed %d", seed)
	volts := grid(2, 12.5, 0.75)
	r := rand.New(rand.NewPCG(seed, 11))
	pr, n := fault.DefaultPriors().Return, DefaultNuisances()
	var without, with, hidden, hiddenWith, healthy, healthyWith tallyOf
	for m := range models {
		ls := built(r)
		p, s := referencePlan(ls), asBuilt(ls, volts, r)
		lib, err := NewLibrary(p, s, "", volts, pr)
		if err != nil {
			t.Fatal(err)
		}
		for i := m; i < faults*3/2; i += models {
			f := trueFault{}
			var sweep Curve
			if i < faults {
				f = drawFault(r)
				sweep = otherBench().sweep(ls, volts, r, nil, f)
			} else {
				sweep = otherBench().sweep(ls, volts, r, nil)
			}
			ret := &Return{Sweep: sweep, DwellS: 4, Volts: 12, WindowS: 0.09, Trace: traced(ls, f, r)}
			say := func() *Diagnosis {
				d, err := lib.Diagnose(p, s, ret, Options{Priors: &pr, Nuisances: &n})
				if err != nil {
					t.Fatal(err)
				}
				return d
			}
			blind := say()
			var shows bool
			ret.Seen, shows = anybody(r).looksAt(ls, f, r)
			d := say()
			switch {
			case i >= faults:
				healthy.add(blind, f)
				healthyWith.add(d, f)
			case shows:
				without.add(blind, f)
				with.add(d, f)
				if d.Named == nil || d.Named.Place != f.place {
					t.Logf("%v: %s, first %s %.2f", f, d.Verdict, d.Ranked[0].Place, d.Ranked[0].P)
				}
			default:
				hidden.add(blind, f)
				hiddenWith.add(d, f)
			}
		}
	}
	for _, x := range []struct {
		name string
		t    tallyOf
	}{{"faults that show, no look", without}, {"the same, with a look", with},
		{"faults that don't show, no look", hidden}, {"the same, with a look", hiddenWith},
		{"healthy, no look", healthy}, {"healthy, with a look", healthyWith}} {
		t.Logf("%-32s %3d: named right %.3f, named wrong %.3f, as it left %.3f, alarm %.3f", x.name, x.t.n,
			x.t.rate(x.t.right), x.t.rate(x.t.wrong), x.t.rate(x.t.asItLeft), x.t.rate(x.t.alarm))
	}
	least := func(what string, k, n int, want float64) {
		if got := float64(k) / float64(n); got < want-3*sd(want, n) {
			t.Errorf("%s: %d of %d, want %.2f", what, k, n, want)
		}
	}
	least("faults that show named by a look", with.right, with.n, 0.80)
	least("of these not named wrongly", with.n-with.wrong, with.n, 0.99)
	least("of these not called as it left", with.n-with.asItLeft, with.n, 0.98)
	least("healthy ones told so with a look", healthyWith.asItLeft, healthyWith.n, 0.95)
	least("healthy ones told so without", healthy.asItLeft, healthy.n, 0.85)
	if with.right <= without.right {
		t.Errorf("a look adds nothing: %d named with it, %d without", with.right, without.right)
	}
}

// Twins at the jack: a look tells them apart, a client's words lean to one of them,
// and what can't be seen changes nothing.
func TestALookTellsTwinsApartAndAClientLeans(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(8)
	ls := built(r)
	p, s, pr := referencePlan(ls), asBuilt(ls, volts, r), fault.DefaultPriors().Return
	lib, err := NewLibrary(p, s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	sweep := otherBench().sweep(ls, volts, r, nil, trueFault{"strip2", fault.OpenBranch, 1})
	ofStrip2 := func(all []Seen) float64 {
		n := DefaultNuisances()
		d, err := lib.Diagnose(p, s, &Return{Sweep: sweep, DwellS: 4, Seen: all}, Options{Priors: &pr, Nuisances: &n})
		if err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, c := range d.Ranked {
			if c.Place == "strip2" && c.Second == "" {
				sum += c.P
			}
		}
		return sum
	}
	told := func(words string) []Seen {
		all, why := SeenAs(p, s, words, true)
		if why != "" {
			t.Fatal(why)
		}
		return all
	}
	alone, heard := ofStrip2(nil), ofStrip2(heardOf(p, s, "one of strip2 is dark"))
	right, wrong := ofStrip2(told("strip2: 3 of 12 dark")), ofStrip2(told("strip1: 3 of 18 dark"))
	hidden := ofStrip2([]Seen{{Group: "strip2", Look: look.Look{Saw: look.Otherwise, What: look.NotSeen}}})
	t.Logf("strip2: %.4f by current, %.4f by hearsay, %.4f by a look, %.4f by one at its twin, %.4f where it can't "+
		"be seen", alone, heard, right, wrong, hidden)
	if !(alone < 0.9 && heard > alone && right > heard && right > nameAbove && wrong < alone) ||
		math.Abs(hidden-alone) > 1e-9 {
		t.Error("not in this order")
	}
	if x := heardOf(p, s, "it crackles"); len(x) > 0 {
		t.Errorf("words of no group count: %+v", x)
	}
	if _, why := SeenAs(p, s, "something is odd", true); why == "" {
		t.Error("words that nobody understands are taken for a look")
	}
	for _, x := range told("all right") {
		if x.Look.Saw != look.AllLit {
			t.Errorf("all right of all: %+v", x)
		}
	}
}

// What to do next: where twins are left a look is worth more than a further voltage;
// once the maker has looked it isn't asked for, though a client may have spoken.
func TestALookIsWeighedLikeAReading(t *testing.T) {
	volts := grid(2, 12.5, 0.75)
	r := testRand(9)
	ls := built(r)
	p, s, pr := referencePlan(ls), asBuilt(ls, volts, r), fault.DefaultPriors().Return
	lib, err := NewLibrary(p, s, "", volts, pr)
	if err != nil {
		t.Fatal(err)
	}
	q := lib.over(p, s, DefaultNuisances(), pr, 4)
	sweep := otherBench().sweep(ls, volts, r, nil, trueFault{"strip2", fault.OpenBranch, 1})
	for _, v := range []float64{12.5, 8.75, 8} {
		if err := q.Read(Probe{Volts: v, Amps: sweep.At(v), DwellS: 4, SetVolts: v}); err != nil {
			t.Fatal(err)
		}
	}
	next := func() bool {
		better, err := q.LookNext(true)
		if err != nil {
			t.Fatal(err)
		}
		return better
	}
	_, bits, err := q.choose()
	if err != nil {
		t.Fatal(err)
	}
	by := lib.lookBits(p, q.post.alive(q.l), look.DefaultRates())
	t.Logf("a look %.2f bits, the best voltage %.2f", by, bits)
	if next() != (by/lookEffort > bits/readingEffort) || !next() {
		t.Errorf("a look of %.2f bits isn't asked for beside a reading of %.2f", by, bits)
	}
	blind := look.DefaultRates() // of a maker who sees nothing
	blind.Overlooked, blind.DimOverlooked, blind.FlickerOverlooked, blind.DimIsDark, blind.Floor = 1, 1, 1, 0, 1
	if x := lib.lookBits(p, q.post.alive(q.l), blind); x > 0.02 {
		t.Errorf("a look that sees nothing is worth %.3f bits", x)
	}
	q.See(heardOf(p, s, "strip2 is dark"))
	if !next() {
		t.Error("a client's words stand for a look")
	}
	all, _ := SeenAs(p, s, "all right", true)
	q.See(all)
	if next() {
		t.Error("asked for a look once more")
	}
}

// Somebody who can't judge colours finds no colour right: a wrong one that the client named stays
// open, whatever it draws, until somebody looks who can.
func TestAColourStaysOpen(t *testing.T) {
	t.Parallel()
	p := referencePlan(built(testRand(8)))
	s := &Signature{Groups: []GroupCurve{{Group: "strip1"}, {Group: "strip2"}}}
	client := heardOf(p, s, "strip2 is green")
	for _, c := range []struct {
		told   string
		judges bool
		open   bool
	}{{"all right", true, false}, {"all right", false, true}, {look.RightNoColours, true, true},
		{"strip1: 1 dark", false, true}, {"strip1: 1 dark", true, false}} {
		all, why := SeenAs(p, s, c.told, c.judges)
		if why != "" || len(all) != 2 {
			t.Fatalf("%q: %+v %s", c.told, all, why)
		}
		for _, x := range all {
			if x.Look.Saw == look.AllLit && x.Look.SaysOf(look.Colour) != !c.open {
				t.Errorf("%q, judges %v: %+v", c.told, c.judges, x)
			}
		}
		if open := len(coloursOpen(append(all, client...))) > 0; open != c.open {
			t.Errorf("%q, judges %v: open %v", c.told, c.judges, open)
		}
	}
}
