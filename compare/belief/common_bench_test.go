package belief

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// randomTree is an invented plan: three to six joints, five to ten groups, some
// of them on a return of their own.
func randomTree(r *rand.Rand) string {
	var b strings.Builder
	fmt.Fprint(&b, "build = \"invented\"\n[jack.main]\nvolts = 12.0\n[closure.hull]\n"+
		"[part.\"measured strip\"]\nlike = \"strip warm white 12 V\"\nsegment_mA = 16.4\ntolerance = 0.08\nshare = 0.8\n"+
		"[part.\"measured lamp\"]\nlike = \"smd warm white 12 V\"\ndraw_mA = 9.6\ntolerance = 0.1\nshare = 0.5\n")
	joints := []string{"main"}
	for i := range 3 + r.IntN(4) {
		name := fmt.Sprintf("j%d", i+1)
		from := joints[r.IntN(len(joints))]
		if i == 0 {
			from = "main"
		}
		fmt.Fprintf(&b, "[joint.%s]\nfrom = %q\nwire = { awg = 28, length_mm = %d }\n", name, from, 100+r.IntN(250))
		joints = append(joints, name)
	}
	mast := r.IntN(2) == 0
	if mast {
		fmt.Fprint(&b, "[return.mast]\nto = \"main\"\nwire = { mm2 = 0.4, length_mm = 400 }\n")
	}
	for i := range 5 + r.IntN(6) {
		lights := []string{
			fmt.Sprintf("{ part = \"measured strip\", segments = %d }", 2+r.IntN(8)),
			fmt.Sprintf("{ part = \"measured lamp\", count = %d }", 1+r.IntN(6)),
			fmt.Sprintf("{ part = \"red 1.8 mm\", ohms = 1000, ohms_tolerance = 0.01, count = %d }", 1+r.IntN(4)),
			fmt.Sprintf("{ part = \"amber 0603\", in_series = 3, ohms = 470, ohms_tolerance = 0.01, count = %d }",
				1+r.IntN(3)),
		}[r.IntN(4)]
		fmt.Fprintf(&b, "[[group]]\nname = \"g%d\"\nclosure = \"hull\"\njoint = %q\n"+
			"wire = { mm = 0.2, length_mm = %d }\nlights = [ %s ]\n",
			i+1, joints[1+r.IntN(len(joints)-1)], 60+r.IntN(200), lights)
		if mast && (i < 2 || r.IntN(3) == 0) {
			fmt.Fprint(&b, "return = \"mast\"\n")
		}
	}
	return b.String()
}

func parse(t testing.TB, src string) *plan.Plan {
	t.Helper()
	p, problems := plan.Parse("plan.toml", []byte(src))
	if len(problems) > 0 {
		t.Fatalf("%v\n%s", problems, src)
	}
	return p
}

// bench is a model with parts drawn by their tolerances, and a meter of 0.5 %.
type bench struct {
	p             *plan.Plan
	joined, loose *wiring.Wired
	fitted, apart []*Ensemble // by group
	r             *rand.Rand
	gain, setOff  float64
	volts         []float64
	// What is wrong.
	supplyOffV float64
	joint      func(w *wiring.Wired) // on the joined model
	both       func(w *wiring.Wired) // on both
}

const leadsOhm = 0.1

