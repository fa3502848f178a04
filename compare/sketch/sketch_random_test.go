package sketch

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/compare/plan"
)

// anyPlan draws a plan whose names and texts have blanks, quotes and commas wherever a
// plan can have them.
func anyPlan(t *rapid.T) []byte {
	names := map[string]bool{}
	name := func(what string) string {
		n := rapid.StringMatching(`[a-z]{1,3}[ ,'.]{0,3}[a-z]{1,3} {0,3}[0-9]{1,3}`).Filter(func(s string) bool {
			return !names[s]
		}).Draw(t, what)
		names[n] = true
		return quoted(n)
	}
	text := func(what string) string {
		return quoted(rapid.StringMatching("[ \u00a0\u3000]{0,2}[a-z0-9][a-z,'\"; \u00a0\u3000]{0,12}").Draw(t, what))
	}
	hull, deck, joint, back, board := name("hull"), name("deck"), name("joint"), name("return"), name("board")
	return []byte(strings.Join([]string{`build = "Gig"`, "[jack.main]", "volts = 12", "plug = " + text("plug"),
		"[closure." + hull + "]", "must_hold = [" + name("first") + ", " + name("second") + "]", "[closure." + deck +
			"]", "inside = " + hull,
		"[joint." + joint + "]", `from = "main"`, "wire = { length_mm = 120, mm = 0.5, colour = " + text("colour") +
			", pin = " + text("pin") + " }",
		"[return." + back + "]", `to = "main"`,
		"[board." + board + "]", `part = "single blinker"`, "joint = " + joint, "closure = " + hull,
		"[[group]]", "name = " + name("blinker"), "closure = " + hull, "board = " + board, "output = 1",
		`lights = [ { part = "red 1.8 mm", ohms = 4.70e2 } ]`, "see = " + text("seen"),
		"[[group]]", "name = " + name("lamps"), "closure = " + deck, "joint = " + joint, "return = " + back,
		`lights = [ { part = "strip amber 12 V", segments = 1 } ]`, "see = " + text("see"), ""}, "\n"))
}

// The form of any place of any plan, left as it is, changes nothing; where one field is
// filled in, that one alone changes.
func TestAnyFormLeftAsItIs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, said := read(t, anyPlan(t))
		for _, at := range Places(p, said) {
			fields, err := Fields(p, said, at)
			if err != nil {
				t.Fatalf("%v", err)
			}
			filled := map[string]string{}
			for _, f := range fields {
				filled[f.Path] = f.Value
			}
			if c, after := Changes(fields, plan.BuiltIn(), at, filled); c != nil || after != at {
				t.Fatalf("%s: %v", at.Path(), c)
			}
			if u := Unread(fields, filled); u != nil {
				t.Fatalf("%s: %q", at.Path(), u)
			}
			x := rapid.SampledFrom(fields).Draw(t, "changed")
			if x.Input != Typed {
				continue
			}
			filled[x.Path] = " another  one"
			c, _ := Changes(fields, plan.BuiltIn(), at, filled)
			if len(c) != 1 {
				t.Fatalf("%s: %v", x.Path, c)
			}
		}
	})
}

// Forms filled in at random, places taken out and added at random, one after another: the
// plan says then what was filled in, or it was refused and nothing has changed.
func TestSketchSequences(t *testing.T) {
	start := brackwater(t)
	book := plan.BuiltIn()
	rapid.Check(t, func(t *rapid.T) {
		src := start
		for range rapid.IntRange(1, 6).Draw(t, "steps") {
			p, said := read(t, src)
			at := rapid.SampledFrom(Places(p, said)).Draw(t, "place")
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				src = taken(t, p, said, at, src)
			case 1:
				src = added(t, p, said, book, src)
			default:
				src = filledIn(t, p, said, book, at, src)
			}
		}
	})
}

func taken(t *rapid.T, p *plan.Plan, said plan.Said, at Place, src []byte) []byte {
	changes, err := Remove(p, said, at)
	if err != nil {
		return src
	}
	out, err := plan.EditAll(src, changes, plan.Options{})
	if err != nil {
		if at.Kind != "jack" && len(p.Groups) > 1 {
			t.Fatalf("%s can't be taken out: %v", at.Path(), err)
		}
		return src
	}
	after, saidAfter := read(t, out)
	if Has(after, saidAfter, at) || len(after.Groups) < len(p.Groups)-1 || at.Kind != "group" &&
		len(after.Groups) != len(p.Groups) {
		t.Fatalf("%s taken out:\n%s", at.Path(), out)
	}
	return out
}

