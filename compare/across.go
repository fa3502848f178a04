package compare

import (
	"fmt"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/look"
	"sealworthy/compare/words"
)

// across looks at all groups together: what several of them have in common, as
// a bad joint upstream or a high return, is named in place of what each of them
// could have by itself. Readings from before the joining count, too: what is
// upstream shows in none of them. rows are changed in place.
func (j *Judge) across(rows map[string][]Finding, latest map[string]map[string]standing) error {
	ms, err := j.litAlone(rows, latest)
	if err != nil || len(ms) < 2 {
		return err
	}
	a, err := belief.InCommon(j.Expected.Plan, ms, j.priors().Common)
	if err != nil {
		return fmt.Errorf("what several groups may have in common couldn't be worked out: %w", err)
	}
	for name, fs := range rows {
		c, ok := a.Explains(name)
		if !ok {
			continue
		}
		causes := []Cause{causeAbove(c)}
		for _, x := range a.Causes[1:] {
			if x.Lack && x.P >= leastP {
				causes = append(causes, causeAbove(x))
			}
		}
		for i, f := range fs {
			if f.Verdict == Low || f.Verdict == High || f.Verdict == CantTell {
				rows[name][i].common, rows[name][i].Causes = true, causes
			}
		}
	}
	return nil
}

// causeAbove says what groups have in common as a cause of each of them.
func causeAbove(c belief.Shared) Cause {
	text, look := words.InCommon(c.Common)
	if look != "" {
		text += " " + look
	}
	var names []string
	for _, s := range c.Spots {
		names = append(names, s.Name)
	}
	return Cause{Name: string(c.Kind), Text: text, P: round2(c.P), Place: list(names), Places: names}
}

// litAlone are the groups that were lit alone, with what was read of them, and before
// they were joined.
func (j *Judge) litAlone(rows map[string][]Finding, latest map[string]map[string]standing) ([]belief.Measured, error) {
	var out []belief.Measured
	for _, g := range j.Expected.Plan.Groups {
		if g.AsFound {
			continue
		}
		for _, f := range rows[g.Name] {
			m, ok, err := j.alone(f)
			if err != nil {
				return nil, err
			}
			if !ok {
				continue
			}
			if f.Seen != "" {
				m.Look = look.Parse(f.Seen, g)
			}
			if x := latest[g.Name][f.Pace]; x.before != nil && x.before.Stage == Loose && x.now.Stage != Loose {
				before, ok, err := j.alone(*x.before)
				if err != nil {
					return nil, err
				}
				if ok {
					before.Readings = before.Readings[:1] // its sweep tells of the same pieces once more
					m.Loose = &before
				}
			}
			out = append(out, m)
			break
		}
	}
	return out, nil
}

// alone is a finding as it can be weighed with those of other groups. It isn't ok
// where more than the group was on, or its draw isn't known.
func (j *Judge) alone(f Finding) (m belief.Measured, ok bool, err error) {
	e := f.evidence
	if e == nil {
		e = f.nothing // what draws nothing tells little by itself; together with others it does
	}
	if !hasVerdictOfDraw(f) || f.Unread || f.moves || e == nil || len(e.groups) != 1 ||
		f.Way != string(capture.Alone) {
		return m, false, nil
	}
	x, err := j.ensemble(e, false)
	if err != nil {
		return m, false, fmt.Errorf("group %q: %w", f.Group, err)
	}
	return belief.Measured{Ensemble: x, Readings: e.readings}, true, nil
}
