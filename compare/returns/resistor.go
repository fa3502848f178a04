package returns

import (
	"fmt"
	"math"

	"sealworthy/capture"
	"sealworthy/compare/fault"
	"sealworthy/compare/information"
	"sealworthy/compare/linear"
	"sealworthy/instruments"
)

// Resistor is a reading of a known resistor in the model's place, by the meter and in the
// range that read the model. Read when the model left and when it came back, one resistor
// tells what the two meters' gains differ by: it is the same, whatever its value.
type Resistor struct {
	Volts float64 `json:"volts"` // at it: meter and leads taken off
	Amps  float64 `json:"amps"`
	U     float64 `json:"u"` // standard uncertainty of Amps by scatter alone, A
}

// Ohm is its value as it was read.
func (r Resistor) Ohm() float64 { return r.Volts / r.Amps }

// What two readings of one resistor may differ by besides both benches' errors, standard
// deviations (common practice, no source).
const (
	clipsOhm     = 0.03  // of clips and leads against what is known of them, each time
	resistorRel  = 0.001 // its own change: 100 ppm/K over ten kelvin
	anotherOne   = 0.05  // how often another one of the same marking is put there, though the same is asked for
	leastOfModel = 0.1   // of the model's draw: what draws less isn't read well in that range, or has no contact
	asTheModel   = 0.02  // of the model's draw: what draws as much may be the model, left on the clips
	sameResistor = 3.0   // standard deviations: what differs by more is another one, or a bad contact
)

// markings are what a resistor may be off by that says what it has, half-widths: 1 % and
// 5 %, as often each (the codes are those of IEC 60062; how often, common practice).
var markings = []float64{0.01, 0.05}

// ResistorIn finds the reading of a resistor that goes with a step of the whole model: the
// latest of its stage by the same meter in the same range. nil: there is none, or nobody knows
// that it's the same range; each range has a shunt, and so a gain, of its own.
func ResistorIn(steps []capture.StepRecord, like capture.StepRecord, l Leads) *Resistor {
	var out *Resistor
	whole, ok := levelOf(like, l)
	if !ok {
		return nil
	}
	for _, r := range steps {
		if r.Step.Kind != capture.Resistor || r.Stage != like.Stage || r.Outcome != capture.Measured {
			continue
		}
		out = nil // the latest counts, or none
		if !sameRange(r, like) {
			continue
		}
		if t, ok := levelOf(r, l); ok && t.volts > 0 && t.amps > leastOfModel*whole.amps &&
			math.Abs(t.amps-whole.amps) > asTheModel*whole.amps {
			out = &Resistor{Volts: t.volts, Amps: t.amps, U: t.u}
		}
	}
	return out
}

// keepResistor keeps a resistor that was read as all of the whole model was; where it was
// read otherwise, a note says so.
func (s *Signature) keepResistor(steps, with []capture.StepRecord, l Leads) {
	read := false
	for _, x := range with {
		s.Resistor = ResistorIn(steps, x, l)
		for _, r := range steps {
			read = read || r.Step.Kind == capture.Resistor && r.Stage == x.Stage && r.Outcome == capture.Measured
		}
		if s.Resistor == nil {
			break
		}
	}
	if read && s.Resistor == nil {
		s.Notes = append(s.Notes, "the resistor that was read isn't kept: hardly anything flowed, or as much as the model "+
			"draws, or it wasn't read by the same meter in the same range")
	}
}

// sameRange: two steps were read by one meter in one range. A meter without a name is the
// same within a sitting.
func sameRange(a, b capture.StepRecord) bool {
	ma, mb := a.Instruments[ammeter(a)], b.Instruments[ammeter(b)]
	if ma.Identity != mb.Identity || ma.Identity == "" && a.BeganAt.Sitting() != b.BeganAt.Sitting() {
		return false
	}
	ra, rb := rangeOf(a), rangeOf(b)
	return ra != "" && ra == rb
}

