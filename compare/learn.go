package compare

import (
	"fmt"
	"maps"
	"slices"

	"sealworthy/capture"
	"sealworthy/compare/belief"
	"sealworthy/compare/look"
)

// measured are the rows that can be weighed with others: of each group the first that was
// read with nothing else lit, else the first whose draw is its own. A board's paces show
// the same lights.
func (j *Judge) measured(rows map[string][]Finding) (names []string, ms []belief.Measured, err error) {
	for _, g := range j.Expected.Plan.Groups {
		if g.AsFound {
			continue
		}
		fs := rows[g.Name]
		i := slices.IndexFunc(fs, litAlone)
		if i < 0 {
			i = slices.IndexFunc(fs, standsAlone)
		}
		if i < 0 {
			continue
		}
		m, err := j.asMeasured(fs[i])
		if err != nil {
			return nil, nil, err
		}
		m.Beside = !litAlone(fs[i]) || fs[i].Accepted != "" && fails(fs[i].Verdict)
		if fs[i].Seen != "" {
			m.Look = look.Parse(fs[i].Seen, g)
		}
		names, ms = append(names, g.Name), append(ms, m)
	}
	return names, ms, nil
}

// asMeasured is a finding as it can be weighed with those of other groups.
func (j *Judge) asMeasured(f Finding) (belief.Measured, error) {
	e := f.drawn()
	x, err := j.ensemble(e, false)
	if err != nil {
		return belief.Measured{}, fmt.Errorf("group %q: %w", f.Group, err)
	}
	return belief.Measured{Ensemble: x, Readings: e.readings}, nil
}

// drawn is what is known of a draw; of what draws nothing, too, which tells little by
// itself: together with others it does.
func (f *Finding) drawn() *evidence {
	if f.evidence != nil {
		return f.evidence
	}
	return f.nothing
}

// readAlone: what was measured is the draw of this group and nothing else.
func readAlone(f Finding) bool {
	return hasVerdictOfDraw(f) && !f.Unread && !f.moves && f.drawn() != nil && len(f.drawn().groups) == 1
}

// standsAlone: it is judged by that, too.
func standsAlone(f Finding) bool { return readAlone(f) && f.evidence != nil }

// litAlone: nothing else was lit while it was read.
func litAlone(f Finding) bool { return readAlone(f) && f.Way == string(capture.Alone) }

func hasVerdictOfDraw(f Finding) bool {
	return f.Verdict == InBand || f.Verdict == CantTell || f.Verdict == Low || f.Verdict == High
}

// together weighs the groups among the rows by all that was read of them, before they
// were joined, too, where before has it. What each is told by the others is given by group;
// none where nothing is shared.
func (j *Judge) together(rows map[string][]Finding, before map[string]map[string]standing) (belief.Above,
	map[string]*belief.Others, error,
) {
	names, ms, err := j.measured(rows)
	if err != nil || len(ms) < 2 {
		return belief.Above{}, nil, untogether(err)
	}
	for i, name := range names {
		m, ok, err := j.loose(rows[name], before[name])
		if err != nil {
			return belief.Above{}, nil, untogether(err)
		}
		if ok && !ms[i].Beside {
			ms[i].Loose = &m
		}
	}
	all, err := belief.Together(j.Expected.Plan, ms, j.priors().Common)
	err = untogether(err)
	others := map[string]*belief.Others{}
	for i, o := range all.Others {
		if o != nil && !j.PlanOnly {
			others[names[i]] = o
		}
	}
	return all.Above, others, err
}

// untogether says what an error of the weighing leaves unknown.
func untogether(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("what the groups tell of each other can't all be weighed: %w", err)
}

// loose is what was read of a group's pieces before they were joined, beside the first of
// its rows that was lit alone.
func (j *Judge) loose(fs []Finding, of map[string]standing) (m belief.Measured, ok bool, err error) {
	i := slices.IndexFunc(fs, litAlone)
	if i < 0 {
		return m, false, nil
	}
	x := of[fs[i].Pace]
	if x.before == nil || x.before.Stage != Loose || x.now.Stage == Loose || !litAlone(*x.before) || x.before.wavers ||
		!knownLeads(fs[i], *x.before) {
		return m, false, nil
	}
	if m, err = j.asMeasured(*x.before); err == nil {
		m.Readings = m.Readings[:1] // its sweep tells of the same pieces once more
	}
	return m, err == nil, err
}

// sharpened judges the latest findings by what the others tell, too. What a group is
// judged by never holds its own reading.
func (j *Judge) sharpened(plain map[string]map[string]standing,
	others map[string]*belief.Others,
) map[string]map[string]standing {
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
				before := j.sharper(*s.before, others[name].Loose())
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
	if err := j.conclude(&x); err != nil {
		err = fmt.Errorf("what other groups tell of %q can't be weighed: %w", f.Group, err)
		f.Notes = append(slices.Clone(f.Notes), err.Error())
		f.leftOpen(err)
		return f
	}
	return x
}
