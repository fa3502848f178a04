package belief

import (
	"slices"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/information"
	"sealworthy/compare/look"
	"sealworthy/compare/scene"
)

func bitsOf(t *testing.T, e *Ensemble, rs []Reading, next ...float64) []float64 {
	t.Helper()
	var ns []Reading
	for _, v := range next {
		ns = append(ns, Reading{Volts: v, U: 2e-5, GainU: 0.001})
	}
	bits, err := e.Information(rs, look.Look{}, ns)
	if err != nil {
		t.Fatal(err)
	}
	return bits
}

// A loss of one branch at 12 V may be of either light. Where the chain of three is
// dark, near half of the voltage, a further reading tells; the same again tells nothing.
func TestASecondVoltageTellsMoreThanTheSameAgain(t *testing.T) {
	volts := []float64{12, 11, 10, 9.5, 9, 8.5, 8, 7.5, 7, 6.5, 6, 5, 4, 3.5}
	e := ensemble(t, mixed(0.5), volts, scene.Scene{}, Options{})
	rs := at(e, e.HealthyA[0]-0.0093)
	bits := bitsOf(t, e, rs, volts...)
	best := slices.Index(bits, slices.Max(bits))
	t.Logf("bits at %v V: %.2f", volts, bits)
	if volts[best] > 9 || volts[best] < 4 || bits[best] < 0.5 {
		t.Errorf("%.2f bits at %g V", bits[best], volts[best])
	}
	if bits[0] > 0.1*bits[best] {
		t.Errorf("the same again: %.2f bits, the best %.2f", bits[0], bits[best])
	}
}

// The expected information must be what readings then give on the average.
func TestInformationIsWhatReadingsGive(t *testing.T) {
	e := ensemble(t, mixed(0.5), []float64{12, 6}, scene.Scene{}, Options{})
	rs := at(e, e.HealthyA[0]-0.0093)
	expected := bitsOf(t, e, rs, 6)[0]
	before := posterior(t, e, rs, look.Look{})
	// By the very mixture that it is expected over: each hypothesis at nine nodes.
	w, err := e.weigh(rs, look.Look{})
	if err != nil {
		t.Fatal(err)
	}
	entropyAt := func(r Result) float64 {
		return information.Entropy(append(slices.Clone(r.Weighed), r.None))
	}
	next := Reading{Volts: 6, U: 2e-5, GainU: 0.001}
	then, total := 0.0, 0.0
	add := func(p float64, m *moment) {
		if p < 1e-3 {
			return
		}
		mean, sd := e.predict(w.view, m, 1, next)
		for _, node := range information.Nodes {
			r := next
			r.Amps = mean + node[0]*sd
			res := posterior(t, e, append(slices.Clone(rs), r), look.Look{})
			then += p * node[1] * entropyAt(res)
		}
		total += p
	}
	add(w.none, &e.m.healthy)
	for i, p := range w.of {
		add(p, &e.m.of[i])
	}
	got := entropyAt(before) - then/total
	t.Logf("%.3f bits expected, %.3f on the average", expected, got)
	if d := got - expected; d > 0.15 || d < -0.15 {
		t.Errorf("%.3f bits expected, %.3f on the average", expected, got)
	}
}

func TestNothingIsLearntWhereAllIsClear(t *testing.T) {
	e := ensemble(t, tight(), []float64{12, 6}, scene.Scene{SetVolts: scene.Is(0.001)}, Options{})
	if bits := bitsOf(t, e, at(e, e.HealthyA...), 12, 6); slices.Max(bits) > 0.1 {
		t.Errorf("healthy beyond doubt, yet %.3f bits", bits)
	}
	h := slices.IndexFunc(e.Hypotheses, func(h Hypothesis) bool { return slices.Contains(h.Kinds, fault.OpenBranch) })
	if h < 0 || e.Hypotheses[h].Dark != 1 || e.Lights != 6 {
		t.Errorf("an open branch darkens one of six: %+v of %d", e.Hypotheses[h], e.Lights)
	}
	if _, err := e.Information(nil, look.Look{}, []Reading{{Volts: 12}}); err == nil {
		t.Error("a further reading without any uncertainty")
	}
}

// Before anything is measured, the voltage just below the knee of the longest
// chain (3 x 2.9 V) is the one to add; the same voltage again is worth nothing.
func TestTheSecondVoltageIsChosenAhead(t *testing.T) {
	volts := []float64{12, 11, 10, 9, 8.5, 8, 7, 6, 5, 4, 3}
	e := ensemble(t, mixed(0.5), volts, scene.Scene{}, Options{})
	first := []Reading{{Volts: 12, U: 2e-5, GainU: 0.001}}
	var next []Reading
	for _, v := range volts {
		next = append(next, Reading{Volts: v, U: 2e-5, GainU: 0.001})
	}
	bits, err := e.Ahead(first, next)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("bits at %v V: %.2f", volts, bits)
	best := slices.Index(bits, slices.Max(bits))
	if volts[best] < 5 || volts[best] > 9 {
		t.Errorf("%g V is chosen", volts[best])
	}
	if bits[0] > 0.2*bits[best] {
		t.Errorf("12 V again: %.2f bits, %.2f at best", bits[0], bits[best])
	}
	if _, err := e.Ahead([]Reading{{Volts: 2, U: 1e-5}}, next); err == nil {
		t.Error("a first reading at a voltage that wasn't computed")
	}
}
