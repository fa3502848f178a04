package main

import (
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// What was said to another version's questions isn't taken for answers to these: a part's
// number would be read as a count. The file stays as it is.
func TestAnswersOfAnotherVersion(t *testing.T) {
	t.Parallel()
	for name, format := range map[string]string{"before there was one": "", "a later one": "# format 99\n"} {
		file := answersFile(t.TempDir())
		must(t, writeMade(file, writeBytes([]byte(answersHead+format+"\"\"\n\"12\"\n"))))
		was, err := os.ReadFile(file)
		must(t, err)
		v, err := newInterview(quiet(), file)
		if err == nil || !strings.Contains(err.Error(), "is of another version of this program") {
			t.Errorf("%s: %v, %v", name, v, err)
		}
		if is, err := os.ReadFile(file); err != nil || string(is) != string(was) {
			t.Errorf("%s: it's now %s, %v", name, is, err)
		}
	}
	file := answersFile(t.TempDir())
	v, err := newInterview(quiet(), file)
	must(t, err)
	v.answers = []string{"", "12"}
	must(t, v.keep())
	if v, err = newInterview(quiet(), file); err != nil || len(v.answers) != 2 || v.answers[1] != "12" {
		t.Errorf("its own: %+v, %v", v, err)
	}
}

// A comma between two digits is that of a number, and parts no two wires.
func TestWiresInALine(t *testing.T) {
	t.Parallel()
	for s, want := range map[string][]string{
		"red 22,5 cm": {"red 22,5 cm"}, "red 22,5 cm, blue 3": {"red 22,5 cm", " blue 3"}, "": {""}, ",": {"", ""},
		"red 3,blue 4,,22 cm": {"red 3", "blue 4", "", "22 cm"}, "1,2,3": {"1,2,3"}, "1, 2, 3": {"1", " 2", " 3"},
		"3,": {"3", ""},
	} {
		if got := wiresIn(s); !slices.Equal(got, want) {
			t.Errorf("%q is %q, not %q", s, got, want)
		}
	}
}

// A wire is a colour, a pin and a length, of which each may be missing, and nothing else.
func TestWireOf(t *testing.T) {
	t.Parallel()
	for s, want := range map[string]string{
		"": "// 0", "red": "red// 0", "red 3": "red/3/ 0", "red 3 22 cm": "red/3/ 220", "22 cm": "// 220",
		"red/white B4 180 mm": "red/white/B4/ 180", "dark blue": "dark blue// 0", "3": "/3/ 0", "3 22cm": "/3/ 220",
		"red 0.2 m": "red// 200",
		"22 cm red": "", "red -3 cm": "", `red "x"`: "", "red 0 mm": "", "3 4": "",
		"red 22,5 cm": "red// 225", "3 1,5 m": "/3/ 1500", "1,2": "", "1,2,3 cm": "", "2.2,5 cm": "",
	} {
		w, ok := wireOf(s)
		got := ""
		if ok {
			got = w.Colour + "/" + w.Pin + "/ " + strconv.FormatFloat(w.LengthMm, 'g', -1, 64)
		}
		if got != want {
			t.Errorf("%q is %q, not %q", s, got, want)
		}
	}
}
