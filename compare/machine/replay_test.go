package machine

import (
	"os"
	"path/filepath"
	"testing"

	"sealworthy/compare/words"
)

// TestReplay plays the scripts in testdata, each of which once reached a word that
// wasn't earned, or kept a careful maker from one that was. SEALWORTHY_SCRIPT
// names one more to play, and prints what is said after each event.
func TestReplay(t *testing.T) {
	files, err := filepath.Glob("testdata/*.script")
	if err != nil {
		t.Fatal(err)
	}
	one := os.Getenv("SEALWORTHY_SCRIPT")
	if one != "" {
		files = []string{one}
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			s, err := ParseScript(string(text))
			if err != nil {
				t.Fatal(err)
			}
			if one != "" {
				say(t, s)
			}
			o, err := Play(NewShop(), Direct{}, s, Defect{})
			switch {
			case err != nil:
				t.Error(err)
			case len(o.Breaches) > 0:
				t.Error(o.Breaches)
			case o.Healthy && !o.Reached:
				t.Errorf("a careful maker doesn't get there: %s", o.Why)
			}
		})
	}
}

// say prints the build, what is true of it and what is said of it after each event.
func say(t *testing.T, s Script) {
	w, err := NewWorld(NewShop(), Direct{}, s, filepath.Join(t.TempDir(), "readings"))
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%s\nwrong with it: %v %v", w.Source(), w.truth.faults, w.truth.eye)
	for _, e := range s.Events {
		if err := w.Do(e); err != nil {
			t.Fatal(err)
		}
		w.keepHead()
		cs, err := w.Verdicts()
		if err != nil {
			t.Fatal(err)
		}
		t.Log(e)
		for _, c := range cs {
			t.Logf("   %s: %s %q", c.Closure, c.Verdict, c.Reasons)
			for _, f := range c.Groups {
				t.Logf("      %s: %s %s, seen %q; the oracle knows %+v", f.Group, f.Verdict,
					words.Milliamps(f.MeasuredA, f.MeasuredU), f.Seen, *w.o.of(f.Group))
			}
		}
	}
}
