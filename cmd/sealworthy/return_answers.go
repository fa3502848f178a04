package main

import (
	"errors"
	"flag"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/returns"
)

// What is asked of a return before it gets current, in this order.
const (
	askedEye      = "eye"
	askedAdapter  = "adapter"
	askedPolarity = "polarity"
	askedOpen     = "open volts"
	askedOhms     = "load ohm"
	askedLoaded   = "loaded volts"
	// What the client said is wrong, and whether the maker can judge colours.
	askedClient  = "client"
	askedColours = "colours"
	// askedLook is a look told by a flag; one that is asked for is a step of its own.
	askedLook = "look"
)

// asked lists all of them.
var allAsked = []string{askedEye, askedClient, askedColours, askedAdapter, askedPolarity, askedOpen, askedOhms, askedLoaded, askedLook}

// Answers that aren't numbers.
const (
	nothingSeen = "nothing"
	wasSent     = "sent"
	notSent     = "not sent"
	dontKnow    = "don't know"
	plusRight   = "as it should be"
	turnedRound = "turned round"
	saidNothing = "nothing said"
	judges      = "yes"
	judgesNot   = "no"
)

// answers are what the maker said of a return, by question.
type answers map[string]string

// number of an answer; nil: none.
func (a answers) number(question string) *float64 {
	v, err := strconv.ParseFloat(a[question], 64)
	if err != nil {
		return nil
	}
	return &v
}

// adapter is what was said of the client's adapter; nil: nothing.
func (a answers) adapter() *returns.Adapter {
	switch a[askedAdapter] {
	case notSent:
		return &returns.Adapter{}
	case wasSent:
	default:
		return nil
	}
	out := &returns.Adapter{Sent: true, Reversed: a[askedPolarity] == turnedRound}
	if v := a.number(askedOpen); v != nil {
		// A minus typed with the number says it, too.
		size := math.Abs(*v)
		out.OpenV, out.Reversed = &size, out.Reversed || *v < 0
	}
	if ohms, v := a.number(askedOhms), a.number(askedLoaded); ohms != nil && v != nil {
		out.LoadOhm, out.LoadedV = *ohms, v
	}
	return out
}

// heard is what the client named.
func (a answers) heard(p *plan.Plan, s *returns.Signature) []returns.Seen {
	if w := a[askedClient]; w != "" && w != saidNothing && w != dontKnow {
		return returns.Heard(p, s, w)
	}
	return nil
}

// over gives a with what b says on top.
func (a answers) over(b answers) answers {
	out := answers{}
	for _, m := range []answers{a, b} {
		for k, v := range m {
			out[k] = v
		}
	}
	return out
}

// answerFlags give the same answers unattended: a flag given is a question not
// asked.
type answerFlags struct {
	seen, adapter      string
	client, look       string
	reversed           bool
	open, loaded, ohms float64
}

func (a *answerFlags) declare(f *flag.FlagSet) {
	f.StringVar(&a.seen, "seen", "", `what you saw by eye: "nothing", or what`)
	f.StringVar(&a.client, "client-said", "", "what the client said is wrong, in their `words`")
	f.StringVar(&a.look, "look", "", "what you saw of its lights, warm and lit: \"all right\", or `words` as \"bow: 2 dark, mast: not seen\"; what isn't named is all right")
	f.StringVar(&a.adapter, "adapter", "", `the client's adapter: "sent", "not sent" or "don't know"`)
	f.BoolVar(&a.reversed, "adapter-reversed", false, "its plug has plus where minus belongs; =false: it hasn't")
	f.Float64Var(&a.open, "adapter-volts", 0, "its `volts` with nothing on it")
	f.Float64Var(&a.loaded, "adapter-loaded", 0, "its `volts` on a known resistor")
	f.Float64Var(&a.ohms, "adapter-load", 0, "that resistor in `ohm`")
}

// answers gives those of the flags that were given.
func (a *answerFlags) answers(f *flag.FlagSet) (answers, error) {
	out := answers{}
	f.Visit(func(x *flag.Flag) {
		switch x.Name {
		case "seen":
			out[askedEye] = strings.TrimSpace(a.seen)
		case "client-said":
			out[askedClient] = strings.TrimSpace(a.client)
		case "look":
			out[askedLook] = strings.TrimSpace(a.look)
		case "adapter":
			out[askedAdapter] = a.adapter
		case "adapter-reversed":
			out[askedPolarity] = plusRight
			if a.reversed {
				out[askedPolarity] = turnedRound
			}
		case "adapter-volts":
			out[askedOpen] = volts(a.open)
		case "adapter-loaded":
			out[askedLoaded] = volts(a.loaded)
		case "adapter-load":
			out[askedOhms] = volts(a.ohms)
		}
	})
	said, given := out[askedAdapter]
	switch {
	case given && said != wasSent && said != notSent && said != dontKnow:
		return nil, misuse("return", `--adapter is "sent", "not sent" or "don't know"`)
	case a.open < 0 || a.loaded < 0 || a.ohms < 0:
		return nil, misuse("return", "volts and ohms of the adapter can't be negative: turned round is --adapter-reversed")
	case a.loaded > 0 && a.ohms == 0:
		return nil, misuse("return", "--adapter-loaded needs the resistor: --adapter-load OHM")
	case given && said != wasSent && (a.open > 0 || a.loaded > 0 || a.reversed):
		return nil, misuse("return", "an adapter that is %s can't have been measured", said)
	}
	if !given && (a.open > 0 || a.loaded > 0 || a.reversed) {
		out[askedAdapter] = wasSent
	}
	return out, nil
}

// volts writes a number as it is kept.
func volts(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// asked is the kind of a step of the record that holds an answer; the engine
// never sees one.
const asked capture.Kind = "asked"

// askedID begins the ID of such a step.
const askedID = "asked/"

// keepAnswer writes one answer into the record of a sitting.
func keepAnswer(k *record.Keeper, b build, question, answer string, now time.Time) error {
	s := capture.Step{ID: askedID + question, Kind: asked, PlanRevision: b.plan.Revision}
	m := capture.Mark{At: now, StepID: s.ID, Stage: compare.Returned}
	begin, end := m, m
	begin.Kind, begin.Step, begin.PlanRevision = capture.MarkBegin, &s, s.PlanRevision
	end.Kind, end.Outcome, end.Seen = capture.MarkEnd, capture.Measured, answer
	if err := errors.Join(k.Mark(begin), k.Mark(end), k.Sync()); err != nil {
		return fmt.Errorf("the record can't be kept: %w", err)
	}
	return nil
}

// answersIn takes the answers out of a sitting; the last to a question counts.
func answersIn(steps []capture.StepRecord) answers {
	out := answers{}
	for _, r := range steps {
		if q, ok := strings.CutPrefix(r.Step.ID, askedID); ok && r.Step.Kind == asked && r.Outcome == capture.Measured {
			out[q] = r.Seen
		}
	}
	return out
}
