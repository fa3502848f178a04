package look_test

import (
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/look"
	"sealworthy/compare/plan"
)

func TestEyeUnderstandsWhatAMakerSays(t *testing.T) {
	g := plan.Group{Lights: []plan.Light{{Kind: plan.Strip, Count: 1, Segments: 12}}}
	for _, x := range []struct {
		said string
		want look.Look
	}{
		{"", look.Look{}},
		{"all right", look.Look{Saw: look.AllLit}},
		{"All lit.", look.Look{Saw: look.AllLit}},
		{"all right, 12 lit", look.Look{Saw: look.AllLit, Lit: 12}},
		{"all right, 11 lit", look.Look{Saw: look.Otherwise}}, // the plan has 12
		{"all right, 99999999999999999999 lit", look.Look{Saw: look.Otherwise}},
		{"12 lit", look.Look{Saw: look.Otherwise}},
		{"all right, 4.7 kohm read", look.Look{Saw: look.AllLit, Read: "4700 ohm"}},
		{"all right, colours not judged, 12 lit, 470 ohms read, 0.2mm read, part Reel 7 read",
			look.Look{Saw: look.AllLit, Lit: 12, Read: "470 ohm, 0.2 mm, part reel 7", NoColours: true}},
		{"all right, 11 lit, 470 ohm read", look.Look{Saw: look.Otherwise}},
		{"all right, 12 lit, 12 lit", look.Look{Saw: look.Otherwise}},
		{"all right, one is dark read", look.Look{Saw: look.Otherwise}},
		{"all right, 470 ohm", look.Look{Saw: look.Otherwise}},
		{"2 of 12 dark", look.Look{Saw: look.SomeDark, Dark: 2, Of: 12}},
		{"2 out of the 12 are dark", look.Look{Saw: look.SomeDark, Dark: 2, Of: 12}},
		{"one is dark", look.Look{Saw: look.SomeDark, Dark: 1}},
		{"3 lights out", look.Look{Saw: look.SomeDark, Dark: 3}},
		{"one LED is dead", look.Look{Saw: look.SomeDark, Dark: 1}},
		{"dark", look.Look{Saw: look.SomeDark, Dark: 12}},
		{"all dark", look.Look{Saw: look.SomeDark, Dark: 12}},
		{"0 of 12 dark", look.Look{Saw: look.AllLit, Of: 12}},
		{"13 of 12 dark", look.Look{Saw: look.Otherwise}},
		{"green, should be red", look.Look{Saw: look.Otherwise, What: look.Colour}},
		{"wrong colour (green instead of red)", look.Look{Saw: look.Otherwise, What: look.Colour}},
		{"2 of 12 dim", look.Look{Saw: look.Otherwise, What: look.Dim, Count: 2}},
		{"not dark", look.Look{Saw: look.Otherwise}},
		{"all dark but one", look.Look{Saw: look.Otherwise}},
		{"half of them dark", look.Look{Saw: look.Otherwise}},
		{"fine", look.Look{Saw: look.Otherwise}},
		{"99999999999999999999 dark", look.Look{Saw: look.Otherwise}},
		{"it flickers", look.Look{Saw: look.Otherwise, What: look.Flickers}},
	} {
		if got := look.Parse(x.said, g); got != x.want {
			t.Errorf("%q: %+v, want %+v", x.said, got, x.want)
		}
	}
}

