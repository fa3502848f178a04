package compare

import (
	"cmp"
	"iter"
	"maps"
	"slices"

	"sealworthy/compare/coverage"
	"sealworthy/compare/fault"
	"sealworthy/compare/look"
	"sealworthy/compare/words"
)

// Slip is the chance that a fault is still in what passed, after all that was read
// and seen. It is for the maker: a page for a client never holds it.
type Slip struct {
	P     float64        `json:"p"`               // of one fault or more
	Kinds []SlipKind     `json:"kinds,omitempty"` // the likeliest first
	Rates coverage.Rates `json:"rates"`
	// Uncounted are groups of which no probability is known: as found, on an envelope,
	// or taken as they are.
	Uncounted []string `json:"uncounted,omitempty"`
	// UncountedFor says of each of these why.
	UncountedFor []string `json:"uncounted_for,omitempty"`
	// Most is the group that holds the largest part of it; nil: it's small, or none stands out.
	Most *SlipGroup `json:"most,omitempty"`
}

// SlipKind is the chance that a fault of a kind is still in there.
type SlipKind struct {
	Kind fault.Kind `json:"kind"`
	P    float64    `json:"p"` // of one fault or more of the kind
}

// SlipGroup is a group with its own chance.
type SlipGroup struct {
	Group string  `json:"group"`
	P     float64 `json:"p"` // that a fault is still in it
	// Lower is what would make it smaller; empty: nothing that a test here can do.
	Lower string `json:"lower,omitempty"`
}

// passing: nothing speaks against closing but what the maker took, or that nobody
// looked yet.
func (v ClosureVerdict) passing() bool {
	return v == ReadyToClose || v == LookFirst || v == ClosedByChoice
}

// slip adds up what may still be wrong with the groups that a closure hides by
// itself: that none of them holds a fault is the product over them. Nil where it
// didn't pass, or where no group has a probability.
func (j *Judge) slip(c ClosureFinding) *Slip {
	if !c.Verdict.passing() {
		return nil
	}
	out := &Slip{Rates: coverage.RatesOf(j.Priors)}
	clear := map[fault.Kind]float64{}
	whole, counted := 1.0, false
	var most SlipGroup
	var mostOf []Finding
	for _, rows := range byGroup(c.Groups) {
		kinds, ok := j.slipOf(rows)
		if !ok {
			out.Uncounted = append(out.Uncounted, rows[0].Group)
			out.UncountedFor = append(out.UncountedFor, j.uncountedFor(rows))
			continue
		}
		counted = true
		p := 0.0
		for _, k := range slices.Sorted(maps.Keys(kinds)) {
			was, seen := clear[k]
			if !seen {
				was = 1
			}
			clear[k] = was * (1 - kinds[k])
			p += kinds[k]
		}
		whole *= 1 - min(1, p)
		if p > most.P {
			most, mostOf = SlipGroup{Group: rows[0].Group, P: min(1, p)}, rows
		}
	}
	if !counted {
		return nil
	}
	out.P = 1 - whole
	if out.P >= worthLowering && most.P > out.P/4 {
		most.Lower = lowers(mostOf)
		out.Most = &most
	}
	for _, k := range slices.Sorted(maps.Keys(clear)) {
		if p := 1 - clear[k]; p > leastSlip {
			out.Kinds = append(out.Kinds, SlipKind{k, p})
		}
	}
	slices.SortStableFunc(out.Kinds, func(a, b SlipKind) int { return cmp.Compare(b.P, a.P) })
	return out
}

// uncountedFor says why the chance of a group isn't known.
func (j *Judge) uncountedFor(rows []Finding) string {
	g, _ := j.Expected.Plan.Group(rows[0].Group)
	has := func(is func(Finding) bool) bool { return slices.ContainsFunc(rows, is) }
	switch {
	case has(func(f Finding) bool { return f.Verdict != InBand }):
		return words.TakenAsItIs
	case g.AsFound || g.Sealed:
		return words.NoDrawPlanned
	case hasEnvelope(g):
		return words.EnvelopeOnly
	case has(func(f Finding) bool { return f.FiguresOf != "" }):
		return words.WithOthersOnly
	}
	return words.NoChanceKnown
}

