package sketch

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"sealworthy/compare/plan"
)

// What is added to a list of a place, and taken out of it: the plan says that and no more.
func TestItems(t *testing.T) {
	src := brackwater(t)
	for _, c := range []struct {
		at, list string
		filled   map[string]string
		line     string // of the file then
	}{
		{"joint.keel", "holds", map[string]string{"part": "resettable fuse", "amps": "750 mA"},
			`holds = [{ fuse = "resettable", amps = 0.75 }]`},
		{"joint.keel", "holds", map[string]string{"part": "step-down converter", "out_volts": "5 V", "amps": "1"},
			`holds = [{ converter = "step-down", max_amps = 1, out_volts = 5 }]`},
		{"joint.keel", "holds", map[string]string{"part": "slide switch"}, `holds = [{ switch = "slide" }]`},
		{"joint.entry", "holds", map[string]string{"part": "two-pin plug"}, `{ plug = "two-pin" }`},
		{"group.cabin windows", "lights", map[string]string{"part": "smd red 12 V", "count": "2"},
			`{ part = "smd red 12 V", count = 2 }`},
		{"board.beacon", "paces", map[string]string{"name": "fast", "period_s": "0.8", "duty": "0.3"},
			`{ name = "fast", period_s = 0.8, duty = 0.3 }`},
		{"board.beacon", "outputs", map[string]string{"max_mA": "25 mA", "ohms": "47"}, `{ max_mA = 25`},
	} {
		p, said := read(t, src)
		kind, name, _ := strings.Cut(c.at, ".")
		at := Place{kind, name}
		if kind == "board" {
			at.Name = p.Boards[map[string]int{"paces": 0, "outputs": 1}[c.list]].Name
		}
		x, err := Listed(p, said, plan.BuiltIn(), at, c.list, c.filled)
		if err != nil {
			t.Errorf("%s: %v", c.at, err)
			continue
		}
		out, err := plan.EditAll(src, x, plan.Options{})
		if err != nil || !strings.Contains(string(out), c.line) {
			t.Errorf("%s: %v, want %s:\n%v", c.at, err, c.line, x)
			continue
		}
		p2, said2 := read(t, out)
		items := itemsOf(p2, said2, at)[c.list]
		back, err := TakeOut(p2, said2, at, items[len(items)-1].Path)
		if err != nil {
			t.Errorf("%s: %v", c.at, err)
			continue
		}
		again, err := plan.EditAll(out, []plan.Change{back}, plan.Options{})
		if err != nil || strings.Contains(string(again), c.line) && !strings.Contains(string(src), c.line) {
			t.Errorf("%s: taken out again: %v", c.at, err)
		}
		p3, _ := read(t, again)
		if len(p3.Joints) != len(p.Joints) || len(p3.Groups) != len(p.Groups) {
			t.Errorf("%s: more went", c.at)
		}
	}
}

// What a fuse or a converter needs and isn't filled in, the plan itself refuses.
func TestItemsThatLackSomething(t *testing.T) {
	src := brackwater(t)
	p, said := read(t, src)
	for _, c := range []struct{ part, says string }{{"glass fuse", "amps"}, {"step-up converter", "out_volts"}} {
		x, err := Listed(p, said, plan.BuiltIn(), Place{"joint", "keel"}, "holds", map[string]string{"part": c.part})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := plan.EditAll(src, x, plan.Options{}); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.part, err)
		}
	}
	for _, bad := range []map[string]string{{}, {"part": "candle"}, {"part": "glass fuse", "amps": "some"}} {
		if _, err := Listed(p, said, plan.BuiltIn(), Place{"joint", "keel"}, "holds", bad); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}

// A board that has its paces from its part keeps them when one is added.
func TestAPaceBesideThoseOfThePart(t *testing.T) {
	src := []byte("build = \"Gig\"\n[jack.main]\nvolts = 12\n[board.beacon]\npart = \"single blinker\"\n" +
		"[[group]]\nname = \"lamp\"\n" +
		"board = \"beacon\"\nlights = [ { part = \"red 1.8 mm\", ohms = 470 } ]\n")
	p, said := read(t, src)
	was := p.Boards[0]
	at := Place{"board", "beacon"}
	x, err := Listed(p, said, plan.BuiltIn(), at, "paces", map[string]string{"name": "quick", "period_s": "0.5"})
	if err != nil {
		t.Fatal(err)
	}
	out, err := plan.EditAll(src, x, plan.Options{})
	if err != nil {
		t.Fatal(err)
	}
	p, said = read(t, out)
	now := p.Boards[0]
	if len(now.Paces) != len(was.Paces)+1 {
		t.Fatalf("%d paces, had %d:\n%s", len(now.Paces), len(was.Paces), out)
	}
	for i, x := range was.Paces {
		y := now.Paces[i]
		if x.Pos = y.Pos; x.Name != y.Name || x.PeriodS != y.PeriodS || x.Duty != y.Duty ||
			x.PeriodRelTol != y.PeriodRelTol {
			t.Errorf("pace %d is %+v, was %+v", i, y, x)
		}
	}
	if x, err = Listed(p, said, plan.BuiltIn(), at, "outputs", map[string]string{"max_mA": "30"}); err != nil {
		t.Fatal(err)
	}
	if out, err = plan.EditAll(out, x, plan.Options{}); err != nil {
		t.Fatal(err)
	}
	p, said = read(t, out)
	if got := p.Boards[0].Outputs; len(got) != len(was.Outputs)+1 || got[0].MaxAmps != was.Outputs[0].MaxAmps ||
		got[0].Ohms.Nominal != was.Outputs[0].Ohms.Nominal {
		t.Errorf("outputs %+v, were %+v", got, was.Outputs)
	}
	if _, err := TakeOut(p, said, at, `board.beacon.outputs[0]`); err == nil {
		t.Error("an output before the last was taken out")
	}
}

// Items are added and taken out at random: each is done or refused by the plan.
func TestItemsAtRandom(t *testing.T) {
	start := brackwater(t)
	rapid.Check(t, func(t *rapid.T) {
		src := start
		for range rapid.IntRange(1, 4).Draw(t, "steps") {
			p, said := read(t, src)
			at := rapid.SampledFrom(Places(p, said)).Draw(t, "place")
			before := len(Items(p, said, at))
			var c []plan.Change
			var err error
			if items := Items(p, said, at); len(items) > 0 && rapid.Bool().Draw(t, "out") {
				var x plan.Change
				x, err = TakeOut(p, said, at, rapid.SampledFrom(items).Draw(t, "item").Path)
				c = []plan.Change{x}
			} else if others := Others(p, said, at); len(others) > 0 {
				x := rapid.SampledFrom(others).Draw(t, "other")
				filled := map[string]string{"part": rapid.SampledFrom([]string{"glass fuse", "linear converter",
					"smd red 12 V"}).Draw(t, "part")}
				for _, f := range x.Fields {
					filled[f.Path] = drawValue(t, f)
				}
				c, err = Listed(p, said, plan.BuiltIn(), at, x.List, filled)
			} else {
				continue
			}
			if err != nil {
				continue
			}
			out, err := plan.EditAll(src, c, plan.Options{})
			if err != nil {
				continue
			}
			p, said = read(t, out)
			if len(Items(p, said, at)) == before && at.Kind == "joint" {
				t.Fatalf("%v changed nothing:\n%s", c, out)
			}
			src = out
		}
	})
}
