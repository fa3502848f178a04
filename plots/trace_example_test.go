package plots_test

import (
	"log"
	"os"

	"sealworthy/plots"
)

// ExampleTrace draws the trace of a group with its expected band.
func ExampleTrace() {
	d, err := plots.TraceOf(steady(), "", []plots.Level{{Band: band(98, 121)}})
	if err != nil {
		log.Fatal(err)
	}
	drawTo("trace", func(w *os.File, f plots.Format) error { return plots.Trace(w, f, style(), d) })
	// Output:
}

// ExampleTrace_blinker draws a blinker with the bands of its two levels.
func ExampleTrace_blinker() {
	d, err := plots.TraceOf(blinking(), "meter", beacon)
	if err != nil {
		log.Fatal(err)
	}
	drawTo("trace_blinker", func(w *os.File, f plots.Format) error { return plots.Trace(w, f, style(), d) })
	// Output:
}