// lowers is the first thing that would make the doubt about a group smaller; "": nothing is known of.
func lowers(rows []Finding) string {
	for _, f := range rows {
		if f.evidence == nil || f.evidence.settles == nil {
			continue
		}
		_, settle := f.evidence.settles(f)
		for _, s := range settle {
			if s != words.LookAtIt && s != words.LookAtThem && s != words.LookAtBoth || !f.Looked {
				return s
			}
		}
	}
	return ""
}

// byGroup puts the rows of a group together, one a pace.
func byGroup(rows []Finding) [][]Finding {
	var out [][]Finding
	for _, f := range rows {
		i := slices.IndexFunc(out, func(fs []Finding) bool { return fs[0].Group == f.Group })
		if i < 0 {
			out = append(out, nil)
			i = len(out) - 1
		}
		out[i] = append(out[i], f)
	}
	return out
}

// slipOf gives the probability of each kind of fault that is left in a group, by the
// pace that leaves most. False where none of its rows has a probability, or one was
// taken as it is.
func (j *Judge) slipOf(rows []Finding) (kinds map[fault.Kind]float64, ok bool) {
	most := 0.0
	inTime := false
	for _, f := range rows {
		if f.Verdict != InBand {
			return nil, false
		}
		b, onBoard := j.Expected.Plan.Board(f.Board)
		pace, _ := b.Pace(f.Pace)
		inTime = inTime || onBoard && !pace.Steady()
		here, total, known := j.slipAt(f)
		if known && (!ok || total > most) {
			kinds, most, ok = here, total, true
		}
	}
	if inTime {
		// An output that stays lit or dark isn't on pace, whatever it draws.
		maps.DeleteFunc(kinds, func(k fault.Kind, _ float64) bool { return fault.AboutKind(k).At == fault.AtOutput })
	}
	return kinds, ok
}

// slipAt is that by one row. Of groups that are read together only what is wrong with
// this one counts, and that the plan may be wrong is no fault.
func (j *Judge) slipAt(f Finding) (kinds map[fault.Kind]float64, total float64, ok bool) {
	g, found := j.Expected.Plan.Group(f.Group)
	if f.evidence == nil || !found {
		return nil, 0, false
	}
	w, err := j.weigh(f.evidence, look.Parse(f.Seen, g))
	if err != nil {
		return nil, 0, false
	}
	kinds = map[fault.Kind]float64{fault.Unknown: w.result.Unknown}
	for i, p := range w.result.Weighed {
		h := w.ensemble.Hypotheses[i]
		if h.Suspect != nil || h.Group != f.Group {
			continue
		}
		for k, share := range h.Shares(j.Expected.Plan, j.priors()) {
			kinds[k] += p * share
		}
	}
	for k, p := range w.result.AboveBy {
		kinds[k] += p
	}
	for _, p := range f.rival.beside(kinds) {
		total += p
	}
	return kinds, total, true
}

// leastSlip: a kind that is less probable isn't listed.
const leastSlip = 1e-9

// worthLowering: of a chance of so much the group that holds most is named, and what makes it smaller. Our own
// choice, no source: of a hundred closures glued with such a chance one would hold a fault. It decides when a line is
// shown, no verdict.
const worthLowering = 0.01

// shownSlips are the kinds of fault that are named, of those that make up a
// twentieth of it or more.
const shownSlips = 3

// byReason gives what isn't counted, together what for the same reason.
func (s Slip) byReason() iter.Seq2[string, []string] {
	return func(yield func(string, []string) bool) {
		groups := map[string][]string{}
		var order []string
		for i, g := range s.Uncounted {
			why := words.NoChanceKnown
			if i < len(s.UncountedFor) {
				why = s.UncountedFor[i]
			}
			if groups[why] == nil {
				order = append(order, why)
			}
			groups[why] = append(groups[why], g)
		}
		for _, why := range order {
			if !yield(why, groups[why]) {
				return
			}
		}
	}
}

// Text says it for a maker.
func (s Slip) Text() string {
	var of []words.Chance
	for _, k := range s.Kinds {
		if len(of) < shownSlips && k.P > 0.05*s.P {
			of = append(of, words.Chance{Name: fault.AboutKind(k.Kind).Short, P: k.P})
		}
	}
	text := words.StillThere(s.P, of, string(s.Rates), len(s.Uncounted) > 0)
	if m := s.Most; m != nil {
		text += " " + words.MostOfIt(m.Group, m.P, m.Lower)
	}
	for why, groups := range s.byReason() {
		text += " " + words.NotCounted(groups, why)
	}
	return text
}
