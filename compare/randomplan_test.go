package compare_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
)

// randomPlan writes a plan of an invented model, the same for the same seed.
// All of it is invented; what it holds is what makers build: strips, SMDs and
// LEDs in mixed groups, reels sampled and not, joints with a diode, fuse or
// converter, thin wires, returns, boards, groups as found, loads without a pace.
func randomPlan(seed uint64) string {
	w := &planWriter{r: rand.New(rand.NewPCG(seed, 0x51a9)), volts: map[string]float64{}}
	w.jack = []float64{5, 12, 12, 12, 24}[w.r.IntN(5)]
	w.line("build = %q", fmt.Sprintf("Model %d", seed))
	w.line("[jack.main]\nvolts = %g\nvolts_range = [%.2f, %.2f]\nsource = \"adapter\"", w.jack, w.jack*0.95,
		w.jack*1.05)
	w.parts()
	w.places()
	for i := range w.r.IntN(3) {
		w.board(i)
	}
	for n := 3 + w.r.IntN(6); w.groups < n; {
		w.group()
	}
	return w.b.String()
}

// planInTurn writes a plan that is nothing but a board of two outputs in turn.
func planInTurn(seed uint64) string {
	w := &planWriter{r: rand.New(rand.NewPCG(seed, 0x7a17)), volts: map[string]float64{}}
	w.jack = []float64{5, 12, 12, 12, 24}[w.r.IntN(5)]
	w.line("build = %q", fmt.Sprintf("Board %d", seed))
	w.line("[jack.main]\nvolts = %g\nvolts_range = [%.2f, %.2f]\nsource = \"adapter\"", w.jack, w.jack*0.95,
		w.jack*1.05)
	w.parts()
	w.closures, w.joints, w.volts["main"] = []string{"deckhouse"}, []string{"main"}, w.jack
	w.line("[closure.deckhouse]")
	w.boardOf(0, 2, "alternate")
	return w.b.String()
}

type planWriter struct {
	r        *rand.Rand
	b        strings.Builder
	jack     float64
	closures []string
	joints   []string
	returns  []string
	volts    map[string]float64 // by joint
	groups   int
}

func (w *planWriter) line(format string, a ...any) { fmt.Fprintf(&w.b, format+"\n", a...) }

func (w *planWriter) chance(p float64) bool { return w.r.Float64() < p }

func (w *planWriter) between(low, high float64) float64 { return low + (high-low)*w.r.Float64() }

func pick[T any](w *planWriter, of ...T) T { return of[w.r.IntN(len(of))] }

// strips and SMDs that exist for a voltage.
var lampsFor = map[float64][]string{
	5: {"strip warm white 5 V", "strip red 5 V", "smd warm white 5 V", "smd green 5 V"},
	12: {"strip warm white 12 V", "strip 5050 blue 12 V", "smd warm white 12 V", "smd red 12 V",
		"smd cold white 12 V"},
	24: {"strip warm white 24 V", "strip amber 24 V"},
}

var ledsOf = []string{"red 1.8 mm", "amber 0603", "warm white 3 mm", "green 0402", "blue 1.8 mm", "cold white 0805"}

// parts writes a sampled twin of every part: "reel of …".
func (w *planWriter) parts() {
	for _, v := range []float64{5, 12, 24} {
		for _, name := range lampsFor[v] {
			key, low, high := "draw_mA", 4.0, 15.0
			if strings.HasPrefix(name, "strip") {
				key, low, high = "segment_mA", 12, 20
			}
			if strings.Contains(name, "5050") {
				low, high = 40, 60
			}
			w.line("[part.\"reel of %s\"]\nlike = %q\n%s = %.1f\ntolerance = %g\nshare = %g", name, name, key,
				w.between(low, high),
				pick(w, 0.01, 0.02, 0.03, 0.05, 0.1), pick(w, 0.5, 0.8, 0.9))
		}
	}
	for _, name := range ledsOf {
		w.line("[part.\"reel of %s\"]\nlike = %q\nspread_volts = %g\nshare = %g", name, name, pick(w, 0.02, 0.05, 0.1),
			pick(w, 0.25, 0.5, 0.8))
	}
}

