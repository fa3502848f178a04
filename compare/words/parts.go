package words

import (
	"fmt"
	"regexp"
	"slices"

	"sealworthy/compare/plan"
)

// PartLook is parts that look alike, and how they are told from their neighbours.
// Common practice, no source; the sizes of chips are in their names (metric of 0402,
// 0603, 0805: 1.0 x 0.5, 1.6 x 0.8, 2.0 x 1.25 mm, from memory).
type PartLook struct {
	of          *regexp.Regexp
	Shape       Shape
	Brief       string // what it looks like, in a few words, over a list of its parts
	Looks, Told string // what it looks like, and how it is told from its neighbour
}

// Shape is what a drawing of a part shows.
type Shape string

// The shapes of parts.
const (
	ShapeBand      Shape = "band"      // a strip with small LEDs
	ShapeWideBand  Shape = "wide band" // with square LEDs of three points
	ShapeChipBand  Shape = "chip band" // with a chip beside the LEDs
	ShapeGrain     Shape = "grain"     // on thin wires, its resistor soldered in
	ShapeChip      Shape = "chip"      // bare
	ShapeHead      Shape = "head"      // a round head on two legs
	ShapeTwoOut    Shape = "two out"   // a board with two pairs of wires out
	ShapeOneOut    Shape = "one out"   // with one
	ShapeButton    Shape = "button"    // with a push button
	ShapeSomething Shape = ""          // nobody has described it
)

// PartFamilies are the families of the built-in parts, in the order of the list.
func PartFamilies() []PartLook { return partLooks }

var partLooks = []PartLook{
	{regexp.MustCompile(`^strip (amber|blue|cold white|green|red|warm white) `), ShapeBand, "LEDs of 2 to 3.5 mm",
		"a flexible band with LEDs of 2 to 3.5 mm and marks to cut at; black resistors beside them",
		"at 12 V three LEDs between two marks, at 24 V six or seven, at 5 V one"},
	{regexp.MustCompile(`^strip 5050 `), ShapeWideBand, "square LEDs of 5 mm",
		"a band with square LEDs of 5 mm, each with three bright points in it",
		"LEDs of 5 mm, not 3; its segments draw three times as much"},
	{regexp.MustCompile(`^strip constant current `), ShapeChipBand, "a chip in each segment",
		"a band with a small black chip in each segment, beside the LEDs",
		"as bright at 11 V as at 12 V, where a strip with resistors grows dimmer"},
	{regexp.MustCompile(`^smd `), ShapeGrain, "a grain on two hair-thin wires",
		"a grain of an LED on two hair-thin wires with a resistor soldered in",
		"lights on its volts as it is; a bare LED would burn out there"},
	{regexp.MustCompile(` 0[468]0[235]$`), ShapeChip, "a bare chip",
		"a bare chip: 0402 is 1.0 x 0.5 mm, 0603 1.6 x 0.8 mm, 0805 2.0 x 1.25 mm",
		"no resistor on its wires; measure its length"},
	{regexp.MustCompile(` (1\.8|3|5) mm$`), ShapeHead, "a round head on two legs",
		"a round head of 1.8, 3 or 5 mm on two stiff legs, the long one plus",
		"legs, not wires; measure its head"},
	{regexp.MustCompile(`^two-output blinker$`), ShapeTwoOut, "two pairs of wires out",
		"a small board with two pairs of wires out",
		"its two lights flash in turn"},
	{regexp.MustCompile(`^single blinker$`), ShapeOneOut, "one pair of wires out; it flashes evenly",
		"a small board with one pair of wires out",
		"its light flashes evenly"},
	{regexp.MustCompile(`^three-pace board$`), ShapeButton, "a push button", "a small board with a push button",
		"the button steps slow, fast, steady"},
	{regexp.MustCompile(`^lighthouse board$`), ShapeOneOut, "one pair of wires out; it flashes in groups",
		"a small board with one pair of wires out",
		"it flashes in groups, with a long dark time"},
	{regexp.MustCompile(`^steady driver$`), ShapeOneOut, "one pair of wires out; it doesn't flash",
		"a small board with one pair of wires out",
		"its light doesn't flash"},
}

// PartLooks says what a part looks like and how it's told from its neighbours; empty
// of one that nobody has described.
func PartLooks(name string) (looks, told string) {
	if i := PartFamily(name); i >= 0 {
		return partLooks[i].Looks, partLooks[i].Told
	}
	return "", ""
}

// PartShape is what a drawing of a part shows.
func PartShape(name string) Shape {
	if i := PartFamily(name); i >= 0 {
		return partLooks[i].Shape
	}
	return ShapeSomething
}

// PartFamily is the place of a part's family, -1 of none.
func PartFamily(name string) int {
	return slices.IndexFunc(partLooks, func(f PartLook) bool { return f.of.MatchString(name) })
}

// PartDraw says what a part draws, in a few words, over a list of its kind.
func PartDraw(p plan.Part) string {
	switch p.Kind {
	case plan.PartStrip:
		return fmt.Sprintf("%.3g mA a segment", 1e3*p.Amps)
	case plan.PartSMD:
		return fmt.Sprintf("%.3g mA each", 1e3*p.Amps)
	case plan.PartLED:
		return fmt.Sprintf("%.3g mA at most", 1e3*p.MaxAmps)
	}
	return PartFigures(p)
}

// PartFigures says what a part draws, and how far that may be off.
func PartFigures(p plan.Part) string {
	percent := fmt.Sprintf("±%.0f %%", 100*p.Tolerance)
	switch p.Kind {
	case plan.PartStrip:
		return fmt.Sprintf("%.3g mA a segment, %s", 1e3*p.Amps, percent)
	case plan.PartSMD:
		return fmt.Sprintf("%.3g mA a piece, %s", 1e3*p.Amps, percent)
	case plan.PartLED:
		last := p.Points[0]
		for _, x := range p.Points {
			if p.MaxAmps == 0 || x.Amps <= p.MaxAmps {
				last = x
			}
		}
		return fmt.Sprintf("%.3g V at %.3g mA, ±%.2g V; %.3g mA at most", last.Volts, 1e3*last.Amps, p.SpreadVolts,
			1e3*p.MaxAmps)
	case plan.PartBoard:
		most := 0.0
		for _, o := range p.Outputs {
			most = max(most, o.MaxAmps)
		}
		return fmt.Sprintf("%.3g mA itself, %s; %s of %.3g mA at most", 1e3*p.StandingAmps, percent,
			outputs(max(1, len(p.Outputs))), 1e3*most)
	case plan.PartLoad:
		return fmt.Sprintf("%.3g mA, %.3g to %.3g", 1e3*p.Envelope.MeanAmps, 1e3*p.Envelope.LowAmps,
			1e3*p.Envelope.HighAmps)
	}
	return ""
}

func outputs(n int) string {
	if n == 1 {
		return "1 output"
	}
	return fmt.Sprintf("%d outputs", n)
}
