package plots

import (
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/words"
	"sealworthy/instruments"
)

// facts say what was measured and under which conditions.
func (d SheetData) facts() []sheetFact {
	var out []sheetFact
	add := func(what, value string) {
		if value != "" {
			out = append(out, sheetFact{what, value})
		}
	}
	stages, revisions := map[string]int{}, map[string]bool{}
	var readings, measured int
	coldest, warmest := math.Inf(1), math.Inf(-1)
	var first, last time.Time
	for _, s := range d.Steps {
		stages[s.Stage]++
		if s.Step.PlanRevision != "" {
			revisions[s.Step.PlanRevision] = true
		}
		all, before := s.Count()
		readings += all + before
		if s.Outcome == capture.Measured {
			measured++
		}
		if s.AmbientC != nil && finite(*s.AmbientC) {
			coldest, warmest = min(coldest, *s.AmbientC), max(warmest, *s.AmbientC)
		}
		if t := s.Began; !t.IsZero() {
			if first.IsZero() || t.Before(first) {
				first = t
			}
			if t.After(last) {
				last = t
			}
		}
	}
	if len(d.Steps) > 0 {
		add("Measured", fmt.Sprintf("%d steps, %d of them to their end; %d readings", len(d.Steps), measured,
			readings))
	} else {
		add("Measured", "nothing yet")
	}
	switch from, to := words.Minute(first, d.where()), words.Minute(last, d.where()); {
	case first.IsZero():
		add("When", "")
	case from == to:
		add("When", from)
	default:
		add("When", from+" to "+to)
	}
	if !first.IsZero() && d.simulated() {
		out[len(out)-1].Value += ", on a simulated bench"
	}
	add("Stage", strings.Join(slices.Sorted(maps.Keys(stages)), ", "))
	switch {
	case len(d.Steps) == 0:
	case coldest > warmest:
		add("Room temperature", "not known")
	case warmest-coldest < 0.05:
		add("Room temperature", fmt.Sprintf("%.1f °C", coldest))
	default:
		add("Room temperature", fmt.Sprintf("%.1f to %.1f °C", coldest, warmest))
	}
	plan := d.PlanRevision
	delete(revisions, d.PlanRevision)
	if len(revisions) > 0 {
		plan += "; some steps were made from " + strings.Join(slices.Sorted(maps.Keys(revisions)), ", ")
	}
	add("Plan revision", strings.TrimPrefix(plan, "; "))
	return out
}

func (d SheetData) simulated() bool {
	return slices.ContainsFunc(d.Steps, func(s capture.StepRecord) bool { return s.Simulated })
}

type sheetInstrument struct {
	Name, Identity, Profile string
	Accuracy                []string
}

// instrumentsOf lists what measured, each identity once.
func instrumentsOf(steps []capture.StepRecord) []sheetInstrument {
	var out []sheetInstrument
	seen := map[string]bool{}
	for _, s := range steps {
		for _, name := range slices.Sorted(maps.Keys(s.Instruments)) {
			x := s.Instruments[name]
			if key := name + "\x00" + x.Identity + "\x00" + x.Profile; seen[key] {
				continue
			} else {
				seen[key] = true
			}
			i := sheetInstrument{Name: name, Identity: x.Identity, Profile: x.Profile}
			if i.Identity == "" {
				i.Identity = "didn't say who it is"
			}
			if x.Simulated {
				i.Identity += " (simulated)"
			}
			for _, r := range x.Ranges {
				i.Accuracy = append(i.Accuracy, rangeText(r))
			}
			if a := x.SetAccuracy; a != (instruments.Accuracy{}) {
				i.Accuracy = append(i.Accuracy, "sets: "+accuracyText(a, "V"))
			}
			out = append(out, i)
		}
	}
	return out
}

func rangeText(r instruments.Range) string {
	unit := r.Quantity.Unit()
	s := string(r.Quantity)
	if r.Max > 0 {
		s += " to " + engineering(r.Max, unit)
	}
	s += ": " + accuracyText(r.Accuracy, unit)
	if r.BurdenOhm > 0 {
		s += fmt.Sprintf(", burden %.3g ohm", r.BurdenOhm)
	}
	return s
}

func accuracyText(a instruments.Accuracy, unit string) string {
	s := "±(" + strconv.FormatFloat(100*a.OfReading, 'g', 3, 64) + " % of reading"
	if a.Floor > 0 {
		s += " + " + engineering(a.Floor, unit)
	}
	return s + ")"
}

