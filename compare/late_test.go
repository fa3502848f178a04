package compare_test

import (
	"context"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/instruments"
)

// late makes a share of the readings of a test come later than they were taken, by up to a
// quarter of a second, as on a busy computer.
func (m model) late(r *rand.Rand, share float64) {
	for i := range m.records {
		rs := slices.Clone(m.records[i].Readings)
		for k := range rs {
			if rs[k].Instrument == compare.MeterName && rs[k].Quantity == instruments.Current && r.Float64() < share {
				by := 60*time.Millisecond + time.Duration(r.Int64N(int64(190*time.Millisecond)))
				rs[k].At, rs[k].Latency = rs[k].At.Add(by), rs[k].Latency+by
			}
		}
		m.records[i].Readings = rs
	}
}

// A reply that comes late tells nothing of when it was read: what blinks as planned passes all
// the same, and an output that stays lit is found.
func TestLateRepliesSpoilNoPace(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	for seed := range uint64(8) {
		share := 0.08
		if seed%2 == 1 {
			share = 0.33 // a computer that is busy all the time
		}
		for _, f := range []*fault.Fault{nil, {Kind: fault.Overloaded, Group: "port beacon"}} {
			m, err := measured(context.Background(), seed+1, twoReds("0.4"), f, how{})
			if err != nil {
				t.Fatal(err)
			}
			m.late(r, share)
			if m, err = m.judged(2); err != nil {
				t.Fatal(err)
			}
			want := compare.InBand
			if f != nil {
				want = compare.StuckLit
			}
			for _, x := range m.closures[0].Groups {
				if x.Verdict != want {
					t.Errorf("seed %d, %v: %s", seed+1, f != nil, inWords(x))
				}
			}
		}
	}
}