// rangeOf names the one range in which a step's draw was read; "": several, or not known.
func rangeOf(r capture.StepRecord) string {
	only, n := "", 0
	for _, g := range r.Instruments[ammeter(r)].Ranges {
		if g.Quantity == instruments.Current {
			only = g.Name
			n++
		}
	}
	name, first := "", true
	for x := range r.Each(ammeter(r), instruments.Current) {
		if !first && x.Range != name {
			return ""
		}
		name, first = x.Range, false
	}
	if name == "" && n == 1 {
		return only
	}
	return name
}

// twice is a resistor that was read then and now, as one more reading of which no fault
// changes anything: d = gain amps + offset + set voltage perV + noise of u. pieces are what it
// may have been the second time; none: the same one.
type twice struct {
	amps, perV, d, u float64
	pieces           []piece
}

// piece is what was read the second time, how probable that is after d, and the noise of d
// then.
type piece struct{ p, u float64 }

// piecesOf weighs whether the resistor is the same one or another of the same marking: two of
// those differ by sqrt(2/3) of the half-width (JCGM 100:2008, 4.3.7, twice).
func (n Nuisances) piecesOf(x twice) []piece {
	a := x.loads(n)
	aa := linear.Dot(a[:], a[:])
	of := []piece{{1 - anotherOne, x.u}}
	for _, half := range markings {
		of = append(of, piece{anotherOne / float64(len(markings)), math.Hypot(x.u, half*math.Sqrt(2.0/3)*x.amps)})
	}
	sum := 0.0
	for i := range of {
		v := aa + of[i].u*of[i].u
		of[i].p *= math.Exp(-x.d*x.d/2/v) / math.Sqrt(v)
		sum += of[i].p
	}
	for i := range of {
		of[i].p /= sum
	}
	return of
}

// readTwice weighs two readings of one resistor.
func (n Nuisances) readTwice(then, now Resistor) twice {
	by := now.Volts / then.Volts
	x := twice{amps: then.Amps * by, perV: now.Amps / now.Volts}
	x.d = now.Amps - x.amps
	own := math.Hypot(n.RepeatRel*now.Amps, n.FloorA)
	for _, u := range []float64{now.U, then.U * by, own, own, n.ReadV * x.perV, n.ReadV * x.perV,
		clipsOhm * x.amps * x.perV, clipsOhm * x.amps * x.perV, resistorRel * x.amps} {
		x.u = math.Hypot(x.u, u)
	}
	return x
}

// loads are how it answers to gain, offset and set voltage, each by its standard deviation.
func (x twice) loads(n Nuisances) [3]float64 {
	return [3]float64{n.GainRel * x.amps, n.OffsetA, n.SetV * x.perV}
}

// withResistor takes what a resistor tells that was read then and now. One that differs by
// more than the two benches can isn't the same, or had a bad contact: it tells nothing, and why
// says so.
func (n Nuisances) withResistor(s *Signature, r *Return) (out Nuisances, why string) {
	if s.Resistor == nil || r.Resistor == nil {
		return n, ""
	}
	x := n.readTwice(*s.Resistor, *r.Resistor)
	a := x.loads(n)
	if math.Abs(x.d) > sameResistor*math.Hypot(math.Sqrt(linear.Dot(a[:], a[:])), x.u) {
		return n, fmt.Sprintf("the known resistor drew %.2f mA, and %.2f mA at that voltage when the model left: more "+
			"than two meters differ by. It's another resistor, or a contact was bad: it isn't counted",
			1e3*r.Resistor.Amps, 1e3*x.amps)
	}
	x.pieces = n.piecesOf(x)
	n.resistor = &x
	return n, ""
}

// known are gain, offset and set voltage after a resistor was read twice. Of standard normal
// t with d = a't + u e the mean is a d/v and the covariance 1 - aa'/v, v = a'a + u^2. Over
// several u, each as probable as p, the mean is a d m with m the mean of 1/v, and the covariance
// 1 - k aa' with k = m - d^2 times the variance of 1/v. Its root is 1 - c aa' with
// c = (1 - sqrt(1 - k a'a))/a'a, since (1 - c aa')^2 = 1 - k aa'.
type known struct {
	mean [3]float64
	a    [3]float64
	c    float64
}

