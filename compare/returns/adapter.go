package returns

import (
	"fmt"
	"math"

	"sealworthy/compare/plan"
)

// Adapter is what was found of the client's own adapter, alone on the bench.
// The zero Adapter was not sent.
type Adapter struct {
	Sent     bool     `json:"sent"`               // it came with the model
	Reversed bool     `json:"reversed,omitempty"` // the plug's polarity is not the model's
	OpenV    *float64 `json:"open_v,omitempty"`   // unloaded
	LoadedV  *float64 `json:"loaded_v,omitempty"` // on LoadOhm
	LoadOhm  float64  `json:"load_ohm,omitempty"`
}

// AdapterSays is the verdict on the adapter.
type AdapterSays struct {
	Verdict string   `json:"verdict"`        // not sent, good, low, high, sags, reversed, not measured
	Faulty  bool     `json:"faulty"`         // it isn't as it should be: low, high, sags or reversed
	Ohms    *float64 `json:"ohms,omitempty"` // its own resistance
	Text    string   `json:"text"`           // in plain words, with the numbers
}

// Says judges the adapter against the plan's jack: its range of volts, unloaded
// and at the model's highest draw.
func (a Adapter) Says(p *plan.Plan, s *Signature) AdapterSays {
	p = p.InService()
	if !a.Sent {
		return AdapterSays{Verdict: "not sent", Text: "The adapter was not sent: ask for it, or for a photo of its " +
			"label and plug. A wrong or tired adapter is the commonest cause, and nothing in the model shows it."}
	}
	if a.Reversed {
		return AdapterSays{Verdict: "reversed", Faulty: true, Text: "The adapter's plug has plus where minus " +
			"belongs: the model stays dark with it. Never use it on this model."}
	}
	if a.OpenV == nil {
		return AdapterSays{Verdict: "not measured", Text: "The adapter was not measured."}
	}
	j := JackOf(p, s)
	low, high := j.LowVolts, j.HighVolts
	if low == 0 {
		low, high = 0.95*j.Volts, 1.05*j.Volts
	}
	v := *a.OpenV
	out := AdapterSays{Verdict: "good", Text: fmt.Sprintf("The adapter gives %.2f V, as it should.", v)}
	var atModel float64
	if a.LoadedV != nil && *a.LoadedV > 0 && a.LoadOhm > 0 {
		ohms := (v - *a.LoadedV) / (*a.LoadedV / a.LoadOhm)
		out.Ohms = &ohms
		atModel = v - max(0, ohms)*highest(s)
	}
	switch {
	case v > high*1.02:
		out = AdapterSays{Verdict: "high", Faulty: true, Ohms: out.Ohms,
			Text: fmt.Sprintf("The adapter gives %.2f V unloaded, the model takes %.1f V at most: don't use it. It "+
				"may be an unregulated one.", v, high)}
	case v < low:
		out = AdapterSays{Verdict: "low", Faulty: true, Ohms: out.Ohms,
			Text: fmt.Sprintf("The adapter gives only %.2f V, the model needs %.1f V: lights with LEDs in series go "+
				"dark first. Replace it.", v, low)}
	case out.Ohms != nil && atModel < low:
		out = AdapterSays{Verdict: "sags", Faulty: true, Ohms: out.Ohms,
			Text: fmt.Sprintf("The adapter falls from %.2f V to about %.1f V under the model's load, the model "+
				"needs %.1f V. Its plug, its cable or itself is worn: replace it.", v, atModel, low)}
	case out.Ohms == nil:
		out.Text += " It was not measured under load."
	default:
		out.Text += fmt.Sprintf(" On %.3g ohm it holds %.2f V.", a.LoadOhm, *a.LoadedV)
	}
	return out
}

// AdapterLoad is a resistor that draws from an adapter what the model draws at
// most, and the power that it should be made for: twice what it gets.
func AdapterLoad(p *plan.Plan, s *Signature) (ohm, watt float64) {
	p = p.InService()
	j := JackOf(p, s)
	amps := highest(s)
	if amps <= 0 || j.Volts <= 0 {
		return 0, 0
	}
	ohm = round2(j.Volts / amps)
	return ohm, wattsFor(j.Volts, ohm)
}

// wattsFor is what a resistor should be made for: twice what it gets.
func wattsFor(volts, ohm float64) float64 {
	watt := 2 * volts * volts / ohm
	for _, w := range []float64{0.5, 1, 2, 5, 10, 20, 50, 100} {
		if w >= watt {
			return w
		}
	}
	return math.Ceil(watt)
}

// round2 rounds to two figures.
func round2(x float64) float64 {
	s := math.Pow(10, math.Floor(math.Log10(x))-1)
	return math.Round(x/s) * s
}

// JackOf is the jack that a signature was taken at.
func JackOf(p *plan.Plan, s *Signature) plan.Jack {
	if j, ok := p.Jack(s.Jack); ok {
		return j
	}
	return p.Jacks[0]
}

// highest is the most that the whole model drew.
func highest(s *Signature) float64 {
	most := 0.0
	for _, w := range s.Whole {
		for _, a := range w.Sweep.Amps {
			most = max(most, a)
		}
		for _, x := range w.Trace {
			most = max(most, x.Amps)
		}
	}
	return most
}
