package plots

import (
	_ "embed"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"sealworthy/compare/sketch"
)

// BuyData goes onto the list of what to buy.
type BuyData struct {
	Build, Scale, PlanRevision string          // as the plan calls it
	Made                       time.Time       // when the list was made
	List                       sketch.Shopping // what to buy
	Cautions                   []string        // of what is bought
}

//go:embed buy.html.tmpl
var buyText string

// Buy writes the list of what to buy: one file of HTML that needs no other.
func Buy(w io.Writer, d BuyData) error {
	if d.Build == "" {
		return errors.New("a list to buy needs the build's name")
	}
	return fill(w, "buy", buyText, struct {
		BuyData
		Day   string
		Wires []buyWire
	}{d, dayBy(d.Made, d.Made), buyWires(d.List.Wires)})
}

// buyWire is a row of the wires.
type buyWire struct{ Size, Colour, Needed, Buy string }

func buyWires(ws []sketch.WireLength) (out []buyWire) {
	for _, w := range ws {
		x := buyWire{w.Size, w.Colour, fmt.Sprintf("%.2f m", w.NeededM),
			strings.TrimSuffix(fmt.Sprintf("%.1f", w.BuyM), ".0") + " m"}
		switch {
		case w.AssumedM >= w.NeededM-1e-9:
			x.Needed += ", a guess: nobody said how long"
		case w.AssumedM > 0:
			x.Needed += fmt.Sprintf(", %.2f m of it by guess: nobody said how long", w.AssumedM)
		}
		out = append(out, x)
	}
	return out
}
