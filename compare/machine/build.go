package machine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"sealworthy/compare/plan"
)

// Build is one invented model as its maker planned it.
type Build struct {
	Shape uint64 // the seed it was drawn by
	spec  spec
}

// spec is a plan before it is written down: edits change it and write it anew.
type spec struct {
	volts    float64
	closures []specClosure
	joints   []specJoint
	returns  []specReturn
	boards   []specBoard
	groups   []specGroup
	parts    []string // "reel of" parts, written out
}

type specClosure struct{ name, inside, holds string }

type specJoint struct{ name, from, closure, wire, holds string }

type specReturn struct{ name, closure string }

type specBoard struct {
	name, joint, closure, run, paces string
	outputs, moreOhms                int // ohms of an output beyond ten
	maxMA                            float64
}

type specGroup struct {
	name, closure, joint, board, back string
	output                            int
	part                              string
	count, series                     int
	ohms                              float64 // 0: a strip or an SMD
	strip                             bool
	sealed                            bool // a wire for a part still to come
	wireMM                            int  // how long its wire is
}

// drawer draws what a build is made of.
type drawer struct{ r *rand.Rand }

func (d drawer) chance(p float64) bool { return d.r.Float64() < p }

func (d drawer) between(low, high float64) float64 { return low + (high-low)*d.r.Float64() }

func pick[T any](d drawer, of ...T) T { return of[d.r.IntN(len(of))] }

// DrawBuild draws a build: closures one in another, one that may hide nothing
// but a joint, joints, a return, a board, two to four groups, parts of reels. All
// invented; what it holds is what makers build.
func DrawBuild(shape uint64) Build {
	d := drawer{rand.New(rand.NewPCG(shape, 0xb11d))}
	s := spec{volts: 12}
	names := []string{"hull", "deckhouse", "lantern house"}[:1+d.r.IntN(3)]
	for i, n := range names {
		c := specClosure{name: n}
		if i > 0 && d.chance(0.6) {
			c.inside = names[d.r.IntN(i)]
		}
		s.closures = append(s.closures, c)
	}
	if d.chance(0.4) {
		s.closures = append(s.closures, specClosure{name: "cable duct"}) // hides no group
	}
	all := s.closureNames()
	joints := []string{"main"}
	for i := range 1 + d.r.IntN(3) {
		j := specJoint{name: fmt.Sprintf("joint %d", i+1), from: pick(d, joints...), closure: pick(d, all...),
			wire: fmt.Sprintf("{ %s, length_mm = %d }", pick(d, "awg = 24", "mm = 0.3, enamelled = true",
				"mm2 = 0.14, stranded = true"), 40+d.r.IntN(200))}
		if d.chance(0.15) {
			j.holds = pick(d, `{ diode = "schottky", amps = 1.0, drop_volts = 0.31, tolerance = 0.08 }`,
				`{ fuse = "resettable", amps = 1.0, ohms = 0.35, tolerance = 0.2 }`)
		}
		s.joints = append(s.joints, j)
		joints = append(joints, j.name)
	}
	if d.chance(0.3) {
		s.returns = append(s.returns, specReturn{name: "mast return", closure: pick(d, all...)})
	}
	if d.chance(0.3) {
		s.board(d, names, joints)
	}
	for n := 2 + d.r.IntN(2); len(s.groups) < n; {
		s.group(d, names, joints)
	}
	if shape >= keptShapes {
		s.more(d)
	}
	s.prune()
	return Build{Shape: shape, spec: s}
}

// prune takes out closures of which the plan would say nothing: they are never ready.
func (s *spec) prune() {
	for {
		n := len(s.closures)
		s.closures = slices.DeleteFunc(s.closures, func(c specClosure) bool { return !s.says(c) })
		if len(s.closures) == n {
			return
		}
	}
}

// says tells whether something is in a closure, or closes inside it.
func (s *spec) says(c specClosure) bool {
	return c.holds != "" ||
		slices.ContainsFunc(s.closures, func(x specClosure) bool { return x.inside == c.name }) ||
		slices.ContainsFunc(s.joints, func(x specJoint) bool { return x.closure == c.name }) ||
		slices.ContainsFunc(s.returns, func(x specReturn) bool { return x.closure == c.name }) ||
		slices.ContainsFunc(s.boards, func(x specBoard) bool { return x.closure == c.name }) ||
		slices.ContainsFunc(s.groups, func(x specGroup) bool { return x.closure == c.name })
}

// keptShapes: kept scripts play on builds as they are drawn. What was added to the
// drawing later begins at a shape that none of them played on then.
const keptShapes = 100

