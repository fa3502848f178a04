package budget

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
)

// shape is the distribution of one independent factor; each has mean 0 and
// standard deviation 1.
type shape uint8

const (
	rectangular shape = iota // JCGM 100:2008, 4.3.7
	normal
)

// term says that input moves by gain when factor stands at one standard deviation.
type term struct {
	input, factor int
	gain          float64
}

// law is the joint distribution of the inputs of a model: each input is a sum
// of independent factors. Any covariance matrix can be written so (its Cholesky
// rows are the gains). Both ways of propagation below read the same law, so
// they can't disagree about what was assumed.
type law struct {
	inputs int
	shapes []shape // one for each factor
	terms  []term

	first   []int  // by input, in byInput; nil: not yet asked for
	byInput []term // the terms in the order of their inputs
	sum     []float64
	hit     []int // what sum holds, which is all 0 between calls
}

// newLaw starts a law for a number of inputs, all without uncertainty.
func newLaw(inputs int) *law { return &law{inputs: inputs} }

// factor adds an independent factor and returns its number.
func (l *law) factor(s shape) int {
	l.shapes = append(l.shapes, s)
	return len(l.shapes) - 1
}

// add lets an input depend on a factor. A gain of zero is left out.
func (l *law) add(input, factor int, gain float64) {
	if gain != 0 {
		l.terms = append(l.terms, term{input, factor, gain})
	}
}

// of lists what an input depends on.
func (l *law) of(input int) []term {
	if l.first == nil {
		l.first = make([]int, l.inputs+1)
		for _, t := range l.terms {
			l.first[t.input+1]++
		}
		for i := range l.inputs {
			l.first[i+1] += l.first[i]
		}
		at := slices.Clone(l.first)
		l.byInput = make([]term, len(l.terms))
		for _, t := range l.terms {
			l.byInput[at[t.input]] = t
			at[t.input]++
		}
	}
	return l.byInput[l.first[input]:l.first[input+1]]
}

// linear propagates through the sensitivities of an output, each for one input
// (JCGM 100:2008, 5.1.2 and 5.2.2): it returns the variance of the output and, by
// factor, what each adds to it. One goroutine at a time may ask.
func (l *law) linear(c []entry) (v float64, byFactor []entry) {
	if l.sum == nil {
		l.sum = make([]float64, len(l.shapes))
	}
	hit := l.hit[:0]
	for _, e := range c {
		for _, t := range l.of(e.at) {
			if l.sum[t.factor] == 0 {
				hit = append(hit, t.factor)
			}
			l.sum[t.factor] += e.c * t.gain
		}
	}
	l.hit, byFactor = hit, make([]entry, 0, len(hit))
	for _, f := range hit {
		if g := l.sum[f]; g != 0 {
			v += g * g
			byFactor = append(byFactor, entry{f, g * g})
		}
		l.sum[f] = 0
	}
	return v, byFactor
}

// sampler draws from a law. Trial m of a seed is always the same draw, whatever
// was drawn before: alternatives are compared with common random numbers.
type sampler struct {
	law  *law
	seed uint64
	pcg  *rand.PCG
	rnd  *rand.Rand
	z    []float64
}

func newSampler(l *law, seed uint64) *sampler {
	p := rand.NewPCG(seed, 0)
	return &sampler{law: l, seed: seed, pcg: p, rnd: rand.New(p), z: make([]float64, len(l.shapes))}
}

// draw fills dev, one deviation for each input, for trial m. It doesn't allocate.
func (s *sampler) draw(m int, dev []float64) {
	// The second word is spread by an odd constant, so that neighbouring trials start far apart.
	s.pcg.Seed(s.seed, (uint64(m)+1)*0x9e3779b97f4a7c15)
	for k, sh := range s.law.shapes {
		if sh == normal {
			s.z[k] = s.rnd.NormFloat64()
		} else {
			s.z[k] = math.Sqrt(3) * (2*s.rnd.Float64() - 1)
		}
	}
	clear(dev)
	for _, t := range s.law.terms {
		dev[t.input] += t.gain * s.z[t.factor]
	}
}

// model of a measurement: outputs from deviations of the inputs from their
// nominal values. It fills out and must not allocate.
type function func(dev, out []float64) error

// monteCarlo propagates a law by trials (JCGM 101:2008, 7.2 to 7.6). from is
// the number of the first trial. The result holds one row of trials for each
// output. Each of fs, the same model, works in a goroutine of its own.
func monteCarlo(l *law, seed uint64, from, trials, outputs int, fs ...function) ([][]float64, error) {
	flat := make([]float64, trials*outputs)
	rows := make([][]float64, outputs)
	for k := range rows {
		rows[k] = flat[k*trials : (k+1)*trials]
	}
	err := shared(trials, len(fs), func(worker, first, end int) error {
		s := newSampler(l, seed)
		dev, out := make([]float64, l.inputs), make([]float64, outputs)
		for m := first; m < end; m++ {
			s.draw(from+m, dev)
			if err := fs[worker](dev, out); err != nil {
				return err
			}
			for k, y := range out {
				if math.IsNaN(y) || math.IsInf(y, 0) {
					return fmt.Errorf("trial %d: output %d is no number", from+m, k)
				}
				rows[k][m] = y
			}
		}
		return nil
	})
	return rows, err
}

// moved is what an input can move: a function that finds as much of the outputs,
// and which they are; nil: all of them.
type moved func(input int) (f function, outs []int)

// sensitivities computes df/dx for every output and input by central
// differences over step[i] about rest, where nothing deviates (JCGM 100:2008,
// 5.1.3 note 2). A step of zero leaves that sensitivity at zero. Where like[i]
// is another, earlier input, input i acts exactly as that one does and is not
// tried (like may be nil). nominal is the outputs at rest. Each of by works in a
// goroutine of its own.
func sensitivities(step []float64, like []int, nominal []float64, by ...moved) (*sens, error) {
	cols, outsOf := make([][]float64, len(step)), make([][]int, len(step))
	all := make([]int, len(nominal))
	for k := range all {
		all[k] = k
	}
	err := shared(len(step), len(by), func(worker, first, end int) error {
		dev := make([]float64, len(step))
		up, down := slices.Clone(nominal), slices.Clone(nominal)
		for i := first; i < end; i++ {
			h := step[i]
			if h == 0 || same(like, i) {
				continue
			}
			f, outs := by[worker](i)
			if outs == nil {
				outs = all
			}
			dev[i] = h
			if err := f(dev, up); err != nil {
				return err
			}
			dev[i] = -h
			if err := f(dev, down); err != nil {
				return err
			}
			dev[i] = 0
			cols[i], outsOf[i] = make([]float64, len(outs)), outs
			for q, k := range outs {
				cols[i][q] = (up[k] - down[k]) / (2 * h)
				up[k], down[k] = nominal[k], nominal[k]
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return newSens(len(nominal), step, like, cols, outsOf), nil
}

// shared cuts n pieces of work into as many runs as there are workers, each in a
// goroutine of its own. The error is that of the earliest run that has one.
func shared(n, workers int, do func(worker, first, end int) error) error {
	errs := make([]error, workers)
	var all sync.WaitGroup
	for w := range workers {
		all.Add(1)
		go func() {
			defer all.Done()
			errs[w] = do(w, n*w/workers, n*(w+1)/workers)
		}()
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
