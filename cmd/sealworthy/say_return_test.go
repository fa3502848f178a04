package main

import (
	"bytes"
	"strings"
	"testing"

	"sealworthy/compare/look"
	"sealworthy/compare/returns"
)

// What decided between places that look alike is named only where it did: not a client's words of another place,
// not a look at others.
func TestWhatDecidedBetweenTwins(t *testing.T) {
	cabin := returns.Cause{Place: "cabin lamps", P: 0.94, Text: `"cabin lamps": one is dark`}
	client := []returns.Seen{{Group: "stern lamp", Client: true, Look: look.Look{Saw: look.SomeDark}}}
	for _, c := range []struct {
		rests returns.Rests
		want  []string
	}{
		{returns.ByReadings, []string{"one place is at fault: cabin lamps", "the readings decided all the same"}},
		{returns.ByLook, []string{"one place is at fault: cabin lamps", "it was the look that decided"}},
		{returns.ByClient, []string{"most likely cabin lamps: look at it lit", "what the client said that decided"}},
		{returns.ByOdds, []string{"most likely cabin lamps: look at it lit", "this one fails most often"}},
	} {
		d := returns.Diagnosis{Build: "Skiff", Verdict: returns.OnePlace, Alarm: true, Named: &cabin, Rests: c.rests,
			Set: []returns.Cause{cabin}, Seen: client, Twins: []returns.Twin{{A: "cabin lamps", B: "stern lamp"}}}
		var b bytes.Buffer
		sayDiagnosis(&b, ink{}, &d)
		out := strings.Join(strings.Fields(b.String()), " ")
		for _, want := range c.want {
			if !strings.Contains(out, want) {
				t.Errorf("%s: %q isn't said:\n%s", c.rests, want, out)
			}
		}
		if c.rests != returns.ByClient && strings.Contains(out, "client said that decided") {
			t.Errorf("%s: the client is said to have decided:\n%s", c.rests, out)
		}
	}
}
