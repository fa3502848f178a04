package budget

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/scene"
)

var update = flag.Bool("update", false, "write the golden files anew")

// spoiled is a tidy plan with something of every severity to say about it.
func spoiled() *plan.Plan {
	p := tidy()
	hang(p, "galley windows, port and starboard", part(plan.Strip, 14, 3, 2.9, 150, 0.3, 0.9))
	p.Groups[4].Wire.WorkAmps = 0.5
	p.Groups = append(p.Groups, plan.Group{Name: "old hold", Closure: "hull", Joint: "keel", AsFound: true,
		Wire: wireOf(0.1)})
	p.Boards[0].Outputs[0].MaxAmps = 0.010
	p.Boards[0].Paces[1].PeriodS = 0.2
	return p
}

func TestText(t *testing.T) {
	b := of(t, spoiled(), At{Scene: scene.Scene{BurdenOhm: 1.7, LeadsOhm: 0.2, LeadsHalfOhm: 0.1,
		Accuracy: &scene.Accuracy{OfReading: 0.005, FloorA: 3e-5, ResolutionA: 1e-5}}})
	var s strings.Builder
	if err := b.Text(&s, 80); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join("testdata", "text.golden")
	if *update {
		if err := os.WriteFile(name, []byte(s.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if got := s.String(); got != strings.ReplaceAll(string(want), "\r\n", "\n") {
		t.Errorf("got:\n%s\nwant:\n%s", got, want)
	}
	for _, l := range strings.Split(s.String(), "\n") {
		if n := len([]rune(l)); n > 80 {
			t.Errorf("%d columns: %s", n, l)
		}
	}
	s.Reset()
	if err := of(t, spoiled(), At{Trials: 10}).Text(&s, 80); err != nil ||
		!strings.Contains(s.String(), "?: it depends on the meter") {
		t.Errorf("without a meter: %v\n%s", err, s.String())
	}
	if err := b.Text(failing{}, 80); err == nil {
		t.Error("a write that fails must be said")
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, os.ErrClosed }
