package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
)

// planChange is a change to the plan that a finding or a check names: what would
// explain what was measured, or what cures it.
type planChange struct {
	Number int    `json:"number"`
	Edit   string `json:"edit"` // PATH = VALUE
	For    string `json:"for"`  // the group or check that it's about
}

// planChanges numbers the changes that findings name, in the order in which they're
// read; each once.
func planChanges(cs []compare.ClosureFinding) []planChange {
	var out []planChange
	add := func(edit, about string) {
		if edit != "" && !slices.ContainsFunc(out, func(c planChange) bool { return c.Edit == edit }) {
			out = append(out, planChange{len(out) + 1, edit, about})
		}
	}
	for _, c := range wording.Gravest(cs) {
		for _, x := range c.Checks {
			if x.Accepted == "" {
				add(x.Edit, x.Name)
			}
		}
		groups := slices.Clone(c.Groups)
		slices.SortStableFunc(groups, func(a, b compare.Finding) int { return order(a.Verdict) - order(b.Verdict) })
		for _, f := range groups {
			for _, cause := range f.Causes {
				add(cause.Edit, f.Group)
			}
		}
	}
	return out
}

// changeNumbered gives the change that a maker names, by its number or as PATH = VALUE.
func changeNumbered(changes []planChange, said string) (string, error) {
	if strings.Contains(said, "=") {
		return said, nil
	}
	n, err := strconv.Atoi(strings.TrimSpace(said))
	switch {
	case err != nil:
		return "", misuse("compare", "--change takes the number of a change, or PATH = VALUE, not %q", said)
	case len(changes) == 0:
		return "", misuse("compare", "no change to the plan is named here, so there is no number %d", n)
	case n < 1 || n > len(changes):
		return "", misuse("compare", "there is no change %d: the numbers go from 1 to %d", n, len(changes))
	}
	return changes[n-1].Edit, nil
}

// sayPlanChanges lists the changes with what makes one.
func sayPlanChanges(w io.Writer, changes []planChange, command string) {
	if len(changes) == 0 {
		return
	}
	fmt.Fprintln(w, "\nchanges to the plan that would explain or cure it:")
	for _, c := range changes {
		wrap(w, fmt.Sprintf("  %d  ", c.Number), "     ", c.Edit)
	}
	wrap(w, "", "  ", "Look first whether the model is so, or make it so; then")
	fmt.Fprintln(w, folded([]string{command, "--change", "NUMBER"}))
}
