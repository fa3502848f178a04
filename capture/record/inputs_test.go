package record

import (
	"cmp"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// python is Python's interpreter; without it a test is skipped, where CI is set it fails.
func python(t *testing.T) string {
	t.Helper()
	p, err := exec.LookPath("python3")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("python3 is needed")
		}
		t.Skip("there is no python3")
	}
	return p
}

// otherReader reads a build in another language, by the page alone.
func otherReader(t *testing.T, dir string, into any) {
	t.Helper()
	var stderr strings.Builder
	cmd := exec.Command(python(t), "testdata/read.py", dir)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, stderr.String())
	}
	if err := json.Unmarshal(out, into); err != nil {
		t.Fatal(err)
	}
}

// inputs are what a verdict rests on.
type inputs struct {
	Steps []inputStep
	Words [][3]string // mark, what it is about, reason
}

// inputStep is one step of them.
type inputStep struct {
	ID, Feed, Pace, Stage, Outcome, Seen, Accepted string
	Groups                                         []string
	Volts                                          float64
	Redone                                         bool
	Own, Base                                      int
	Draws                                          map[string]float64 // A, mean over the trace, by instrument
}

func inputsOf(f Folded) (in inputs) {
	for _, s := range f.Steps {
		x := inputStep{ID: s.Step.ID, Feed: s.Step.Feed, Pace: s.Step.Pace, Stage: s.Stage, Outcome: string(s.Outcome),
			Seen: s.Seen, Accepted: s.Accepted, Groups: s.Step.Groups, Volts: s.Step.Volts, Redone: s.Redone,
			Draws: map[string]float64{}}
		x.Own, x.Base = s.Count()
		for _, of := range []string{"meter", "supply"} {
			if sums := capture.SumsOf(s.Each(of, instruments.Current)); sums.N > 0 {
				x.Draws[of] = sums.Mean
			}
		}
		in.Steps = append(in.Steps, x)
	}
	type word struct {
		at   capture.Order
		says [3]string
	}
	var all []word
	for kind, list := range map[capture.MarkKind][]ByName{capture.MarkTouchedNothing: f.TouchedNothing,
		capture.MarkAllowed: f.Allowed, capture.MarkTicked: f.Ticked, capture.MarkAnswered: f.Answers} {
		for _, x := range list {
			all = append(all, word{x.Order, [3]string{string(kind), x.Name, x.Reason}})
		}
	}
	for _, x := range f.Reworked {
		of := x.Place
		if x.Clip {
			of = capture.TheClip
		}
		all = append(all, word{x.Order, [3]string{string(capture.MarkReworked), of, x.Reason}})
	}
	slices.SortFunc(all, func(a, b word) int { return cmp.Compare(a.at, b.at) })
	for _, x := range all {
		in.Words = append(in.Words, x.says)
	}
	return in
}

// same: all alike, a draw to the last digits, which depend on how it is added up.
func (in inputs) same(other inputs) bool {
	if len(in.Steps) != len(other.Steps) || !reflect.DeepEqual(in.Words, other.Words) {
		return false
	}
	for i, a := range in.Steps {
		b := other.Steps[i]
		if len(a.Draws) != len(b.Draws) {
			return false
		}
		for k, x := range a.Draws {
			if y, ok := b.Draws[k]; !ok || math.Abs(x-y) > 1e-12 {
				return false
			}
		}
		if a.Draws, b.Draws = nil, nil; !reflect.DeepEqual(a, b) {
			return false
		}
	}
	return true
}

