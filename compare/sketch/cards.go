package sketch

import (
	"reflect"
	"slices"

	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Card is a part to be chosen.
type Card struct {
	Name    string        `json:"name"`
	Kind    plan.PartKind `json:"kind"`
	Colour  string        `json:"colour,omitempty"` // of its light; empty: it has none
	Own     bool          `json:"own"`              // from the maker's part book, or of the plan
	Figures string        `json:"figures"`          // what it draws, and how far that may be off
	Looks   string        `json:"looks,omitempty"`  // what it looks like
	Told    string        `json:"told,omitempty"`   // how it's told from its neighbours
	Shape   words.Shape   `json:"shape,omitempty"`
	Fits    bool          `json:"fits"` // it's made for the voltage
}

// Cards are the parts of a book of some kinds, those that fit a voltage first, then by
// family. Volts 0: all fit.
func Cards(book *plan.Book, volts float64, kinds ...plan.PartKind) []Card {
	out := []Card{}
	for _, p := range book.Parts() {
		if !slices.Contains(kinds, p.Kind) {
			continue
		}
		old, err := plan.Find(p.Name)
		c := Card{Name: p.Name, Kind: p.Kind, Colour: colourOf(book, p), Own: err != nil || !reflect.DeepEqual(old, p),
			Figures: words.PartFigures(p), Shape: words.PartShape(p.Name), Fits: Fits(p, volts)}
		c.Looks, c.Told = words.PartLooks(p.Name)
		if c.Shape == words.ShapeSomething {
			c.Shape = usualShape[p.Kind]
		}
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b Card) int {
		if a.Fits != b.Fits {
			return rank(b.Fits) - rank(a.Fits)
		}
		return words.PartFamily(a.Name) - words.PartFamily(b.Name)
	})
	return out
}

// usualShape is that of a part of a kind that nobody has described.
var usualShape = map[plan.PartKind]words.Shape{plan.PartStrip: words.ShapeBand, plan.PartSMD: words.ShapeGrain,
	plan.PartLED: words.ShapeHead, plan.PartBoard: words.ShapeOneOut}

func rank(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Fits: a part is made for a voltage (V), or for none of its own.
func Fits(p plan.Part, volts float64) bool {
	return volts == 0 || p.RatedVolts == 0 || p.RatedVolts >= 0.9*volts && p.RatedVolts <= 1.25*volts
}

// colourOf is the colour of a part's light: its own, or that of the LED inside.
func colourOf(book *plan.Book, p plan.Part) string {
	if p.Colour != "" || p.LED == "" {
		return p.Colour
	}
	if l, err := book.Find(p.LED); err == nil {
		return l.Colour
	}
	return ""
}