// What people say of lights, with the group, the number and what is wrong.
func TestRead(t *testing.T) {
	light := func(name string, n int) plan.Group {
		return plan.Group{Name: name, Lights: []plan.Light{{Kind: plan.LEDs, Count: n, Series: make([]plan.LED, 1)}}}
	}
	cabin, beacon, bow := light("cabin windows", 6), light("port beacon", 1), light("bow lamp", 1)
	all := []plan.Group{cabin, beacon, bow, light("starboard beacon", 1), light("red lamp", 2)}
	one := []plan.Group{cabin}
	alike := []plan.Group{light("mast lamp", 1), light("mast lamps", 4), light("deck", 2), light("deck house", 3)}
	for _, x := range []struct {
		typed  string
		groups []plan.Group
		seen   string // GROUP: words; …
		whole  bool
	}{
		{"two of the cabin windows are out", all, "cabin windows: 2 dark", true},
		{"Two of the six cabin windows are out.", all, "cabin windows: 2 of 6 dark", true},
		{"2 of 6 dark", one, "cabin windows: 2 of 6 dark", true},
		{"2 out of 6 dark", one, "cabin windows: 2 of 6 dark", true},
		{"2 of 6 dark", all, "", false}, // which?
		{"port beacon dim", all, "port beacon: all dim", true},
		{"bow lamp is green instead of red", all, "bow lamp: all wrong colour (green instead of red)", true},
		{"the bow lamp should be red", all, "bow lamp: all wrong colour (should be red)", true},
		{"cabin window: one dark", all, "cabin windows: 1 dark", true},
		{"cabin windows: a window is dark", all, "cabin windows: 1 dark", true},
		{"cabin: 2 flicker", all, "cabin windows: 2 flickers", true},
		{"beacon is out", all, "", false}, // which of the two?
		{"starboard beacon is in the wrong place", all, "starboard beacon: all wrong place", true},
		{"red lamp dark", all, "red lamp: all dark", true},
		{"both red lamps are dark", all, "red lamp: 2 dark", true},
		{"can't see the port beacon", all, "port beacon: all not seen", true},
		{"one isn't lit", one, "cabin windows: 1 dark", true},
		{"all of them are out", one, "cabin windows: all dark", true},
		{"two cabin windows are out and the port beacon is dim", all, "cabin windows: 2 dark; port beacon: all dim",
			true},
		{"cabin windows: 2 dark, port beacon: dim; bow lamp: flickers", all,
			"cabin windows: 2 dark; port beacon: all dim; bow lamp: all flickers", true},
		{"cabin windows: one dark, one dim", all, "cabin windows: 1 dark and 1 dim", true},
		{"port beacon: all right", all, "port beacon: all right", true},
		{"all right", one, "cabin windows: all right", true},
		{"all right, 6 are lit", one, "cabin windows: all right, 6 lit", true},
		{"port beacon: all right; cabin windows: all right, 5 lit", all,
			"port beacon: all right; cabin windows: all right, 5 lit", true}, // the plan has six: Parse knows
		{"6 lit", one, "cabin windows: 6 lit", false},
		// What isn't understood, or not whole, is asked again and never right.
		{"fine", one, "cabin windows: fine", false},
		{"all lit", one, "cabin windows: not clear: all lit", false},
		{"0 of 6 dark", one, "cabin windows: not clear: 0 of 6 dark", false},
		{"none dark", one, "cabin windows: not clear: none dark", false},
		{"not dark", one, "cabin windows: not dark", false},
		{"the third is dark", one, "cabin windows: the third is dark", false},
		{"some are dark", one, "cabin windows: some are dark", false},
		{"7 dark", one, "cabin windows: 7 dark", false}, // the plan has six
		{"only two are lit", one, "cabin windows: only two are lit", false},
		{"2 or 3 dark", one, "cabin windows: 2 or 3 dark", false},
		{"cabin windows: smells", all, "cabin windows: smells", false},
		{"something is odd", all, "", false},
		{"all right but one dark", one, "cabin windows: all right and 1 dark", false},
		{"", all, "", false},
		{"port beacon and bow lamp dark", all, "", false},
		{"not one is dark", one, "cabin windows: not one is dark", false},
		{"all but two are dark", one, "cabin windows: all but two are dark", false},
		// Names that are alike.
		{"mast lamps: 2 dark", alike, "mast lamps: 2 dark", true},
		{"mast lamp dark", alike, "mast lamp: all dark", true},
		{"deck house: one dim", alike, "deck house: 1 dim", true},
		{"deck: one dim", alike, "deck: 1 dim", true},
		{"masts lamp: dark", alike, "", false},
	} {
		u := look.Read(x.typed, x.groups)
		var seen []string
		for _, s := range u.Seen {
			seen = append(seen, s.Group+": "+s.Words)
		}
		if got := strings.Join(seen, "; "); got != x.seen || u.Whole != x.whole {
			t.Errorf("%q: %q, whole %v; want %q, %v (understood %q)", x.typed, got, u.Whole, x.seen, x.whole, u.Text)
		}
	}
}

