package sketch

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Shopping is what a plan takes to build: what it names, with spares.
type Shopping struct {
	Parts     []Bought     `json:"parts"` // lights and boards
	Resistors []Resistor   `json:"resistors"`
	Wires     []WireLength `json:"wires"` // of one size and colour each
	Held      []Bought     `json:"held"`  // fuses, diodes, plugs, switches, converters in joints
	Feeds     []string     `json:"feeds"` // the adapter or other source of each jack, in words
	// what is clipped on for a test alone, in words
	ForTests []string `json:"for_tests,omitempty"`
	AsFound  []string `json:"as_found,omitempty"` // groups of which nothing is known
}

// Bought is a number of one thing.
type Bought struct {
	Name   string `json:"name"`
	Unit   string `json:"unit"`   // segments, pieces, boards
	Needed int    `json:"needed"` // by the plan
	Spare  int    `json:"spare"`  // beside that
}

// Resistor is a number of resistors of one value. Watts is what one must be rated for:
// twice the heat that it has at the jack's highest voltage, by the next usual size.
type Resistor struct {
	Ohms   float64 `json:"ohms"`   // ohm
	Watts  float64 `json:"watts"`  // W
	Needed int     `json:"needed"` // by the plan
	Spare  int     `json:"spare"`  // beside that
}

// WireLength is metres of one wire of one colour.
type WireLength struct {
	Size     string  `json:"size"`   // as a maker would say it: "0.2 mm"
	Colour   string  `json:"colour"` // empty: not stated
	NeededM  float64 `json:"needed_m"`
	BuyM     float64 `json:"buy_m"`     // with what is cut off and goes wrong
	AssumedM float64 `json:"assumed_m"` // of NeededM, lengths that nobody said
}

// boards are a unit of which no spare is bought.
const boards = "boards"

// spareOf is how many more to buy of small parts: one in ten, two at the least. Common
// practice, no source.
func spareOf(n int) int { return max(2, (n+9)/10) }

// wireSpare is how much more wire to buy, of what is needed; halfMetre the step in which
// it's bought. Common practice, no source.
const (
	wireSpare = 0.25
	halfMetre = 0.5
)

// usualWatts are the sizes of resistors that a maker finds. Common practice, no source.
var usualWatts = []float64{0.125, 0.25, 0.5, 1, 2, 5}

// Buy lists what a plan takes. b is its budget.
func Buy(p *plan.Plan, b *budget.Budget) Shopping {
	s := &shop{p: p, parts: map[string]*Bought{}, resistors: map[[2]float64]int{}, held: map[string]int{},
		wires: map[[2]string]*WireLength{}}
	for _, x := range p.Boards {
		if x.Part != "" {
			s.part(x.Part, boards, 1)
		}
		s.wire(x.Wire, x.Return != "")
	}
	for _, g := range p.Groups {
		s.group(g)
		s.wire(g.Wire, g.Return != "")
	}
	for _, j := range p.Joints {
		s.wire(j.Wire, false)
		for _, h := range j.Holds {
			s.held[holdName(h)]++
		}
	}
	for _, r := range p.Returns {
		s.wire(r.Wire, true)
	}
	for _, j := range p.Jacks {
		for _, x := range b.Jacks {
			if x.Jack == j.Name {
				s.out.Feeds = append(s.out.Feeds, feedText(j, x))
			}
		}
	}
	return s.done()
}

type shop struct {
	p         *plan.Plan
	out       Shopping
	parts     map[string]*Bought
	resistors map[[2]float64]int // by ohm and watt
	held      map[string]int
	wires     map[[2]string]*WireLength // by size and colour
}

func (s *shop) part(name, unit string, n int) {
	if s.parts[name] == nil {
		s.parts[name] = &Bought{Name: name, Unit: unit}
	}
	s.parts[name].Needed += n
}

func (s *shop) group(g plan.Group) {
	if g.AsFound {
		s.out.AsFound = append(s.out.AsFound, g.Name)
		return
	}
	for _, l := range g.Lights {
		switch {
		case l.Kind == plan.TestLoad:
			s.out.ForTests = append(s.out.ForTests, fmt.Sprintf("%g ohm across the end of %q", l.Ohms.Nominal, g.Name))
		case g.Sealed:
			s.out.ForTests = append(s.out.ForTests, fmt.Sprintf("%s across the end of %q", words.Lights(l), g.Name))
		case l.Kind == plan.Strip:
			s.part(l.Part, "segments", l.Branches())
		case l.Kind == plan.LEDs:
			for _, d := range l.Series {
				s.part(d.Part, "pieces", l.Count)
			}
			if l.Ohms.Nominal > 0 {
				s.resistors[[2]float64{l.Ohms.Nominal, s.watts(g, l)}] += l.Count
			}
		default:
			s.part(l.Part, "pieces", max(1, l.Count))
		}
	}
}

