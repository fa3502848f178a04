package budget

import (
	"fmt"
	"math"

	"sealworthy/compare/circuit"
	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
)

// class says where a factor of the law comes from.
type class uint8

const (
	ownPart   class = iota // one piece alone
	reelPart               // what the pieces of one reel have in common
	benchPart              // voltage, temperature, leads: the same for all that is measured together
)

// origin is the source of one factor. branch: it moves a single branch of a group.
type origin struct {
	class  class
	reel   string
	branch bool
}

// side is a plan behind one jack, or its loose parts, with the law of all that
// is uncertain about it and the settings that are solved in every trial.
type side struct {
	w       *wiring.Wired // nominal; never solved, only cloned
	law     *law
	origins []origin  // by factor
	half    []float64 // half-width of each input's own tolerance
	bench   []term    // by input: what the bench does to it; gain 0: nothing
	perK    []float64 // by input: what a kelvin does to it

	params int // the first so many inputs are w.Params
	voltsI int // input: deviation of the source, V
	leadsI int // input: deviation of burden and leads, ohm
	duty   []dutyInput

	settings []*setting
	rises    []rise
	means    []mean
	blends   []blend
	outs     int
	places   []placeRead // of the feed tree, read from setting placesIn in trials only
	placesIn int         // by index in settings
	allOfIt  bool        // every setting holds the whole model
}

// dutyInput is the uncertain duty of one board at one pace.
type dutyInput struct {
	board, pace int
	input       int
	nominal     float64
}

// setting is one configuration that is solved in every trial: a circuit of its
// own in which what is on and lit stays, so that its solver stays warm.
type setting struct {
	site
	src     circuit.Source
	leads   float64   // burden and leads; 0 in service
	metered bool      // burden and leads are in
	applied []float64 // by w.Params: the deviations in force
	dv, dr  float64   // of source and leads, in force
	reads   []read
	solved  bool
}

// site is the circuit of a setting: all of the plan behind the jack, or what one
// feed needs.
type site struct {
	w      *wiring.Wired
	inputs []int // by w.Params: the input that moves it
}

func (x site) clone() site { return site{x.w.Clone(), x.inputs} }

// everything is a site for all of the plan behind the jack.
func (s *side) everything() site {
	all := make([]int, s.params)
	for i := range all {
		all[i] = i
	}
	return site{s.w.Clone(), all}
}

// feed is a site for one terminal: its solver walks no more than it needs, so
// that twice the feeds are twice the work.
func (s *side) feed(terminal int) (site, error) {
	w, inputs, err := s.w.Only(terminal)
	return site{w, inputs}, err
}

// read takes one current from a solved setting.
type read struct {
	out, group int // group -1: at the jack
}

// mean is an output made of the levels of one board: the mean over a pace.
type mean struct {
	out    int
	levels []int // outputs
	lit    []int // by level: how many outputs are lit
	set    weights
	duty   int // index into side.duty; -1: duty is fixed
	fixed  float64
}

// wired is what hangs behind a jack, nominal.
func wired(p *plan.Plan, jack int, at At) (*wiring.Wired, error) {
	room := at.RoomOr()
	w, err := wiring.Build(wiring.Movable(p), p.Jacks[jack].Name,
		wiring.Options{AmbientC: &room.C, SeriesOhm: at.SeriesOhm()})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", p.Build, err)
	}
	return w, nil
}

// newSide is a plan behind one jack.
func newSide(p *plan.Plan, jack int, at At) (*side, error) {
	room := at.RoomOr()
	w, err := wired(p, jack, at)
	if err != nil {
		return nil, err
	}
	s := &side{w: w, params: len(w.Params)}
	s.voltsI, s.leadsI = s.params, s.params+1
	n := s.params + 2
	for b := range p.Boards {
		if !w.Boards[b].Here {
			continue
		}
		for k, pc := range p.Boards[b].Paces {
			if !pc.Steady() {
				s.duty = append(s.duty, dutyInput{b, k, n, pc.LitShare()})
				n++
			}
		}
	}
	s.law = newLaw(n)
	s.half = make([]float64, n)
	s.tolerances()
	s.theBench(at, room)
	return s, nil
}

func (s *side) factor(o origin) int {
	s.origins = append(s.origins, o)
	return s.law.factor(rectangular)
}

// tolerances writes what is known of the parts into the law.
func (s *side) tolerances() {
	reels := map[int]int{} // factors, by Param.Common
	for i, p := range s.w.Params {
		half := math.Abs(p.Value.HalfWidth)
		s.half[i] = half
		share := math.Min(1, math.Max(0, p.Value.Share))
		if common := half * math.Sqrt(share/3); common > 0 {
			f, ok := reels[p.Common]
			if !ok {
				f = s.factor(origin{class: reelPart, reel: s.w.Factors[p.Common].Reel})
				reels[p.Common] = f
			}
			s.law.add(i, f, common)
		}
		if own := half * math.Sqrt((1-share)/3); own > 0 {
			s.law.add(i, s.factor(origin{class: ownPart, reel: p.Reel, branch: p.Branch >= 0}), own)
		}
	}
	for _, d := range s.duty {
		pc := s.w.Plan.Boards[d.board].Paces[d.pace]
		s.half[d.input] = math.Abs(pc.DutyTol)
		if u := s.half[d.input] / math.Sqrt(3); u > 0 {
			s.law.add(d.input, s.factor(origin{class: ownPart}), u)
		}
	}
}

// The factors of the bench, by number.
const (
	voltsFactor = iota
	leadsFactor
	tempFactor
	benchFactors
)