// places writes closures, joints and returns.
func (w *planWriter) places() {
	w.closures = []string{"hull", "deckhouse", "lantern house"}[:1+w.r.IntN(3)]
	for i, c := range w.closures {
		w.line("[closure.%q]", c)
		if i > 0 && w.chance(0.5) {
			w.line("inside = %q", w.closures[w.r.IntN(i)])
		}
	}
	w.joints, w.volts["main"] = []string{"main"}, w.jack
	for i := range 1 + w.r.IntN(4) {
		name, from := fmt.Sprintf("joint %d", i+1), pick(w, w.joints...)
		w.volts[name] = w.volts[from]
		w.line("[joint.%q]\nfrom = %q\nwire = { %s, length_mm = %d }\nclosure = %q", name, from,
			pick(w, "awg = 24", "awg = 28", "mm = 0.3, enamelled = true", "mm2 = 0.14, stranded = true"),
			40+w.r.IntN(300), pick(w, w.closures...))
		switch w.r.IntN(9) {
		case 0:
			w.line(`holds = [ { diode = "schottky", amps = 1.0, drop_volts = 0.31, tolerance = 0.08 } ]`)
		case 1:
			w.line(`holds = [ { diode = "silicon" }, { fuse = "resettable", amps = 1.0 } ]`)
		case 2:
			w.line(
				`holds = [ { fuse = "resettable", amps = 1.0, ohms = 0.35, tolerance = 0.2 }, { plug = "2 pins" } ]`)
		case 3:
			w.line(`holds = [ { switch = "slide" } ]`)
		case 4:
			if w.volts[name] >= 12 {
				kind := pick(w, "step-down", "linear")
				w.volts[name] = map[float64]float64{12: 5, 24: 12}[w.volts[name]]
				w.line("holds = [ { converter = %q, out_volts = %g, tolerance = %g, idle_mA = 4, max_amps = 1 } ]",
					kind, w.volts[name], pick(w, 0.01, 0.03))
			}
		}
		w.joints = append(w.joints, name)
	}
	for i := range w.r.IntN(3) {
		name := fmt.Sprintf("return %d", i+1)
		to := "main"
		if i > 0 {
			to = w.returns[0]
		}
		w.line("[return.%q]\nto = %q\nwire = { mm2 = %g, length_mm = %d, tolerance = 0.3 }", name, to,
			pick(w, 0.1, 0.4), 50+w.r.IntN(400))
		w.returns = append(w.returns, name)
	}
}

// feed writes where something hangs; it gives the voltage there.
func (w *planWriter) feed() float64 {
	joint := pick(w, w.joints...)
	w.line("joint = %q", joint)
	if len(w.returns) > 0 && w.chance(0.3) {
		w.line("return = %q", pick(w, w.returns...))
	}
	return w.volts[joint]
}

func (w *planWriter) wire() {
	if w.chance(0.1) {
		return // nobody said
	}
	w.line("wire = { %s, length_mm = %d }", pick(w, "mm = 0.1, enamelled = true", "mm = 0.15, enamelled = true",
		"mm = 0.2", "mm = 0.25", "awg = 30"), 40+w.r.IntN(300))
}

// board writes a board and its groups.
func (w *planWriter) board(i int) {
	outputs, run := 1+w.r.IntN(2), "free"
	if outputs == 2 {
		run = pick(w, "alternate", "together", "free")
	}
	w.boardOf(i, outputs, run)
}

