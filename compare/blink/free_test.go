package blink

import (
	"math"
	"math/rand/v2"
	"testing"
)

// freeBoard is a board whose two outputs run free of each other.
func freeBoard(r *rand.Rand, k taking, o *Outputs, does [2]Agreement) []Sample {
	steady := o.BaseA
	var lights []*light
	for i, a := range o.ExpectedA {
		period := o.Pattern.PeriodS * (1 + o.Tolerance.PeriodRel*(2*r.Float64()-1))
		duty := o.Pattern.Duty + 0.02*(2*r.Float64()-1)
		switch does[i] {
		case Agrees:
			lights = append(lights, newLight(period, 0, a, rectangle(duty)))
		case SteadyLit:
			steady += a
		}
	}
	shift := 10 * r.Float64()
	return k.read(r, func(at, w float64) float64 {
		sum := steady
		for i, l := range lights {
			sum += l.mean(at+shift*float64(i), w)
		}
		return sum
	})
}

// TestFreeOutputs separates outputs of one plan and near periods, on traces of
// 20 s and of the length that PartingS asks for.
func TestFreeOutputs(t *testing.T) {
	n := few(2)
	if long() {
		n = 60
	}
	states := [][2]Agreement{{Agrees, Agrees}, {Agrees, Agrees}, {Agrees, SteadyDark}, {SteadyDark, Agrees},
		{Agrees, SteadyLit}, {SteadyLit, Agrees}}
	for _, k := range []taking{{4, .2, .3, 0, .005, .0001}, {10, .09, .1, 0, .005, .0001},
		{20, .045, .1, 0, .005, .0001}} {
		for _, draws := range [][]float64{{.008, .018}, {.010, .010}, {.008, .010}} {
			o := Outputs{Run: Free, Pattern: Pattern{PeriodS: 1.2, Duty: .3},
				Tolerance: Tolerance{PeriodRel: .05, DutyAbs: .05},
				BaseA:     .002, BaseU: .0001, BaseKnown: true, ExpectedA: draws}
			asked, why := PartingS(k.known(), o, 0.9)
			if why != "" {
				t.Fatal(why)
			}
			for _, span := range []float64{20, asked} {
				k.span = span
				running, parted, settled, wrong, levels, far := 0, 0, 0, 0, 0, 0
				for i := range n {
					r := seeded(31, uint64(i))
					does := states[i%len(states)]
					s := Levels(freeBoard(r, k, &o, does), k.known(), o)
					both := does[0] == Agrees && does[1] == Agrees
					if both {
						running++
					}
					if !s.Apart || s.Agreement == CantTell {
						continue
					}
					settled++
					if both {
						parted++
					}
					for j, x := range s.Outputs {
						if x.Agreement != does[j] && x.Agreement != CantTell {
							// Two of a kind: which of them is dark or lit is anyone's guess.
							if draws[0] == draws[1] && x.Agreement == does[1-j] {
								continue
							}
							wrong++
							t.Logf("trial %d: output %d %v, is %v; %s", i, j+1, x.Agreement, does[j], s.Why)
						}
						if does[j] == Agrees && x.Agreement == Agrees && draws[0] != draws[1] {
							levels++
							if math.Abs(x.Amps-draws[j]) > 3*x.U+.00003 {
								far++
							}
						}
					}
				}
				t.Logf("%g/s window %g, draws %v, trace %.0f s (asked for %.0f s): parted %d of %d that both run; "+
					"settled %d, wrong %d of %d; levels beyond 3u %d of %d",
					k.rate, k.window, draws, span, asked, parted, running, settled, wrong, n, far, levels)
				if wrong*100 > n || far*50 > levels+50 {
					t.Errorf("%d outputs wrong of %d, %d of %d levels beyond three uncertainties", wrong, n, far,
						levels)
				}
				if z := shortfall(parted, running, 0.9, 1e6); span == asked && z > chance {
					t.Errorf("a trace of %.0f s parts %d of %d, %.1f standard deviations below the 0.9 asked for",
						span, parted, running, z)
				}
			}
		}
	}
}

// TestOutputsInStep has outputs that PartingS can't promise: the same period,
// and lit at about the same moments.
func TestOutputsInStep(t *testing.T) {
	n := few(3)
	if long() {
		n = 60
	}
	for mi, k := range meters {
		k.span, k.noise = 30, .0001
		sure := 0
		for i := range n {
			r := seeded(uint64(40+mi), uint64(i))
			period := 1.2 * (1 + .05*(2*r.Float64()-1))
			a, b := newLight(period, .001, .009, rectangle(.3)), newLight(period, .001, .019, rectangle(.3))
			shift := 0.04 * period * (2*r.Float64() - 1)
			s := Levels(k.read(r, func(at, w float64) float64 {
				return a.mean(at, w) + b.mean(at+shift, w)
			}), k.known(),
				Outputs{Run: Free, Pattern: Pattern{PeriodS: 1.2, Duty: .3}, BaseA: .002, BaseU: .0001,
					BaseKnown: true, ExpectedA: []float64{.008, .018}})
			if s.Apart && s.Agreement == Agrees {
				for _, x := range s.Outputs {
					if x.Agreement == SteadyDark || x.Agreement == SteadyLit {
						sure++
						t.Logf("trial %d: %+v", i, s.Outputs)
						break
					}
				}
			}
		}
		t.Logf("%g/s: sure of a fault that isn't there %d of %d", k.rate, sure, n)
		if sure*50 > n {
			t.Errorf("%d of %d in step called stuck", sure, n)
		}
	}
}

