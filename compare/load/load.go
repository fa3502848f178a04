// Package load is the model as a simulated bench feels it: the plan's circuit
// with parts that differ from their nominal values as real ones do, with faults
// at chosen places, and with errors of the device model that the budget knows
// nothing of. A Load is a rig.Load.
//
// Start with New. The same plan, faults and seed give the same model. Units:
// V, A, s, degC.
//
// What the budget doesn't know: the diode law of each kind of LED is a little
// off (ideality, by up to ±8 %, at the same voltage at its highest current), the
// draw creeps while the model warms up (by up to 0.6 %), and blinkers run off
// their planned pace within its tolerance. Under OtherLaw the parts follow a law
// of their own. All of it is invented data.
package load

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
	"sealworthy/instruments/rig"
)

// Load is one model. One goroutine uses it.
type Load struct {
	plan   *plan.Plan
	parts  []*part // one a jack
	names  []string
	boards []*boardState
	warmA  float64 // fraction by which the draw creeps
	faults []fault.Fault
	breaks []Break
	other  *otherLaw // nil: the plan's law
	cache  map[key]draws
	err    error
}

var (
	_ rig.Load      = (*Load)(nil)
	_ rig.Stepper   = (*Load)(nil)
	_ rig.Powerer   = (*Load)(nil)
	_ rig.Capacitor = (*Load)(nil)
)

// part is the circuit behind one jack.
type part struct {
	w *wiring.Wired
}

// Options say in what state the model is.
type Options struct {
	AmbientC *float64 // degC; nil: 25
	// Loose: the parts are not joined yet; each feed is clipped at its own wire,
	// without the joints between it and the jack.
	Loose bool
	// Years of service: LEDs creep, all alike and each a little on its own.
	Years float64
	// JackOhm is the resistance of the model's own plug.
	JackOhm float64
	// Breaks are contacts that open now and then.
	Breaks []Break
	// Law that the parts follow; empty: PlanLaw.
	Law Law
}

// RoomC is the room that the model stands in, degC.
func (o Options) RoomC() float64 { return wiring.Options{AmbientC: o.AmbientC}.RoomC() }

// New makes a model of a plan with faults.
func New(p *plan.Plan, faults []fault.Fault, seed uint64, o Options) (*Load, error) {
	l := &Load{plan: p, faults: faults, breaks: o.Breaks, cache: map[key]draws{}}
	r := rand.New(rand.NewPCG(seed, 0x10ad))
	l.warmA = 0.006 * (2*r.Float64() - 1)
	for _, t := range wiring.Terminals(p) {
		l.names = append(l.names, t.Name)
	}
	if o.Law == OtherLaw {
		var err error
		if l.other, err = newOtherLaw(p, o, seed); err != nil {
			return nil, err
		}
	}
	bend := newBend(r) // drawn under either law, so that the pieces are the same ones
	for _, j := range p.Jacks {
		w, err := wiring.Build(p, j.Name, wiring.Options{AmbientC: o.AmbientC, SeriesOhm: o.JackOhm})
		if err != nil {
			return nil, err
		}
		bend.apply(w)
		drawn := draw(w, r)
		if o.Loose {
			// The same pieces, without the joints between them.
			if w, err = wiring.Build(wiring.Loose(p), j.Name, wiring.Options{AmbientC: o.AmbientC}); err != nil {
				return nil, err
			}
			bend.apply(w)
			for i, q := range w.Params {
				w.Apply(i, drawn[pieceOf(q)])
			}
		}
		if l.other != nil {
			l.other.apply(w)
		}
		if o.Years > 0 {
			age(w, o.Years, seed)
		}
		l.parts = append(l.parts, &part{w: w})
	}
	for _, f := range faults {
		if err := l.seed(f, o.Loose); err != nil {
			return nil, err
		}
	}
	for _, b := range p.Boards {
		l.boards = append(l.boards, newBoard(b, r))
	}
	for _, f := range faults {
		l.stick(f)
	}
	return l, nil
}

// seed puts a fault into the circuit that feeds its group.
func (l *Load) seed(f fault.Fault, loose bool) error {
	var err error
	for _, p := range l.parts {
		if err = fault.Apply(p.w, f); err == nil {
			return nil
		}
	}
	if loose && f.At != "" {
		return nil // a joint or return that isn't there yet
	}
	return fmt.Errorf("fault %q: %w", f, err)
}

// stick makes the output of a group stay lit or dark.
func (l *Load) stick(f fault.Fault) {
	g, _ := l.plan.Group(f.Group)
	i := l.plan.BoardAt(g.Board)
	if i < 0 {
		return
	}
	switch f.Kind {
	case fault.Overloaded:
		l.boards[i].stuck[g.Output] = true
	case fault.StuckDark:
		l.boards[i].stuck[g.Output] = false
	}
}

