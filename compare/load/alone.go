package load

import (
	"fmt"

	"sealworthy/compare/circuit"
	"sealworthy/compare/wiring"
)

// Alone is the draw at the jack, in A, with volts there and nothing on but what
// feeds a group, of its board only the group's own output lit. It is the truth
// beside a reading: no warm-up, no meter, no leads, no time. A load made Loose
// answers for its loose pieces. The error says that there is no such group, or
// that the circuit can't be solved.
func (l *Load) Alone(group string, volts float64) (float64, error) {
	gi := l.plan.GroupAt(group)
	if gi < 0 {
		return 0, fmt.Errorf("no group %q in the plan", group)
	}
	g := l.plan.Groups[gi]
	for _, p := range l.parts {
		if !p.w.Groups[gi].Here {
			continue
		}
		p.w.Alone(gi)
		if b, o, ok := wiring.OutputOf(l.plan, g); ok {
			if lit, stuck := l.boards[b].stuck[g.Output]; stuck {
				p.w.SetLit(b, o, lit)
			}
		}
		if err := p.w.Solve(circuit.Source{EmfV: volts}); err != nil {
			return 0, err
		}
		return p.w.JackAmps(p.w.Point), nil
	}
	return 0, fmt.Errorf("group %q hangs behind no jack", group)
}
