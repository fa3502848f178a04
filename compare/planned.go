package compare

import (
	"encoding/json"
	"fmt"

	"sealworthy/capture"
	"sealworthy/compare/plan"
)

// keepPlanned writes into power steps what their groups are by the plan now.
func keepPlanned(p *plan.Plan, steps []capture.Step) {
	for i := range steps {
		s := &steps[i]
		if s.Kind != capture.Power {
			continue
		}
		for _, name := range s.Groups {
			g, ok := p.Group(name)
			if !ok {
				continue
			}
			if s.Planned == nil {
				s.Planned = map[string]string{}
			}
			s.Planned[name] = plannedOf(g)
		}
	}
}

// plannedOf is all of a group's lights that decides what they draw, as the record keeps it: not
// where it stands in a file, nor where its figures come from. "" where nothing is planned.
func plannedOf(g plan.Group) string {
	if g.AsFound {
		return ""
	}
	lights := make([]plan.Light, len(g.Lights))
	for i, l := range g.Lights {
		l.Pos, l.Source, l.Ohms.Source, l.CopperOhms.Source, l.BranchSpread.Source = plan.Pos{}, "", "", "", ""
		series := make([]plan.LED, len(l.Series))
		for k, d := range l.Series {
			d.Source, d.Volts.Source = "", ""
			series[k] = d
		}
		l.Series, lights[i] = series, l
	}
	b, err := json.Marshal(lights)
	if err != nil { // figures that no file can hold: nothing is kept of them
		return ""
	}
	return string(b)
}

// plannedLights are the lights that the record keeps.
func plannedLights(kept string) ([]plan.Light, error) {
	var out []plan.Light
	if err := json.Unmarshal([]byte(kept), &out); err != nil {
		return nil, fmt.Errorf("what was planned then can't be read: %w", err)
	}
	return out, nil
}
