package circuit

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

const (
	spiceTight = "reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-15 itl1=2000 temp=27 tnom=27"
	spiceLoose = "temp=27 tnom=27"
	// spiceVT is kT/q as ngspice-39 computes it at 27 degC (CODATA 2014).
	spiceVT = 1.38064852e-23 * 300.15 / 1.6021766208e-19
)

// netlist writes a net of resistors, feed diodes, branches, draws, shunts and
// outputs for ngspice. The series resistance of the diodes is in the branch's
// resistor, the same circuit with fewer inner nodes.
func (n *Net) netlist(src Source, options, control string) string {
	var b strings.Builder
	b.WriteString("* made by a test\n")
	node := func(k Node) string { return fmt.Sprintf("p%d", k) }
	gnd := func(g Ground) string {
		if g == 0 {
			return "0"
		}
		return fmt.Sprintf("g%d", g)
	}
	models := map[string]string{}
	diode := func(d Diode) string {
		key := fmt.Sprintf("IS=%.17g N=%.17g", d.SaturationA, d.SlopeV/spiceVT)
		if models[key] == "" {
			models[key] = fmt.Sprintf("m%d", len(models))
		}
		return models[key]
	}
	fmt.Fprintf(&b, "v_src e 0 dc %.17g\nr_src e p0 %.17g\n", src.EmfV, math.Max(src.Ohms, 1e-9))
	for k := 1; k < len(n.el); k++ {
		e := &n.el[k]
		from, to := node(e.parent), node(Node(k))
		switch e.kind {
		case resistorElement:
			fmt.Fprintf(&b, "r_e%d %s %s %.17g\n", k, from, to, n.ohms[k])
		case diodeElement:
			fmt.Fprintf(&b, "d_e%d %s i%d %s\nr_e%d i%d %s %.17g\n", k, from, k, diode(e.diode), k, k, to,
				math.Max(1e-9, e.diode.SeriesOhm))
		case outputElement:
			v := 0.0
			if e.lit {
				v = e.out.OpenV
			}
			fmt.Fprintf(&b, "v_o%d o%d %s dc %.17g\nr_o%d o%d %s %.17g\n", k, k, gnd(e.ret), v, k, k, to, e.out.Ohms)
			if e.lit {
				fmt.Fprintf(&b, "f_o%d %s %s v_o%d %.17g\n", k, gnd(e.ret), from, k, e.out.Reflect)
			}
		case converterElement:
			c := &e.conv // power balance by a behavioural source; the voltage is ideal
			fmt.Fprintf(&b, "v_c%d %s %s dc %.17g\n", k, to, gnd(e.ret), c.OutV)
			if c.Linear {
				fmt.Fprintf(&b, "b_c%d %s %s i = -i(v_c%d) + %.17g\n", k, from, gnd(e.ret), k, c.IdleA)
			} else {
				fmt.Fprintf(&b, "b_c%d %s %s i = -i(v_c%d)*%.17g/max(v(%s,%s),%.17g) + %.17g\n", k, from,
					gnd(e.ret), k,
					c.OutV/c.Efficiency, from, gnd(e.ret), c.minIn(), c.IdleA)
			}
		}
	}
	for g := 1; g < len(n.gnd); g++ {
		fmt.Fprintf(&b, "r_g%d %s %s %.17g\n", g, gnd(Ground(g)), gnd(n.gnd[g].parent), n.gnd[g].ohms)
	}
	for k := range n.branches {
		br := &n.branches[k]
		ohms, at := br.ohms, fmt.Sprintf("b%d_0", k)
		var chain strings.Builder
		for q := range int(br.n) {
			l := n.ledAt(BranchID(k), q)
			to := fmt.Sprintf("b%d_%d", k, q+1)
			switch l.State {
			case OK:
				ohms += l.Diode.SeriesOhm
				fmt.Fprintf(&chain, "d_b%d_%d %s %s %s\n", k, q, at, to, diode(l.Diode))
			case Reversed:
				fmt.Fprintf(&chain, "d_b%d_%d %s %s %s\n", k, q, to, at, diode(l.Diode))
			default:
				fmt.Fprintf(&chain, "v_b%d_%d %s %s dc 0\n", k, q, at, to)
			}
			at = to
		}
		if reg := br.reg; !reg.IsZero() {
			to := fmt.Sprintf("b%d_reg", k)
			fmt.Fprintf(&chain, "b_r%d %s %s i = %.17g*(1-exp(-%d*max(-0.1,v(%s,%s))/%.17g))\n", k, at, to, reg.Amps,
				sharpness, at, to, reg.HoldV)
			at = to
		}
		fmt.Fprintf(&b, "r_b%d %s b%d_0 %.17g\n%sv_b%d %s %s dc 0\n", k, node(br.at), k, math.Max(ohms, 1e-9),
			chain.String(), k, at, gnd(br.ret))
	}
	for k, d := range n.draws {
		fmt.Fprintf(&b, "i_d%d %s %s dc %.17g\n", k, node(d.at), gnd(d.ret), d.amps)
	}
	for k, d := range n.shunts {
		fmt.Fprintf(&b, "r_s%d %s %s %.17g\n", k, node(d.at), gnd(d.ret), d.ohms)
	}
	for p, m := range models {
		fmt.Fprintf(&b, ".model %s D(%s RS=0)\n", m, p)
	}
	fmt.Fprintf(&b, ".options %s\n.control\nset numdgt=16\n%s\n.endc\n.end\n", options, control)
	return b.String()
}

