package compare

import (
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/together"
)

// across looks at all groups together: what several of them have in common, as
// a bad joint upstream or a high return, is named once and before what each of
// them could have by itself. rows are changed in place.
func (j *Judge) across(rows map[string][]Finding) {
	for _, stage := range []bool{false, true} {
		var seen []together.Seen
		for _, g := range j.Expected.Plan.Groups {
			if s, ok := j.seenTogether(rows[g.Name], stage); ok {
				seen = append(seen, s)
			}
		}
		if len(seen) < 2 {
			continue
		}
		r, err := together.Find(j.Expected.Plan, seen, together.DefaultPriors())
		if err != nil || !r.Alarm || len(r.Causes) == 0 {
			continue
		}
		c := r.Causes[0]
		text := c.Text
		if c.Look != "" {
			text += ": " + c.Look
		}
		for _, name := range c.Shows {
			for i, f := range rows[name] {
				if f.Verdict != Low && f.Verdict != High && f.Verdict != CantTell || slices.Contains(r.Own, name) {
					continue
				}
				rows[name][i].Causes = append([]Cause{{Name: string(c.Kind), Text: text, P: round2(c.P), Place: placesOf(c)}}, f.Causes...)
			}
		}
	}
}

func placesOf(c together.Cause) string {
	var names []string
	for _, p := range c.Places {
		names = append(names, p.Name)
	}
	return list(names)
}

// seenTogether is the reading of a group that can be weighed with those of others.
func (j *Judge) seenTogether(fs []Finding, loose bool) (together.Seen, bool) {
	for _, f := range fs {
		switch f.Verdict {
		case InBand, Low, High, CantTell:
		default:
			continue
		}
		if f.Unread || f.evidence == nil || len(f.evidence.groups) != 1 || f.evidence.loose != loose || f.Way != string(capture.Alone) {
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
			Group: f.Group, Volts: f.VoltsSet, SeriesOhm: f.evidence.bench.SeriesOhm, Loose: loose,
			MeasuredA: f.MeasuredA, MeasuredU: f.MeasuredU,
		}, g), true
	}
	return together.Seen{}, false
}
