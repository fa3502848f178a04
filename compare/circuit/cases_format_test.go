package circuit

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
)

// The format of solved circuits: testdata/circuits/README.md.
type caseFile struct {
	Physics struct {
		VT float64 `json:"vt_v"`
	} `json:"physics"`
	Models map[string]struct {
		IS float64 `json:"is_a"`
		N  float64 `json:"n"`
		RS float64 `json:"rs_ohm"`
	} `json:"led_models"`
	Compare struct {
		Current struct {
			Rel float64 `json:"rel"`
			Abs float64 `json:"abs_a"`
		} `json:"current"`
		Voltage struct {
			Rel float64 `json:"rel"`
			Abs float64 `json:"abs_v"`
		} `json:"voltage"`
	} `json:"compare"`
	Cases []circuitCase `json:"cases"`
}

type circuitCase struct {
	ID     string `json:"id"`
	Source struct {
		Node  string   `json:"node"`
		Emf   float64  `json:"emf_v"`
		R     float64  `json:"r_int_ohm"`
		Limit *float64 `json:"i_limit_a"`
	} `json:"source"`
	Edges []struct {
		ID   string  `json:"id"`
		From string  `json:"from"`
		To   string  `json:"to"`
		R    float64 `json:"r_ohm"`
	} `json:"edges"`
	Loads    []caseLoad      `json:"loads"`
	Expected json.RawMessage `json:"expected"`
}

type caseLED struct {
	Model string  `json:"model"`
	State string  `json:"state"`
	Leak  float64 `json:"leak_ohm"`
}

type caseBranch struct {
	ID   string    `json:"id"`
	R    float64   `json:"r_ohm"`
	LEDs []caseLED `json:"leds"`
	Open bool      `json:"open"`
}

type caseLoad struct {
	caseBranch
	Type      string                       `json:"type"`
	At        string                       `json:"at"`
	Group     *string                      `json:"group"`
	Segments  int                          `json:"segments"`
	Copper    float64                      `json:"r_copper_ohm"`
	Overrides []map[string]json.RawMessage `json:"overrides"`
	Amps      float64                      `json:"i_a"`
	Quiescent float64                      `json:"i_q_a"`
	Reflect   float64                      `json:"reflect"`
	Outputs   []struct {
		ID       string       `json:"id"`
		State    string       `json:"state"`
		Open     float64      `json:"v_open"`
		R        float64      `json:"r_out_ohm"`
		Max      *float64     `json:"i_max_a"`
		Branches []caseBranch `json:"branches"`
	} `json:"outputs"`
}

type wantPoint struct {
	Mode     string                     `json:"mode"`
	Source   float64                    `json:"source_i_a"`
	Emf      float64                    `json:"emf_v"`
	Terminal float64                    `json:"terminal_v"`
	Node     map[string]float64         `json:"node_v"`
	Edge     map[string]float64         `json:"edge_i_a"`
	Loads    map[string]json.RawMessage `json:"loads"`
	Switched map[string]wantPoint       `json:"switched"`
}

type wantBranch struct {
	Amps float64   `json:"i_a"`
	LED  []float64 `json:"led_v"`
}

type wantStrip struct {
	Amps    float64     `json:"i_a"`
	Segment []float64   `json:"segment_i_a"`
	Volts   []float64   `json:"segment_v"`
	LED     [][]float64 `json:"segment_led_v"`
}

type wantBlinker struct {
	Amps    float64 `json:"i_a"`
	Outputs map[string]struct {
		Amps       float64               `json:"i_a"`
		Pin        float64               `json:"pin_v"`
		Overloaded bool                  `json:"overloaded"`
		Branches   map[string]wantBranch `json:"branches"`
	} `json:"outputs"`
}

type wantSweep struct {
	Volts    []float64            `json:"sweep_v"`
	Source   []float64            `json:"source_i_a"`
	Terminal []float64            `json:"terminal_v"`
	Node     map[string][]float64 `json:"node_v"`
	Edge     map[string][]float64 `json:"edge_i_a"`
	Load     map[string][]float64 `json:"load_i_a"`
}

func readCases(path string) (*caseFile, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	f := &caseFile{}
	if err := json.Unmarshal(raw, f); err != nil {
		return nil, err
	}
	if len(f.Cases) == 0 || f.Physics.VT == 0 || f.Compare.Current.Abs == 0 || f.Compare.Voltage.Abs == 0 {
		return nil, fmt.Errorf("%s holds no case, no vt_v or no rule of comparison", path)
	}
	return f, nil
}

// builtLoad is a load of a case in the net.
type builtLoad struct {
	branches []BranchID // one, or by segment, or of all outputs
	nodes    []Node     // by segment
	draw     DrawID     // -1: none
	shunt    ShuntID    // -1: none
	pins     []Node     // by output
	byOutput []map[string]BranchID
}

type builtCase struct {
	net   *Net
	node  map[string]Node
	edge  map[string]Node
	loads []builtLoad
}

