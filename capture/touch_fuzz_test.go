package capture

import (
	"slices"
	"strings"
	"testing"
)

// Whatever is typed, only places of the list are named, each once, and what
// names nothing is asked again.
func FuzzPlacesIn(f *testing.F) {
	places := []Place{{Name: "keel", Kind: "joint"}, {Name: "keel two", Kind: "joint"},
		{Name: "beacon", Kind: "board"}, {Name: "cabin windows", Kind: "group"},
		{Name: "3", Kind: "group"}}
	for _, s := range []string{"1", "keel", "kee", "1, 4", "cabin", "the clip", "9", "-1", ", ,", "KEEL TWO,3",
		"1,1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		for _, clip := range []bool{false, true} {
			got, problem := placesIn(typed, places, clip)
			if (len(got) == 0) != (problem != "") {
				t.Fatalf("%q: %q, %q", typed, got, problem)
			}
			for i, x := range got {
				known := slices.ContainsFunc(places, func(p Place) bool { return p.Name == x }) || clip && x == TheClip
				if !known || slices.Contains(got[:i], x) {
					t.Fatalf("%q names %q", typed, got)
				}
			}
			if strings.TrimSpace(typed) == "" && problem == "" {
				t.Fatalf("%q names %q", typed, got)
			}
		}
	})
}
