package returns

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/fault"
)

// after how many readings the table says who is right.
var countsOfTable = []int{2, 3, 4, 6, 12}

// way is one way of choosing the next voltage.
type way struct {
	name   string
	choose func(q *Search, k int, r *rand.Rand) float64
	want   []float64 // of the prototype, by countsOfTable
	median float64
}

func mostInformation(q *Search, _ int, _ *rand.Rand) float64 {
	v, _, err := q.choose()
	if err != nil {
		panic(err)
	}
	if v == 0 { // nothing to be learned: any will do
		return q.left[len(q.left)-1].set
	}
	return v
}

var ways = []way{
	{"most information", mostInformation, []float64{.42, .82, .85, .85, .92}, 3.5},
	{"random order", func(q *Search, _ int, r *rand.Rand) float64 { return q.left[r.IntN(len(q.left))].set },
		[]float64{.42, .58, .67, .82, .90}, 7},
	{"top-down by 0.75 V", func(_ *Search, k int, _ *rand.Rand) float64 { return 12 - 0.75*float64(k) },
		[]float64{.28, .30, .37, .50, .85}, 12},
}

// follow reads one return in one way, 12 readings from 12 V on, and tells after
// each whether the right place is the likeliest; sure is after how many it is
// likelier than 0.9, 13 where it never is.
func follow(t testing.TB, p population, w way, y []float64, f trueFault, r *rand.Rand) (right []bool, sure int) {
	t.Helper()
	pr := evenPriors()
	// It came back; pairs are left out: they change no figure of the table (tried
	// with 240 faults) and take six times as long.
	pr.Nothing, pr.Two = 0.05, 0
	q := p.lib.over(referencePlan(p.ls), p.s, DefaultNuisances().SameMeter(), pr, 4)
	sure = 13
	at := 12.0
	for k := 1; k <= 12; k++ {
		if err := q.Read(Probe{Volts: at, Amps: y[slices.Index(p.lib.Volts, at)], DwellS: 4}); err != nil {
			t.Fatal(err)
		}
		d, err := q.Standing()
		if err != nil {
			t.Fatal(err)
		}
		top := d.Ranked[0]
		hit := top.Place == f.place && top.Second == ""
		right = append(right, hit)
		if hit && top.P > nameAbove && sure == 13 {
			sure = k
		}
		if k < 12 {
			at = w.choose(q, k, r)
		}
	}
	return right, sure
}

// The prototype's figures (numpy, 60 faults, curves as built without noise, one
// meter): the right group first after 2, 3, 4, 6 and 12 readings, and how many
// readings until it is likelier than 0.9. The choice by information must reach
// them within 0.04, and three binomial standard deviations more where few
// faults run; the other two stand beside them.
func TestTheNextVoltageAgainstThePrototype(t *testing.T) {
	if raceDetector {
		t.Skip("statistics: without -race")
	}
	faults, models := 16, 3
	if long() {
		faults, models = 240, 24
	}
	volts := grid(2, 12.5, 0.25)
	draw := rand.New(rand.NewPCG(31, 37))
	ps := idealPopulations(t, models, draw, volts)
	hits, sure := make([][]int, len(ways)), make([][]int, len(ways))
	for k := range ways {
		hits[k] = make([]int, 13)
	}
	for i := range faults {
		p, f := ps[i%len(ps)], drawFault(draw)
		y := sameBench().sweep(p.ls, volts, draw, nil, f).Amps
		for k, w := range ways {
			right, n := follow(t, p, w, y, f, draw)
			sure[k] = append(sure[k], n)
			for j, ok := range right {
				if ok {
					hits[k][j+1]++
				}
			}
		}
	}
	t.Logf("%d faults: right group after 2 / 3 / 4 / 6 / 12 readings, median readings to P > .9", faults)
	medians := make([]float64, len(ways))
	for k, w := range ways {
		slices.Sort(sure[k])
		medians[k] = float64(sure[k][(faults-1)/2]+sure[k][faults/2]) / 2
		var here, there []string
		for j, n := range countsOfTable {
			here = append(here, fmt.Sprintf("%.2f", float64(hits[k][n])/float64(faults)))
			there = append(there, fmt.Sprintf("%.2f", w.want[j]))
		}
		ever := 0
		for _, n := range sure[k] {
			if n <= 12 {
				ever++
			}
		}
		t.Logf("  %-20s here      %s   %4.1f (of those that come to it, %.2f of all: %d)", w.name,
			strings.Join(here, " / "), medians[k],
			float64(ever)/float64(faults), sure[k][max(0, (ever-1)/2)])
		t.Logf("  %-20s prototype %s   %4.1f", "", strings.Join(there, " / "), w.median)
	}
	for j, n := range countsOfTable {
		slack := 0.04
		if !long() {
			slack += 3 * sd(ways[0].want[j], faults)
		}
		if got := float64(hits[0][n]) / float64(faults); got < ways[0].want[j]-slack {
			t.Errorf("by information: %.2f right after %d readings, prototype %.2f", got, n, ways[0].want[j])
		}
	}
	if spare := 3.0; medians[0] > medians[1]+spare || medians[0] > medians[2]+spare || long() &&
		medians[0] > min(medians[1], medians[2]) {
		t.Errorf("the choice by information takes longer than without: %v readings", medians)
	}
}

