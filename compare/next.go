package compare

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/plan"
	"sealworthy/compare/words"
)

// Effort of a measurement, in units of setting another voltage (common
// practice, no source).
const (
	effortVolts  = 1.0
	effortLook   = 1.0
	effortSwitch = 3.0 // a clip is moved
	effortProbe  = 20.0
)

// enoughP is the probability from which one cause is named and nothing more
// needs to be measured.
const enoughP = 0.9

// leastBits: a measurement that is expected to tell less isn't worth its effort.
const leastBits = 0.05

// partBits: a voltage that is expected to tell as much parts what looks alike so far.
const partBits = 0.2

// Measurement is something that can be measured or looked at next.
type Measurement struct {
	Group  string  `json:"group"`
	What   string  `json:"what"`            // in plain words
	Volts  float64 `json:"volts,omitempty"` // measure the group at it; 0: something else
	Look   bool    `json:"look,omitempty"`  // it is a look, no reading
	Bits   float64 `json:"bits"`            // information to be expected about what is wrong
	Effort float64 `json:"effort"`          // 1: another voltage
}

// PerEffort is what a measurement is ranked by.
func (m Measurement) PerEffort() float64 { return m.Bits / m.Effort }

// Doubt is one group of which more can be learned, or nothing more is to be.
type Doubt struct {
	Group   string  `json:"group"`
	Verdict Verdict `json:"verdict"`
	// Healthy is the probability that nothing is wrong; Causes are the likeliest faults.
	Healthy float64 `json:"healthy"`
	Causes  []Cause `json:"causes,omitempty"` // the likeliest first
	// Settled: one answer stands above 0.9, and which.
	Settled bool   `json:"settled"`
	Answer  string `json:"answer,omitempty"` // in plain words, see Settled
	// Next are the measurements, the most telling for its effort first.
	Next []Measurement `json:"next,omitempty"`
}

// Next ranks, for every group that isn't plainly good, what to measure next by
// the information that it is expected to give for its effort. clipped is the
// feed that is on the clip now, if any: all others cost moving it.
func (j *Judge) Next(h History, closure, clipped string) ([]Doubt, error) {
	h = h.numbered()
	rows := j.rows(h)
	within := inside(j.Expected.Plan, closure)
	var out []Doubt
	for _, g := range j.Expected.Plan.Groups {
		if closure != "" && !slices.Contains(within, g.Closure) {
			continue
		}
		_, touched := touched(j.Expected.Plan, g.Name, h)
		for _, f := range rows[g.Name] {
			if f.Verdict == InBand && (f.Seen == "" || f.Looked) {
				continue
			}
			last, _ := lookOf(g, h, touched, f.Stage)
			out = append(out, j.doubt(g, f, look.Parse(last.seen, g), clipped))
		}
	}
	return out, nil
}

func (j *Judge) doubt(g plan.Group, f Finding, eye look.Look, clipped string) Doubt {
	d := Doubt{Group: g.Name, Verdict: f.Verdict, Healthy: f.PHealthy, Causes: f.Causes}
	if f.Verdict == NotMeasured {
		d.Healthy = 0 // of a reading that counts no more
	}
	if f.common {
		if f.Causes[0].P > enoughP {
			d.Settled, d.Answer = true, f.Causes[0].Text
		}
		return d
	}
	if f.evidence == nil || f.Verdict == NotMeasured || f.formerly != nil {
		d.Next = wordsOnly(f)
		if f.formerly != nil && f.formerly.cause != nil {
			d.Causes = []Cause{*f.formerly.cause}
		}
		if f.formerly != nil && seenWrong(f) {
			d.Next = append([]Measurement{putRight(f)}, d.Next...)
		}
		return d
	}
	w, err := j.weigh(f.evidence, eye)
	if err != nil {
		d.Next = wordsOnly(f)
		return d
	}
	d.Healthy = w.result.None
	d.Causes = byP(j.orAnother(j.causesOf(w, Finding{Verdict: Low}), f), f.above)
	if w.result.None > w.result.Unknown {
		// That nothing is wrong fits it better than that none of the usual faults does.
		d.Causes = slices.DeleteFunc(d.Causes, func(c Cause) bool { return c.Name == string(fault.Unknown) })
	}
	d.Next = append(j.voltsNext(g, f, eye, clipped), j.lookNext(g, f, eye, w)...)
	// A class of look-alikes stands for one cause only if no voltage parts it.
	parts := slices.ContainsFunc(d.Next, func(m Measurement) bool { return m.Volts > 0 && m.Bits >= partBits })
	toCount := len(w.result.Classes) > 0 && w.toCount(w.result.Classes[0])
	if toCount {
		d.Next = append([]Measurement{j.countNext(g, w)}, d.Next...)
	}
	switch {
	case parts || toCount:
	case f.Verdict == CantTell && w.result.None > 0.5:
		// Probably nothing is wrong; but to close, the loss of one light must be excluded.
	case w.result.Unknown > enoughP:
		d.Settled, d.Answer = true,
			"something that is not in the list of faults: count the lights and compare the parts with the plan"
	case len(w.result.Classes) > 0 && w.result.Classes[0].P > enoughP && len(w.result.Classes[0].Groups) < 2:
		d.Settled, d.Answer = true, j.cause(w, w.result.Classes[0]).Text
	}
	if d.Settled {
		d.Next = nil
		return d
	}
	if f.Verdict == InBand {
		d.Next = append(d.Next, putRight(f))
		d.Causes = nil
	}
	slices.SortStableFunc(d.Next, func(a, b Measurement) int { return cmp.Compare(b.PerEffort(), a.PerEffort()) })
	switch {
	case len(d.Next) > 0:
	case len(w.result.Classes) > 0 && len(w.result.Classes[0].Groups) > 1:
		d.Next = []Measurement{{Group: g.Name, Look: true, Effort: effortLook,
			What: words.LookWhich(w.result.Classes[0].Groups)}}
	default:
		d.Next = wordsOnly(f)
	}
	return d
}

