package budget

import (
	"bytes"
	"encoding/json"
	"fmt"
	"runtime"
	"testing"
	"time"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

// dock is a plan of n groups on joints of eight: strips, lamps, chains, and of
// each ten two on a board of their own.
func dock(n int) *plan.Plan {
	p := bench()
	p.Joints[0].Holds = nil
	p.Jacks[0].AdapterAmps = 100
	for i := 0; len(p.Groups) < n; i++ {
		joint := fmt.Sprintf("quay %d", i/8+1)
		if i%8 == 0 {
			p.Joints = append(p.Joints, plan.Joint{Name: joint, From: "keel", Wire: wireOf(0.05)})
		}
		name := fmt.Sprintf("lights %d", i+1)
		switch i % 9 {
		case 8:
			board := fmt.Sprintf("beacon %d", i+1)
			b := plan.Board{Name: board, Part: "two-output blinker", Joint: joint, Closure: "hull", Wire: wireOf(0.1),
				Standing: plan.Value{Nominal: 0.004, HalfWidth: 0.001}, Run: plan.Alternate, LowVolts: 6,
				HighVolts: 15, Pos: plan.Pos{Line: 40},
				Paces: []plan.Pace{{Name: "slow", PeriodS: 2, Duty: 0.3, PeriodRelTol: 0.05, DutyTol: 0.03}}}
			for k := 1; k <= 2; k++ {
				b.Outputs = append(b.Outputs,
					plan.Output{Number: k, OpenVolts: plan.Value{Nominal: 5, HalfWidth: 0.25},
						Ohms: plan.Value{Nominal: 100, HalfWidth: 5}, MaxAmps: 0.025})
				hang(p, fmt.Sprintf("%s, light %d", board, k), own(1, 1, led("red", 1.9, 0.15, 0.5), 100, 0.05, 0.5))
				g := &p.Groups[len(p.Groups)-1]
				g.Joint, g.Board, g.Output = "", board, k
			}
			p.Boards = append(p.Boards, b)
			continue
		case 0, 3, 6:
			hang(p, name, part(plan.Strip, 6+i%5, 3, 2.9, 150, 0.3, 0.9))
		case 1, 4, 7:
			hang(p, name, part(plan.SMD, 4+i%7, 1, 2.95, 820, 0.3, 0.5))
		default:
			hang(p, name, own(3+i%4, 3, led("white", 2.9, 0.15, 0.5), 330, 0.05, 0.5))
		}
		p.Groups[len(p.Groups)-1].Joint = joint
	}
	return p
}

// The work is shared among the processors; the figures don't depend on how many.
func TestTheSameOnAnyNumberOfProcessors(t *testing.T) {
	before := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(before)
	var first []byte
	for _, n := range []int{1, 2, 3} {
		runtime.GOMAXPROCS(n)
		text, err := json.Marshal(of(t, dock(14), At{Scene: scene.Scene{LeadsOhm: 0.2, LeadsHalfOhm: 0.1},
			Trials: 100}))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = text
		}
		if !bytes.Equal(text, first) {
			t.Errorf("on %d processors the budget is another one", n)
		}
	}
}

// Few feeds have all the trials, many fewer, and what the caller states stands.
func TestTrialsOfALargePlan(t *testing.T) {
	for feeds, want := range map[int][2]int{1: {1000, 1000}, 25: {1000, 1000}, 50: {1000, 500}, 100: {500, 250},
		400: {250, 100}} {
		if a, w := trialsOf(feeds, feedsInFull, leastOfFeeds),
			trialsOf(feeds, wholeInFull, leastOfWhole); a != want[0] || w != want[1] {
			t.Errorf("%d feeds: %d trials alone, %d together, want %v", feeds, a, w, want)
		}
	}
	if n := of(t, dock(60), At{Trials: 120}).Trials; n != 120 {
		t.Errorf("%d trials of the 120 that were asked for", n)
	}
}

// How the budget grows: with twice the groups a little more than twice the
// time. "times" is by how much it grew from the row before.
func BenchmarkGrowth(b *testing.B) {
	at := At{Scene: scene.Scene{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1,
		Accuracy: &scene.Accuracy{OfReading: 0.005, FloorA: 3e-5,
			ResolutionA: 1e-5}}}
	before := 0.0
	for _, n := range []int{25, 50, 100, 200, 400, 1000} {
		p := dock(n)
		each := 0.0
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			start := time.Now()
			k := 0
			for b.Loop() {
				of(b, p, at)
				k++
			}
			each = time.Since(start).Seconds() / float64(k)
			b.ReportMetric(1e3*each/float64(n), "ms/group")
			if before > 0 {
				b.ReportMetric(each/before, "times")
			}
		})
		before = each
	}
}
