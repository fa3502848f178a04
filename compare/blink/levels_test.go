package blink

import (
	"math"
	"math/rand/v2"
	"testing"
)

// board is a two-output board as it runs; a negative step is stuck lit, zero
// is dark.
type board struct {
	base, first, second float64
	period, duty        float64
	free                float64 // period of the second output where it runs free
	together            bool
}

func (b board) read(r *rand.Rand, k taking) []Sample {
	steady := b.base
	var lights []*light
	var shift []float64
	for i, a := range []float64{b.first, b.second} {
		period := b.period
		if i == 1 && b.free > 0 {
			period = b.free
		}
		if a < 0 {
			steady -= a
			continue
		}
		lights = append(lights, newLight(period, 0, a, rectangle(b.duty)))
		if b.together {
			shift = append(shift, 0)
		} else {
			shift = append(shift, float64(i)*b.period/2)
		}
	}
	return k.read(r, func(at, w float64) float64 {
		sum := steady
		for i, l := range lights {
			sum += l.mean(at+shift[i], w)
		}
		return sum
	})
}

func TestLevels(t *testing.T) {
	pattern := func(duty float64) Pattern { return Pattern{PeriodS: 2, Duty: duty} }
	alternate := func(duty, a, b float64) Outputs {
		return Outputs{Run: Alternate, Pattern: pattern(duty), BaseA: 0.002, BaseU: 0.0001, BaseKnown: true,
			ExpectedA: []float64{a, b}}
	}
	unknown := func(o Outputs) Outputs { o.BaseKnown, o.BaseA = false, 0; return o }
	cases := []struct {
		name  string
		board board
		want  Outputs
		all   Agreement
		apart bool
		each  []Agreement
		amps  []float64 // negative: not checked
	}{
		{"in turn, unequal, with dark moments", board{base: .002, first: .008, second: .018, period: 2, duty: .3},
			alternate(.3, .008, .018), Agrees, true, []Agreement{Agrees, Agrees}, []float64{.008, .018}},
		{"the same, the other way round", board{base: .002, first: .018, second: .008, period: 2, duty: .3},
			alternate(.3, .008, .018), Agrees, true, []Agreement{Agrees, Agrees}, []float64{.008, .018}},
		{"the same, base unknown", board{base: .002, first: .008, second: .018, period: 2, duty: .3},
			unknown(alternate(.3, .008, .018)), Agrees, true, []Agreement{Agrees, Agrees}, []float64{.008, .018}},
		{"no dark moment, base known", board{base: .002, first: .008, second: .018, period: 2, duty: .5},
			alternate(.5, .008, .018), Agrees, true, []Agreement{Agrees, Agrees}, []float64{.008, .018}},
		{"equal with dark moments", board{base: .002, first: .010, second: .010, period: 2, duty: .3},
			alternate(.3, .010, .010), Agrees, true, []Agreement{Agrees, Agrees}, []float64{.010, .010}},
		{"equal without a dark moment", board{base: .002, first: .010, second: .010, period: 2, duty: .5},
			alternate(.5, .010, .010), CantTell, false, nil, nil},
		{"one weak of two equal", board{base: .002, first: .010, second: .006, period: 2, duty: .3},
			alternate(.3, .010, .010), Agrees, true, []Agreement{Agrees, Agrees}, nil},
		{"second dark", board{base: .002, first: .008, second: 0, period: 2, duty: .3}, alternate(.3, .008, .018),
			Agrees, true, []Agreement{Agrees, SteadyDark}, []float64{.008, 0}},
		{"second lit", board{base: .002, first: .008, second: -.018, period: 2, duty: .3}, alternate(.3, .008, .018),
			Agrees, true, []Agreement{Agrees, SteadyLit}, []float64{.008, -1}},
		{"no dark moment, second dark", board{base: .002, first: .008, second: 0, period: 2, duty: .5},
			alternate(.5, .008, .018), Agrees, true, []Agreement{Agrees, SteadyDark}, []float64{.008, 0}},
		{"all dark", board{base: .002, first: 0, second: 0, period: 2, duty: .3}, alternate(.3, .008, .018),
			SteadyDark, true, []Agreement{SteadyDark, SteadyDark}, nil},
		{"first lit, second dark", board{base: .002, first: -.008, second: 0, period: 2, duty: .3},
			alternate(.3, .008, .018), CantTell, true, []Agreement{SteadyLit, SteadyDark}, nil},
		{"off pace", board{base: .002, first: .008, second: .018, period: 1.1, duty: .3}, alternate(.3, .008, .018),
			OffPace, false, nil, nil},
		{"together", board{base: .002, first: .008, second: .018, period: 2, duty: .3, together: true},
			Outputs{Run: Together, Pattern: pattern(.3), BaseA: .002, BaseU: .0001, BaseKnown: true,
				ExpectedA: []float64{.008, .018}}, Agrees, false, nil, nil},
		{"free", board{base: .002, first: .008, second: .018, period: 1.96, duty: .3, free: 2.09},
			Outputs{Run: Free, Pattern: pattern(.3), BaseA: .002, BaseU: .0001, BaseKnown: true,
				ExpectedA: []float64{.008, .018}}, Agrees, true, []Agreement{Agrees, Agrees}, []float64{.008, .018}},
		{"free, one dark", board{base: .002, first: .008, second: 0, period: 1.96, duty: .3},
			Outputs{Run: Free, Pattern: pattern(.3), BaseA: .002, BaseU: .0001, BaseKnown: true,
				ExpectedA: []float64{.008, .018}}, Agrees, true, []Agreement{Agrees, SteadyDark}, []float64{.008, -1}},
	}
	n := few(2)
	if long() {
		n = 20
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			for mi, k := range meters {
				k.span = 10
				if c.board.free > 0 || c.want.Run == Free {
					k.span = 45
				}
				k.noise = 0.00005
				wrong, cant, far := 0, 0, 0
				for i := range n {
					r := seeded(uint64(mi), uint64(i))
					known := k.known()
					if i%2 == 1 {
						known.NoiseA = 0
					}
					s := Levels(c.board.read(r, k), known, c.want)
					bad := s.Agreement != c.all || s.Apart != c.apart
					var levels []float64
					for j, o := range s.Outputs {
						levels = append(levels, o.Amps, o.U)
						if c.each != nil && o.Agreement != c.each[j] {
							bad = true
						}
						if c.amps != nil && c.amps[j] >= 0 && math.Abs(o.Amps-c.amps[j]) > 3*o.U+0.00003 {
							far++
							t.Logf("meter %d trial %d: output %d %.5f+-%.5f A, chi %.2f duty %.3f+-%.3f P %.4f", mi, i,
								j+1, o.Amps, o.U, s.Chi, s.Duty, s.DutyU, s.PeriodS)
						}
					}
					if c.each != nil && len(s.Outputs) != len(c.each) {
						bad = true
					}
					if !bad {
						continue
					}
					t.Logf("meter %d trial %d: %v, apart %v, %s, %v %.4f, chi %.2f, P %.3f duty %.3f", mi, i,
						s.Agreement, s.Apart, s.Why, s.Outputs, levels, s.Chi, s.PeriodS, s.Duty)
					if s.Agreement == CantTell {
						cant++
					} else {
						wrong++
					}
				}
				if wrong*50 > n || cant*10 > n || far*10 > n {
					t.Errorf("meter %d: %d wrong, %d can't tell, %d levels beyond three uncertainties of %d", mi,
						wrong, cant, far, n)
				}
			}
		})
	}
}

