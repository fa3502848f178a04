package budget

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"sealworthy/compare/plan"
)

// The law against the plainest way there is: buy the parts, build the model,
// measure it, two thousand times. Each build is a plan of its own with its parts'
// values written into it. Two groups share a reel, so that their errors add up
// in the whole model.
func TestAgainstBuildingItAgain(t *testing.T) {
	skipStatistics(t)
	builds := 2000
	if long {
		builds = 40000
	}
	white := led("white", 2.9, 0.15, 0.5)
	p := bench()
	for _, name := range []string{"port", "starboard"} {
		hang(p, name, own(5, 2, white, 560, 0.05, 0.25))
	}
	hang(p, "lamps", part(plan.SMD, 6, 1, 2.95, 820, 0.2, 0.75))
	p.Joints[0].Wire.Ohms, p.Groups[0].Wire.Ohms = plan.Value{Nominal: 1}, plan.Value{Nominal: 2}
	p.Groups[1].Wire.Ohms, p.Groups[2].Wire.Ohms = plan.Value{Nominal: 2}, plan.Value{Nominal: 2}
	at := still
	at.Trials = 20000
	b := of(t, p, at)

	rnd := rand.New(rand.NewPCG(3, 4))
	flat := func() float64 { return 2*rnd.Float64() - 1 }
	dev := func(v plan.Value, c float64) float64 {
		return v.HalfWidth * (math.Sqrt(v.Share)*c + math.Sqrt(1-v.Share)*flat())
	}
	total, port := make([]float64, builds), make([]float64, builds)
	for k := range builds {
		q := bench()
		q.Joints[0].Wire = p.Joints[0].Wire
		cR, cV, cS := flat(), flat(), flat() // the reel's own: resistors, LEDs, SMDs
		for _, g := range p.Groups {
			l, n := g.Lights[0], g
			n.Lights = nil
			for range l.Count {
				one := l
				one.Count = 1
				one.Ohms = plan.Value{Nominal: l.Ohms.Nominal + dev(l.Ohms, cR)}
				f := 1 + dev(l.BranchSpread, cS)
				one.BranchSpread = plan.Value{Nominal: 1}
				one.Series = nil
				for _, d := range l.Series {
					v := dev(d.Volts, cV)
					d.Volts = plan.Value{}
					pts := append([]plan.VoltsAtAmps(nil), d.Points...)
					for i := range pts {
						// f of the part in parallel: f times the current at every voltage.
						pts[i] = plan.VoltsAtAmps{Volts: pts[i].Volts + v, Amps: f * pts[i].Amps}
					}
					d.Points = pts
					one.Series = append(one.Series, d)
				}
				one.Ohms.Nominal /= f
				n.Lights = append(n.Lights, one)
			}
			q.Groups = append(q.Groups, n)
		}
		s, err := newSide(q, 0, at.filled())
		if err != nil {
			t.Fatal(err)
		}
		x, err := s.add(s.everything(), func(int) bool { return true }, always, 12, 0, false)
		if err != nil {
			t.Fatal(err)
		}
		total[k] = x.w.JackAmps(x.w.Point)
		if x, err = s.add(s.everything(), only(0), always, 12, 0, false); err != nil {
			t.Fatal(err)
		}
		port[k] = x.w.JackAmps(x.w.Point)
	}
	for _, c := range []struct {
		name string
		d    Draw
		y    []float64
	}{{"the whole model", b.Jacks[0].AllLit, total}, {"port alone", b.Groups[0].Lit, port}} {
		mean, sd := stat.MeanStdDev(c.y, nil)
		n := float64(builds)
		near(t, c.name+": mean", c.d.MeanA, mean, 4*sd/math.Sqrt(n))
		near(t, c.name+": u", c.d.UA, sd, 4*sd/math.Sqrt(2*n))
		s := summarise(c.y, Coverage)
		near(t, c.name+": low end", c.d.LowA, s.low, 0.12*sd)
		near(t, c.name+": high end", c.d.HighA, s.high, 0.12*sd)
	}
	// The shared reel shows: two groups together are less sure than by chance alone.
	if alone := b.Groups[0].Lit.UA; b.Jacks[0].AllLit.UA < 1.6*alone {
		t.Errorf("port alone ± %g A, with starboard and lamps ± %g A", alone, b.Jacks[0].AllLit.UA)
	}
}

// Inputs that are taken to act alike do: the sensitivities are those of trying each.
func TestLikeInputs(t *testing.T) {
	m := &model{p: brackwater(t), at: At{}.filled(), seed: 1}
	if err := m.choose(); err != nil {
		t.Fatal(err)
	}
	a, err := m.alone(0)
	if err != nil {
		t.Fatal(err)
	}
	s, saved := a.side, 0
	for i, k := range s.like() {
		if k != i {
			saved++
		}
	}
	if saved == 0 {
		t.Error("no two inputs act alike in a plan full of equal branches")
	}
	nominal := zeros(s.outs)
	if err := s.eval(zeros(s.law.inputs), nominal); err != nil {
		t.Fatal(err)
	}
	all, err := sensitivities(s.step(), nil, nominal,
		func(int) (function, []int) { return s.eval, nil })
	if err != nil {
		t.Fatal(err)
	}
	each, quick := table(all), table(a.drawn.c)
	for k := range each {
		for i := range each[k] {
			near(t, "sensitivity", quick[k][i], each[k][i], 1e-6*math.Abs(each[k][i])+1e-9)
		}
	}
}