// idealPopulations are models with curves as built that carry no noise.
func idealPopulations(t testing.TB, n int, r *rand.Rand, volts []float64) []population {
	t.Helper()
	var out []population
	for range n {
		ls := built(r)
		s := asBuilt(ls, volts, r)
		for i, l := range ls {
			for k, v := range volts {
				s.Groups[i].Lit.Amps[k] = l.draw(v, 0, trueFault{})
			}
		}
		lib, err := NewLibrary(referencePlan(ls), s, "", volts, evenPriors())
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, population{ls, s, lib})
	}
	return out
}

// What one choice of the next voltage costs: the prototype (numpy) took 3.8 ms
// in the mean and 25 ms at most, for 42 candidates. "standing" is what comes
// before it: all single faults and pairs weighed after the reading.
func BenchmarkNextVoltage(b *testing.B) {
	volts := grid(2, 12.5, 0.25)
	r := testRand(43)
	p := idealPopulations(b, 1, r, volts)[0]
	y := sameBench().sweep(p.ls, volts, r, nil, trueFault{"red5", fault.OpenBranch, 1}).Amps
	for _, n := range []int{1, 2, 4, 8} {
		pr := evenPriors()
		pr.Nothing = 0.05
		q := p.lib.over(referencePlan(p.ls), p.s, DefaultNuisances().SameMeter(), pr, 4)
		at := 12.0
		for k := range n {
			if k > 0 {
				at = mostInformation(q, k, nil)
			}
			if err := q.Read(Probe{Volts: at, Amps: y[slices.Index(volts, at)]}); err != nil {
				b.Fatal(err)
			}
		}
		if err := q.weigh(); err != nil {
			b.Fatal(err)
		}
		b.Run(fmt.Sprintf("choice after %d, %d alive", n, len(q.post.alive(q.l))), func(b *testing.B) {
			for b.Loop() {
				if _, _, err := q.choose(); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(fmt.Sprintf("standing after %d", n), func(b *testing.B) {
			for b.Loop() {
				q.post = nil
				if _, err := q.Standing(); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// A voltage is read once, one that can't be read is dropped, nonsense is refused;
// meter and leads take their part of what the supply is set to.
func TestASearchTakesReadings(t *testing.T) {
	volts := grid(2, 12, 0.5)
	r := testRand(47)
	p := populations(t, 1, r, volts)[0]
	q, err := NewSearch(referencePlan(p.ls), p.s, &Return{DwellS: 4}, volts, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, _, err := q.Next(); err == nil {
		t.Error("a voltage was chosen before anything was read")
	}
	for _, x := range []Probe{{Volts: -1, Amps: 1}, {Volts: 0, Amps: 0}} {
		if q.Read(x) == nil {
			t.Errorf("%+v was taken", x)
		}
	}
	const ohms = 0.5
	f := trueFault{"red5", fault.OpenWire, 0}
	read := func(set float64) {
		t.Helper()
		v := set
		for range 30 {
			v = set - ohms*mean(p.ls, v, 0, f)
		}
		if err := q.Read(Probe{SetVolts: set, Volts: v, Amps: mean(p.ls, v, 0, f), DwellS: 4}); err != nil {
			t.Fatal(err)
		}
	}
	read(12)
	if q.Read(q.reads[0]) == nil {
		t.Error("the same reading was taken twice")
	}
	seen := map[float64]bool{12: true}
	for range len(volts) {
		set, bits, more, err := q.Next()
		if err != nil {
			t.Fatal(err)
		}
		if !more {
			break
		}
		if seen[set] || !slices.Contains(volts, set) || bits < leastBits {
			t.Fatalf("%.2f V chosen, %.2f bits", set, bits)
		}
		seen[set] = true
		if len(seen) == 2 {
			q.Drop(set)
			continue
		}
		read(set)
	}
	d, err := q.Standing()
	if err != nil || d.Ranked[0].Place != f.place {
		t.Errorf("%v, first %s (%.2f), after %d readings", err, d.Ranked[0].Place, d.Ranked[0].P, len(q.reads))
	}
	if got := q.HealthyA(12); got < 0.4 || got > 0.6 {
		t.Errorf("it drew %g A when it left", got)
	}
}
