package compare

import (
	"fmt"
	"math"

	"sealworthy/capture"
	"sealworthy/compare/blink"
)

// MeterWindow is how long a meter averages one reading, as the traces of slow
// blinkers show it.
type MeterWindow struct {
	Meter   string  `json:"meter"` // its identity
	WindowS float64 `json:"window_s"`
	U       float64 `json:"u"`      // standard uncertainty
	SaidS   float64 `json:"said_s"` // by its profile, while it was measured
	Traces  int     `json:"traces"` // of slow blinkers, that it is from
}

// windowScatter is by how much single traces of 20 s differ, as a share of the
// window: their stamps are off by milliseconds, and few readings lie on a ramp.
// Seen on the simulated bench; the fit's own figure knows nothing of it.
const windowScatter = 0.1

// WindowOf finds the averaging time of the latest meter from all that it read of
// blinkers in a history, lit and dark for at least twice as long: the mean over
// the traces. The error says why none shows it.
func WindowOf(h History) (MeterWindow, error) {
	var out MeterWindow
	var found []float64
	why := "no board that blinks was measured yet"
	for _, r := range h.Steps {
		if r.Step.Kind != capture.Power || r.Step.Board == "" || r.Outcome != capture.Measured {
			continue
		}
		t := traceOf(r)
		if t.whyUnusable() != "" || t.byHand {
			continue
		}
		w := blink.Window(step{r: r, t: t}.samples(), blink.Known{WindowS: t.windowS})
		if !w.Found {
			if w.Why != "" && len(found) == 0 {
				why = w.Why
			}
			continue
		}
		if who := r.Instruments[Ammeter(r)].Identity; who != out.Meter || len(found) == 0 {
			out.Meter, found = who, nil
		}
		out.SaidS = t.windowS
		found = append(found, w.WindowS)
	}
	if len(found) == 0 {
		return out, fmt.Errorf("no trace shows how long the meter averages: %s", why)
	}
	n := float64(len(found))
	for _, w := range found {
		out.WindowS += w / n
	}
	scatter := 0.0
	for _, w := range found {
		scatter += (w - out.WindowS) * (w - out.WindowS)
	}
	if n > 1 {
		scatter = math.Sqrt(scatter / (n - 1))
	}
	out.U, out.Traces = math.Max(scatter, windowScatter*out.WindowS)/math.Sqrt(n), len(found)
	return out, nil
}