func (n Nuisances) known() (k known, ok bool) {
	if n.resistor == nil {
		return k, false
	}
	k.a = n.resistor.loads(n)
	aa := linear.Dot(k.a[:], k.a[:])
	if !(aa > 0) {
		return k, false
	}
	of := n.resistor.pieces
	if len(of) == 0 {
		of = []piece{{1, n.resistor.u}}
	}
	m, mm := 0.0, 0.0 // means of 1/v and of its square
	for _, x := range of {
		v := aa + x.u*x.u
		m, mm = m+x.p/v, mm+x.p/(v*v)
	}
	d := n.resistor.d
	for i := range k.a {
		k.mean[i] = k.a[i] * d * m
	}
	k.c = (1 - math.Sqrt(math.Max(0, 1-aa*(m-d*d*(mm-m*m))))) / aa
	return k, true
}

// resistorTells are gain, offset and set voltage among the nuisances.
var resistorTells = [3]int{0, 1, 3}

// mixed gives a column of three that were independent before: column i less what the
// resistor tells of it.
func (k known) mixed(js [3][]float64, i int) []float64 {
	out := js[i]
	for m := range js {
		out = added(out, scaled(-k.c*k.a[i]*k.a[m], js[m]))
	}
	return out
}

// unmix turns what was found of the nuisances, each with a part of the three, into what that
// is of each, in standard deviations of what was to be expected before the resistor was read.
func (n Nuisances) unmix(theta []float64) {
	k, ok := n.known()
	if !ok {
		return
	}
	along := 0.0
	for i, at := range resistorTells {
		along += k.a[i] * theta[at]
	}
	for i, at := range resistorTells {
		theta[at] += k.mean[i] - k.c*k.a[i]*along
	}
}

// resistorBits is the information about the place that is to be expected of reading, now, the
// resistor that was read when the model left: given the readings so far each hypothesis
// predicts what it draws, since each leaves other gains possible.
func (l *Library) resistorBits(then Resistor, y, noise []float64, n Nuisances, hs []Alive) float64 {
	x := n.readTwice(then, then)
	a := x.loads(n)
	free := l.free(n)
	number := map[string]int{}
	var answer []int
	var ps, mean, sd []float64
	alive := 0.0
	for _, h := range hs {
		alive += h.P
	}
	for _, h := range hs {
		hyp := Hypothesis{Class: fault.Nothing, DeltaA: make([]float64, len(l.Volts))}
		if h.Index >= 0 {
			hyp = l.Hypotheses[h.Index]
		}
		js := append([][]float64{}, hyp.extra...)
		cross := make([]float64, len(l.Volts))
		for _, j := range free {
			js = append(js, j.j)
		}
		for i, at := range resistorTells {
			cross = added(cross, scaled(a[i], free[at].j))
		}
		w, err := newWhitener(noise, js, l.discrepancy(n))
		if err != nil {
			continue
		}
		c := w.of(cross)
		k, seen := number[hyp.answer()]
		if !seen {
			k = len(number)
			number[hyp.answer()] = k
		}
		answer, ps = append(answer, k), append(ps, h.P/alive)
		mean = append(mean, linear.Dot(c, w.of(minus(y, added(l.expected(n), hyp.DeltaA)))))
		left := math.Max(0, linear.Dot(a[:], a[:])-linear.Dot(c, c))
		sd = append(sd, math.Sqrt(left+x.u*x.u))
	}
	if len(ps) == 0 {
		return 0
	}
	q := information.NewQuestion(answer, ps)
	return math.Max(0, q.Now()-q.After(func(k int) float64 { return mean[k] }, func(k int) float64 { return sd[k] }))
}
