package capture

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// longPause is how long a question may be open before what was touched
// meanwhile is asked: long enough to solder a joint (common practice, no source).
const longPause = 2 * time.Minute

// asksTouch tells whether it makes sense to ask what was touched.
func (e *engine) asksTouch() bool {
	_, ok := e.g.(Toucher)
	return ok && e.o.Touch && !unattended(e.f)
}

// touch asks what was touched and marks it. What lies behind it counts as not
// measured from there on; those groups are returned. clip is the step whose clip
// may have been all that was touched; nil: none.
func (e *engine) touch(ctx context.Context, why string, clip *Step) (voided []string, err error) {
	e.away = 0
	if !e.asksTouch() {
		return nil, nil
	}
	places := e.g.(Toucher).Places(e.closuresAtHand(clip))
	q := Question{Kind: AskTouched, Text: why + " " + touchText, Choices: []string{"nothing", "touched", "stop"},
		Step: clip, Places: places,
		Help: "Whatever was soldered, bent or plugged since it was measured must be measured again, with all that " +
			"hangs on it."}
	if clip != nil {
		q.Help += fmt.Sprintf(" Only the clip or the leads of %q: the clip.", clip.Feed)
	}
	for {
		a, err := e.ask(ctx, q)
		if err != nil {
			return nil, err
		}
		if err := choice(a); err != nil {
			return nil, err
		}
		before := e.done
		if a.Choice == "nothing" {
			e.fresh = false
			err := e.note(Mark{Kind: MarkTouchedNothing})
			e.undo = &undo{what: "that nothing was touched", of: []Order{e.lastMark()}, touch: true, done: before}
			return nil, err
		}
		what, problem := placesIn(a.Text, places, clip != nil)
		if problem != "" {
			q.Text = problem + " " + touchText
			continue
		}
		e.fresh = false
		return e.reworked(what, clip)
	}
}

// closuresAtHand are those in which hands may have been: that of a step, else those of all that was
// measured in this test; none: nobody knows.
func (e *engine) closuresAtHand(s *Step) (out []string) {
	if s != nil {
		return []string{s.Closure}
	}
	steps := e.done
	if e.rec != nil {
		steps = append(slices.Clone(steps), *e.rec)
	}
	for _, r := range steps {
		if c := r.Step.Closure; !slices.Contains(out, c) {
			out = append(out, c)
		}
	}
	return out
}

const touchText = "What did you touch since it was measured? The output is off."

// reworked marks places as touched and drops what was measured behind them.
func (e *engine) reworked(what []string, clip *Step) (voided []string, err error) {
	u := &undo{what: "what you touched", touch: true, done: e.done}
	for _, place := range what {
		m := Mark{Kind: MarkReworked, Feed: place, Reason: "told in the test"}
		if place == TheClip {
			m.Feed, m.Check, m.Groups = clip.Feed, TheClip, clip.Groups
			e.voidReadings(clip.Groups)
		} else {
			m.Groups = e.g.(Toucher).Behind(place)
			e.voidReadings(m.Groups)
			e.unsee("", m.Groups)
		}
		if err := e.note(m); err != nil {
			return nil, err
		}
		u.of = append(u.of, e.lastMark())
		for _, g := range m.Groups {
			if !slices.Contains(voided, g) {
				voided = append(voided, g)
			}
		}
	}
	e.undo, e.anew = u, true
	e.show(Event{What: Told, Text: voidText(voided)})
	return voided, nil
}

func voidText(groups []string) string {
	switch len(groups) {
	case 0:
		return "Nothing hangs on that: no group must be measured again."
	case 1:
		return "1 group must be measured again: " + quoted(groups) + "."
	}
	return fmt.Sprintf("%d groups must be measured again: %s.", len(groups), quoted(groups))
}

// voidReadings takes out of what is done every reading in which one of the
// groups has a part.
func (e *engine) voidReadings(groups []string) {
	e.done = slices.DeleteFunc(slices.Clone(e.done), func(r StepRecord) bool {
		return r.Step.Kind != Look && slices.ContainsFunc(r.Step.Groups,
			func(g string) bool { return slices.Contains(groups, g) })
	})
}

// placesIn reads what was touched: numbers of the list, names, or how a name
// begins where nothing else begins so.
func placesIn(text string, places []Place, clip bool) (what []string, problem string) {
	for part := range strings.SplitSeq(text, ",") {
		part = strings.Join(strings.Fields(part), " ")
		if part == "" {
			continue
		}
		name, why := placeIn(part, places, clip)
		if why != "" {
			return nil, why
		}
		// a place may be called by a number: both are meant then
		for _, x := range []string{name, named(part, places)} {
			if x != "" && !slices.Contains(what, x) {
				what = append(what, x)
			}
		}
	}
	if len(what) == 0 {
		return nil, "That names nothing."
	}
	return what, ""
}

// named is the place that is called so; empty: none.
func named(part string, places []Place) string {
	for _, p := range places {
		if strings.EqualFold(p.Name, part) {
			return p.Name
		}
	}
	return ""
}

func placeIn(part string, places []Place, clip bool) (name, problem string) {
	if n, err := strconv.Atoi(part); err == nil {
		if n < 1 || n > len(places) {
			return "", fmt.Sprintf("There is no %d in the list.", n)
		}
		return places[n-1].Name, ""
	}
	lower := strings.ToLower(part)
	if lower == TheClip || lower == "clip" || lower == "clips" || lower == "the clips" || lower == "leads" ||
		lower == "the leads" {
		if !clip {
			return "", "The clip of which one? Name what hung on it."
		}
		return TheClip, ""
	}
	var begin []string
	for _, p := range places {
		switch n := strings.ToLower(p.Name); {
		case n == lower:
			return p.Name, ""
		case strings.HasPrefix(n, lower):
			begin = append(begin, p.Name)
		}
	}
	switch len(begin) {
	case 0:
		return "", fmt.Sprintf("There is no %q in the list.", part)
	case 1:
		return begin[0], ""
	}
	return "", fmt.Sprintf("%q may be %s.", part, quoted(begin))
}

// awayText says why what was touched is asked after a long pause.
func awayText(d time.Duration) string {
	return "The question was open for " + roughly(d) + "."
}
