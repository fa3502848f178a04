package main

import (
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// said is what sayFindings writes, without colours.
func said(cs ...compare.ClosureFinding) string {
	var b strings.Builder
	sayFindings(&b, ink{}, cs, nil, false)
	return b.String()
}

func TestGravestFirst(t *testing.T) {
	t.Parallel()
	var cs []compare.ClosureFinding
	for _, v := range []compare.ClosureVerdict{compare.ReadyToClose, compare.NotSettled, compare.LookFirst,
		compare.KeepOpen, compare.ClosedByChoice} {
		cs = append(cs, compare.ClosureFinding{Closure: string(v), Verdict: v})
	}
	before := slices.Clone(cs)
	var got []string
	for _, c := range wording.Gravest(cs) {
		got = append(got, c.Closure)
	}
	if want := "keep open, not settled, closed by choice, look first, ready to close"; strings.Join(got,
		", ") != want {
		t.Errorf("%q, want %q", got, want)
	}
	if cs[0].Closure != before[0].Closure {
		t.Error("the findings themselves were put into another order")
	}
}

// What settles a finding is said once and goes on with "or".
func TestSettleSaidOnce(t *testing.T) {
	t.Parallel()
	got := said(compare.ClosureFinding{Closure: "hull", Verdict: compare.NotSettled,
		Groups: []compare.Finding{{Group: "lamp", Verdict: compare.CantTell,
			Readings: 9, Why: "too near", Settle: []string{"measure a sample", "look at it",
				"measure it alone"}}}})
	want := "hull: ? NOT SETTLED\n  lamp  ? can't tell\n      why: too near\n      to settle it: measure a sample\n " +
		"     or:           look at it\n      or:           measure it alone\n"
	if !strings.HasSuffix(got, want[strings.Index(want, "      why"):]) ||
		!strings.HasPrefix(got, want[:strings.Index(want, "      why")]) {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// The lines of a cause stand below one another, however it's led in.
func TestCausesAreSetInAlike(t *testing.T) {
	t.Parallel()
	for _, text := range []string{"it is dark", "Is it dark? Look"} {
		got := said(compare.ClosureFinding{Closure: "hull", Verdict: compare.KeepOpen, Groups: []compare.Finding{{
			Group: "lamp", Verdict: compare.Low, Readings: 9,
			Causes: []compare.Cause{{Text: text + strings.Repeat(" at the mast", 9)}}}}})
		at := strings.Index(got, text)
		first := at - strings.LastIndex(got[:at], "\n") - 1
		_, next, _ := strings.Cut(got[at:], "\n")
		if in := len(next) - len(strings.TrimLeft(next, " ")); in != first || next == "" {
			t.Errorf("its second line is set in by %d, its first by %d:\n%s", in, first, got)
		}
	}
}

// Readings by an older plan are named where others were taken since.
func TestPlanChangedSaidOnce(t *testing.T) {
	t.Parallel()
	old := func(g string) compare.Finding {
		return compare.Finding{Group: g, Verdict: compare.InBand, Readings: 9, PlanChanged: true,
			Notes: []string{"the plan changed after this reading; it is judged by the plan as it is now"}}
	}
	c := compare.ClosureFinding{Closure: "hull", Verdict: compare.ReadyToClose,
		Groups: []compare.Finding{old("bow"), old("stern"), {Group: "mast", Verdict: compare.NotMeasured}}}
	if got := said(c); !strings.HasPrefix(got, "note: the plan changed after these readings;") ||
		strings.Contains(got, "bow") {
		t.Errorf("all are older: %s", got)
	}
	c.Groups[2] = compare.Finding{Group: "mast", Verdict: compare.InBand, Readings: 9}
	if got := said(c); !strings.HasPrefix(got, "note: the plan changed after the readings of bow, stern;") ||
		strings.Contains(got, "mast") {
		t.Errorf("some are older: %s", got)
	}
	c.Groups = c.Groups[2:]
	if got := said(c); strings.Contains(got, "plan changed") {
		t.Errorf("none is older: %s", got)
	}
}

// One line stands for groups of which nothing was measured, but not for one of
// which there is more to say.
func TestUnmeasuredInOneLine(t *testing.T) {
	t.Parallel()
	un := func(g, pace string) compare.Finding {
		return compare.Finding{Group: g, Pace: pace, Verdict: compare.NotMeasured, Settle: []string{"measure it"}}
	}
	c := compare.ClosureFinding{Closure: "hull", Verdict: compare.NotSettled,
		Groups: []compare.Finding{un("bow", ""), un("beacon", "slow"), un("beacon", "fast")}}
	if got, want := said(c), "hull: ? NOT SETTLED\n  nothing measured yet: bow, beacon\n"; got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	c.Groups[0].Notes = []string{"skipped: no lamp yet"}
	if got := said(c); !strings.Contains(got, "note: skipped: no lamp yet") ||
		strings.Contains(got, "nothing measured") || strings.Contains(got, "to settle it") {
		t.Errorf("skipped: %s", got)
	}
	c.Groups[0].Notes, c.Groups[0].At = nil, time.Unix(1, 0)
	if got := said(c); strings.Contains(got, "nothing measured yet") {
		t.Errorf("it was measured and touched since: %s", got)
	}
}

func TestFound(t *testing.T) {
	t.Parallel()
	x := fault.Fault{Group: "bow", Kind: fault.OpenBranch}
	cause := func(name string, kinds ...string) []compare.Cause { return []compare.Cause{{Name: name, Kinds: kinds}} }
	for _, c := range []struct {
		f    compare.Finding
		want string
	}{
		{compare.Finding{Verdict: compare.Low, Causes: cause("open branch")}, "yes"},
		{compare.Finding{Verdict: compare.Low, Causes: cause("dark segment", "dark segment", "open branch")}, "yes"},
		{compare.Finding{Verdict: compare.Low, Causes: cause("bad joint")}, "its group, taken for: bad joint"},
		{compare.Finding{Verdict: compare.Low}, "its group, not what is wrong"},
		{compare.Finding{Verdict: compare.CantTell}, "no, it can't be told"},
		{compare.Finding{Verdict: compare.InBand}, "no, its group is in band"},
		{compare.Finding{Verdict: compare.NotMeasured}, "no, nothing was measured of it"},
	} {
		c.f.Group = "bow"
		other := compare.Finding{Group: "stern", Verdict: compare.Low, Causes: cause("open branch")}
		if got := found(x, []compare.ClosureFinding{{Groups: []compare.Finding{other, c.f}}}); got != c.want {
			t.Errorf("%+v: %q, want %q", c.f, got, c.want)
		}
	}
}

// Five cautions at most, each on two short lines at most.
func TestCautionsAreShort(t *testing.T) {
	t.Parallel()
	all := cautions(&plan.Plan{Jacks: []plan.Jack{{Source: "adapter"}, {Source: "adapter"}}})
	if len(all) != 5 || len(cautions(&plan.Plan{})) != 4 {
		t.Errorf("%d cautions", len(all))
	}
	for _, s := range all {
		if l := wrapped("  caution: ", "           ", s); len(l) > 2 {
			t.Errorf("%d lines: %s", len(l), s)
		}
	}
}

// A name in a list is never parted: it is copied as it stands.
func TestFilled(t *testing.T) {
	t.Parallel()
	name := "cold white 1.8 mm" // 17 columns, 18 with its comma
	var b strings.Builder
	filled(&b, "  ", "    ", slices.Repeat([]string{name}, 9))
	lines := strings.Split(strings.TrimSuffix(b.String(), "\n"), "\n")
	if len(lines) != 3 {
		t.Errorf("%d lines:\n%s", len(lines), b.String())
	}
	for _, l := range lines {
		if columns(l) > width || strings.Count(l,
			name)*(len(name)) != len(strings.ReplaceAll(strings.ReplaceAll(strings.TrimSpace(l), ", ", ""), ",", "")) {
			t.Errorf("%d columns: %q", columns(l), l)
		}
	}
}

// A path on Windows stays as it is; one with blanks is quoted on each system.
func TestQuotedFor(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ s, system, want string }{
		{"brackwater", "linux", "brackwater"}, {"my: ship", "linux", `"my: ship"`}, {`a\b`, "linux", `"a\\b"`},
		{`C:\models\tug`, "windows", `C:\models\tug`}, {`C:\my models\tug`, "windows", `"C:\my models\tug"`},
		{"", "windows", `""`},
	} {
		if got := quotedFor(c.s, c.system); got != c.want {
			t.Errorf("%q on %s: %s, want %s", c.s, c.system, got, c.want)
		}
	}
}

// A list of numbered places parts no number from its name, nor a name, at any width.
func TestANumberStaysBesideItsName(t *testing.T) {
	all := placeList([]capture.Place{{Name: "main", Kind: "jack"}, {Name: "cab lamp", Kind: "group"},
		{Name: "step lamp", Kind: "group"}, {Name: "route board", Kind: "group"}})
	for cols := 20; cols <= width; cols++ {
		lines := filledTo(cols, "  ", "  ", all)
		for i, l := range lines {
			if columns(l) > cols || i < len(lines)-1 && !strings.HasSuffix(l, ",") {
				t.Errorf("%d columns: %q", cols, l)
			}
		}
		if got := strings.Join(strings.Fields(strings.Join(lines, " ")), " "); got !=
			"1 jack main, 2 cab lamp, 3 step lamp, 4 route board" {
			t.Errorf("%d columns: %q", cols, got)
		}
	}
}