// theBench adds voltage, leads and temperature. Temperature moves the
// forward voltage of every LED by its own coefficient, and all copper.
func (s *side) theBench(at At, room scene.Room) {
	s.bench, s.perK = make([]term, s.law.inputs), make([]float64, s.law.inputs)
	s.bench[s.voltsI] = term{s.voltsI, voltsFactor, at.SetHalfV() / math.Sqrt(3)}
	s.bench[s.leadsI] = term{s.leadsI, leadsFactor, at.LeadsHalfOhm / math.Sqrt(3)}
	if uK := room.HalfC / math.Sqrt(3); uK > 0 {
		for i, p := range s.w.Params {
			s.perK[i] = s.w.PerK(p)
			s.bench[i] = term{i, tempFactor, s.perK[i] * uK}
		}
	}
	var factors [benchFactors]int
	for i := range factors {
		factors[i] = s.factor(origin{class: benchPart})
	}
	for _, t := range s.bench {
		s.law.add(t.input, factors[t.factor], t.gain)
	}
}

// step is the standard uncertainty of each input: what sensitivities are taken over.
func (s *side) step() []float64 {
	h := make([]float64, s.law.inputs)
	for _, t := range s.law.terms {
		h[t.input] += t.gain * t.gain
	}
	for i := range h {
		h[i] = math.Sqrt(h[i])
	}
	return h
}

// like gives, for each input, the first one that acts exactly alike: the same
// quantity of another branch of the same light on the same node.
func (s *side) like() []int {
	type key struct {
		kind              wiring.ParamKind
		group, light, led int
		node              circuit.Node
	}
	first := make(map[key]int)
	like := make([]int, s.law.inputs)
	for i := range like {
		if like[i] = i; i >= s.params || s.w.Params[i].Branch < 0 {
			continue
		}
		p := s.w.Params[i]
		br := s.w.Groups[p.Group].Branches[p.Branch]
		k := key{p.Kind, p.Group, br.Light, p.LED, br.Node}
		if f, ok := first[k]; ok {
			like[i] = f
		} else {
			first[k] = i
		}
	}
	return like
}

// add makes a setting on a site of its own: terminals on, outputs lit, at volts,
// with or without the meter.
func (s *side) add(at site, on func(terminal int) bool, lit func(board, output int) bool, volts, leads float64,
	metered bool) (*setting, error) {
	t := &setting{site: at, src: circuit.Source{EmfV: volts}, leads: leads, metered: metered}
	for i := range t.w.Terminals {
		t.w.SetOn(i, on(i))
	}
	for b := range t.w.Boards {
		for o := range t.w.Plan.Boards[b].Outputs {
			t.w.SetLit(b, o, lit(b, o))
		}
	}
	t.w.Net.SetOhms(t.w.Meter, leads)
	t.applied = make([]float64, len(t.inputs))
	if err := t.home(); err != nil {
		return nil, err
	}
	s.settings = append(s.settings, t)
	return t, nil
}

// home solves it as it stands. Every later solve starts from there: results
// don't depend on their order.
func (t *setting) home() error {
	if err := t.w.Solve(t.src); err != nil {
		return err
	}
	t.w.Home()
	return nil
}

// output reserves an output that reads a group's current, or the jack's (-1).
func (s *side) output(t *setting, group int) int {
	t.reads = append(t.reads, read{s.outs, group})
	s.outs++
	return s.outs - 1
}

// solve brings a setting to the deviations of its side, if anything changed.
func (t *setting) solve(s *side, dev []float64) error {
	changed := !t.solved
	for k, i := range t.inputs {
		if d := dev[i]; d != t.applied[k] {
			t.applied[k] = d
			t.w.Apply(k, d)
			changed = true
		}
	}
	if dv := dev[s.voltsI]; dv != t.dv {
		t.dv, changed = dv, true
	}
	if dr := dev[s.leadsI]; t.metered && dr != t.dr {
		t.dr, changed = dr, true
		t.w.Net.SetOhms(t.w.Meter, math.Max(0, t.leads+dr))
	}
	if !changed {
		return nil
	}
	t.solved = false
	src := t.src
	src.EmfV = math.Max(0, src.EmfV+t.dv)
	if err := t.w.Solve(src); err != nil {
		return err
	}
	t.solved = true
	return nil
}

// warmBy makes it warmer by kelvin.
func (t *setting) warmBy(s *side, kelvin float64) {
	for k, i := range t.inputs {
		if perK := s.perK[i]; perK != 0 {
			t.w.Apply(k, perK*kelvin)
		}
	}
}

// dutyAt gives a duty with its deviation; input -1 is fixed.
func (s *side) dutyAt(i int, fixed float64, dev []float64) float64 {
	if i < 0 {
		return fixed
	}
	return s.duty[i].nominal + dev[s.duty[i].input]
}

// dutyOf finds the duty of a board at a pace; index -1 with the value where it is fixed.
func (s *side) dutyOf(board, pace int) (index int, fixed float64) {
	for i, d := range s.duty {
		if d.board == board && d.pace == pace {
			return i, d.nominal
		}
	}
	return -1, s.w.Plan.Boards[board].Paces[pace].LitShare()
}

func (r *rise) into(out []float64) { out[r.out] = r.over(out) }

func (m *mean) into(s *side, dev, out []float64) {
	out[m.out] = m.over(s.dutyAt(m.duty, m.fixed, dev), out)
}

func (b *blend) into(s *side, dev, out []float64) { out[b.out] = b.over(s, dev, out) }
