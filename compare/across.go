package compare

import (
	"fmt"

	"sealworthy/capture"
	"sealworthy/compare/together"
)

// across looks at all groups together: what several of them have in common, as
// a bad joint upstream or a high return, is named in place of what each of them
// could have by itself. Readings from before the joining count, too: what is
// upstream shows in none of them. rows are changed in place.
func (j *Judge) across(rows map[string][]Finding, latest map[string]map[string]standing) error {
	var seen []together.Seen
	for _, g := range j.Expected.Plan.Groups {
		fs := rows[g.Name]
		if s, ok := j.seenTogether(fs); ok {
			seen = append(seen, s)
		}
		for _, x := range latest[g.Name] {
			if x.before != nil && x.before.Stage == Loose && x.now.Stage != Loose {
				if s, ok := j.seenTogether([]Finding{*x.before}); ok {
					seen = append(seen, s)
				}
			}
		}
	}
	if len(seen) < 2 {
		return nil
	}
	r, err := together.Find(j.Expected.Plan, seen, j.priors().Common)
	if err != nil {
		return fmt.Errorf("what several groups may have in common couldn't be worked out: %w", err)
	}
	for name, fs := range rows {
		c, ok := r.Explains(name)
		if !ok {
			continue
		}
		text := c.Text
		if c.Look != "" {
			text += " " + c.Look
		}
		for i, f := range fs {
			if f.Verdict == Low || f.Verdict == High || f.Verdict == CantTell {
				rows[name][i].common = true
				rows[name][i].Causes = []Cause{{Name: string(c.Kind), Text: text, P: round2(c.P), Place: list(placesOf(c)), Places: placesOf(c)}}
			}
		}
	}
	return nil
}

func placesOf(c together.Cause) []string {
	var names []string
	for _, p := range c.Places {
		names = append(names, p.Name)
	}
	return names
}

// seenTogether is the reading of a group that can be weighed with those of others.
func (j *Judge) seenTogether(fs []Finding) (together.Seen, bool) {
	for _, f := range fs {
		switch f.Verdict {
		case InBand, Low, High, CantTell:
		default:
			continue
		}
		// What draws nothing has no evidence of its own; together with others it has.
		nothing := f.evidence == nil && f.unweighed && f.Board == "" && f.conditions.Volts > 0
		if f.Unread || f.moves || !nothing && (f.evidence == nil || len(f.evidence.groups) != 1) || f.Way != string(capture.Alone) {
			continue
		}
		b, err := j.Expected.At(f.conditions)
		if err != nil {
			continue
		}
		g, ok := b.GroupNamed(f.Group)
		if !ok || g.AsFound {
			continue
		}
		return together.FromBudget(together.Seen{
			Group: f.Group, Volts: f.VoltsSet, SeriesOhm: f.conditions.BurdenOhm + f.conditions.LeadsOhm, Loose: f.conditions.Stage == Loose,
			MeasuredA: f.MeasuredA, MeasuredU: f.MeasuredU,
		}, g), true
	}
	return together.Seen{}, false
}