func added(t *rapid.T, p *plan.Plan, said plan.Said, book *plan.Book, src []byte) []byte {
	n := New{Place: Place{rapid.SampledFrom([]string{"group", "joint", "board", "closure"}).Draw(t, "kind"),
		rapid.SampledFrom([]string{"yawl", "fore peak", "cat's eye"}).Draw(t, "name")}}
	feed := rapid.SampledFrom(Feeds(p)).Draw(t, "on").Value
	switch n.Kind {
	case "group":
		n.On, n.Part = feed, rapid.SampledFrom([]string{"strip amber 12 V", "red 1.8 mm", "smd red 12 V"}).Draw(t,
			"part")
	case "board", "joint":
		n.On, n.Part = rapid.SampledFrom(p.Joints).Draw(t, "joint").Name, "single blinker"
	}
	c, err := Added(p, said, book, n)
	if err != nil {
		t.Fatalf("%v", err)
	}
	out, err := plan.EditAll(src, []plan.Change{c}, plan.Options{})
	if err != nil {
		if !strings.Contains(err.Error(), "name") && !strings.Contains(err.Error(), "already") {
			t.Fatalf("%v: %v", c, err)
		}
		return src
	}
	if after, saidAfter := read(t, out); !Has(after, saidAfter, n.Place) {
		t.Fatalf("%v isn't there:\n%s", c, out)
	}
	return out
}

func filledIn(t *rapid.T, p *plan.Plan, said plan.Said, book *plan.Book, at Place, src []byte) []byte {
	fields, err := Fields(p, said, at)
	if err != nil {
		t.Fatalf("%v", err)
	}
	filled := map[string]string{}
	for range rapid.IntRange(1, 3).Draw(t, "fields") {
		f := rapid.SampledFrom(fields).Draw(t, "field")
		filled[f.Path] = drawValue(t, f)
	}
	changes, after := Changes(fields, book, at, filled)
	out, err := plan.EditAll(src, changes, plan.Options{})
	if err != nil {
		return src
	}
	p, said = read(t, out)
	again, err := Fields(p, said, after)
	if err != nil {
		t.Fatalf("%v:\n%s", err, out)
	}
	for _, f := range again {
		path := strings.Replace(f.Path, after.Path(), at.Path(), 1)
		want, ok := filled[path]
		if want = strings.Join(strings.Fields(want), " "); !ok || f.Input == Number &&
			!sameNumber(f.Key, f.Value, want) && f.Value != want || f.Input == List {
			if ok && f.Input == Number {
				t.Fatalf("%s is %q, not %q", f.Path, f.Value, want)
			}
			continue
		}
		if f.Input != Number && f.Value != want {
			t.Fatalf("%s is %q, not %q:\n%s", f.Path, f.Value, want, out)
		}
	}
	return out
}

func sameNumber(key, a, b string) bool {
	x, ok1 := plan.NumberOf(key, a)
	y, ok2 := plan.NumberOf(key, b)
	return ok1 && ok2 && math.Abs(x-y) <= 1e-9*math.Abs(x)
}

func drawValue(t *rapid.T, f Field) string {
	switch f.Input {
	case Choice:
		v := []string{}
		for _, o := range f.Choices {
			v = append(v, o.Value)
		}
		if !f.Must {
			v = append(v, "")
		}
		if len(v) == 0 {
			return f.Value
		}
		return rapid.SampledFrom(v).Draw(t, "choice")
	case Part:
		return rapid.SampledFrom([]string{"strip amber 12 V", "red 1.8 mm", "smd red 12 V", "two-output blinker",
			"as found", "no such part"}).Draw(t, "part")
	case Whole:
		return rapid.SampledFrom([]string{"1", "7", "0", "many", ""}).Draw(t, "whole")
	case Number:
		return rapid.SampledFrom([]string{"12", "0.5", "4k7", "30 cm", "470", "-1", "much", ""}).Draw(t, "number")
	}
	return rapid.SampledFrom([]string{"after lamps", "3", `the "old" one`, "red, black", "keel", ""}).Draw(t, "text")
}
