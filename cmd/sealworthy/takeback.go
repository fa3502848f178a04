package main

import (
	"errors"
	"slices"
	"strconv"
	"strings"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

// mostSaid words of the maker are listed to be taken back: it's the last ones that were a slip.
const mostSaid = 6

// takeableOf lists what was accepted or ticked, and the last time that nothing was said to be touched, the latest
// first.
// Without any of them less counts as done than with it: so each can be taken back, however long ago it was said.
func takeableOf(f record.Folded) (out []page.Said) {
	type said struct {
		page.Said
		at capture.Order
	}
	var all []said
	add := func(at capture.Order, s page.Said) {
		s.Of = strconv.FormatInt(int64(at), 10)
		all = append(all, said{s, at})
	}
	for _, a := range f.Accepted {
		add(a.Order, page.Said{At: a.At, What: "Accepted as it is: " + strings.Join(a.Groups, ", ") + ". Why: " +
			a.Reason})
	}
	for _, x := range f.Ticked {
		add(x.Order, page.Said{At: x.At, What: "Seen to be in " + x.Closure + ": " + x.Name})
	}
	if n := len(f.TouchedNothing); n > 0 {
		x := f.TouchedNothing[n-1]
		add(x.Order, page.Said{At: x.At, What: "Nothing was touched"})
	}
	slices.SortFunc(all, func(a, b said) int {
		if a.at.After(b.at) {
			return -1
		}
		return 1
	})
	for _, x := range all[:min(len(all), mostSaid)] {
		out = append(out, x.Said)
	}
	return out
}

// takeBack takes back what was said: both stay on the record.
func (b build) takeBack(e env, of []string, beside *session.Beside) error {
	f, err := b.history(e)
	if err != nil {
		return err
	}
	said := takeableOf(f)
	var marks []capture.Mark
	for _, x := range of {
		i := slices.IndexFunc(said, func(s page.Said) bool { return s.Of == x })
		if i < 0 {
			return errors.New("that is taken back already")
		}
		at, err := strconv.ParseInt(x, 10, 64)
		if err != nil {
			return err
		}
		marks = append(marks, capture.Mark{Kind: capture.MarkTakenBack, Of: capture.Order(at), Reason: said[i].What})
	}
	stage := ""
	if n := len(f.Sittings); n > 0 {
		stage = f.Sittings[n-1].Stage
	}
	return b.tell(e, stage, marks, beside)
}

// passes: what was read and seen of a group speaks for it at each of its paces, so that there is
// nothing in it to be taken as it is. What can't be judged doesn't pass.
func (b build) passes(e env, group string) bool {
	leads, err := b.leads()
	if err != nil {
		return false
	}
	cs, _, err := b.findings(e, "", leads)
	if err != nil {
		return false
	}
	passes := false
	for _, c := range cs {
		for _, f := range c.Groups {
			if f.Group != group {
				continue
			}
			if f.Verdict != compare.InBand || f.Seen != "" && !f.Looked {
				return false
			}
			passes = true
		}
	}
	return passes
}