// draw gives every uncertain quantity of a circuit one value, by the law of its
// tolerance: a part that all pieces of a reel share, and a part of its own.
// The deviations are handed back by piece.
func draw(w *wiring.Wired, r *rand.Rand) map[piece]float64 {
	drawn := map[piece]float64{}
	common := make([]float64, w.Commons)
	for i := range common {
		common[i] = 2*r.Float64() - 1
	}
	for i, p := range w.Params {
		own := 2*r.Float64() - 1
		c := 0.0
		if p.Common >= 0 && p.Common < len(common) {
			c = common[p.Common]
		}
		drawn[pieceOf(p)] = p.Value.HalfWidth * (math.Sqrt(p.Value.Share)*c + math.Sqrt(1-p.Value.Share)*own)
		w.Apply(i, drawn[pieceOf(p)])
	}
	return drawn
}

// piece is one uncertain quantity, in whatever circuit: LEDs in series share a name.
type piece struct {
	name string
	led  int
}

func pieceOf(p wiring.Param) piece { return piece{p.Name, p.LED} }

// Terminals names the feeds, in the order of State.On.
func (l *Load) Terminals() []string { return slices.Clone(l.names) }

// Buttons names the boards that have one.
func (l *Load) Buttons() []string {
	var out []string
	for _, b := range l.plan.Boards {
		if b.Button {
			out = append(out, b.Name)
		}
	}
	return out
}

// StartsAtPower reports boards: their paces start when they get power.
func (l *Load) StartsAtPower(terminal string) bool {
	return l.plan.BoardAt(terminal) >= 0
}

// Farads is the capacitance of the boards that are connected.
func (l *Load) Farads(s rig.State) float64 {
	sum := 0.0
	for _, b := range l.plan.Boards {
		if t := slices.Index(l.names, b.Name); t >= 0 && t < len(s.On) && s.On[t] {
			sum += b.CapacitorF
		}
	}
	return sum
}

// Err is the first thing that went wrong while the model was asked for its
// draw. Current has no error of its own: it then gives 0 A.
func (l *Load) Err() error { return l.err }

// key is what the draw depends on, but for warm-up.
type key struct {
	volts   float64
	on, lit uint64
}

// Current is the draw at the jack.
func (l *Load) Current(s rig.State) float64 {
	if s.Volts <= 0 {
		return 0
	}
	s = l.broken(s)
	k := key{volts: s.Volts}
	for i, on := range s.On {
		if on {
			k.on |= 1 << (i % 64)
		}
	}
	bit := 0
	for _, b := range l.boards {
		for _, o := range b.board.Outputs {
			if b.lit(o.Number, s) {
				k.lit |= 1 << (bit % 64)
			}
			bit++
		}
	}
	a, ok := l.cache[k]
	if !ok || len(l.names) > 64 || bit > 64 {
		a = l.solveBoth(s)
		if len(l.cache) > 4096 {
			clear(l.cache)
		}
		l.cache[k] = a
	}
	if l.other != nil {
		return a.coldA + (a.warmA-a.coldA)*(1-math.Exp(-s.Since.Seconds()/l.other.model.tauS))
	}
	return a.coldA * (1 + l.warmA*(1-math.Exp(-s.Since.Seconds()/120)))
}

// draws are what a model draws when it's just on, and once it's warm for good.
type draws struct{ coldA, warmA float64 }

// solveBoth solves cold, and warm where the parts themselves warm up. What the
// draw does between is taken to be straight over their temperature.
func (l *Load) solveBoth(s rig.State) draws {
	a := l.solve(s)
	if l.other == nil {
		return draws{coldA: a}
	}
	l.other.model.now = 1
	warm := l.solve(s)
	l.other.model.now = 0
	return draws{coldA: a, warmA: warm}
}

func (l *Load) solve(s rig.State) float64 {
	sum := 0.0
	for _, p := range l.parts {
		for t, x := range p.w.Terminals {
			i := slices.Index(l.names, x.Name)
			p.w.SetOn(t, i >= 0 && i < len(s.On) && s.On[i])
		}
		for b, state := range l.boards {
			for o, out := range state.board.Outputs {
				p.w.SetLit(b, o, state.lit(out.Number, s))
			}
		}
		if err := p.w.Solve(circuit.Source{EmfV: s.Volts}); err != nil {
			if l.err == nil {
				l.err = err
			}
			return 0
		}
		sum += p.w.JackAmps(p.w.Point)
		l.watch(p, s)
	}
	return sum
}

// watch makes an output that gives more than it can stay lit from then on.
func (l *Load) watch(p *part, s rig.State) {
	for b, state := range l.boards {
		for o, out := range state.board.Outputs {
			if state.blinks(s) && out.MaxAmps > 0 && state.lit(out.Number, s) && p.w.Overloaded(p.w.Point, b, o) {
				state.stuck[out.Number] = true
			}
		}
	}
}

// NextChange is when the next output lights or goes dark.
func (l *Load) NextChange(s rig.State) time.Duration {
	next := time.Duration(-1)
	for _, b := range l.breaks {
		if n := b.next(s.Since); n > s.Since && (next < 0 || n < next) {
			next = n
		}
	}
	for i, b := range l.boards {
		t := slices.Index(l.names, l.plan.Boards[i].Name)
		if t < 0 || t >= len(s.On) || !s.On[t] {
			continue
		}
		if n := b.next(s); n > s.Since && (next < 0 || n < next) {
			next = n
		}
	}
	return next
}