// watts is what the resistor of a branch must be rated for: as the plan says, else the
// usual size that holds twice its heat, (V - sum of the LEDs' volts)^2 / R, V the highest
// of its jack or the converter's on the way.
func (s *shop) watts(g plan.Group, l plan.Light) float64 {
	if l.OhmsWatts > 0 {
		return l.OhmsWatts
	}
	volts := 0.0
	for _, j := range s.p.Jacks {
		volts = max(volts, j.HighVolts)
	}
	for _, d := range l.Series {
		volts -= d.Volts.Nominal - d.Volts.HalfWidth
	}
	heat := volts * volts / l.Ohms.Nominal
	for _, w := range usualWatts {
		if w >= 2*heat {
			return w
		}
	}
	return usualWatts[len(usualWatts)-1]
}

// wire adds a wire: two conductors, or one where it has a return of its own.
func (s *shop) wire(w plan.Wire, one bool) {
	size := fmt.Sprintf("%.2g mm thick", 2e3*math.Sqrt(w.AreaM2/math.Pi))
	if w.SizeAssumed {
		size += ", as nobody said another"
	}
	var colours []string
	for _, c := range strings.Split(w.Colour, ",") {
		colours = append(colours, strings.TrimSpace(c))
	}
	if len(colours) == 1 && !one {
		colours = append(colours, colours[0])
	}
	if one {
		colours = colours[:1]
	}
	for _, c := range colours[:min(2, len(colours))] {
		key := [2]string{size, c}
		if s.wires[key] == nil {
			s.wires[key] = &WireLength{Size: size, Colour: c}
		}
		s.wires[key].NeededM += w.LengthM
		if w.LengthAssumed {
			s.wires[key].AssumedM += w.LengthM
		}
	}
}

// holdName is what a joint holds, as it's bought.
func holdName(h plan.Hold) string {
	name := string(h.Kind)
	if h.Text != "" {
		name = h.Text
	}
	if h.RatedAmps > 0 && !strings.Contains(name, " A") {
		name += fmt.Sprintf(", %g A", h.RatedAmps)
	}
	return name
}

// adapterLoad is how far an adapter is loaded: budget's checks say the same.
const adapterLoad = 0.8

// feedText says what feeds a jack.
func feedText(j plan.Jack, x budget.Jack) string {
	needs := math.Ceil(x.HighestVolts.HighA/adapterLoad*10-1e-9) / 10
	text := fmt.Sprintf("jack %s: %g V direct current, regulated and approved where it will be used, at least %g A",
		j.Name, j.Volts, needs)
	switch j.Source {
	case "usb":
		text = fmt.Sprintf("jack %s: a USB adapter of at least %g A, approved where it will be used", j.Name, needs)
	case "battery", "coin":
		text = fmt.Sprintf("jack %s: cells for %g V that give %s", j.Name, j.Volts,
			words.Milliamps(x.HighestVolts.HighA, x.HighestVolts.UA))
	}
	if j.AdapterAmps > 0 {
		text += fmt.Sprintf("; the plan has one of %g A", j.AdapterAmps)
	}
	if j.Plug != "" {
		text += "; plug: " + j.Plug
	}
	return text
}

// done puts the list into its order.
func (s *shop) done() Shopping {
	for _, x := range s.parts {
		if x.Unit != boards {
			x.Spare = spareOf(x.Needed)
		}
		s.out.Parts = append(s.out.Parts, *x)
	}
	slices.SortFunc(s.out.Parts, func(a, b Bought) int { return strings.Compare(a.Name, b.Name) })
	for k, n := range s.resistors {
		s.out.Resistors = append(s.out.Resistors, Resistor{k[0], k[1], n, spareOf(n)})
	}
	slices.SortFunc(s.out.Resistors,
		func(a, b Resistor) int { return cmp.Or(cmp.Compare(a.Ohms, b.Ohms), cmp.Compare(a.Watts, b.Watts)) })
	for name, n := range s.held {
		spare := 0
		if strings.Contains(name, "fuse") {
			spare = 1
		}
		s.out.Held = append(s.out.Held, Bought{Name: name, Unit: "pieces", Needed: n, Spare: spare})
	}
	slices.SortFunc(s.out.Held, func(a, b Bought) int { return strings.Compare(a.Name, b.Name) })
	for _, w := range s.wires {
		w.BuyM = math.Ceil(w.NeededM*(1+wireSpare)/halfMetre-1e-9) * halfMetre
		s.out.Wires = append(s.out.Wires, *w)
	}
	slices.SortFunc(s.out.Wires, func(a, b WireLength) int {
		return cmp.Or(strings.Compare(a.Size, b.Size), strings.Compare(a.Colour, b.Colour))
	})
	return s.out
}
