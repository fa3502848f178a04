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

// offered is the step that a finding offers; only what is offered is made.
func offered(d *draft, p *plan.Plan, said plan.Said, form url.Values) (step, error) {
	for _, o := range d.known.Offers {
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
