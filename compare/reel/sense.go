package reel

import (
	"fmt"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// pull is what one factor does to the draw of one group: the sums of dI/dx
// HalfWidth over its parameters, and of its squares, by planned share.
type pull struct {
	factor int // index in senses.factors
	share  float64
	sum    float64 // A
	square float64 // A^2
}

// piece is one parameter of one piece.
type piece struct {
	kind                                  wiring.ParamKind
	group, board, joint, ret, branch, led int
}

// own is what one piece's own deviation does to a draw: dI/dx HalfWidth, A.
type own struct {
	factor int // -1: common to nothing
	share  float64
	a      float64
}

// sense is how a group's draw answers to all that is uncertain.
type sense struct {
	amps       float64 // in the mean, where the sensitivities hold
	nominal    float64 // with every part nominal
	pulls      []pull
	own        float64 // A^2: variance of what is common to nothing
	each       map[piece]own
	perV, perK float64 // A by V at the source, A by kelvin
	perOhm     float64 // A by ohm in series
	curve      float64 // A^2: variance of what a straight line misses
	shift      float64 // A: by how much own deviations move the mean, by the draw's bends
	// of is what the pieces of each reel of lights draw of it, a fraction.
	of map[string]float64
}

// senses works sensitivities out, circuit by circuit, with the factors that
// were met so far.
type senses struct {
	p       *plan.Plan
	wired   map[conditions]*wiring.Wired
	factors []Factor
	number  map[wiring.Factor]int
}

type conditions struct {
	jack             string
	loose            bool
	seriesOhm, roomC float64
}

func newSenses(p *plan.Plan) *senses {
	return &senses{p: p, wired: map[conditions]*wiring.Wired{}, number: map[wiring.Factor]int{}}
}

func (s *senses) circuit(c conditions) (*wiring.Wired, error) {
	if w, ok := s.wired[c]; ok {
		return w, nil
	}
	p := wiring.Movable(s.p)
	if c.loose {
		p = wiring.Loose(p)
	}
	w, err := wiring.Build(p, c.jack, wiring.Options{AmbientC: &c.roomC, SeriesOhm: c.seriesOhm})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", s.p.Build, err)
	}
	s.wired[c] = w
	return w, nil
}

// factor gives the number of a parameter's factor.
func (s *senses) factor(w *wiring.Wired, q wiring.Param) int {
	k := w.Factors[q.Common]
	if i, ok := s.number[k]; ok {
		return i
	}
	i := len(s.factors)
	s.number[k] = i
	s.factors = append(s.factors, Factor{Factor: k, HalfWidth: relativeHalf(q), Share: q.Value.Share})
	return i
}

// reader reads the draw of one group out of a circuit: what the meter shows
// when it is lit, less what it shows when it is dark.
type reader struct {
	w     *wiring.Wired
	group int
	board int // -1: on a joint
	volts float64
	base  map[int]float64 // deviations by parameter; none: nominal
}

// stand moves every part to what is known of its reel.
func (r *reader) stand(known *Learned) {
	for i := range r.base {
		r.w.Apply(i, 0)
	}
	r.base = map[int]float64{}
	if known.Empty() {
		return
	}
	for i, q := range r.w.Params {
		if k := known.index(r.w.Factors[q.Common]); k >= 0 && q.Value.HalfWidth > hair && r.moves(q) {
			r.base[i] = r.common(known, q) * known.Factors[k].Mean
			r.w.Apply(i, r.base[i])
		}
	}
}

// common is what a parameter moves by for c = 1.
func (r *reader) common(known *Learned, q wiring.Param) float64 {
	share := math.Min(1, math.Max(0, q.Value.Share))
	if k := known.index(r.w.Factors[q.Common]); k >= 0 {
		share = known.Factors[k].shares().of(share)
	}
	return q.Value.HalfWidth * math.Sqrt(share)
}

func sdOf(known *Learned, f wiring.Factor) float64 {
	_, sd := known.Common(f)
	return sd
}

func (s *senses) reader(o Observation) (*reader, error) {
	g := -1
	for i := range s.p.Groups {
		if s.p.Groups[i].Name == o.Group {
			g = i
		}
	}
	if g < 0 {
		return nil, fmt.Errorf("the plan has no group %q", o.Group)
	}
	pg := s.p.Groups[g]
	if pg.AsFound {
		return nil, fmt.Errorf("%q is as found: there is no plan of it", o.Group)
	}
	c := conditions{jack: o.Jack, loose: o.Loose, seriesOhm: o.SeriesOhm, roomC: o.roomC()}
	if c.jack == "" {
		c.jack = wiring.JackOfGroup(s.p, pg)
	}
	w, err := s.circuit(c)
	if err != nil {
		return nil, err
	}
	if !w.Groups[g].Here {
		return nil, fmt.Errorf("%q doesn't hang behind jack %q", o.Group, c.jack)
	}
	w.Alone(g)
	board, _, _ := wiring.OutputOf(s.p, pg)
	return &reader{w: w, group: g, board: board, volts: o.Volts}, nil
}

func (r *reader) amps() (float64, error) {
	return r.w.AddsAmps(r.group, circuit.Source{EmfV: r.volts})
}

// slope is a central difference over ±h and, about a draw of amps, the second
// one; move is undone after it.
func (r *reader) slope(amps, h float64, move func(by float64)) (first, second float64, err error) {
	defer move(0)
	move(h)
	up, err := r.amps()
	if err != nil {
		return 0, 0, err
	}
	move(-h)
	down, err := r.amps()
	if err != nil {
		return 0, 0, err
	}
	return (up - down) / (2 * h), (up + down - 2*amps) / (h * h), nil
}

