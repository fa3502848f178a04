package plan

import "fmt"

// holds reads what sits in a joint: holds = [ { diode = "silicon" } ].
func (p *parser) holds(s *section) []Hold {
	var out []Hold
	items, _ := s.list("holds", `[ { diode = "silicon" } ]`)
	for i, it := range items {
		if it.shape != tableShape {
			p.fail(it.at, `write { diode = "silicon" }`, "what %s holds must be a table, not %s", s.what, it.shape)
			continue
		}
		raw := &section{source: p.source, n: it, what: fmt.Sprintf("what %s holds, number %d", s.what, i+1)}
		if h, ok := p.hold(raw); ok {
			h.Pos = p.place(it.at)
			out = append(out, h)
		}
	}
	return out
}

var holdKinds = []string{"diode", "fuse", "switch", "plug", "converter"}

func (p *parser) hold(raw *section) (Hold, bool) {
	kind := ""
	for _, k := range holdKinds {
		if raw.has(k) {
			kind = k
			break
		}
	}
	if kind == "" {
		if len(raw.n.entries) > 0 {
			e := raw.n.entries[0]
			p.fail(e.keyAt, suggest(e.key, holdKinds, "things that a joint holds"), "unknown thing %q in a joint",
				e.key)
		} else {
			p.fail(raw.n.at, `write { diode = "silicon" }`, "an empty table in holds")
		}
		return Hold{}, false
	}
	s := p.table(raw.n, raw.what, keysIn(kind)...)
	h := Hold{Kind: HoldKind(kind)}
	s.into(&h.RatedAmps, 1, "amps", over(0, 100), "0.75")
	switch h.Kind {
	case HoldDiode:
		s.diode(&h)
	case HoldFuse:
		s.fuse(&h)
	case HoldConverter:
		s.converter(&h)
	default:
		what := s.words(kind, "2 pins")
		h.Text = kind + " " + what
		// Jack pair 0.02 to 0.1 ohm; a small slide switch much the same.
		h.Ohms = s.ohms(0.06, 0.04)
	}
	return h, true
}

const practice = "common practice, no source"

// ohms reads a resistance, or assumes one with its half-width.
func (s *section) ohms(nominal, halfWidth float64) Value {
	v := Value{Nominal: nominal, HalfWidth: halfWidth, Assumed: true, Source: practice}
	if s.into(&v.Nominal, 1, "ohms", between(0, 1000), plainNumber(nominal)) {
		v.HalfWidth, v.Assumed, v.Source = 0.2*v.Nominal, false, "the maker's own value"
	}
	if t, ok := s.number("tolerance", fraction, "0.2"); ok {
		v.HalfWidth = t * v.Nominal
	}
	return v
}

func (s *section) diode(h *Hold) {
	kind := s.choice("diode", "silicon", "silicon", "schottky")
	h.Text = kind + " diode"
	// Drop at 20 mA: silicon 0.7 V, Schottky 0.3 V.
	h.DropVolts = Value{Nominal: 0.7, HalfWidth: 0.1, Assumed: true, Source: practice}
	if kind == "schottky" {
		h.DropVolts.Nominal, h.DropVolts.HalfWidth = 0.3, 0.08
	}
	if s.into(&h.DropVolts.Nominal, 1, "drop_volts", over(0, 3), plainNumber(h.DropVolts.Nominal)) {
		h.DropVolts.HalfWidth, h.DropVolts.Assumed, h.DropVolts.Source = 0.05*h.DropVolts.Nominal, false,
			"the maker's own value"
	}
	if t, ok := s.number("tolerance", fraction, "0.1"); ok {
		h.DropVolts.HalfWidth = t * h.DropVolts.Nominal
	}
	h.Ohms = Value{Nominal: 0.1, HalfWidth: 0.05, Assumed: true, Source: practice}
}

func (s *section) fuse(h *Hold) {
	kind := s.choice("fuse", "resettable", "resettable", "glass", "blade")
	if s.must("amps", "0.75") {
		h.Text = fmt.Sprintf("%s fuse %s A", kind, plainNumber(h.RatedAmps))
	}
	if kind == "resettable" {
		h.Ohms = s.ohms(0.6, 0.4) // 0.2 to 1 ohm
	} else {
		h.Ohms = s.ohms(0.15, 0.1)
	}
}

func (s *section) converter(h *Hold) {
	kind := s.choice("converter", "step-down", "step-down", "step-up", "linear")
	h.Linear = kind == "linear"
	h.OutVolts = Value{Source: "the maker's own value"}
	s.must("out_volts", "5.0")
	s.into(&h.OutVolts.Nominal, 1, "out_volts", over(0, maxJackVolts), "5.0")
	h.OutVolts.HalfWidth = 0.03 * h.OutVolts.Nominal
	if t, ok := s.number("tolerance", fraction, "0.03"); ok {
		h.OutVolts.HalfWidth = t * h.OutVolts.Nominal
	}
	h.Text = fmt.Sprintf("%s converter to %s V", kind, plainNumber(h.OutVolts.Nominal))
	h.Efficiency = Value{Nominal: 0.85, HalfWidth: 0.08, Assumed: true, Source: practice}
	if h.Linear {
		h.Efficiency = Value{Nominal: 1, Source: "linear: the input current equals the output current"}
		if s.has("efficiency") {
			s.fail(s.keyAt("efficiency"), "leave efficiency out",
				"a linear converter has no efficiency of its own: it burns the voltage that is too much")
		}
	} else if s.into(&h.Efficiency.Nominal, 1, "efficiency", over(0, 1), "0.85") {
		h.Efficiency.HalfWidth = min(0.05, 1-h.Efficiency.Nominal)
		h.Efficiency.Assumed, h.Efficiency.Source = false, "the maker's own value"
	}
	h.IdleAmps = Value{Nominal: 0.005, HalfWidth: 0.004, Assumed: true, Source: practice}
	if s.into(&h.IdleAmps.Nominal, 1e-3, "idle_mA", between(0, 1000), "5") {
		h.IdleAmps.HalfWidth, h.IdleAmps.Assumed, h.IdleAmps.Source = 0.3*h.IdleAmps.Nominal, false,
			"the maker's own value"
	}
	s.into(&h.MaxOutAmps, 1, "max_amps", over(0, 100), "1.0")
	// Headroom of the usual modules, no source: 1.5 V linear, 1 V step-down.
	h.MinInVolts = h.OutVolts.Nominal + map[string]float64{"linear": 1.5, "step-down": 1}[kind]
	if kind == "step-up" {
		h.MinInVolts = h.OutVolts.Nominal / 4
	}
	s.into(&h.MinInVolts, 1, "lowest_volts", over(0, maxJackVolts), "6")
}
