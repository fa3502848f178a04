package record

import (
	"strings"
	"testing"
	"testing/fstest"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// TestAgain: a step too long to be held is gone through once more, every reading of it
// and no other; what was cut off meanwhile is no reading, and said.
func TestAgain(t *testing.T) {
	const n = 70000
	m := newMemory()
	rs := []Record{mark(capture.MarkBegin, ref.StepID, 0, nil)}
	for i := range 20 {
		rs = append(rs, nth(i))
	}
	rs = append(rs, mark(capture.MarkEnd, ref.StepID, 20, nil), mark(capture.MarkBegin, ref.StepID, 30, nil))
	for i := range n {
		rs = append(rs, nth(100+i))
	}
	recorded(t, m, append(rs, mark(capture.MarkEnd, ref.StepID, float64(n), nil)))
	tree := m.Tree(ship).(fstest.MapFS)
	f, err := ReadFS(tree)
	if err != nil || f.Damage != nil || len(f.Steps) != 2 {
		t.Fatal(err, f.Damage, len(f.Steps))
	}
	long := f.Steps[1]
	held := 0
	for range long.All() {
		held++
	}
	if all, _ := long.Count(); all != n || held >= n {
		t.Errorf("%d readings, %d of them held", all, held)
	}
	i := 0
	err = Again(tree, long, func(x instruments.Reading) {
		if want := nth(100 + i).Reading; *x.Value != *want.Value {
			t.Fatalf("reading %d is %g, not %g", i, *x.Value, *want.Value)
		}
		i++
	})
	if err != nil || i != n {
		t.Errorf("%d readings of %d, %v", i, n, err)
	}
	name := FilesDir + "/20261125T064500Z-loose.lp"
	tree[name].Data = tree[name].Data[:len(tree[name].Data)/2]
	if err := Again(tree, long, func(instruments.Reading) {}); err == nil ||
		!strings.Contains(err.Error(), "changed while it was read") {
		t.Errorf("half of it gone: %v", err)
	}
}