// Whatever is typed: only the words that pass a look pass one, words belong to
// groups that were lit, and what was understood is read the same again.
func FuzzRead(f *testing.F) {
	for _, s := range []string{"two of the cabin windows are out", "port beacon: all right", "all lit", "2 of 6 dark",
		"bow lamp green instead of red, port dim and cabin fine", "a\nb;c:"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		groups := []plan.Group{{Name: "cabin windows"}, {Name: "port beacon"}, {Name: "bow lamp"}}
		for n := 1; n <= len(groups); n++ {
			u := look.Read(typed, groups[:n])
			if u.Whole && (len(u.Seen) == 0 || u.Text == "") {
				t.Fatalf("%q: whole with %+v", typed, u)
			}
			for _, s := range u.Seen {
				i := slices.IndexFunc(groups[:n], func(g plan.Group) bool { return g.Name == s.Group })
				if i < 0 || s.Words == "" || strings.ContainsAny(s.Words, ";\n") {
					t.Fatalf("%q: %+v", typed, s)
				}
				right := look.Parse(s.Words, groups[i]).Saw == look.AllLit
				if right != (s.Words == look.Right) ||
					right && !strings.Contains(strings.Join(strings.Fields(strings.ToLower(typed)), " "), "right") {
					t.Fatalf("%q passes as %q", typed, s.Words)
				}
				if again := look.Read(s.Group+": "+s.Words, groups[:n]); u.Whole && len(u.Seen) == 1 &&
					!strings.Contains(s.Words, " and ") &&
					(len(again.Seen) != 1 || again.Seen[0] != s) {
					t.Fatalf("%q: %q reads as %+v", typed, s.Words, again)
				}
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	f.Add("2 of 12 dark")
	f.Add("all right")
	f.Fuzz(func(t *testing.T, s string) {
		e := look.Parse(s, plan.Group{})
		if e.Dark < 0 || e.Of > 0 && e.Dark > e.Of || (e.Saw == look.SomeDark) != (e.Dark > 0) ||
			e.What == look.Dark || e.Saw == look.AllLit && s == "dark" {
			t.Errorf("%q: %+v", s, e)
		}
	})
}

// A resistor on which another value is read than the plan has isn't all right: one of the two is wrong.
func TestAResistorReadOtherwise(t *testing.T) {
	g := plan.Group{Lights: []plan.Light{{Kind: plan.LEDs, Count: 2, Ohms: plan.Value{Nominal: 470}}}}
	for said, want := range map[string]look.Saw{"all right, 470 ohm read": look.AllLit, "all right, .47 kohm read": look.Otherwise,
		"all right, 0.47 kohm read": look.AllLit, "all right, 330 ohm read": look.Otherwise} {
		if got := look.Parse(said, g).Saw; got != want {
			t.Errorf("%s: %v", said, got)
		}
	}
	u := look.Read("mast lamp: all right, 2 lit, 470 ohm read, colours not judged",
		[]plan.Group{{Name: "mast lamp", Lights: g.Lights}})
	if !u.Whole || len(u.Seen) != 1 || u.Seen[0].Words != "all right, 2 lit, 470 ohm read, colours not judged" {
		t.Errorf("%+v", u)
	}
}
