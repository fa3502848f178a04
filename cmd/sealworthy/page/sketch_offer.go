package page

import (
	"errors"
	"net/url"
	"strconv"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/sketch"
)

// offerView is an offer with what it does, in words.
type offerView struct {
	Offer
	Says string
}

// offers are what is offered; none: nothing is, or that isn't known yet.
func (k PlanKnown) offers() []Offer {
	if k.Findings == nil {
		return nil
	}
	return k.Findings.Offers
}

// offersOf are the changes that a draft is offered, in words: of the file as it is, not of what is made of it.
func offersOf(d *draft, p *plan.Plan, said plan.Said) (out []offerView) {
	if len(d.steps) > 0 {
		return nil
	}
	for _, o := range d.known.offers() {
		out = append(out, offerView{o, offerSays(p, said, o)})
	}
	return out
}

// offered is the step that a finding offers; only what is offered is made.
func offered(d *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	for _, o := range d.known.offers() {
		if o.Edit == form.Get("edit") {
			return step{edit: o.Edit, says: offerSays(p, said, o)}, nil
		}
	}
	return step{}, errors.New("that isn't offered any more")
}

// offerSays says an offered change in the words of the form that makes it; the edit itself, where none does.
func offerSays(p *plan.Plan, said plan.Said, o Offer) string {
	path, value, _ := strings.Cut(o.Edit, " = ")
	if s, err := strconv.Unquote(value); err == nil {
		value = s
	}
	for _, at := range sketch.Places(p, said) {
		if !strings.HasPrefix(path, at.Path()+".") {
			continue
		}
		fields, err := sketch.Fields(p, said, at)
		if err != nil {
			continue
		}
		for _, f := range fields {
			if _, differs := f.Filled(map[string]string{path: value}); f.Path == path && differs {
				return filledIn(at, fields, map[string]string{path: value})
			}
		}
	}
	return o.Edit
}