// more adds what no current tells of, and wires for parts still to come. Fewer boards
// blink: their traces cost most of the time, and what is tried here isn't the pace.
func (s *spec) more(d drawer) {
	for i := range s.boards {
		if d.chance(0.6) {
			s.boards[i].paces = `{ name = "steady", steady = true }`
		}
	}
	for i := range s.closures {
		if d.chance(0.15) {
			s.closures[i].holds = "ballast of the " + s.closures[i].name
		}
	}
	for i := range s.groups {
		s.groups[i].sealed = s.groups[i].board == "" && d.chance(0.1)
	}
}

func (s *spec) closureNames() []string {
	var out []string
	for _, c := range s.closures {
		out = append(out, c.name)
	}
	return out
}

// board draws a board with one output or two, steady or not.
func (s *spec) board(d drawer, closures, joints []string) {
	b := specBoard{name: "board 1", joint: pick(d, joints...), closure: pick(d, closures...), outputs: 1, run: "free"}
	b.paces = `{ name = "steady", steady = true }`
	if d.chance(0.5) {
		b.paces = fmt.Sprintf(`{ name = "blink", period_s = %.1f, duty = 0.4 }`, d.between(1, 2))
	}
	s.boards = append(s.boards, b)
	for k := range b.outputs {
		g := s.leds(d, 1)
		g.name, g.board, g.output, g.closure, g.wireMM = fmt.Sprintf("beacon %d", k+1), b.name, k+1, b.closure, wireMM
		s.boards[0].maxMA = math.Ceil(2.5*g.drawMA(s.volts)) + 5
		s.groups = append(s.groups, g)
	}
}

// group draws a group on a joint.
func (s *spec) group(d drawer, closures, joints []string) {
	var g specGroup
	most := 6
	if d.chance(0.25) {
		s.long(d, closures, joints)
		return
	}
	switch d.r.IntN(3) {
	case 0:
		like := pick(d, "strip warm white 12 V", "strip 5050 blue 12 V")
		if strings.Contains(like, "5050") {
			most = min(most, 4) // more than its wire carries isn't fit to be tested
		}
		g = specGroup{part: s.reel(d, like), count: 1 + d.r.IntN(most), strip: true}
	case 1:
		g = specGroup{part: s.reel(d, pick(d, "smd warm white 12 V", "smd red 12 V")), count: 1 + d.r.IntN(most)}
	default:
		g = s.leds(d, 4)
	}
	s.hang(d, g, closures, joints)
}

// long draws a group so long, of a reel so poorly known, that one dark light is near
// the limit of what is seen.
func (s *spec) long(d drawer, closures, joints []string) {
	like := pick(d, "strip warm white 12 V", "smd warm white 12 V", "smd red 12 V")
	name := fmt.Sprintf("reel %d of %s", len(s.parts)+1, like)
	g := specGroup{part: name, count: 6 + d.r.IntN(7), strip: strings.HasPrefix(like, "strip")}
	key, most := "draw_mA", 10.0
	if g.strip {
		key, most = "segment_mA", 16
	}
	s.parts = append(s.parts, fmt.Sprintf("[part.%q]\nlike = %q\n%s = %.1f\ntolerance = 0.05\nshare = %g\n", name,
		like, key, d.between(5, most), pick(d, 0.5, 0.8)))
	s.hang(d, g, closures, joints)
}

// wireMM is how long a group's own wire is, as it's drawn.
const wireMM = 100

// hang puts a group at a joint.
func (s *spec) hang(d drawer, g specGroup, closures, joints []string) {
	g.name, g.closure, g.joint = fmt.Sprintf("group %d", len(s.groups)+1), pick(d, closures...), pick(d, joints...)
	g.wireMM = wireMM
	if len(s.returns) > 0 && d.chance(0.4) {
		g.back = s.returns[0].name
	}
	s.groups = append(s.groups, g)
}

// reel gives a part of a reel that was sampled, written out once.
func (s *spec) reel(d drawer, like string) string {
	// Most groups are of reels of their own: what reels teach has sequences enough
	// in the others, and costs most of the time.
	name := "reel of " + like
	if d.chance(0.6) {
		name = fmt.Sprintf("reel %d of %s", len(s.parts)+1, like)
	}
	key, low, high := "draw_mA", 4.0, 12.0
	switch {
	case strings.Contains(like, "5050"):
		key, low, high = "segment_mA", 40, 60
	case strings.HasPrefix(like, "strip"):
		key, low, high = "segment_mA", 12, 20
	}
	text := fmt.Sprintf("[part.%q]\nlike = %q\n%s = %.1f\ntolerance = %g\nshare = %g\n", name, like, key,
		d.between(low, high),
		pick(d, 0.02, 0.03, 0.05), pick(d, 0.5, 0.8))
	if !slices.ContainsFunc(s.parts,
		func(p string) bool { return strings.HasPrefix(p, fmt.Sprintf("[part.%q]", name)) }) {
		s.parts = append(s.parts, text)
	}
	return name
}