func (f *caseFile) branch(b caseBranch) (Branch, error) {
	out := Branch{Ohms: b.R, Open: b.Open}
	states := map[string]LEDState{"ok": OK, "reversed": Reversed, "shorted": Shorted, "open": Open}
	for _, l := range b.LEDs {
		m, known := f.Models[l.Model]
		st, fine := states[l.State]
		if !known || !fine {
			return out, fmt.Errorf("unknown LED %q, state %q", l.Model, l.State)
		}
		out.LEDs = append(out.LEDs, LED{State: st, LeakOhm: l.Leak,
			Diode: Diode{SaturationA: m.IS, SlopeV: m.N * f.Physics.VT, SeriesOhm: m.RS}})
	}
	return out, nil
}

func (f *caseFile) build(c *circuitCase) (*builtCase, error) {
	b := &builtCase{net: New(), node: map[string]Node{c.Source.Node: 0}, edge: map[string]Node{}}
	for left := len(c.Edges); left > 0; {
		before := left
		for _, e := range c.Edges {
			from, ok := b.node[e.From]
			if _, done := b.edge[e.ID]; done || !ok {
				continue
			}
			b.node[e.To] = b.net.AddResistor(from, e.R)
			b.edge[e.ID] = b.node[e.To]
			left--
		}
		if left == before {
			return nil, fmt.Errorf("edges don't reach the source")
		}
	}
	for k := range c.Loads {
		bl, err := f.buildLoad(b, &c.Loads[k])
		if err != nil {
			return nil, fmt.Errorf("load %s: %w", c.Loads[k].ID, err)
		}
		b.loads = append(b.loads, bl)
	}
	return b, b.net.Err()
}

func (f *caseFile) buildLoad(b *builtCase, l *caseLoad) (builtLoad, error) {
	out := builtLoad{draw: -1, shunt: -1}
	at, ok := b.node[l.At]
	if !ok {
		return out, fmt.Errorf("no node %q", l.At)
	}
	switch l.Type {
	case "branch", "smd":
		br, err := f.branch(l.caseBranch)
		if err != nil {
			return out, err
		}
		out.branches = []BranchID{b.net.AddBranch(at, 0, br)}
	case "strip":
		segs := make([]Branch, l.Segments)
		for s := range segs {
			cb := caseBranch{R: l.R, LEDs: l.LEDs}
			for _, o := range l.Overrides {
				var n int
				if err := json.Unmarshal(o["segment"], &n); err != nil {
					return out, err
				}
				if n != s+1 {
					continue
				}
				raw, _ := json.Marshal(o)
				cb.LEDs = append([]caseLED(nil), cb.LEDs...)
				if _, has := o["leds"]; has {
					cb.LEDs = nil
				}
				if err := json.Unmarshal(raw, &cb); err != nil {
					return out, err
				}
			}
			var err error
			if segs[s], err = f.branch(cb); err != nil {
				return out, err
			}
		}
		out.nodes, out.branches = b.net.AddStrip(at, 0, segs, l.Copper)
	case "cc":
		out.draw = b.net.AddDraw(at, 0, l.Amps, 0)
	case "resistor":
		out.shunt = b.net.AddShunt(at, 0, l.R)
	case "blinker":
		out.draw = b.net.AddDraw(at, 0, l.Quiescent, 0)
		for _, o := range l.Outputs {
			max := 0.0
			if o.Max != nil {
				max = *o.Max
			}
			pin := b.net.AddOutput(at, 0, Output{OpenV: o.Open, Ohms: o.R, Reflect: l.Reflect, MaxA: max,
				Lit: o.State == "on"})
			ids := map[string]BranchID{}
			for _, cb := range o.Branches {
				br, err := f.branch(cb)
				if err != nil {
					return out, err
				}
				ids[cb.ID] = b.net.AddBranch(pin, 0, br)
				out.branches = append(out.branches, ids[cb.ID])
			}
			out.pins, out.byOutput = append(out.pins, pin), append(out.byOutput, ids)
		}
	default:
		return out, fmt.Errorf("unknown type %q", l.Type)
	}
	return out, nil
}

// amps is the draw of a load from its node.
func (b *builtCase) amps(p *Point, k int) float64 {
	l := &b.loads[k]
	sum := 0.0
	if l.draw >= 0 {
		sum += p.DrawA[l.draw]
	}
	if l.shunt >= 0 {
		sum += p.ShuntA[l.shunt]
	}
	for _, pin := range l.pins {
		sum += p.InputA[pin]
	}
	if l.pins == nil {
		for _, id := range l.branches {
			sum += p.BranchA[id]
		}
	}
	return sum
}

func (b *builtCase) setOn(k int, on bool) {
	l := &b.loads[k]
	if l.draw >= 0 {
		b.net.SetDrawOn(l.draw, on)
	}
	if l.shunt >= 0 {
		b.net.SetShuntOn(l.shunt, on)
	}
	for _, pin := range l.pins {
		b.net.SetNodeOn(pin, on)
	}
	for _, id := range l.branches {
		b.net.SetBranchOn(id, on)
	}
}

// tally counts comparisons and keeps the worst, as a part of its tolerance.
type tally struct {
	values int
	worst  float64
	at     string
	fails  []string
}

func (t *tally) compare(what string, got, want, abs, rel float64) {
	t.values++
	share := math.Abs(got-want) / (abs + rel*math.Abs(want))
	if !(share <= t.worst) {
		t.worst, t.at = share, what
	}
	if !(share <= 1) {
		t.fails = append(t.fails, fmt.Sprintf("%s: %.12g, want %.12g", what, got, want))
	}
}
