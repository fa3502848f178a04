package reel

import (
	"errors"
	"math"
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/compare/wiring"
)

// some is what five groups of two kinds tell.
func some(t testing.TB) (*plan.Plan, *Learned) {
	var lights []plan.Light
	for range 5 {
		lights = append(lights, chain(10, 3, 330, 0.05, 0.15, 0.5))
	}
	p := build(append(lights, smd(10, 1, 2.95, 820, 0.3, 0.9), smd(8, 1, 2.95, 820, 0.3, 0.9))...)
	var obs []Observation
	for i, r := range []float64{0.92, 0.9, 0.91, 0.94, 0.93, 1.05, 1.06} {
		obs = append(obs, seenAs(t, p, p.Groups[i].Name, r))
	}
	l := learn(t, p, obs, "", Options{})
	l.Day = "2026-11-25"
	return p, l
}

// What is kept is read again as it was.
func TestFile(t *testing.T) {
	_, l := some(t)
	text, err := l.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(string(text), "# What measured groups have told") {
		t.Errorf("the first line doesn't say what the file is:\n%s", text)
	}
	back, err := Parse("reels.toml", text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	again, err := back.Encode()
	if err != nil || string(again) != string(text) {
		t.Errorf("%v, written again:\n%s\nwas\n%s", err, again, text)
	}
	for i := range l.Factors {
		got, want := back.Factors[i], l.Factors[i]
		if got.Factor != want.Factor {
			t.Errorf("%+v, was %+v", got, want)
		}
		near(t, "mean", got.Mean, want.Mean, 1e-8)
		near(t, "share", got.OwnShare, want.OwnShare, 1e-8)
		for j := range l.Factors {
			near(t, "covariance", back.Covariance[i][j], l.Covariance[i][j], 1e-4)
		}
	}
	if len(back.Reels) != 2 || back.Reels[0].Text() != l.Reels[0].Text() || back.Build != "Brackwater" || back.Day != l.Day {
		t.Errorf("%+v", back)
	}
	// Nothing learned is nothing kept, but no error either.
	if text, err := (&Learned{Build: "Brackwater"}).Encode(); err != nil {
		t.Error(err)
	} else if back, err := Parse("reels.toml", text); err != nil || !back.Empty() {
		t.Errorf("%v %v", back, err)
	}
}

// Errors say where they are and what is wrong.
func TestFileErrors(t *testing.T) {
	_, l := some(t)
	text, err := l.Encode()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{"own_share = ", "own_part = ", `unknown key "factor.own_part"`},
		{"mean = ", "mean = \"x\"\n# ", "cannot"},
		{"[[factor]]", "[[factor", ":"},
		{"day = '2026-11-25'", "day = 'yesterday'", "no day"},
		{"sd = ", "sd = -1.0\n# ", "sd = -1"},
		{"half_width = ", "half_width = nan\n# ", "half_width"},
		{"planned = ", "planned = 7", "planned"},
		{"r = ", "r = 1.5\n# ", "can't be"},
		{"a = 1", "a = 99", "can't be"},
	} {
		bad := strings.Replace(string(text), c.old, c.new, 1)
		if bad == string(text) {
			t.Errorf("%q isn't in the file:\n%s", c.old, text)
			continue
		}
		_, err := Parse("reels.toml", []byte(bad))
		var fe *FileError
		if !errors.As(err, &fe) || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "reels.toml") {
			t.Errorf("%q for %q: %v, want %q", c.new, c.old, err, c.want)
		}
	}
	_, err = Parse("reels.toml", []byte(strings.Replace(string(text), "own_share", "own_part", 1)))
	var fe *FileError
	if errors.As(err, &fe) && (fe.Line < 5 || fe.Column < 1) {
		t.Errorf("place %d:%d", fe.Line, fe.Column)
	}
	// Correlations that no distribution has: three factors each against the other two.
	three := `build = "x"` + "\n"
	for _, r := range []string{"a", "b", "c"} {
		three += "[[factor]]\nkind = 'LED voltage'\nreel = '" + r + "'\npart = 'x'\nhalf_width = 0.1\nshare = 0.5\ncommon_share = 0.5\nown_share = 0.5\nmean = 0.0\nsd = 0.5\n"
	}
	three += "[[together]]\na = 1\nb = 2\nr = -0.9\n[[together]]\na = 1\nb = 3\nr = -0.9\n[[together]]\na = 2\nb = 3\nr = -0.9\n"
	if _, err := Parse("reels.toml", []byte(three)); err == nil || !strings.Contains(err.Error(), "correlated") {
		t.Errorf("three against each other: %v", err)
	}
	if _, err := Parse("reels.toml", make([]byte, 2<<20)); err == nil {
		t.Error("two MiB are no such file")
	}
	var none *Learned
	if _, err := none.Encode(); err == nil {
		t.Error("nothing can't be kept")
	}
}