func TestPartingS(t *testing.T) {
	k := Known{WindowS: .09}
	o := Outputs{Pattern: Pattern{PeriodS: 1, Duty: .3}, Tolerance: Tolerance{PeriodRel: .05, DutyAbs: .05}}
	last := 0.0
	for _, share := range []float64{0.5, 0.7, 0.9, 0.95} {
		got, why := PartingS(k, o, share)
		if why != "" || got < last {
			t.Errorf("share %g: %g s, %q, less than %g s for a smaller share", share, got, why, last)
		}
		t.Logf("share %g: %.0f s", share, got)
		last = got
	}
	three := o
	three.ExpectedA = []float64{.01, .01, .01}
	if got, _ := PartingS(k, three, 0.9); got < last/3 {
		t.Errorf("three outputs need %g s, two %g s for 0.95", got, last)
	}
	tight := o
	tight.Tolerance.PeriodRel = .01
	if a, _ := PartingS(k, tight, 0.9); a < 2*last/3 {
		t.Errorf("periods five times as near need %g s only", a)
	}
	for name, bad := range map[string]func() (float64, string){
		"share of 1":  func() (float64, string) { return PartingS(k, o, 1) },
		"no pattern":  func() (float64, string) { return PartingS(k, Outputs{}, .9) },
		"wide window": func() (float64, string) { return PartingS(Known{WindowS: .6}, o, .9) },
	} {
		if got, why := bad(); why == "" || got != 0 {
			t.Errorf("%s: %g s, %q", name, got, why)
		}
	}
	// Half of all phase differences, drifting once round, are beyond a quarter.
	if got := apartFor(0.1, 1, 0.25); math.Abs(got-0.5) > 1e-12 {
		t.Errorf("once round: %g", got)
	}
	if got := apartFor(-0.2, 0.4, 0.1); math.Abs(got-0.5) > 1e-12 {
		t.Errorf("through the middle: %g", got)
	}
}

// TestInStepTheSumIsRead: of outputs that run too much in step to be separated their sum
// is read, as large as it is; of one alone it's never that of both.
func TestInStepTheSumIsRead(t *testing.T) {
	n := few(20)
	if long() {
		n = 200
	}
	const a, b, base = .009, .019, .002
	for mi, k := range meters {
		k.span, k.noise = 30, .0001
		read, far, one, mistaken := 0, 0, 0, 0
		for i := range n {
			r := seeded(uint64(60+mi), uint64(i))
			period := 1.2 * (1 + .05*(2*r.Float64()-1))
			shift := 0.08 * period * (2*r.Float64() - 1)
			dark := i%2 == 1
			x, y := newLight(period, 0, a, rectangle(.3)), newLight(period, 0, b, rectangle(.3))
			s := Levels(k.read(r, func(at, w float64) float64 {
				if dark {
					return base + y.mean(at+shift, w)
				}
				return base + x.mean(at, w) + y.mean(at+shift, w)
			}), k.known(), Outputs{Run: Free, Pattern: Pattern{PeriodS: 1.2, Duty: .3},
				BaseA: base, BaseU: .0001, BaseKnown: true, ExpectedA: []float64{a, b}})
			switch sums := !s.Apart && s.Agreement == Agrees && s.SumA > 0; {
			case dark:
				one++
				if sums && s.SumA > b+a/2 {
					mistaken++
					t.Logf("%g/s, trial %d: one alone sums up to %.2f mA", k.rate, i, s.SumA*1e3)
				}
			case sums:
				read++
				if math.Abs(s.SumA-a-b) > 3*s.SumU+.00003 {
					far++
					t.Logf("%g/s, trial %d: %.3f mA ± %.3f", k.rate, i, s.SumA*1e3, s.SumU*1e3)
				}
			}
		}
		t.Logf("%g/s window %g: sums read %d of %d, beyond 3 u %d; of one alone taken for both %d of %d",
			k.rate, k.window, read, n-one, far, mistaken, one)
		if slow := k.window > .3*1.2/windowsLit; (read == 0) != slow || far*50 > read+50 || mistaken > 0 {
			t.Errorf("%g/s: %d sums read, %d far off, %d of one alone", k.rate, read, far, mistaken)
		}
	}
}