// Levels that either of two like outputs could have are read, with both ways to
// give them; where one of like outputs stays lit or dark, that much is said.
func TestLikeOutputsInTurn(t *testing.T) {
	like := Outputs{Run: Alternate, Pattern: Pattern{PeriodS: 2, Duty: .3}, BaseA: 0.002, BaseU: 0.0001,
		BaseKnown: true, ExpectedA: []float64{.010, .010}}
	nonstop := like
	nonstop.Pattern.Duty = .5
	for _, c := range []struct {
		name  string
		board board
		want  Outputs
		other bool // another way to give the levels
		odd   Agreement
	}{
		{"a little apart", board{base: .002, first: .0106, second: .0094, period: 2, duty: .3}, like, true,
			NotCompared},
		{"one weak", board{base: .002, first: .010, second: .006, period: 2, duty: .3}, like, true, NotCompared},
		{"one lit", board{base: .002, first: .010, second: -.010, period: 2, duty: .3}, like, false, SteadyLit},
		{"one dark", board{base: .002, first: .010, second: 0, period: 2, duty: .3}, like, false, SteadyDark},
		{"one lit without a dark moment", board{base: .002, first: .010, second: -.010, period: 2, duty: .5}, nonstop,
			false, SteadyLit},
		{"one overloaded without a dark moment", board{base: .002, first: .010, second: -.016, period: 2, duty: .5},
			nonstop, false, SteadyLit},
		{"one dark without a dark moment", board{base: .002, first: .010, second: 0, period: 2, duty: .5}, nonstop,
			false, SteadyDark},
	} {
		for mi, k := range meters {
			k.span, k.noise = 10, 0.00005
			s := Levels(c.board.read(seeded(uint64(mi), 7), k), k.known(), c.want)
			if !s.Apart || s.OddOne != c.odd || (len(s.Else) > 0) != c.other {
				t.Errorf("%s, meter %d: %s (%s), odd one %q, %d other ways", c.name, mi, s.Agreement, s.Why, s.OddOne,
					len(s.Else))
			}
		}
	}
}