// forwardV is about what an LED drops (common practice, no source).
var forwardV = map[string]float64{"red 1.8 mm": 1.9, "amber 0603": 2.0, "warm white 3 mm": 3.1, "green 0402": 3.0}

func (s *spec) leds(d drawer, most int) specGroup {
	g := specGroup{part: pick(d, "red 1.8 mm", "amber 0603", "warm white 3 mm", "green 0402"), series: 1 + d.r.IntN(2),
		count: 1 + d.r.IntN(most)}
	want := (s.volts - float64(g.series)*forwardV[g.part]) / d.between(0.002, 0.008)
	for _, g.ohms = range []float64{330, 470, 680, 820, 1000, 1500, 2200, 3300, 4700} {
		if g.ohms >= want {
			break
		}
	}
	return g
}

// drawMA is about what LEDs with a resistor draw.
func (g specGroup) drawMA(volts float64) float64 {
	if g.ohms == 0 {
		return 20
	}
	return 1e3 * float64(g.count) * (volts - float64(g.series)*forwardV[g.part]) / g.ohms
}

// Source writes the plan down.
func (b Build) Source() []byte {
	var t strings.Builder
	line := func(format string, a ...any) { fmt.Fprintf(&t, format+"\n", a...) }
	s := b.spec
	line("build = \"Model %d\"", b.Shape)
	line("[jack.main]\nvolts = %g\nvolts_range = [%.2f, %.2f]\nsource = \"adapter\"", s.volts, s.volts*0.97,
		s.volts*1.03)
	for _, p := range s.parts {
		line("%s", p)
	}
	for _, c := range s.closures {
		line("[closure.%q]", c.name)
		if c.inside != "" {
			line("inside = %q", c.inside)
		}
		if c.holds != "" {
			line("must_hold = [ %q ]", c.holds)
		}
	}
	for _, j := range s.joints {
		line("[joint.%q]\nfrom = %q\nwire = %s", j.name, j.from, j.wire)
		if j.closure != "" {
			line("closure = %q", j.closure)
		}
		if j.holds != "" {
			line("holds = [ %s ]", j.holds)
		}
	}
	for _, r := range s.returns {
		line("[return.%q]\nto = \"main\"\nwire = { mm2 = 0.4, length_mm = 120, tolerance = 0.2 }", r.name)
		if r.closure != "" {
			line("closure = %q", r.closure)
		}
	}
	for _, x := range s.boards {
		line("[board.%q]\njoint = %q\nclosure = %q\nwire = { mm = 0.25, length_mm = 120 }\nstanding_mA = "+
			"3\ntolerance = 0.05\nlowest_volts = 3\nhighest_volts = 30", x.name, x.joint, x.closure)
		var outs []string
		for range x.outputs {
			outs = append(outs, fmt.Sprintf("{ max_mA = %.0f, ohms = %d }", x.maxMA, 10+x.moreOhms))
		}
		line("outputs = [ %s ]\noutputs_run = %q\npaces = [ %s ]", strings.Join(outs, ", "), x.run, x.paces)
	}
	for _, g := range s.groups {
		line("[[group]]\nname = %q\nclosure = %q", g.name, g.closure)
		if g.board != "" {
			line("board = %q\noutput = %d", g.board, g.output)
		} else {
			line("joint = %q", g.joint)
		}
		if g.back != "" {
			line("return = %q", g.back)
		}
		if g.sealed {
			line("sealed_wire = true")
		}
		line("wire = { mm = 0.25, length_mm = %d }\nlights = [ %s ]", g.wireMM, g.light())
	}
	return []byte(t.String())
}

func (g specGroup) light() string {
	switch {
	case g.strip:
		return fmt.Sprintf("{ part = %q, segments = %d }", g.part, g.count)
	case g.ohms == 0:
		return fmt.Sprintf("{ part = %q, count = %d }", g.part, g.count)
	}
	return fmt.Sprintf("{ part = %q, in_series = %d, ohms = %g, ohms_tolerance = 0.01, count = %d }", g.part, g.series,
		g.ohms, g.count)
}

// Parse reads the plan as the program does.
func (b Build) Parse() (*plan.Plan, error) {
	p, problems := plan.Parse("plan.toml", b.Source())
	if len(problems) > 0 {
		return nil, fmt.Errorf("build %d: %v", b.Shape, problems[0])
	}
	return p, nil
}

// burn lists the groups in which the plan as it stands would burn something, by
// plain sums: 12 V parts at 24 V, an LED whose resistor lets more than 100 mA
// through.
func (b Build) burn() []string {
	var out []string
	for _, g := range b.spec.groups {
		if g.ohms == 0 && b.spec.volts > 18 || g.ohms > 0 && g.drawMA(b.spec.volts)/float64(g.count) > 100 {
			out = append(out, g.name)
		}
	}
	return out
}
