package circuit

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// whiteLED and redLED are invented parts of usual shape.
func whiteLED() LED {
	return LED{Diode: FromDrop(3.0, 0.02, 2.8*ThermalVolts(25), 8)}
}

func redLED() LED { return LED{Diode: FromDrop(1.95, 0.02, 1.9*ThermalVolts(25), 4)} }

// model is an invented plan of 12 groups: a meter, six joints, 120 branches of
// 291 LEDs: strips of three with copper, single LEDs, threes in series.
func model(groups int) *Net {
	n := New()
	meter := n.AddResistor(0, 0.1)
	joint := meter
	for g := range groups {
		if g%2 == 0 {
			from := joint
			if g%4 == 0 {
				from = meter
			}
			joint = n.AddResistor(from, 0.15)
		}
		far := n.AddResistor(joint, 0.3)
		switch g % 4 {
		case 0, 1:
			segs := make([]Branch, 10)
			for k := range segs {
				segs[k] = Branch{Ohms: 150, LEDs: []LED{whiteLED(), whiteLED(), whiteLED()}}
			}
			n.AddStrip(far, 0, segs, 0.05)
		case 2:
			for k := range 10 {
				b := Branch{Ohms: 330, LEDs: []LED{whiteLED(), whiteLED(), whiteLED()}}
				if k < 3 {
					b = Branch{Ohms: 620, LEDs: []LED{whiteLED(), whiteLED()}}
				}
				n.AddBranch(far, 0, b)
			}
		case 3:
			for k := range 10 {
				l := whiteLED()
				if k%2 == 1 {
					l = redLED()
				}
				n.AddBranch(far, 0, Branch{Ohms: 1000, LEDs: []LED{l}})
			}
		}
	}
	return n
}

// draws are deviations for every LED and resistor, made beforehand: what is
// measured is setting them and solving.
type deviations struct {
	ohms   [][]float64
	shifts [][]float64
}

func deviate(n *Net, sets int) deviations {
	r := rand.New(rand.NewPCG(1, 2))
	d := deviations{}
	for range sets {
		o, s := make([]float64, n.Branches()), make([]float64, len(n.leds))
		for k := range o {
			o[k] = n.branches[k].ohms * (1 + 0.05*(2*r.Float64()-1))
		}
		for k := range s {
			s[k] = 0.1 * (2*r.Float64() - 1)
		}
		d.ohms, d.shifts = append(d.ohms, o), append(d.shifts, s)
	}
	return d
}

func (d *deviations) set(n *Net, k int) {
	o, s := d.ohms[k], d.shifts[k]
	for b := range o {
		n.SetBranchOhms(BranchID(b), o[b])
		first := int(n.branches[b].first)
		for q := range n.LEDs(BranchID(b)) {
			n.SetLEDShift(BranchID(b), q, s[first+q])
		}
	}
}

// BenchmarkMonteCarlo is one draw of every LED voltage and resistor and the
// solve after it, on one core.
func BenchmarkMonteCarlo(b *testing.B) {
	n := model(12)
	d := deviate(n, 64)
	s, p := NewSolver(n), n.NewPoint()
	src := Source{EmfV: 12, Ohms: 0.05}
	if err := s.Solve(src, p); err != nil {
		b.Fatal(err)
	}
	s.Home()
	b.ReportAllocs()
	iterations := 0
	k := 0
	for b.Loop() {
		d.set(n, k&63)
		k++
		if err := s.Solve(src, p); err != nil {
			b.Fatal(err)
		}
		iterations += p.Iterations
	}
	b.ReportMetric(float64(iterations)/float64(k), "iterations/op")
	b.ReportMetric(float64(n.Branches()), "branches")
	b.ReportMetric(float64(len(n.leds)), "LEDs")
}

// BenchmarkScaling shows that the cost of a solve is linear in branches.
func BenchmarkScaling(b *testing.B) {
	for _, groups := range []int{10, 100, 1000, 10000} {
		n := model(groups)
		for k := range n.el { // keep the far end alive: a longer tree of the same kind carries thinner loads
			n.ohms[k] *= 12 / float64(groups)
		}
		b.Run(fmt.Sprintf("branches=%d", n.Branches()), func(b *testing.B) {
			d := deviate(n, 2)
			s, p := NewSolver(n), n.NewPoint()
			src := Source{EmfV: 12}
			if err := s.Solve(src, p); err != nil {
				b.Fatal(err)
			}
			s.Home()
			b.ReportAllocs()
			k := 0
			for b.Loop() {
				d.set(n, k&1)
				k++
				if err := s.Solve(src, p); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(k)/float64(n.Branches()), "ns/branch")
		})
	}
}

// BenchmarkBesideNgspice runs the same plan through ngspice, many operating
// points in one process, and through the solver, and prints the ratio. ngspice's
// time is its processor time between two lengths of run, so that neither its
// start nor a busy machine counts; ours is the quickest of many short stretches.
func BenchmarkBesideNgspice(b *testing.B) {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("CI") != "" {
			b.Fatal("ngspice is missing")
		}
		b.Skip("ngspice is not installed")
	}
	n := model(12)
	src := Source{EmfV: 12, Ohms: 0.05}
	run := func(points int) float64 {
		ctl := fmt.Sprintf("repeat %d\nop\ndestroy all\nend", points)
		file := filepath.Join(b.TempDir(), "model.cir")
		if err := os.WriteFile(file, []byte(n.netlist(src, spiceLoose, ctl)), 0o644); err != nil {
			b.Fatal(err)
		}
		best := math.Inf(1)
		for range 3 {
			cmd := exec.Command(program, "-b", file)
			out, _ := cmd.Output() // its exit status says only that nothing was to be plotted
			if got := bytes.Count(out, []byte("No. of Data Rows")); got != points {
				b.Fatalf("ngspice solved %d of %d points: %.300s", got, points, out)
			}
			best = math.Min(best, (cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()).Seconds())
		}
		return best
	}
	const few, many = 20, 520
	each := (run(many) - run(few)) / (many - few)

	d := deviate(n, 64)
	s, p := NewSolver(n), n.NewPoint()
	if err := s.Solve(src, p); err != nil {
		b.Fatal(err)
	}
	s.Home()
	ours := math.Inf(1)
	for b.Loop() {
		start := time.Now()
		for k := range 64 {
			d.set(n, k)
			if err := s.Solve(src, p); err != nil {
				b.Fatal(err)
			}
		}
		ours = math.Min(ours, time.Since(start).Seconds()/64)
	}
	b.ReportMetric(each*1e9, "ngspice-ns/solve")
	b.ReportMetric(ours*1e9, "ours-ns/solve")
	b.ReportMetric(each/ours, "times-less")
}
