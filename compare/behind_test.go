package compare

import (
	"testing"

	"sealworthy/compare/plan"
)

// What was touched is asked of the closures at hand: what something of them hangs on stands first,
// all else behind it. Nothing is left out, and where nobody knows which is at hand all is.
func TestPlacesAtHand(t *testing.T) {
	p, problems := plan.Parse("plan.toml", []byte(`build = "Tender"
[jack.main]
volts = 12.0
[closure.hull]
[closure.cabin]
[joint.keel]
from = "main"
[joint.mast]
from = "keel"
[[group]]
name = "bow"
joint = "keel"
closure = "hull"
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
[[group]]
name = "ceiling"
joint = "mast"
closure = "cabin"
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
`))
	if p == nil {
		t.Fatal(problems)
	}
	for _, c := range []struct {
		closures []string
		want     string
	}{
		{[]string{"hull"}, "main keel bow | mast ceiling "},
		{[]string{"cabin"}, "main keel mast ceiling | bow "},
		{[]string{"hull", "cabin"}, "main keel mast bow ceiling "},
		{nil, "main keel mast bow ceiling "},
	} {
		got, elsewhere := "", false
		for _, x := range placesAt(p, c.closures) {
			if x.Elsewhere && !elsewhere {
				got, elsewhere = got+"| ", true
			}
			got += x.Name + " "
			if elsewhere != x.Elsewhere {
				t.Errorf("of %q %q stands behind what lies elsewhere", c.closures, x.Name)
			}
		}
		if got != c.want {
			t.Errorf("of %q: %s, want %s", c.closures, got, c.want)
		}
	}
}