// boardOf writes a board of so many outputs that run in a way, and its groups.
func (w *planWriter) boardOf(i, outputs int, run string) {
	name, most := fmt.Sprintf("board %d", i+1), 0.7
	if run == "alternate" {
		most = 0.5
	}
	w.line("[board.%q]", name)
	volts := w.feed()
	closure := pick(w, w.closures...)
	w.line("closure = %q", closure)
	w.wire()
	w.line("standing_mA = %.1f\ntolerance = %g\nlowest_volts = 3\nhighest_volts = 30", w.between(1, 6),
		pick(w, 0.05, 0.1, 0.4))
	leds, twice := make([]string, outputs), make([]bool, outputs)
	var outs []string
	same := w.chance(0.3)
	for k := range outputs {
		amps := 0.0
		leds[k], amps = w.leds(volts, 2)
		if twice[k] = w.chance(0.1); twice[k] { // a second group on the same output
			amps *= 2
		}
		if k > 0 && same {
			leds[k], twice[k] = leds[0], twice[0]
		}
		outs = append(outs, fmt.Sprintf("{ max_mA = %.0f, ohms = %d }", math.Ceil(1e3*amps*w.between(1.6, 3)+2),
			pick(w, 1, 10, 22)))
		if k > 0 && same {
			outs[k] = outs[0]
		}
	}
	w.line("outputs = [ %s ]\noutputs_run = %q", strings.Join(outs, ", "), run)
	var paces []string
	for k := range 1 + w.r.IntN(3) {
		p := fmt.Sprintf("pace %d", k+1)
		switch w.r.IntN(5) {
		case 0:
			paces = append(paces, fmt.Sprintf("{ name = %q, steady = true }", p))
		case 1:
			if run != "alternate" {
				paces = append(paces, fmt.Sprintf("{ name = %q, flashes = [0.4, 0.5, 0.4, %.1f] }", p,
					w.between(1.5, 4)))
				break
			}
			fallthrough
		default:
			duty := w.between(0.2, most)
			if w.chance(0.3) {
				duty = most
			}
			paces = append(paces, fmt.Sprintf("{ name = %q, period_s = %.2f, duty = %.2f }", p,
				math.Exp(w.between(math.Log(0.6), math.Log(8))), duty))
		}
	}
	w.line("paces = [ %s ]", strings.Join(paces, ", "))
	for k := range outputs {
		w.groups++
		w.line("[[group]]\nname = \"%s light %d\"\nboard = %q\noutput = %d", name, k+1, name, k+1)
		w.wire()
		w.line("lights = [ %s ]", leds[k])
		if twice[k] {
			w.groups++
			w.line("[[group]]\nname = \"%s light %d too\"\nboard = %q\noutput = %d\nlights = [ %s ]", name, k+1, name,
				k+1, leds[k])
		}
	}
}

// leds gives a light of LEDs with resistors for a voltage, and its amps.
func (w *planWriter) leds(volts float64, most int) (string, float64) {
	part := pick(w, ledsOf...)
	vf := map[string]float64{"r": 2.0, "a": 2.0, "w": 2.85, "g": 2.7, "b": 2.85, "c": 2.9}[part[:1]]
	if w.chance(0.7) {
		part = "reel of " + part
	}
	n := 1 + w.r.IntN(max(1, int(0.8*(volts-0.5)/vf)))
	ohms := []float64{100, 120, 150, 180, 220, 270, 330, 390, 470, 560, 680, 820, 1000, 1200, 1500, 2200, 3300, 4700,
		6800, 10000}
	amps := w.between(0.001, 0.015)
	if strings.HasSuffix(part, "0402") {
		amps = min(amps, 0.0075) // rated 10 mA: what would burn isn't powered
	}
	want := (volts - float64(n)*vf) / amps
	r := ohms[len(ohms)-1]
	for _, x := range ohms {
		if x >= want {
			r = x
			break
		}
	}
	count := 1 + w.r.IntN(most)
	return fmt.Sprintf("{ part = %q, in_series = %d, ohms = %g, ohms_tolerance = %g, count = %d }", part, n, r,
			pick(w, 0.01, 0.05), count),
		float64(count) * (volts - float64(n)*vf) / r
}

// group writes a group on a joint.
func (w *planWriter) group() {
	w.groups++
	w.line("[[group]]\nname = \"group %d\"\nclosure = %q", w.groups, pick(w, w.closures...))
	volts := w.feed()
	w.wire()
	switch {
	case w.chance(0.04):
		w.line(`lights = "as found"`)
		return
	case w.chance(0.05):
		w.line(`lights = [ { behaves = %q, low_mA = 4, mean_mA = 9, high_mA = 16 } ]`, pick(w, "flicker", "sound"))
		return
	}
	var lights []string
	for range pick(w, 1, 1, 1, 2, 3) {
		lights = append(lights, w.light(volts))
	}
	w.line("lights = [ %s ]", strings.Join(lights, ", "))
}

func (w *planWriter) light(volts float64) string {
	if w.chance(0.4) {
		s, _ := w.leds(volts, pick(w, 1, 2, 6, 12))
		return s
	}
	part := pick(w, lampsFor[volts]...)
	name := part
	if w.chance(0.8) {
		name = "reel of " + part
	}
	key := "count"
	if strings.HasPrefix(part, "strip") {
		key = "segments"
	}
	return fmt.Sprintf("{ part = %q, %s = %d }", name, key, 1+w.r.IntN(pick(w, 1, 3, 6, 12)))
}
