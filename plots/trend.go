package plots

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/rule"
	"sealworthy/compare/stages"
	"sealworthy/compare/words"
)

// TrendData is what groups and the whole model drew over the stages of a build.
type TrendData struct {
	Title  string       // of the picture
	Stages []TrendStage // in their order
	Series []TrendSeries
	Notes  []string // below it, a line each
	// Simulated: at least one point was measured on a simulated bench.
	Simulated bool
}

// TrendStage is one stage with the day of its last reading.
type TrendStage struct {
	Name string
	At   time.Time // zero: not said
}

// TrendSeries is one group, or the whole model.
type TrendSeries struct {
	Name  string
	Whole bool // not a group of its own: left out of what is common
	// Points are in the order of the stages, at most one for each.
	Points []TrendPoint
}

// TrendPoint is a draw against the first one that was measured, what another
// voltage, room or meter in the way changes taken off.
type TrendPoint struct {
	Stage string
	Rel   float64 // 1: as it was
	U     float64 // standard uncertainty of Rel; of the first point its own
	// Step says that this one changed by itself.
	Step bool
}

// TrendOf takes the trend from the findings of every step, in the order of
// time, and from the changes of the whole model. Of several paces the first
// that was measured counts.
func TrendOf(build string, fs []compare.Finding, changes []stages.Change) TrendData {
	d := TrendData{Title: build + ": draw over the stages"}
	b := trendBuilder{d: &d, at: map[string]time.Time{}, first: map[string]compare.Finding{}, index: map[string]int{},
		pace: map[string]string{}}
	for _, stage := range compare.Stages() {
		for _, f := range fs {
			if f.Stage == stage {
				b.finding(f)
			}
		}
		for _, c := range changes {
			if c.Stage == stage {
				b.change(c)
			}
		}
	}
	for _, stage := range compare.Stages() {
		if at, ok := b.at[stage]; ok {
			d.Stages = append(d.Stages, TrendStage{stage, at})
		}
	}
	slices.SortStableFunc(d.Series, func(x, y TrendSeries) int {
		switch {
		case x.Whole == y.Whole:
			return 0
		case x.Whole:
			return 1
		}
		return -1
	})
	d.markSteps()
	d.setApart()
	return d
}

// setApart takes those that were measured once out of the lanes: they have no
// trend.
func (d *TrendData) setApart() {
	var once []string
	d.Series = slices.DeleteFunc(d.Series, func(s TrendSeries) bool {
		if len(s.Points) < 2 {
			once = append(once, s.Name)
		}
		return len(s.Points) < 2
	})
	if len(once) > 0 {
		d.Notes = append(d.Notes, "Measured at one stage only: "+strings.Join(once, ", ")+".")
	}
}

type trendBuilder struct {
	d     *TrendData
	at    map[string]time.Time
	first map[string]compare.Finding
	index map[string]int
	pace  map[string]string
}

func (b *trendBuilder) series(name string, whole bool) *TrendSeries {
	i, ok := b.index[name]
	if !ok {
		i = len(b.d.Series)
		b.index[name] = i
		b.d.Series = append(b.d.Series, TrendSeries{Name: name, Whole: whole})
	}
	return &b.d.Series[i]
}

func (b *trendBuilder) put(s *TrendSeries, at time.Time, p TrendPoint) {
	if at.After(b.at[p.Stage]) || b.at[p.Stage].IsZero() {
		b.at[p.Stage] = at
	}
	if i := slices.IndexFunc(s.Points, func(x TrendPoint) bool { return x.Stage == p.Stage }); i >= 0 {
		s.Points[i] = p
		return
	}
	s.Points = append(s.Points, p)
}

// finding adds a group as it was measured by itself.
func (b *trendBuilder) finding(f compare.Finding) {
	if !isMeasured(f) || f.Unread || f.Way == "joined" || !(f.MeasuredA > 0) || !finite(f.MeasuredA, f.MeasuredU) {
		return
	}
	if p, ok := b.pace[f.Group]; ok && p != f.Pace {
		return
	}
	b.pace[f.Group] = f.Pace
	b.d.Simulated = b.d.Simulated || f.Simulated
	s := b.series(f.Group, false)
	u := f.MeasuredU / f.MeasuredA
	first, ok := b.first[f.Group]
	if !ok || first.Stage == f.Stage {
		b.first[f.Group] = f
		b.put(s, f.At, TrendPoint{Stage: f.Stage, Rel: 1, U: u})
		return
	}
	if f.FiguresOf != first.FiguresOf {
		return // of a group, then of a whole board: no trend
	}
	rel := f.MeasuredA / first.MeasuredA
	if f.ExpectedA > 0 && first.ExpectedA > 0 {
		rel *= first.ExpectedA / f.ExpectedA
	}
	b.put(s, f.At, TrendPoint{Stage: f.Stage, Rel: rel, U: rel * math.Hypot(u, first.MeasuredU/first.MeasuredA)})
}

