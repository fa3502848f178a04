package fault_test

import (
	"math/rand/v2"
	"strings"
	"testing"

	"sealworthy/compare/circuit"
	"sealworthy/compare/fault"
	"sealworthy/compare/wiring"
	"sealworthy/compare/words"
)

// lit is the draw of one group alone, A.
func lit(t *testing.T, w *wiring.Wired, name string) float64 {
	t.Helper()
	w.SetAll(false)
	for i, x := range w.Terminals {
		if x.Name == name {
			w.SetOn(i, true)
		}
	}
	if err := w.Solve(circuit.Source{EmfV: 12}); err != nil {
		t.Fatal(err)
	}
	return w.JackAmps(w.Point)
}

// A fault above the groups is felt by those behind it and by no other.
func TestUpstream(t *testing.T) {
	p := parsed(t, reversible)
	r := rand.New(rand.NewPCG(1, 1))
	for _, c := range []struct {
		in          string
		felt, spare []string
		open        bool
		place, text string
	}{
		{"keel=bad joint upstream", []string{"blocks", "lamps", "lone", "conducts"}, []string{"strips"}, false,
			"main > keel", `before joint "keel"`},
		{"keel=open-joint", []string{"blocks", "lamps", "lone", "conducts"}, []string{"strips"}, true, "main > keel",
			`Nothing gets past joint "keel"`},
		{"mast=bad return", []string{"conducts"}, []string{"blocks", "lamps", "strips"}, false, "return mast",
			"jack's minus"},
		{"mast=open return", []string{"conducts"}, []string{"blocks", "lamps", "strips"}, true, "return mast",
			`Return "mast" is open`},
	} {
		f, err := fault.Parse(p, c.in, r)
		if err != nil {
			t.Fatal(err)
		}
		w := wired(t, p)
		for _, g := range append(c.felt, c.spare...) {
			w.Reset()
			healthy := lit(t, w, g)
			if err := fault.Apply(w, f); err != nil {
				t.Fatal(err)
			}
			share := lit(t, w, g) / healthy
			switch {
			case contains(c.spare, g) && (share < .9999 || share > 1.0001):
				t.Errorf("%s: %s draws %.4f of the healthy, and doesn't hang there", f, g, share)
			case contains(c.felt, g) && c.open && share > 1e-3, contains(c.felt, g) && !c.open &&
				(share > .99 || share < .2):
				t.Errorf("%s: %s draws %.4f of the healthy", f, g, share)
			}
		}
		if got := fault.Place(p, f); got != c.place {
			t.Errorf("%s: place %q, want %q", f, got, c.place)
		}
		if got := words.Fault(p, f, nil); !strings.Contains(got, c.text) {
			t.Errorf("%s: %q lacks %q", f, got, c.text)
		}
		if again, err := fault.Parse(p, f.String(), r); err != nil || again != f {
			t.Errorf("%s is read back as %v, %v", f, again, err)
		}
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func TestUpstreamRefuses(t *testing.T) {
	p := parsed(t, reversible)
	for in, want := range map[string]string{
		"stern=open joint":    "it has: keel",
		"keel=open return":    "it has: mast",
		"lamps=bad return":    `no return "lamps"`,
		"keel=dark segment":   `no group "keel"`,
		"lamps=no such fault": "open return",
	} {
		if _, err := fault.Parse(p, in, rand.New(rand.NewPCG(1, 1))); err == nil ||
			!strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", in, err, want)
		}
	}
	q := parsed(t, strings.Replace(reversible, "[joint.keel]", "[joint.bare]\nfrom = \"main\"\n[joint.keel]", 1))
	if _, err := fault.Upstream(q, fault.OpenJoint, "bare", 0); err == nil ||
		!strings.Contains(err.Error(), "no group hangs on") {
		t.Errorf("a joint that feeds nothing: %v", err)
	}
	// Behind another jack it isn't there.
	two := parsed(t, reversible+"[jack.usb]\nvolts = 5.0\n")
	w, err := wiring.Build(two, "usb", wiring.Options{})
	if err != nil {
		t.Fatal(err)
	}
	f, err := fault.Upstream(two, fault.UpstreamJoint, "keel", 10)
	if err != nil {
		t.Fatal(err)
	}
	if err := fault.Apply(w, f); err == nil {
		t.Error("a joint of another jack was found")
	}
}
