package modbus

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/instruments/driver"
	"sealworthy/instruments/profile"
)

func TestWordsByHand(t *testing.T) {
	for _, x := range []struct {
		pt   profile.Point
		v    float64
		regs []uint16
	}{
		{profile.Point{Words: 1, Scale: 0.01, Order: "high first"}, 12, []uint16{1200}},
		{profile.Point{Words: 1, Scale: 0.001, Signed: true, Order: "high first"}, -0.001, []uint16{0xFFFF}},
		{profile.Point{Words: 2, Scale: 0.001, Order: "high first"}, 70, []uint16{1, 0x1170}},
		{profile.Point{Words: 2, Scale: 0.001, Order: "low first"}, 70, []uint16{0x1170, 1}},
		{profile.Point{Words: 2, Scale: 1, Signed: true, Order: "low first"}, -2, []uint16{0xFFFE, 0xFFFF}},
	} {
		got, err := words(&x.pt, x.v)
		if err != nil || !slices.Equal(got, x.regs) {
			t.Errorf("%+v: %v is %x, %v", x.pt, x.v, got, err)
		}
		if n := number(&x.pt, x.regs); math.Abs(n.Value-x.v) > 1e-9 {
			t.Errorf("%x is %v, want %v", x.regs, n.Value, x.v)
		}
	}
	over := 0xFFFF
	if n := number(&profile.Point{Words: 1, Scale: 1, Over: &over}, []uint16{0xFFFF}); n.Mark != driver.Over {
		t.Errorf("%+v is no overload", n)
	}
	for _, v := range []float64{-1, 65536, math.NaN(), math.Inf(1)} {
		if got, err := words(&profile.Point{Words: 1, Scale: 1}, v); err == nil {
			t.Errorf("%v became %x", v, got)
		}
	}
}

func TestWordsRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pt := profile.Point{Words: rapid.IntRange(1, 2).Draw(t, "words"), Scale: 0.001,
			Signed: rapid.Bool().Draw(t, "signed"),
			Order:  rapid.SampledFrom([]string{"high first", "low first"}).Draw(t, "order")}
		low, high := 0, 65535
		if pt.Signed {
			low, high = -32768, 32767
		}
		n := rapid.IntRange(low, high).Draw(t, "n")
		regs, err := words(&pt, float64(n)*0.001)
		if err != nil || len(regs) != pt.Words {
			t.Fatal(regs, err)
		}
		if got := number(&pt, regs).Value; math.Abs(got-float64(n)*0.001) > 1e-9 {
			t.Fatalf("%d came back as %v", n, got)
		}
	})
}

// No reply to one of the latest questions is as long as the reply to this one,
// whichever points were asked for, and none is as long as what brings into step.
func TestLengthsOfQuestionsDiffer(t *testing.T) {
	for _, spare := range []int{2, 3, 5, 9} {
		for n := uint64(0); n < 40; n++ {
			for _, words := range []int{1, 2} {
				q := quantityOf(words, spare, n)
				if q < words || q > words+spare || q == mostWords+spare+1 {
					t.Fatalf("spare %d, question %d: %d registers for %d", spare, n, q, words)
				}
				for back := uint64(1); back < uint64(spare) && back <= n; back++ {
					for _, other := range []int{1, 2} {
						if quantityOf(other, spare, n-back) == q {
							t.Errorf("spare %d: question %d and the one %d before it both ask for %d registers", spare,
								n, back, q)
						}
					}
				}
			}
		}
	}
	if quantityOf(2, 0, 7) != 2 || quantityOf(1, 1, 7) != 2 {
		t.Error("without spare registers nothing is read along")
	}
}
