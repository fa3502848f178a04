package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// saloonAlone is the saloon of the lightship Brackwater by itself. Invented.
const saloonAlone = `
build = "Saloon"
[jack.main]
volts = 12.0
[closure.deckhouse]
[joint.deck]
from = "main"
wire = { mm = 0.3, length_mm = 200 }
[part."window strip"]
like = "strip warm white 12 V"
segment_mA = 16.4
tolerance = 0.06
share = 0.8
[[group]]
name = "saloon"
closure = "deckhouse"
joint = "deck"
wire = { mm = 0.2, length_mm = 130 }
lights = [ { part = "window strip", segments = 5 } ]
`

// A bad joint lets a strip draw as one with fewer segments does. Whoever changes the plan to that, by
// number or in an editor, and looks without counting, hasn't shown that nothing is wrong: what he is
// told is to count. Counted as many as the plan has now, it may close.
func TestAPlanChangedToFitABadJointIsNotReady(t *testing.T) {
	t.Parallel()
	for _, editor := range []bool{false, true} {
		dir := t.TempDir()
		file := filepath.Join(dir, planFile)
		must(t, os.WriteFile(file, []byte(saloonAlone), 0o600))
		b, err := openBuild(quiet(), dir)
		must(t, err)
		end := sit(t, b, session.Sitting{Stage: compare.Fitted, Seed: 8}, sittingBegan, "saloon=bad joint")
		say := func(args ...string) (int, string) {
			t.Helper()
			var out strings.Builder
			e := quiet()
			e.stdout, e.stderr = &out, &out
			status, err := runCompare(t.Context(), e, append([]string{dir}, args...))
			must(t, err)
			return status, strings.Join(strings.Fields(out.String()), " ")
		}
		status, text := say()
		if status != exitKeepOpen || !strings.Contains(text, ".segments = 3") {
			t.Fatalf("status %d: %s", status, text)
		}
		if editor {
			must(t, os.WriteFile(file, []byte(strings.Replace(saloonAlone, "segments = 5", "segments = 3", 1)), 0o600))
		} else {
			say("--change", "1")
		}
		looked := func(seen string) {
			t.Helper()
			b, err := openBuild(quiet(), dir)
			must(t, err)
			var out strings.Builder
			e := quiet()
			e.stdout, e.stderr = &out, &out
			end = end.Add(time.Minute)
			status, err := runMeasure(t.Context(), e, []string{b.dir, "--closure", "deckhouse", "--seen", seen,
				"--touched", "nothing"})
			if err != nil {
				t.Fatalf("%d, %v: %s", status, err, out.String())
			}
		}
		looked("all right")
		status, text = say()
		if status != exitNotReady || strings.Contains(text, "READY TO CLOSE") ||
			!strings.Contains(text, `--seen "saloon: all right, 3 lit"`) ||
			!strings.Contains(text, "there's a bad joint") {
			t.Errorf("in an editor %v, status %d: %s", editor, status, text)
		}
		looked("saloon: all right, 3 lit")
		if status, text = say("--all"); status != exitReady {
			t.Errorf("in an editor %v, counted, status %d: %s", editor, status, text)
		}
	}
}
