package compare

import (
	"fmt"
	"maps"
	"slices"

	"sealworthy/compare/belief"
	"sealworthy/compare/look"
)

// measured are the rows that can be weighed with others: of each group the first
// whose draw is a reading of its own. A board's paces show the same lights.
func (j *Judge) measured(rows map[string][]Finding) (names []string, ms []belief.Measured, err error) {
	for _, g := range j.Expected.Plan.Groups {
		i := slices.IndexFunc(rows[g.Name], standsAlone)
		if i < 0 {
			continue
		}
		f := rows[g.Name][i]
		x, err := j.ensemble(f.evidence, false)
		if err != nil {
			return nil, nil, fmt.Errorf("group %q: %w", g.Name, err)
		}
		eye := look.Look{}
		if f.Seen != "" {
			eye = look.Parse(f.Seen, g)
		}
		names = append(names, g.Name)
		ms = append(ms, belief.Measured{Ensemble: x, Readings: f.evidence.readings, Look: eye})
	}
	return names, ms, nil
}

// standsAlone: what was measured is the draw of this group and nothing else.
func standsAlone(f Finding) bool {
	return hasVerdictOfDraw(f) && !f.Unread && !f.moves && f.evidence != nil && len(f.evidence.groups) == 1
}

func hasVerdictOfDraw(f Finding) bool {
	return f.Verdict == InBand || f.Verdict == CantTell || f.Verdict == Low || f.Verdict == High
}

// others is what the groups among the rows tell each of the others, by group; none
// where nothing is shared.
func (j *Judge) others(rows map[string][]Finding) (map[string]*belief.Others, error) {
	if j.PlanOnly {
		return nil, nil
	}
	names, ms, err := j.measured(rows)
	if err != nil || len(ms) < 2 {
		return nil, err
	}
	all, err := belief.Together(ms)
	if err != nil {
		return nil, fmt.Errorf("what the groups tell of each other can't be weighed: %w", err)
	}
	out := map[string]*belief.Others{}
	for i, o := range all {
		if o != nil {
			out[names[i]] = o
		}
	}
	return out, nil
}

// sharpened judges the latest findings by what the others tell, too. What a group is
// judged by never holds its own reading.
func (j *Judge) sharpened(plain map[string]map[string]standing,
	others map[string]*belief.Others) map[string]map[string]standing {
	out := map[string]map[string]standing{}
	for name, fs := range plain {
		out[name] = fs
		if others[name] == nil {
			continue
		}
		out[name] = maps.Clone(fs)
		for pace, s := range fs {
			s.now = j.sharper(s.now, others[name])
			if s.before != nil {
				before := j.sharper(*s.before, others[name])
				s.before = &before
			}
			out[name][pace] = s
		}
	}
	return out
}

// sharper judges one finding by what the others tell, too.
func (j *Judge) sharper(f Finding, others *belief.Others) Finding {
	if others == nil || !standsAlone(f) {
		return f
	}
	x, e := f, *f.evidence
	e.others = others
	x.evidence, x.Notes = &e, slices.Clone(f.Notes)
	if j.conclude(&x) != nil {
		return f
	}
	return x
}
