package record

import (
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"sealworthy/capture/record/recordtest"
)

// twoSittings writes two sittings of some readings on a disk, syncing now and then, and
// tells how many lines of each were called kept when the power went off.
func twoSittings(p *recordtest.Power) (kept [2]int) {
	for i := range kept {
		o := opening()
		o.Now = start.Add(time.Duration(i) * time.Hour)
		o.Random = random(1)
		r, _, err := Begin(p, o)
		if err != nil {
			return kept
		}
		for j := range 24 {
			x := nth(j)
			x.Reading.At = o.Now.Add(time.Duration(j+1) * 100 * time.Millisecond)
			if _, err := r.Append(x); err != nil {
				break
			}
			if j%4 == 3 && r.Flush() != nil {
				break
			}
		}
		_ = r.Close() // without power it can't be told what became of it
		kept[i] = int(r.Kept())
	}
	return kept
}

// afterCut says what is wrong with what a power cut left; "" where it's as promised: all
// that was called kept is there and used, nothing else is taken for it, what is damaged lies
// beyond, and another sitting can be begun.
func afterCut(m *recordtest.Memory, kept [2]int) string {
	for round := range 2 {
		f, err := ReadFS(m.Tree(ship))
		if err != nil {
			return fmt.Sprintf("it can't be read: %v", err)
		}
		lines := map[int]int{}
		for _, s := range f.Sittings {
			lines[s.Number] = s.Lines
		}
		for i, n := range kept {
			if lines[i+1] < n {
				return fmt.Sprintf("round %d: sitting %d has %d lines, %d were kept; %v", round, i+1, lines[i+1], n,
					f.Damage)
			}
			if lines[i+1] > 26 {
				return fmt.Sprintf("round %d: sitting %d has %d lines, 26 were written", round, i+1, lines[i+1])
			}
		}
		for _, d := range f.Damage {
			n := d.Sitting
			if n < 1 || n > 2 || d.Order.Line() <= kept[n-1] {
				return fmt.Sprintf("round %d: %v, at line %d, where %v were kept", round, d, d.Order.Line(), kept)
			}
		}
		if round == 0 {
			o := opening()
			o.Now, o.Random = start.Add(5*time.Hour), random(1)
			r, _, err := Begin(m, o)
			if err != nil {
				return fmt.Sprintf("no other sitting can be begun: %v", err)
			}
			if err := r.Close(); err != nil {
				return err.Error()
			}
		}
	}
	return ""
}

// TestPowerCut cuts the power at each operation on the disk, in some of all the ways in
// which that can go: what was called kept is there.
func TestPowerCut(t *testing.T) {
	ways := 6
	if os.Getenv("SEALWORTHY_LONG") != "" {
		ways = 200
	}
	all := recordtest.NewPower(0)
	if kept := twoSittings(all); kept != [2]int{26, 26} {
		t.Fatalf("with power on %v were kept", kept)
	}
	if all.Done < 80 {
		t.Fatalf("only %d operations", all.Done)
	}
	cuts := 0
	// More than once through: how many lines go at once is the writer's own.
	for after := 1; after <= all.Done; after++ {
		p := recordtest.NewPower(after)
		kept := twoSittings(p)
		for way := range ways {
			if what := afterCut(p.Cut(rand.New(rand.NewPCG(uint64(after), uint64(way)))), kept); what != "" {
				t.Fatalf("cut at operation %d of %d, way %d, %v kept: %s", after, all.Done, way, kept, what)
			}
			cuts++
		}
	}
	t.Logf("%d cuts at %d operations", cuts, all.Done)
}

// TestPowerCutIsFelt: on a disk whose sync does nothing the same test finds what is lost.
func TestPowerCutIsFelt(t *testing.T) {
	found := 0
	for after := 40; after < 80; after++ {
		p := recordtest.NewPower(after)
		p.Lies = true
		kept := twoSittings(p)
		for way := range 5 {
			if afterCut(p.Cut(rand.New(rand.NewPCG(uint64(after), uint64(way)))), kept) != "" {
				found++
			}
		}
	}
	if found < 50 {
		t.Errorf("of 200 cuts on a disk that lies %d were found", found)
	}
}
