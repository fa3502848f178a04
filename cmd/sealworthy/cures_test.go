package main

import (
	"strings"
	"testing"

	"sealworthy/compare"
)

// Changes are numbered in the order in which they're read, each once, accepted checks
// left out; and a finding names the number that the list below has.
func TestChangesHaveTheNumbersThatAreRead(t *testing.T) {
	cs := []compare.ClosureFinding{
		{Closure: "hull", Verdict: compare.LookFirst, Groups: []compare.Finding{
			{Group: "bow", Verdict: compare.Low, Causes: []compare.Cause{{Text: "one dark", Edit: "a = 2"}}}}},
		{Closure: "house", Verdict: compare.KeepOpen,
			Checks: []compare.CheckFinding{{Name: "LED current: lamp", Edit: "r = 680"},
				{Name: "other", Edit: "r = 1", Accepted: "so it is"}},
			Groups: []compare.Finding{
				{Group: "bow", Verdict: compare.Low, Causes: []compare.Cause{{Text: "one dark", Edit: "a = 2"},
					{Text: "or so", Edit: "b = 3"}}}}},
	}
	changes := planChanges(cs)
	var got []string
	for _, c := range changes {
		got = append(got, c.Edit)
	}
	if strings.Join(got, "; ") != "r = 680; a = 2; b = 3" {
		t.Errorf("%q", got)
	}
	var out strings.Builder
	sayFindings(&out, ink{}, cs, changes, false)
	if !strings.Contains(out.String(), "or so (change 3 of the plan, below)") ||
		strings.Contains(out.String(), "b = 3") {
		t.Error(out.String())
	}
	if edit, err := changeNumbered(changes, "3"); err != nil || edit != "b = 3" {
		t.Errorf("%q %v", edit, err)
	}
	for _, bad := range []string{"0", "4", "-1", "x", ""} {
		if edit, err := changeNumbered(changes, bad); err == nil {
			t.Errorf("%q is %q", bad, edit)
		}
	}
}