var spiceLine = regexp.MustCompile(`(?m)^(\S+) = (\S+)$`)

// spice solves a net with ngspice; ok is false when it doesn't converge.
func spice(t *testing.T, program string, n *Net, src Source) (v map[string]float64, ok bool) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "net.cir")
	if err := os.WriteFile(file, []byte(n.netlist(src, spiceTight, "op\nprint all")), 0o644); err != nil {
		t.Fatal(err)
	}
	var said bytes.Buffer
	cmd := exec.Command(program, "-b", file)
	cmd.Stderr = &said
	out, _ := cmd.Output() // its exit status says only that nothing was to be plotted
	for _, bad := range []string{"aborted", "transient op", "Error", "singular"} {
		if bytes.Contains(out, []byte(bad)) || bytes.Contains(said.Bytes(), []byte(bad)) {
			return nil, false
		}
	}
	v = map[string]float64{}
	for _, m := range spiceLine.FindAllStringSubmatch(string(out), -1) {
		x, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			t.Fatalf("%q: %v", m[0], err)
		}
		v[m[1]] = x
	}
	return v, len(v) > 0
}

// randomNet is a tree with returns of its own, all kinds of loads and some faults.
func randomNet(r *rand.Rand, converters bool) *Net {
	n := New()
	nodes, grounds := []Node{0}, []Ground{0}
	pick := func() Node { return nodes[r.IntN(len(nodes))] }
	ret := func() Ground { return grounds[r.IntN(len(grounds))] }
	for range r.IntN(3) {
		grounds = append(grounds, n.AddReturn(ret(), 0.01+3*r.Float64()))
	}
	parts := []Diode{{1.86e-19, 2.8 * spiceVT, 8, 0}, {5.96e-19, 1.9 * spiceVT, 4, 0}, {1.2e-17, 3.2 * spiceVT, 10, 0},
		{2.8e-21, 2.6 * spiceVT, 9, 0}}
	for range 2 + r.IntN(8) {
		switch x := r.IntN(12); {
		case x == 0:
			nodes = append(nodes, n.AddDiode(pick(), Diode{1e-12, 1.5 * spiceVT, 0.3, 0}))
		case x == 1 && converters:
			nodes = append(nodes, n.AddConverter(pick(), ret(), Converter{OutV: 5, Efficiency: 0.85, IdleA: 0.002,
				MinInV: 5.5, Linear: r.IntN(2) == 0}))
		default:
			nodes = append(nodes, n.AddResistor(pick(), 0.01+2*r.Float64()))
		}
	}
	branch := func() Branch {
		b := Branch{Ohms: 100 + 900*r.Float64()}
		for range 1 + r.IntN(3) {
			b.LEDs = append(b.LEDs, LED{Diode: parts[r.IntN(len(parts))]})
		}
		if r.IntN(4) == 0 {
			b.Ohms, b.Regulator = 10*r.Float64(),
				Regulator{Amps: 0.005 + 0.015*r.Float64(), HoldV: 0.5 + 2*r.Float64()}
		}
		if q := &b.LEDs[r.IntN(len(b.LEDs))]; r.IntN(12) == 0 && (b.Regulator.IsZero() || len(b.LEDs) > 1) {
			q.State = Shorted // a regulator without an LED lets current back in ngspice
		}
		return b
	}
	for range 3 + r.IntN(12) {
		switch r.IntN(8) {
		case 0:
			full := 0.0 // behind a converter a draw that insists at any voltage has no meaning
			if converters {
				full = 2
			}
			n.AddDraw(pick(), ret(), 0.005*r.Float64(), full)
		case 1:
			n.AddShunt(pick(), ret(), 300+3000*r.Float64())
		case 2:
			pin := n.AddOutput(pick(), ret(), Output{OpenV: 5 + 3*r.Float64(), Ohms: 50 + 100*r.Float64(),
				Reflect: float64(r.IntN(2)), Lit: r.IntN(3) > 0})
			for range 1 + r.IntN(2) {
				n.AddBranch(pin, ret(), branch())
			}
		case 3:
			segs := make([]Branch, 2+r.IntN(5))
			b := branch()
			for k := range segs {
				segs[k] = b
			}
			n.AddStrip(pick(), ret(), segs, 0.05)
		default:
			n.AddBranch(pick(), ret(), branch())
		}
	}
	return n
}