// putRight is what to do where the current is as it should be and something else was seen.
func putRight(f Finding) Measurement {
	return Measurement{Group: f.Group, Look: true, Effort: effortLook,
		What: fmt.Sprintf("its current is as it should be, but of %q was said: %s. Put it right, look again, "+
			"and say what you see", f.Group, f.Seen)}
}

// wordsOnly is what would settle it, where no number stands beside it.
func wordsOnly(f Finding) []Measurement {
	var out []Measurement
	for _, s := range f.Settle {
		out = append(out, Measurement{Group: f.Group, What: s, Effort: effortSwitch})
	}
	return out
}

// voltsNext weighs one more reading at each voltage that isn't read yet.
func (j *Judge) voltsNext(g plan.Group, f Finding, eye look.Look, clipped string) []Measurement {
	if g.Board != "" || f.Way != "alone" && f.Way != "" {
		return nil
	}
	top := serviceVolts(j.Expected.Plan, g.Name, f.Stage == Loose)
	e := *f.evidence
	have := len(e.readings)
	e.readings = slices.Clone(e.readings)
	for v := math.Ceil(secondFrom*top/secondStep) * secondStep; v <= top-secondBelow+1e-9; v += secondStep {
		if slices.ContainsFunc(e.readings[:have],
			func(r belief.Reading) bool { return math.Abs(r.Volts-v) < secondStep/2 }) {
			continue
		}
		last := f.evidence.readings[0]
		e.readings = append(e.readings, belief.Reading{Volts: v, U: max(last.U/4, secondFloorA), GainU: last.GainU})
	}
	if len(e.readings) == have {
		return nil
	}
	x, err := j.ensemble(&e, len(e.groups) == 1)
	if err != nil {
		return nil
	}
	bits, err := x.Given(e.others).Information(e.readings[:have], eye, e.readings[have:])
	if err != nil {
		return nil
	}
	effort := effortVolts
	if clipped != g.Name {
		effort += effortSwitch
	}
	var out []Measurement
	for i, b := range bits {
		if v := e.readings[have+i].Volts; b > leastBits {
			out = append(out, Measurement{Group: g.Name, Volts: v, Bits: b, Effort: effort,
				What: fmt.Sprintf("measure %q at %s V", g.Name, words.Number(v, 0.1))})
		}
	}
	// Voltages beside the best tell the same.
	slices.SortStableFunc(out, func(a, b Measurement) int { return cmp.Compare(b.Bits, a.Bits) })
	return out[:min(len(out), 1)]
}

// lookNext weighs a look: all lit, or something dark.
func (j *Judge) lookNext(g plan.Group, f Finding, eye look.Look, w weighed) []Measurement {
	if eye.Saw != look.NotLooked {
		return nil
	}
	lit, err := j.weighBy(f.evidence, look.Look{Saw: look.AllLit}, w.suspects)
	if err != nil || lit.result.None <= 0 || w.result.None <= 0 {
		return nil
	}
	// How likely each hypothesis makes "all lit", against a healthy group.
	after := func(now, then float64) float64 {
		if now <= 0 {
			return 0
		}
		return min(1, (then/lit.result.None)/(now/w.result.None))
	}
	now := append(slices.Clone(w.result.Weighed), w.result.None, w.result.Unknown)
	then := append(slices.Clone(lit.result.Weighed), lit.result.None, lit.result.Unknown)
	pLit := 0.0
	for i := range now {
		pLit += now[i] * after(now[i], then[i])
	}
	dark := make([]float64, len(now))
	for i := range now {
		dark[i] = now[i] * (1 - after(now[i], then[i]))
	}
	bits := entropy(now) - pLit*entropy(then) - (1-pLit)*entropy(dark)
	if bits < leastBits {
		return nil
	}
	return []Measurement{{Group: g.Name, Look: true, Bits: bits, Effort: effortLook,
		What: fmt.Sprintf("look at %q lit, and count what is dark", g.Name)}}
}

// countNext weighs a count, or a look at the part: it parts a wrong plan from a fault that draws alike.
func (j *Judge) countNext(g plan.Group, w weighed) Measurement {
	c := w.result.Classes[0]
	plans, faults := 0.0, 0.0
	for _, m := range c.Members {
		if m >= len(w.result.Weighed) {
			continue
		}
		if w.ensemble.Hypotheses[m].Suspect != nil {
			plans += w.result.Weighed[m]
		} else {
			faults += w.result.Weighed[m]
		}
	}
	return Measurement{Group: g.Name, Look: true, Bits: c.P * entropy([]float64{plans, faults}), Effort: effortLook,
		What: words.CountFirst(*c.Suspect, g.Name)}
}

// entropy of weights, in bits, after they are brought to a sum of 1.
func entropy(ws []float64) float64 {
	sum, h := 0.0, 0.0
	for _, w := range ws {
		sum += w
	}
	for _, w := range ws {
		if p := w / sum; p > 0 {
			h -= p * math.Log2(p)
		}
	}
	return h
}
