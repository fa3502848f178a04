package plan

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func FuzzParse(f *testing.F) {
	f.Add([]byte(sound))
	f.Add([]byte(sealedPlan))
	f.Add(Starter("Brackwater"))
	files, err := filepath.Glob("../../testdata/plans/*.toml")
	more, err2 := filepath.Glob("../../testdata/plans/errors/*.toml")
	if err != nil || err2 != nil || len(files) == 0 || len(more) == 0 {
		f.Fatal("no seeds")
	}
	for _, name := range append(append(files, more...), brackwater) {
		src, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(src)
	}
	for _, s := range []string{"", "\n", "\r", "a", "[", "[[group]]\n[[group]]", "group = 3", "a.b.c = 1\n[a.b]",
		"build = \"\xff\"", "[part.x]\nlike = \"x\"",
		"jack = []", "[jack]\nmain = 3", "[[jack]]", "joint.a.from = \"a\"", "board.b = {}",
		"part.p = [1, [2, {a = 3}]]", "\xef\xbb\xbf", "a = 1979-05-27", "a = 0x_1"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		p, problems := Parse("plan.toml", src)
		if (p == nil) != (len(problems) > 0) {
			t.Fatalf("plan %v with %d problems", p != nil, len(problems))
		}
		if p != nil {
			problems = p.Warnings
			checkWhole(t, p)
		}
		lines := strings.Count(string(src), "\n") + 1
		for _, pr := range problems {
			if pr.Pos.Line < 1 || pr.Pos.Line > lines || pr.Pos.Column < 1 || pr.What == "" || pr.Instead == "" ||
				pr.File == "" {
				t.Fatalf("a problem without a place or advice: %+v", pr)
			}
			if !strings.HasPrefix(pr.String(), "plan.toml:") {
				t.Fatalf("prints %q", pr.String())
			}
		}
	})
}

// checkWhole sees that every reference of a plan leads somewhere and every
// number is one.
func checkWhole(t *testing.T, p *Plan) {
	feeds, returns, closures := map[string]bool{}, map[string]bool{"": true}, map[string]bool{"": true}
	for _, j := range p.Jacks {
		feeds[j.Name], returns[j.Name] = true, true
		if !(j.LowVolts <= j.Volts && j.Volts <= j.HighVolts && j.LowVolts > 0) {
			t.Fatalf("jack %+v", j)
		}
	}
	for _, j := range p.Joints {
		if !feeds[j.From] {
			t.Fatalf("joint %q hangs on nothing", j.Name)
		}
		feeds[j.Name] = true
	}
	for _, r := range p.Returns {
		if !returns[r.To] {
			t.Fatalf("return %q leads nowhere", r.Name)
		}
		returns[r.Name] = true
	}
	for _, c := range p.Closures {
		for _, h := range c.Holds {
			if what, _ := nameFault(h, false); what != "" {
				t.Fatalf("closure %q must hold %q, which %s", c.Name, h, what)
			}
		}
		if !closures[c.Inside] {
			t.Fatalf("closure %q is inside nothing", c.Name)
		}
		closures[c.Name] = true
	}
	boards := map[string]Board{}
	for _, b := range p.Boards {
		boards[b.Name] = b
		if !feeds[b.Joint] || !returns[b.Return] || len(b.Outputs) == 0 || len(b.Paces) == 0 {
			t.Fatalf("board %+v", b)
		}
	}
	for _, g := range p.Groups {
		b, fed := boards[g.Board]
		if fed == feeds[g.Joint] || !closures[g.Closure] || g.Closure == "" || !returns[g.Return] ||
			len(g.Lights) == 0 && !g.AsFound {
			t.Fatalf("group %+v", g)
		}
		if fed && (g.Output < 1 || g.Output > len(b.Outputs)) {
			t.Fatalf("group %q on output %d", g.Name, g.Output)
		}
		if !(g.Wire.Ohms.Nominal > 0 && g.Wire.Ohms.HalfWidth >= 0) {
			t.Fatalf("wire %+v", g.Wire)
		}
		for _, l := range g.Lights {
			if l.Branches() < 1 || l.Kind == TestLoad && (!g.Sealed || g.Board != "" || len(l.Series) != 0 ||
				!(l.Ohms.Nominal > 0)) ||
				l.Kind != Envelope && l.Kind != TestLoad && (len(l.Series) == 0 || !(l.Ohms.Nominal >= 0)) ||
				l.Kind == Envelope && l.Envelope == nil {
				t.Fatalf("light %+v", l)
			}
		}
	}
}

func FuzzParseBook(f *testing.F) {
	for _, p := range BuiltIn().Parts()[:8] {
		text, err := EncodePart(p)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(text)
	}
	f.Add([]byte("[part.x]\nkind = \"load\"\nbehaves = \"motor\"\nmean_mA = 1\nhigh_mA = 2\n"))
	f.Add([]byte("part = 3"))
	f.Fuzz(func(t *testing.T, src []byte) {
		b, problems := ParseBook("book.toml", src)
		if (b == nil) != (len(problems) > 0) {
			t.Fatalf("book %v with %d problems", b != nil, len(problems))
		}
		for _, pr := range problems {
			if pr.Pos.Line < 1 || pr.Pos.Line > strings.Count(string(src), "\n")+1 {
				t.Fatalf("a problem without a place: %+v", pr)
			}
		}
	})
}

// Whatever the path and the text, an edit gives a plan or an error.
func FuzzEdit(f *testing.F) {
	for _, path := range []string{"build", "jack.main.volts", "group.cabin.lights[0].part", `group."cabin".name`, "",
		"[", "]", `"`, "a[9999999999999999999]", "group[0].name"} {
		f.Add(path, "Brackwater")
	}
	f.Fuzz(func(t *testing.T, path, text string) {
		out, err := Edit([]byte(sound), path, text)
		if (out == nil) != (err != nil) {
			t.Fatalf("edit %q: %v", path, err)
		}
		if err != nil {
			return
		}
		if _, problems := Parse("plan.toml", out); len(problems) > 0 {
			t.Fatal(problems[0])
		}
	})
}