// floats says that a node hangs behind a diode that carries nothing: its voltage
// is set by GMIN and rounding.
func (n *Net) floats(p *Point, k Node) bool {
	for ; k > 0; k = n.el[k].parent {
		if n.el[k].kind == diodeElement && p.ElementA[k] < minLitA {
			return true
		}
	}
	return false
}

func TestRandomNetsAgreeWithNgspice(t *testing.T) {
	program, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("ngspice is missing and CI is set")
		}
		t.Skip("ngspice is not installed")
	}
	nets := 24
	if os.Getenv("SEALWORTHY_LONG") != "" {
		nets = 1000
	}
	r := rand.New(rand.NewPCG(7, 11))
	tl, solved := &tally{}, 0
	for k := range nets {
		n := randomNet(r, k%2 == 1)
		src := Source{EmfV: 4 + 10*r.Float64(), Ohms: 0.05 + r.Float64()}
		s, p := NewSolver(n), n.NewPoint()
		if err := s.Solve(src, p); err != nil {
			t.Errorf("net %d: %v", k, err)
			continue
		}
		low := false
		for _, x := range p.OutOfRegulation {
			low = low || x
		}
		for q, d := range n.draws {
			low = low || p.DrawA[q] < d.amps
		}
		if low {
			continue // the netlist has no such states
		}
		v, ok := spice(t, program, n, src)
		if !ok {
			continue
		}
		solved++
		tl.compare(fmt.Sprintf("net %d source", k), p.SourceA, -v["v_src#branch"], 1e-9, 1e-6)
		for q := range n.el {
			if n.floats(p, Node(q)) {
				continue
			}
			tl.compare(fmt.Sprintf("net %d node %d", k, q), p.NodeV[q], v[fmt.Sprintf("p%d", q)], 1e-6, 1e-6)
		}
		for q := 1; q < len(n.gnd); q++ {
			tl.compare(fmt.Sprintf("net %d return %d", k, q), p.GroundV[q], v[fmt.Sprintf("g%d", q)], 1e-6, 1e-6)
		}
		for q := range n.branches {
			tl.compare(fmt.Sprintf("net %d branch %d", k, q), p.BranchA[q], v[fmt.Sprintf("v_b%d#branch", q)],
				1e-9, 1e-6)
		}
	}
	if solved < nets/2 {
		t.Errorf("ngspice solved only %d of %d nets", solved, nets)
	}
	for k, f := range tl.fails {
		if k == 20 {
			break
		}
		t.Error(f)
	}
	t.Logf("%d nets, %d values compared, worst deviation %.3g of its tolerance (%s)", solved, tl.values,
		tl.worst, tl.at)
}