// anyTest is a sitting in which anything may follow anything: steps begun and not ended,
// words that are taken back, readings of a step that isn't open.
func anyTest(r *rand.Rand, sitting int) (out []Record) {
	ids := []string{"hull/cabin windows", "hull/saloon", "mast"}
	words := []string{"", "all right", `"two" dark, the third \ too`}
	kinds := []capture.MarkKind{capture.MarkOn, capture.MarkSettled, capture.MarkSettled, capture.MarkSettled,
		capture.MarkSettled, capture.MarkPoint, capture.MarkTripped,
		capture.MarkSkipped, capture.MarkLooked, capture.MarkEnd, capture.MarkRedone, capture.MarkAccepted,
		capture.MarkReworked, capture.MarkTouchedNothing, capture.MarkAllowed, capture.MarkTicked,
		capture.MarkTakenBack}
	open, s := ids[0], 0.0
	for line := 2; line < 60; line++ {
		s++
		id := open
		if r.IntN(8) == 0 {
			id = ids[r.IntN(len(ids))]
		}
		switch n := r.IntN(20); {
		case n < 1 || line == 2:
			open = ids[r.IntN(len(ids))]
			out = append(out, mark(capture.MarkBegin, open, s, func(m *capture.Mark) {
				m.Step.Pace = []string{"", "slow"}[r.IntN(2)]
			}))
			line++ // the instrument stands before it, the first time
		case n < 12:
			x := read(id, s)
			x.Step.Base = r.IntN(6) == 0
			x.Reading.Instrument = []string{"meter", "supply"}[r.IntN(2)]
			if r.IntN(5) == 0 {
				x.Reading.Quantity, x.Reading.Unit = instruments.Voltage, "V"
			}
			if r.IntN(9) == 0 {
				x.Reading.Status, x.Reading.Value = instruments.Overload, nil
			}
			out = append(out, x)
		default:
			out = append(out, mark(kinds[r.IntN(len(kinds))], id, s, func(m *capture.Mark) {
				m.Reason, m.Seen = words[r.IntN(3)], words[r.IntN(3)]
				m.Of = capture.OrderAt(1+r.IntN(sitting), 2+r.IntN(60))
				switch m.Kind {
				case capture.MarkAllowed, capture.MarkTicked:
					m.Check = "LED current: stern light"
				case capture.MarkReworked:
					if r.IntN(3) == 0 {
						m.Check = capture.TheClip
					}
				case capture.MarkTouchedNothing:
					m.Feed = ""
				}
			}))
		}
	}
	return out
}

// TestAnotherReaderJudgesBySame: whatever happened in a build, a reader in another language,
// made from the page alone, gets what a verdict rests on as this one does: the steps with
// their outcomes, draws and looks, and the maker's words.
func TestAnotherReaderJudgesBySame(t *testing.T) {
	python(t)
	steps, drawn := 0, 0
	for seed := range uint64(3) {
		r := rand.New(rand.NewPCG(seed, 12))
		m := newMemory()
		if seed == 0 {
			recorded(t, m, session())
		}
		for n := range 10 {
			recorded(t, m, anyTest(r, n+1), startAt(time.Duration(n+1)*time.Hour))
		}
		dir := t.TempDir()
		if err := os.CopyFS(dir, m.Tree(ship)); err != nil {
			t.Fatal(err)
		}
		f, err := ReadDir(dir)
		if err != nil || f.Damage != nil {
			t.Fatal(f.Damage, err)
		}
		want := inputsOf(f)
		var got inputs
		if otherReader(t, dir, &got); !want.same(got) {
			for i := range min(len(want.Steps), len(got.Steps)) {
				if !reflect.DeepEqual(want.Steps[i], got.Steps[i]) {
					t.Errorf("seed %d, step %d is %+v,\nthe other reader says %+v", seed, i, want.Steps[i],
						got.Steps[i])
				}
			}
			t.Fatalf("seed %d: %d steps and %v,\nthe other reader says %d and %v", seed, len(want.Steps), want.Words,
				len(got.Steps), got.Words)
		}
		steps += len(want.Steps)
		for _, s := range want.Steps {
			if len(s.Draws) > 0 {
				drawn++
			}
		}
	}
	if steps < 60 || drawn < 20 {
		t.Errorf("%d steps, %d with a draw: that tests little", steps, drawn)
	}
}