// No text makes the reader fall over, and what it takes it can write again.
func FuzzParse(f *testing.F) {
	_, l := some(f)
	text, err := l.Encode()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("build = 'x'\n[[factor]]\nsd = 1e308\n"))
	f.Add([]byte("[[together]]\na = 1\nb = 1\nr = 0.5\n"))
	f.Add([]byte("\xff\xfe"))
	f.Fuzz(func(t *testing.T, src []byte) {
		l, err := Parse("reels.toml", src)
		if err != nil {
			var fe *FileError
			if !errors.As(err, &fe) {
				t.Errorf("%T: %v", err, err)
			}
			return
		}
		again, err := l.Encode()
		if err != nil {
			t.Fatalf("read and not written: %v", err)
		}
		if _, err := Parse("reels.toml", again); err != nil {
			t.Fatalf("%v\n%s", err, again)
		}
	})
}

// A reel becomes an entry of the part book: the next build expects of it what
// this one has learned.
func TestPart(t *testing.T) {
	p, l := some(t)
	base := PartsOf(p, "reel of May", nil)
	if len(base) != 1 || base[0].Kind != plan.PartSMD {
		t.Fatalf("%+v", base)
	}
	base[0].LED = "warm white 0603"
	got, err := l.Part(base[0], "reel of May", "SMD warm, reel of May")
	if err != nil {
		t.Fatal(err)
	}
	r := l.Reels[1]
	near(t, "draw", got.Amps/base[0].Amps, 1+r.Rel, 1e-4)
	if !(got.Tolerance < base[0].Tolerance) || got.Source != "learned from 2 groups of Brackwater, 2026-11-25" {
		t.Errorf("%+v", got)
	}
	// What pieces share and what each has on its own is what was learned.
	near(t, "shared", got.Tolerance*math.Sqrt(got.Share/3), r.U/(1+r.Rel), 1e-4)
	f := l.Factors[l.index(wiring.Factor{Kind: wiring.BranchSpread, Reel: "reel of May", Part: "SMD warm"})]
	near(t, "own", got.Tolerance*math.Sqrt((1-got.Share)/3), 0.3*math.Sqrt((1-f.OwnShare)/3)/(1+r.Rel), 1e-4)
	text, err := plan.EncodePart(got)
	if err != nil {
		t.Fatal(err)
	}
	book, problems := plan.ParseBook("parts.toml", text)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	back, err := book.Find("SMD warm, reel of May")
	if err != nil || math.Abs(back.Amps-got.Amps) > 1e-7 || math.Abs(back.Tolerance-got.Tolerance) > 1e-6 {
		t.Errorf("%v %+v", err, back)
	}

	// LEDs of one reel: their voltage.
	led := PartsOf(p, "white 1.8 mm", nil)
	if len(led) != 1 || led[0].Kind != plan.PartLED {
		t.Fatalf("%+v", led)
	}
	got, err = l.Part(led[0], "white 1.8 mm", "white, bag of May")
	if err != nil {
		t.Fatal(err)
	}
	// The groups draw less than planned: their forward voltage is higher.
	if !(got.Points[2].Volts > led[0].Points[2].Volts+0.02 && got.SpreadVolts <= led[0].SpreadVolts+1e-9) {
		t.Errorf("%+v\nwas %+v", got, led[0])
	}
	if text, err := plan.EncodePart(got); err != nil {
		t.Errorf("%v\n%s", err, text)
	}
	for _, c := range []struct {
		base plan.Part
		reel string
	}{{base[0], "reel of June"}, {led[0], "reel of May"}, {plan.Part{Name: "beacon", Kind: plan.PartBoard}, "reel of May"}} {
		if _, err := l.Part(c.base, c.reel, "x"); err == nil {
			t.Errorf("%s of %s became a part", c.base.Name, c.reel)
		}
	}
}