// change adds the whole model, and the outputs that blink in it.
func (b *trendBuilder) change(c stages.Change) {
	if p, ok := b.pace["\x00whole"]; ok && p != c.Pace {
		return
	}
	b.pace["\x00whole"] = c.Pace
	b.d.Simulated = b.d.Simulated || c.Simulated
	for i, x := range c.Parts {
		if !(x.BeforeA > 0) || !(x.ExpectedA > 0) || !finite(x.NowA, x.U) {
			continue
		}
		s := b.series("whole model", true)
		if len(c.Parts) > 1 {
			s.Name = "whole model, always lit"
		}
		if i > 0 {
			s = b.series(strings.Join(x.Groups, " and "), false)
		}
		before := slices.IndexFunc(s.Points, func(p TrendPoint) bool { return p.Stage == c.Before })
		if before < 0 {
			if len(s.Points) > 0 && i > 0 {
				continue // it was measured by itself at other stages: no common first value
			}
			b.put(s, c.BeforeAt, TrendPoint{Stage: c.Before, Rel: 1, U: x.BeforeU / x.BeforeA})
			before = len(s.Points) - 1
		}
		from := s.Points[before]
		b.put(s, c.At, TrendPoint{Stage: c.Stage, Rel: from.Rel * x.NowA / x.ExpectedA, U: x.U / x.ExpectedA,
			Step: x.Verdict == stages.Changed})
	}
}

// stepSigmas marks a step: compare's rule.
func stepSigmas() float64 { return rule.Default().K }

// common is what the groups of a stage have in common: their median; ok where
// there are three of them.
func (d TrendData) common(stage string) (rel float64, ok bool) {
	var all []float64
	for _, s := range d.Series {
		for i, p := range s.Points {
			if p.Stage == stage && !s.Whole && i > 0 {
				all = append(all, p.Rel)
			}
		}
	}
	if len(all) < 3 {
		return 1, false
	}
	slices.Sort(all)
	return all[len(all)/2], true
}

// markSteps marks where one group left the others.
func (d *TrendData) markSteps() {
	for i := range d.Series {
		s := &d.Series[i]
		for k := 1; k < len(s.Points); k++ {
			p, before := &s.Points[k], s.Points[k-1]
			now, ok := d.common(p.Stage)
			then, _ := d.common(before.Stage)
			if s.Whole || !ok || !(p.U > 0) {
				continue
			}
			if math.Abs(p.Rel/now-before.Rel/then) >= stepSigmas()*p.U {
				p.Step = true
			}
		}
	}
}

func (d TrendData) check() error {
	several := false
	for _, s := range d.Series {
		several = several || len(s.Points) > 1
		for _, p := range s.Points {
			if !finite(p.Rel, p.U) || p.U < 0 {
				return fmt.Errorf("%q at stage %s has a draw that is no finite number", s.Name, p.Stage)
			}
			if !slices.ContainsFunc(d.Stages, func(x TrendStage) bool { return x.Name == p.Stage }) {
				return fmt.Errorf("%q has a point at stage %q, which is not on the axis", s.Name, p.Stage)
			}
		}
	}
	if !several {
		return errors.New("nothing was measured at two stages: there is no trend to draw")
	}
	return nil
}

// Trend draws a lane for each group and for the whole model over the stages,
// with its uncertainty; what the groups have in common as a grey line in each
// lane, a step of one of them marked.
func Trend(w io.Writer, f Format, s Style, d TrendData) error {
	if err := d.check(); err != nil {
		return err
	}
	line := 1.35 * s.TextPt
	height := s.TextPt*2 + line*4.4 + float64(len(d.Series))*trendRow*s.TextPt + line*2.4
	for _, n := range d.Notes {
		height += line * math.Ceil(0.5*s.TextPt*float64(len(n))/(s.WidthMM*ptPerMM))
	}
	return s.paint(w, f, height, spoken{d.Title, d.say()}, func(c *canvas) error {
		d.draw(c)
		return nil
	})
}

func (d TrendData) say() string {
	var told []string
	for _, s := range d.Series {
		told = append(told, s.Name+": "+d.words(s))
	}
	return strings.Join(told, "; ")
}

// words say what a series did.
func (d TrendData) words(s TrendSeries) string {
	n := len(s.Points)
	if n < 2 {
		return "measured once"
	}
	for i := n - 1; i > 0; i-- {
		if p := s.Points[i]; p.Step {
			return fmt.Sprintf("step when %s: %s", p.Stage, more(p.Rel/s.Points[i-1].Rel-1, p.U))
		}
	}
	last := s.Points[n-1]
	common, ok := d.common(last.Stage)
	switch {
	case math.Abs(last.Rel-1) < 2*last.U:
		return "as it was"
	case ok && math.Abs(last.Rel-common) < 2*last.U && !s.Whole:
		return "drifts with the others: " + more(last.Rel-1, last.U)
	}
	return "drifts: " + more(last.Rel-1, last.U)
}

// more writes a relative change in percent.
func more(rel, u float64) string {
	way := "more"
	if rel < 0 {
		way = "less"
	}
	return words.Number(100*math.Abs(rel), 100*u) + " % " + way
}