// engineering writes a value with the prefix that leaves one to three digits before the point.
func engineering(x float64, unit string) string {
	prefix := ""
	for _, p := range []struct {
		name  string
		least float64
	}{{"", 0.9995}, {"m", 0.9995e-3}, {"µ", 0.9995e-6}, {"n", 0}} {
		if prefix = p.name; math.Abs(x) >= p.least {
			break
		}
	}
	scale := map[string]float64{"": 1, "m": 1e3, "µ": 1e6, "n": 1e9}[prefix]
	return strconv.FormatFloat(x*scale, 'g', 3, 64) + " " + prefix + unit
}

// pictures are the traces, the tree and the bands.
func (d SheetData) pictures() ([]sheetPicture, error) {
	var out []sheetPicture
	done := map[string]bool{}
	for _, c := range d.Closures {
		for _, g := range c.Groups {
			s, ok := d.stepOf(g)
			if !ok || done[s.Stage+"\x00"+s.Step.ID] || !d.AllTraces && g.Verdict == compare.InBand && g.Board == "" {
				continue
			}
			t, err := TraceOf(s, "", d.levels(s, g))
			if err != nil {
				continue // a look, a step that was skipped: nothing to draw, and the table says so
			}
			t.Began = words.There(t.Began, d.where())
			done[s.Stage+"\x00"+s.Step.ID] = true
			svg, err := d.svg(func(w io.Writer, st Style) error { return Trace(w, SVG, st, t) })
			if err != nil {
				return nil, err
			}
			out = append(out, sheetPicture{"Draw of " + t.Title + " over time, at stage " + s.Stage, svg})
		}
	}
	if d.Bands != nil {
		svg, err := d.svg(func(w io.Writer, st Style) error { return Bands(w, SVG, st, *d.Bands) })
		if err != nil {
			return nil, err
		}
		out = append(out, sheetPicture{"What the plan expects", svg})
	}
	if d.Tree != nil {
		svg, err := d.svg(func(w io.Writer, st Style) error { return FeedTree(w, SVG, st, *d.Tree) })
		if err != nil {
			return nil, err
		}
		out = append(out, sheetPicture{"Feed tree", svg})
	}
	return out, nil
}

// stepOf finds the record that a finding rests on: the last one of its step and stage.
func (d SheetData) stepOf(g compare.Finding) (capture.StepRecord, bool) {
	for _, s := range slices.Backward(d.Steps) {
		if s.Step.ID == g.StepID && s.Stage == g.Stage && g.StepID != "" {
			return s, true
		}
	}
	return capture.StepRecord{}, false
}

func (d SheetData) levels(s capture.StepRecord, g compare.Finding) []Level {
	if d.Levels != nil {
		return d.Levels(s)
	}
	if hasBand(g.Band) && g.Board == "" && len(s.Step.Groups) == 1 && s.Step.Way == capture.Alone {
		return []Level{{Band: g.Band}}
	}
	return nil
}

type sheetCaution struct{ Head, Text string }

// cautions are common practice, no source.
func cautions() []sheetCaution {
	return []sheetCaution{
		{"Hot iron", "Never solder with the output on. Switch off, unclip, then solder."},
		{"Low voltage still burns", "A short at 12 V heats thin wire until it glows, in plastic that burns. Don't " +
			"leave a model lit and alone before it has run for an hour under your eyes."},
		{"Fuse and adapter", "Put a fuse at the jack, rated for the thinnest wire behind it. Use an adapter rated " +
			"for the voltage of the plan and for more than the draw above; set the current limit of a bench supply " +
			"before its output goes on."},
		{"Heat in a closed hull", "Resistors and strips that stay cool on the bench get hot where no air moves. " +
			"Keep them off polystyrene, glue and paint, and try the closed part warm before it's glued."},
		{"Fast flashing", "Light that flashes three times a second or more can bring on seizures in photosensitive " +
			"viewers. Slow it down, or tell viewers before they see it."},
		{"Lithium packs", "Only with their own protection board and charger; never charge inside a glued part, " +
			"never use a swollen or dented one."},
		{"Mains", "Everything on the mains side of the adapter is for licensed practice under your local codes. Use " +
			"a listed adapter, unopened; this sheet says nothing about it."},
	}
}