func newBuild(t testing.TB, p *plan.Plan, r *rand.Rand, lower ...float64) *bench {
	t.Helper()
	b := &bench{p: p, r: r, gain: 1 + 0.003*(2*r.Float64()-1), setOff: 0.01 * (2*r.Float64() - 1)}
	b.volts = append([]float64{12}, lower...)
	b.fitted, b.apart = everyGroup(t, p, leadsOhm, b.volts...), everyGroup(t, wiring.Loose(p), leadsOhm, 12)
	var err error
	room := 25 + 3*(2*r.Float64()-1)
	o := wiring.Options{AmbientC: &room, SeriesOhm: leadsOhm}
	if b.joined, err = wiring.Build(p, "main", o); err != nil {
		t.Fatal(err)
	}
	q := *p
	q.Joints, q.Returns = nil, nil
	for _, x := range p.Returns {
		q.Returns = append(q.Returns, plan.Return{Name: x.Name, To: "main"})
	}
	q.Groups, q.Boards = slices.Clone(p.Groups), slices.Clone(p.Boards)
	for i := range q.Groups {
		if q.Groups[i].Board == "" {
			q.Groups[i].Joint = "main"
		}
	}
	for i := range q.Boards {
		q.Boards[i].Joint = "main"
	}
	if b.loose, err = wiring.Build(&q, "main", o); err != nil {
		t.Fatal(err)
	}
	// The same pieces, loose and joined: by name of the quantity.
	seed := r.Uint64()
	for _, w := range []*wiring.Wired{b.joined, b.loose} {
		draw(w, seed)
	}
	return b
}

// draw gives every quantity of a group a value that depends on its name alone.
func draw(w *wiring.Wired, seed uint64) {
	for i, q := range w.Params {
		if q.Group < 0 {
			continue
		}
		c := rand.New(rand.NewPCG(seed, hash(string(q.Kind)+q.Reel)))
		e := rand.New(rand.NewPCG(seed, hash(q.Name+fmt.Sprint(q.LED))))
		reel, own := math.Sqrt(q.Value.Share)*(2*c.Float64()-1), math.Sqrt(1-q.Value.Share)*(2*e.Float64()-1)
		w.Apply(i, q.Value.HalfWidth*(reel+own))
	}
}

func hash(s string) uint64 {
	h := uint64(14695981039346656037)
	for _, c := range []byte(s) {
		h = (h ^ uint64(c)) * 1099511628211
	}
	return h
}

// everyGroup makes the ensembles of a plan, in its order; nil of a group as found.
func everyGroup(t testing.TB, p *plan.Plan, ohms float64, volts ...float64) []*Ensemble {
	t.Helper()
	var out []*Ensemble
	for _, g := range p.Groups {
		if g.AsFound {
			out = append(out, nil)
			continue
		}
		e, err := New(p, []string{g.Name}, volts, scene.Scene{BurdenOhm: ohms}, Options{})
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, e)
	}
	return out
}

// measure reads every group alone; loose at 12 V only.
func (b *bench) measure(t testing.TB, loose bool) []Measured {
	t.Helper()
	w, es := b.joined, b.fitted
	if loose {
		w, es = b.loose, b.apart
	}
	if b.joint != nil && !loose {
		b.joint(w)
	}
	if b.both != nil {
		b.both(w)
	}
	var out []Measured
	for gi, e := range es {
		if e == nil {
			continue
		}
		w.Alone(gi)
		m := Measured{Ensemble: e}
		clip := 1 + 0.005*(2*b.r.Float64()-1) // warm-up and clips: the model errs by half a percent
		for _, v := range e.Volts {
			a, err := w.AddsAmps(gi, circuit.Source{EmfV: v + b.setOff + b.supplyOffV})
			if err != nil {
				t.Fatal(err)
			}
			m.Readings = append(m.Readings, meterReads(v, a*b.gain*clip, 0.005))
		}
		out = append(out, m)
	}
	return out
}

// meterReads is a reading of a meter whose gain is known to a share.
func meterReads(volts, amps, ofReading float64) Reading {
	const floorA, resolutionA = 2e-5, 1e-5
	u := math.Hypot(floorA, resolutionA/2) / math.Sqrt(3)
	return Reading{Volts: volts, Amps: amps, U: u, GainU: ofReading / math.Sqrt(3)}
}

// since adds what was read loose to what was read of the same groups joined.
func since(loose, joined []Measured) []Measured {
	out := slices.Clone(joined)
	for i := range out {
		out[i].Loose = &loose[i]
	}
	return out
}

// wider draws the parts again, with tolerances wider than the plan's.
func (b *bench) wider(seed uint64, by float64) {
	for _, w := range []*wiring.Wired{b.joined, b.loose} {
		for i := range w.Params {
			w.Params[i].Value.HalfWidth *= by
		}
		draw(w, seed)
	}
}