// reels gives what the branches of each reel draw of all branches of the group.
func (r *reader) reels() map[string]float64 {
	of, sum := map[string]float64{}, 0.0
	for i, br := range r.w.Groups[r.group].Branches {
		a := r.w.BranchAmps(r.w.Point, r.group, i)
		of[r.w.Plan.Groups[r.group].Lights[br.Light].Reel] += a
		sum += a
	}
	for k := range of {
		if of[k] /= sum; !(sum > 0) {
			of[k] = 0
		}
	}
	return of
}

// hair is the half-width of what is movable without being uncertain (wiring.Movable), with room.
const hair = 1e-8

// moves reports whether a parameter can change the draw of the group.
func (r *reader) moves(q wiring.Param) bool {
	return q.Group == r.group || q.Group < 0 && (q.Board < 0 || q.Board == r.board)
}

// alike are parameters that act exactly alike: of equal branches on one node.
type alike struct {
	kind       wiring.ParamKind
	light, led int
	node       circuit.Node
}

// of works out how one observation answers, about what is known of the reels
// already (nil: about nominal parts).
func (s *senses) of(o Observation, known *Learned) (*sense, error) {
	r, err := s.reader(o)
	if err != nil {
		return nil, err
	}
	r.stand(known)
	defer r.stand(nil)
	out := &sense{each: map[piece]own{}}
	if out.amps, err = r.amps(); err != nil {
		return nil, err
	}
	out.of = r.reels()
	tried := map[alike][2]float64{}
	by := map[[2]float64]int{} // factor and share to pull
	w := r.w
	steps := make(map[int]float64)
	for i, q := range w.Params {
		if !r.moves(q) {
			continue
		}
		slope, second, err := s.slope(r, out.amps, i, q, tried)
		if err != nil {
			return nil, err
		}
		out.perK += slope * w.PerK(q)
		a, share := slope*q.Value.HalfWidth, math.Min(1, math.Max(0, q.Value.Share))
		if a == 0 || q.Value.HalfWidth <= hair {
			continue
		}
		out.shift += second * q.Value.HalfWidth * q.Value.HalfWidth * (1 - share) / 6
		id := piece{q.Kind, q.Group, q.Board, q.Joint, q.Return, q.Branch, q.LED}
		if share == 0 {
			out.own += a * a / 3
			out.each[id] = own{-1, 0, a}
			continue
		}
		steps[i] = math.Copysign(r.common(known, q)*sdOf(known, w.Factors[q.Common]), a)
		key := [2]float64{float64(s.factor(w, q)), share}
		k, ok := by[key]
		if !ok {
			k = len(out.pulls)
			by[key] = k
			out.pulls = append(out.pulls, pull{factor: int(key[0]), share: share})
		}
		out.pulls[k].sum += a
		out.pulls[k].square += a * a
		out.each[id] = own{int(key[0]), share, a}
	}
	if out.perV, _, err = r.slope(out.amps, 0.01, func(by float64) { r.volts = o.Volts + by }); err != nil {
		return nil, err
	}
	if o.SeriesHalfOhm > 0 {
		// About a little more than there is: less than none can't be tried.
		const step = 0.05
		if out.perOhm, _, err = r.slope(out.amps, step, func(by float64) {
			if by != 0 {
				by += step
			}
			w.Net.SetOhms(w.Meter, o.SeriesOhm+by)
		}); err != nil {
			return nil, err
		}
	}
	return out, s.bend(r, out, steps)
}

// slope of the draw over one parameter, and its second derivative.
func (s *senses) slope(r *reader, amps float64, i int, q wiring.Param, tried map[alike][2]float64) (first, second float64, err error) {
	key := alike{led: -1}
	if q.Branch >= 0 {
		br := r.w.Groups[q.Group].Branches[q.Branch]
		key = alike{q.Kind, br.Light, q.LED, br.Node}
		if x, ok := tried[key]; ok {
			return x[0], x[1], nil
		}
	}
	// Half of one standard deviation, but no less than what the solver resolves.
	h := math.Max(q.Value.HalfWidth/(2*math.Sqrt(3)), leastStep(q))
	first, second, err = r.slope(amps, h, func(by float64) { r.w.Apply(i, r.base[i]+by) })
	if err == nil && q.Branch >= 0 {
		tried[key] = [2]float64{first, second}
	}
	return first, second, err
}

// leastStep keeps differences clear of the solver's rounding.
func leastStep(q wiring.Param) float64 {
	switch q.Kind {
	case wiring.LEDVolts:
		return 1e-3
	case wiring.WireOhms, wiring.CopperOhms:
		return 0.01 * q.Value.Nominal
	}
	return 0
}

// bend measures what straight sensitivities miss: all that is common one
// standard deviation up, and down. For a normal x the square's own variance is 2.
func (s *senses) bend(r *reader, out *sense, steps map[int]float64) error {
	if len(steps) == 0 {
		return nil
	}
	both := -2 * out.amps
	for _, sense := range []float64{1, -1, 0} {
		for i, by := range steps {
			r.w.Apply(i, r.base[i]+sense*by)
		}
		if sense == 0 {
			break
		}
		x, err := r.amps()
		if err != nil {
			return err
		}
		both += x
	}
	out.curve = 2 * (both / 2) * (both / 2)
	return nil
}
