package load_test

import (
	"math"
	"testing"
	"time"

	"sealworthy/compare/load"
)

func TestYearsAndThePlugChangeLittle(t *testing.T) {
	p := brackwaterPlan(t)
	young, err := load.New(p, nil, 5, load.Options{})
	if err != nil {
		t.Fatal(err)
	}
	old, err := load.New(p, nil, 5, load.Options{Years: 4, JackOhm: 0.05})
	if err != nil {
		t.Fatal(err)
	}
	changed := false
	for _, name := range young.Terminals() {
		a, b := young.Current(on(young, name, 0)), old.Current(on(old, name, 0))
		if r := b/a - 1; math.Abs(r) > 0.02 {
			t.Errorf("%q: %.2f %% in four years", name, 100*r)
		} else if r < -1e-5 {
			changed = true
		}
	}
	if !changed {
		t.Error("four years change nothing")
	}
}

func TestABrokenContactOpensNowAndThen(t *testing.T) {
	l, err := load.New(brackwaterPlan(t), nil, 5,
		load.Options{Breaks: []load.Break{{Feed: "saloon", Every: 10 * time.Second, For: 300 * time.Millisecond}}})
	if err != nil {
		t.Fatal(err)
	}
	for at, open := range map[time.Duration]bool{0: false, 5 * time.Second: false,
		10*time.Second + 100*time.Millisecond: true, 10*time.Second + 400*time.Millisecond: false,
		20*time.Second + 1: true} {
		if a := l.Current(on(l, "saloon", at)); (a == 0) != open {
			t.Errorf("at %v: %g A, open %v", at, a, open)
		}
	}
	if n := l.NextChange(on(l, "saloon", 10*time.Second+100*time.Millisecond)); n != 10*time.Second+
		300*time.Millisecond {
		t.Errorf("next change at %v", n)
	}
}
