package compare

import (
	"fmt"
	"maps"

	"sealworthy/capture"
	"sealworthy/compare/reel"
	"sealworthy/compare/words"
)

// observations are the healthy readings among the rows, for what they tell of
// the reels.
func (j *Judge) observations(rows map[string][]Finding) []reel.Observation {
	var out []reel.Observation
	for _, g := range j.Expected.Plan.Groups {
		for _, f := range rows[g.Name] {
			if o, ok := observationOf(f); ok {
				out = append(out, o)
				break // a board's paces show the same lights
			}
		}
	}
	return out
}

// observationOf is one reading that may tell of its reels: of a group alone at the
// service voltage, with nothing learned in its expectation.
func observationOf(f Finding) (reel.Observation, bool) {
	if f.Verdict != InBand && f.Verdict != CantTell || f.Unread || f.evidence == nil || len(f.evidence.groups) != 1 ||
		f.Board != "" || f.Way != string(capture.Alone) || f.plainA <= 0 || f.Seen != "" && !f.Looked {
		return reel.Observation{}, false
	}
	r, b := f.evidence.readings[0], f.evidence.bench
	o := reel.Observation{
		Group: f.Group, Volts: r.Volts, AmpsA: r.Amps, UA: r.U, GainU: r.GainU, ExpectedA: f.plainA, PHealthy: f.PHealthy,
		Meter: meterOf(f), Loose: f.evidence.loose, SeriesOhm: b.SeriesOhm, SeriesHalfOhm: b.SeriesHalfOhm, SetHalfV: b.SetHalfV,
		AmbientC: b.AmbientC, AmbientHalfC: b.AmbientHalfC,
	}
	return o, true
}

// learn prepares what healthy rows tell of their reels; nil where nothing is shared.
func (j *Judge) learn(rows map[string][]Finding) *reel.Learner {
	obs := j.observations(rows)
	if len(obs) == 0 || j.PlanOnly {
		return nil
	}
	l, err := reel.Prepare(j.Expected.Plan, obs, reel.Options{Weighted: true})
	if err != nil {
		return nil
	}
	return l
}

// learnRounds: what is sharper tells more surely which groups are healthy, and
// those tell more of their reels.
const learnRounds = 2

// sharpen judges the latest findings anew by what the other groups of their
// reels draw. What a group is judged by never holds its own reading. The answer
// also says whether any is sharper.
func (j *Judge) sharpen(plain map[string]map[string]standing, l *reel.Learner) (map[string]map[string]standing, bool) {
	any := false
	out := map[string]map[string]standing{}
	for name, fs := range plain {
		out[name] = fs
		learned := l.Without(name)
		if learned.Empty() {
			continue
		}
		out[name] = maps.Clone(fs)
		for pace, s := range fs {
			x, ok := j.sharper(s.now, learned)
			if s.now, any = x, any || ok; s.before != nil {
				before, ok := j.sharper(*s.before, learned)
				s.before, any = &before, any || ok
			}
			out[name][pace] = s
		}
	}
	return out, any
}

// sharper judges one finding by a sharper expectation.
func (j *Judge) sharper(f Finding, learned *reel.Learned) (Finding, bool) {
	if f.record == nil || f.record.Outcome != capture.Measured || f.evidence == nil || len(f.evidence.groups) != 1 || f.Board != "" || f.Way != string(capture.Alone) || f.Verdict == NotMeasured {
		return f, false
	}
	var pool map[string]poolDraw
	if f.pool != nil {
		pool = map[string]poolDraw{f.Group: *f.pool}
	}
	fs, err := j.stepOf(*f.record, learned, pool)
	if err != nil || len(fs) != 1 || fs[0].evidence == nil {
		return f, false
	}
	x := fs[0]
	if !(x.ExpectedU > 0) || x.ExpectedU > 0.98*f.ExpectedU {
		return f, false // its reels tell next to nothing
	}
	x.plainA = f.plainA
	x.Learned = fmt.Sprintf("expected by what the other groups of its reel draw, too; by the plan alone %s", words.MilliampBand(f.Band.LowA, f.Band.HighA))
	return x, true
}

func meterOf(f Finding) string {
	if f.record == nil {
		return ""
	}
	return f.record.Instruments[ammeter(*f.record)].Identity
}

// Learned is what the healthy groups of a history tell of their reels; nil where
// no reel is in two groups, or none is healthy for sure.
func (j *Judge) Learned(h History) (*reel.Learned, error) {
	rows, err := j.plainRows(h.numbered())
	if err != nil {
		return nil, err
	}
	l := j.learn(rows)
	if l == nil {
		return nil, nil
	}
	return l.Without(""), nil
}
