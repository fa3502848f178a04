package returns

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"sealworthy/compare/fault"
	"sealworthy/compare/linear"
)

// What is assumed of the noise of points, and of how far the sensitivities are off,
// may be too much or too little by these factors, each as probable as the next: some
// benches read five times as quietly as others (common practice, no source).
var (
	noiseScales = []float64{0.25, 0.35, 0.5, 0.7, 1, 1.4, 2}
	shapeScales = []float64{0.25, 0.5, 1, 1.5}
)

// settle brings both to what a sweep says itself: by its own scatter about whatever
// may be wrong, each hypothesis weighing by how well it fits. What is taken is the
// root of the mean square over the scales, so that few readings leave what was assumed.
// noise is that of the points under given nuisances.
func (l *Library) settle(y []float64, noise func(Nuisances) []float64, n Nuisances, pr fault.ReturnPriors,
	known evidence) (Nuisances, error) {
	shapes := shapeScales
	if n.ShapeRel <= 0 {
		shapes = []float64{1}
	}
	dev := minus(y, l.expected(n))
	var ln, byNoise, byShape []float64
	for _, a := range noiseScales {
		for _, b := range shapes {
			m := n
			m.NoiseBy *= a
			m.ShapeRel *= b
			x, err := l.evidence(dev, noise(m), m, pr, known)
			if err != nil {
				return n, err
			}
			ln, byNoise, byShape = append(ln, x), append(byNoise, a), append(byShape, b)
		}
	}
	total, onNoise, onShape := floats.LogSumExp(ln), 0.0, 0.0
	for i, x := range ln {
		p := math.Exp(x - total)
		onNoise += p * byNoise[i] * byNoise[i]
		onShape += p * byShape[i] * byShape[i]
	}
	n.NoiseBy *= math.Sqrt(onNoise)
	n.ShapeRel *= math.Sqrt(onShape)
	return n, nil
}

// evidence is how probable a deviation from healthy is, over all single hypotheses:
// its logarithm, less what is the same for all nuisances.
func (l *Library) evidence(dev, noise []float64, n Nuisances, pr fault.ReturnPriors, known evidence) (float64, error) {
	var js [][]float64
	for _, x := range l.nuisances(n) {
		js = append(js, x.j)
	}
	w, err := newWhitener(noise, js, l.discrepancy(n))
	if err != nil {
		return 0, err
	}
	r := w.of(dev)
	ln := []float64{math.Log(pr.Nothing) - linear.Dot(r, r)/2 + known.of(Hypothesis{Class: fault.Nothing})}
	for _, h := range l.Hypotheses {
		x := whitened{z: w.of(h.DeltaA)}
		for _, v := range h.extra {
			x.w = append(x.w, w.of(v))
		}
		ln = append(ln, math.Log(h.Prior)+single(r, x)+known.of(h))
	}
	return floats.LogSumExp(ln) - w.logDet/2, nil
}
