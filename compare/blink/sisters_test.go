package blink

import "testing"

// TestSisterPaces has boards with two paces that are near each other: a light
// at either must agree with its own, and not be taken for its sister.
func TestSisterPaces(t *testing.T) {
	n := few(2)
	if long() {
		n = 60
	}
	single := func(period, duty float64) []float64 { return []float64{duty * period, (1 - duty) * period} }
	pairs := []struct {
		name  string
		paces [2][]float64 // lit and dark times
	}{
		{"1.0 s lit .3, 1.1 s lit .5", [2][]float64{single(1, .3), single(1.1, .5)}},
		{"1.0 s lit .3, 1.0 s lit .5", [2][]float64{single(1, .3), single(1, .5)}},
		{"1.0 s lit .3, 1.2 s lit .3", [2][]float64{single(1, .3), single(1.2, .3)}},
		{"one flash, two flashes of the same period and duty", [2][]float64{single(1, .3), {.15, .2, .15, .5}}},
		{"two flashes, three flashes of the same period",
			[2][]float64{{.15, .2, .15, 1.1}, {.12, .2, .12, .2, .12, .84}}},
	}
	for _, p := range pairs {
		for mi, k := range meters {
			if k.spread == 0 {
				k.spread = 0.3 // a board's paces are read at uneven spacing
			}
			for _, periods := range []float64{3.1, 15} {
				k.span = periods * max(total(p.paces[0]), total(p.paces[1]))
				own, taken, cant, off := 0, 0, 0, 0
				for i := range n {
					r := seeded(uint64(60+mi), uint64(i))
					which := i % 2
					ld := append([]float64(nil), p.paces[which]...)
					// Each time is off by what keeps period and duty within half their tolerance.
					for j := range ld {
						ld[j] *= 1 + 0.02*(2*r.Float64()-1)
					}
					l := timed(ld, 1, .001, .020)
					s := k.read(r, l.mean)
					at, each := whichOf(s, k.known(), []Pattern{{Flashes: p.paces[0]}, {Flashes: p.paces[1]}},
						planned(.020, .001))
					if each[which].Agreement == Agrees {
						own++
					}
					switch {
					case at == which:
					case at >= 0:
						taken++
						t.Logf("%s, %g/s, %.1f periods, trial %d: pace %d taken for its sister: %s", p.name, k.rate,
							periods, i, which+1, each[at].Why)
					default:
						cant++
					}
					if a := each[which].Agreement; a != Agrees && a != CantTell {
						off++
						t.Logf("%s, %g/s, %.1f periods, trial %d: its own pace %d: %v, %s", p.name, k.rate, periods, i,
							which+1, a, each[which].Why)
					}
				}
				t.Logf("%s, %g/s window %g, %.1f periods: agrees with its own %d, taken for its sister %d, can't "+
					"tell which %d, own called off pace %d, of %d",
					p.name, k.rate, k.window, periods, own, taken, cant, off, n)
				if taken*50 > n || off*50 > n || own*10 < 8*n {
					t.Errorf("%s, %g/s: own %d, taken for the sister %d, off pace %d of %d", p.name, k.rate, own,
						taken, off, n)
				}
			}
		}
	}
}

func TestWhichRefuses(t *testing.T) {
	k := meters[2]
	k.span = 10
	s := k.read(seeded(1, 1), newLight(1, .001, .020, rectangle(.3)).mean)
	if at, each := whichOf(s, k.known(), nil, Tolerance{}); at != -1 || len(each) != 0 {
		t.Errorf("no paces: %d, %v", at, each)
	}
	twice := []Pattern{{PeriodS: 1, Duty: .3}, {PeriodS: 1.02, Duty: .31}}
	if at, each := whichOf(s, k.known(), twice, Tolerance{}); at != -1 {
		t.Errorf("two paces within each other's tolerance: sure of %d, %+v", at, each)
	}
}

// whichOf compares a trace with each of a board's paces and says which of them
// it is. Each holds the answers of [Match] in the order of paces, at is the
// index of the pace that agrees, or -1: none does, several do, or one that
// can't be ruled out fits as well. A board whose button was pressed once too
// often is so told from one whose timing is off.
func whichOf(s []Sample, k Known, paces []Pattern, tol Tolerance) (at int, each []Matched) {
	each = make([]Matched, len(paces))
	at = -1
	for i, p := range paces {
		each[i] = Match(s, k, p, tol)
	}
	for i := range each {
		if each[i].Agreement != Agrees {
			continue
		}
		if at >= 0 {
			return -1, each
		}
		at = i
	}
	return at, each
}
