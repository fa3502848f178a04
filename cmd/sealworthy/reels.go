package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"

	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/reel"
)

// learned is what the healthy groups of a build tell of their reels; nil: nothing.
func (b build) learned(e env) (*reel.Learned, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, err
	}
	j, err := b.judge(e, leads)
	if err != nil {
		return nil, err
	}
	h, err := b.history(e)
	if err != nil {
		return nil, err
	}
	return j.Learned(compare.HistoryOf(h))
}

// keepLearned writes what was learned beside the plan. A file that somebody has
// changed stays as it is: all that is in it can be learned again.
func (b build) keepLearned(e env, l *reel.Learned) error {
	if l.Empty() {
		return nil
	}
	text, err := l.Encode()
	if err != nil {
		return err
	}
	file := filepath.Join(b.dir, reelFile)
	if err := writeMade(file, writeBytes(text)); !errors.Is(err, errNotOurs) {
		return err
	}
	wrap(e.stderr, "note: ", "  ", fmt.Sprintf("%s was changed by hand: what was learned isn't written into it", file))
	return nil
}

// sayReels says what the reels of a build draw that are in several groups, and
// how to keep it.
func sayReels(w io.Writer, l *reel.Learned) {
	if l.Empty() {
		return
	}
	var lines []string
	for _, s := range l.Text() {
		name, _, _ := strings.Cut(s, ": ")
		if slices.ContainsFunc(l.Reels, func(r reel.Reel) bool { return r.Reel == name && len(r.Groups) > 1 }) {
			lines = append(lines, s)
		}
	}
	if len(lines) == 0 {
		return
	}
	fmt.Fprintln(w, "\nLearned of the reels, by groups that are as they should be:")
	for _, s := range lines {
		wrap(w, "  ", "    ", s)
	}
	fmt.Fprintln(w, "  for the next build: sealworthy part --from BUILD")
}

// partsFrom writes what a build taught of its reels into the part book: the
// next build that names the entry starts with it.
func partsFrom(e env, dir string) (int, error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	l, err := b.learned(e)
	if err != nil {
		return exitFailure, err
	}
	if l.Empty() {
		return exitFailure, withHint(fmt.Errorf("the build %q taught nothing of a reel yet", b.plan.Build),
			"a reel is learned from groups that were measured alone and are as they should be")
	}
	leads, err := b.leads()
	if err != nil {
		return exitFailure, err
	}
	said := e
	said.stderr = io.Discard // what is wrong with the record was said above
	cs, _, err := b.judged(said, "", leads)
	if err != nil {
		return exitFailure, err
	}
	n, rig := 0, slices.ContainsFunc(cs, func(c compare.ClosureFinding) bool { return c.Simulated })
	for _, r := range l.Reels {
		for _, base := range reel.PartsOf(b.plan, r.Reel, b.book) {
			p, err := l.Part(base, r.Reel, freeName(e, base.Name+", "+b.plan.Build))
			if err != nil {
				wrap(e.stderr, "note: ", "  ", fmt.Sprint(err))
				continue
			}
			p.Source = sourceOf(p.Source, rig)
			file, err := keepPart(e, p)
			if err != nil {
				return exitFailure, err
			}
			n++
			wrap(e.stdout, "", "  ", fmt.Sprintf("%s: %s. Kept in %s", p.Name, p.Source, file))
			fmt.Fprintf(e.stdout, "In a plan: part = %q\n", p.Name)
		}
	}
	if n == 0 {
		return exitFailure, fmt.Errorf("nothing of what the build %q taught belongs to a part", b.plan.Build)
	}
	return exitReady, nil
}

// freeName is a name that isn't in the part book yet.
func freeName(e env, name string) string {
	book, err := partBook(e)
	if err != nil || book == nil {
		book = plan.BuiltIn()
	}
	for k, s := 2, name; ; k++ {
		if _, err := book.Find(s); err != nil {
			return s
		}
		s = fmt.Sprintf("%s %d", name, k)
	}
}

// sourceOf says of a part that a simulated bench taught it: it tells of no real reel.
func sourceOf(source string, simulated bool) string {
	if simulated {
		return "SIMULATED, " + source
	}
	return source
}
