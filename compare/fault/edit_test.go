package fault_test

import (
	"reflect"
	"strings"
	"testing"

	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// What a suspect offers can be given back by hand.
func TestEditIsReadBack(t *testing.T) {
	src, p := brackwaterPlan(t)
	for _, g := range []string{"cabin windows", "boiler glow", "masthead light"} {
		for _, s := range fault.Suspects(p, src, g, plan.Options{}, fault.DefaultPriors().Plan) {
			path, value, err := fault.ParseEdit(s.Edit())
			if err != nil || path != s.Path {
				t.Errorf("%q: path %q, %v", s.Edit(), path, err)
				continue
			}
			again, err := fault.Amend(src, path, value, plan.Options{})
			want, _ := fault.Amend(src, s.Path, s.Value, plan.Options{})
			if err != nil || string(again) != string(want) {
				t.Errorf("%q gives another plan, or none: %v", s.Edit(), err)
			}
		}
	}
}

func TestParseEdit(t *testing.T) {
	for _, c := range []struct {
		in    string
		path  string
		value any
		err   string
	}{
		{`jack.main.volts = 12.5`, "jack.main.volts", 12.5, ""},
		{` group."a = b".lights[0].segments=5 `, `group."a = b".lights[0].segments`, 5, ""},
		{`group.x.see = "3 = three"`, "group.x.see", "3 = three", ""},
		{`group.x.lights[0].leds = ["red 3 mm", "blue 3 mm"]`, "group.x.lights[0].leds",
			[]string{"red 3 mm", "blue 3 mm"}, ""},
		{`board.b.button = true`, "board.b.button", true, ""},
		{`group.x.see`, "", nil, "has no ="},
		{`= 5`, "", nil, "names nothing"},
		{`a = `, "", nil, "has no value"},
		{`a = red`, "", nil, "texts stand in quotes"},
		{"a = 1\nb = 2", "", nil, "has no value"},
		{`a = [1, 2]`, "", nil, "something else than texts"},
		{`a = { b = 1 }`, "", nil, "no plan has"},
	} {
		path, value, err := fault.ParseEdit(c.in)
		if c.err != "" {
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q: %v, want %q", c.in, err, c.err)
			}
			continue
		}
		if err != nil || path != c.path || !reflect.DeepEqual(value, c.value) {
			t.Errorf("%q: %q, %#v, %v", c.in, path, value, err)
		}
	}
}

// Whatever is given, a change is read or refused, and what is applied is a plan.
func FuzzAmend(f *testing.F) {
	for _, s := range []string{`group.lone.lights[0].count = 2`, `group."lamps".lights[0].part = "smd red 12 V"`,
		`group.lone.lights[9999999999].count = 2`,
		`group."a".lights[0].`, `group."`, `jack.main.volts = 1e400`, `group.lone.lights[0].count = "]"`,
		`group.lone.lights[0].part = "\"`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, line string) {
		path, value, err := fault.ParseEdit(line)
		if err != nil {
			return
		}
		out, err := fault.Amend([]byte(reversible), path, value, plan.Options{})
		if err != nil {
			return
		}
		if _, problems := plan.Parse("plan.toml", out); len(problems) > 0 {
			t.Errorf("%q was accepted and makes the plan wrong: %v", line, problems)
		}
	})
}
