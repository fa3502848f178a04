package plan

import (
	"bytes"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// EncodePart writes a part as ParseBook reads it, to be appended to a maker's
// part book. Numbers keep six digits. The error names what can't be written.
func EncodePart(p Part) ([]byte, error) {
	if what, _ := nameFault(p.Name, false); what != "" {
		return nil, fmt.Errorf("the name of part %q %s", p.Name, what)
	}
	w := partWriter{}
	fmt.Fprintf(&w.b, "[part.%s]\n", tomlText(p.Name))
	w.text("kind", string(p.Kind))
	switch p.Kind {
	case PartStrip, PartSMD:
		amps := "segment_mA"
		if p.Kind == PartSMD {
			amps = "draw_mA"
		}
		w.number("volts", p.RatedVolts)
		w.number(amps, p.Amps*1e3)
		w.number("holds_from_volts", p.HoldVolts)
		w.number("tolerance", p.Tolerance)
		w.text("led", p.LED)
		if p.InSeries > 0 {
			w.raw("leds_in_series", strconv.Itoa(p.InSeries))
		}
		if p.Chips > 0 {
			w.raw("chips", strconv.Itoa(p.Chips))
		}
		if p.Kind == PartStrip {
			w.raw("copper_ohms", sixDigits(p.CopperOhms))
		}
	case PartLED:
		w.text("colour", p.Colour)
		w.raw("volts_at_mA", curveText(p.Points))
		w.raw("spread_volts", sixDigits(p.SpreadVolts))
		w.raw("volts_per_K", sixDigits(p.TempcoVPerK))
		w.number("max_mA", p.MaxAmps*1e3)
		if p.Conducts {
			w.raw("conducts_reversed", "true")
		}
	case PartBoard:
		w.board(p)
	case PartLoad:
		if p.Envelope == nil {
			return nil, fmt.Errorf("part %q is a load without a draw", p.Name)
		}
		w.text("behaves", p.Envelope.Behaves)
		w.text("state", p.Envelope.State)
		w.raw("low_mA", sixDigits(p.Envelope.LowAmps*1e3))
		w.raw("mean_mA", sixDigits(p.Envelope.MeanAmps*1e3))
		w.raw("high_mA", sixDigits(p.Envelope.HighAmps*1e3))
	default:
		return nil, fmt.Errorf("part %q is of unknown kind %q", p.Name, p.Kind)
	}
	if p.Kind != PartBoard {
		w.raw("share", sixDigits(p.Share))
	}
	w.text("source", p.Source)
	out := w.b.Bytes()
	if _, problems := ParseBook("part "+p.Name, out); len(problems) > 0 {
		return nil, fmt.Errorf("part %q can't be kept: %w", p.Name, problems[0])
	}
	return out, nil
}

type partWriter struct{ b bytes.Buffer }

func (w *partWriter) raw(key, value string) { fmt.Fprintf(&w.b, "%s = %s\n", key, value) }

func (w *partWriter) text(key, value string) {
	if value != "" {
		w.raw(key, tomlText(value))
	}
}

// number leaves out what isn't stated.
func (w *partWriter) number(key string, v float64) {
	if v != 0 {
		w.raw(key, sixDigits(v))
	}
}

func (w *partWriter) board(p Part) {
	w.raw("standing_mA", sixDigits(p.StandingAmps*1e3))
	w.number("tolerance", p.Tolerance)
	var outs []string
	for _, o := range p.Outputs {
		t := fmt.Sprintf("{ max_mA = %s, ohms = %s, tolerance = %s", sixDigits(o.MaxAmps*1e3), sixDigits(o.Ohms),
			sixDigits(o.Tolerance))
		if o.Volts != 0 {
			t += ", volts = " + sixDigits(o.Volts)
		}
		outs = append(outs, t+" }")
	}
	if len(outs) > 0 {
		w.raw("outputs", "[ "+strings.Join(outs, ", ")+" ]")
	}
	w.text("outputs_run", string(p.Run))
	var paces []string
	for _, pc := range p.Paces {
		t := "{ name = " + tomlText(pc.Name)
		switch {
		case len(pc.Flashes) > 0:
			var f []string
			for _, s := range pc.Flashes {
				f = append(f, sixDigits(s))
			}
			t += ", flashes = [" + strings.Join(f, ", ") + "]"
		case pc.Steady():
			t += ", steady = true"
		default:
			t += ", period_s = " + sixDigits(pc.PeriodS) + ", duty = " + sixDigits(pc.Duty)
		}
		paces = append(paces, t+fmt.Sprintf(", tolerance = %s, duty_tolerance = %s }", sixDigits(pc.PeriodRelTol),
			sixDigits(pc.DutyTol)))
	}
	if len(paces) > 0 {
		w.raw("paces", "[\n  "+strings.Join(paces, ",\n  ")+",\n]")
	}
	w.raw("button", strconv.FormatBool(p.Button))
	w.number("lowest_volts", p.LowVolts)
	w.number("highest_volts", p.HighVolts)
	w.number("capacitor_uF", p.CapacitorF*1e6)
}

func curveText(pts []VoltsAtAmps) string {
	var out []string
	for _, p := range pts {
		out = append(out, fmt.Sprintf("[%s, %s]", sixDigits(p.Volts), sixDigits(p.Amps*1e3)))
	}
	return "[" + strings.Join(out, ", ") + "]"
}

// sixDigits writes a number as TOML, without an exponent where it reads well.
func sixDigits(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "nan" // refused when it's read back
	}
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	if a := math.Abs(r); r != 0 && (a < 1e-6 || a >= 1e9) {
		return strconv.FormatFloat(r, 'e', -1, 64)
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}
