package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"sealworthy/compare"
	"sealworthy/compare/belief"
	"sealworthy/compare/plan"
)

// reels is what the groups of a build tell of their reels; none: nothing.
func (b build) reels(e env) ([]belief.Reel, error) {
	leads, err := b.leads()
	if err != nil {
		return nil, err
	}
	j, err := b.judge(leads)
	if err != nil {
		return nil, err
	}
	h, err := b.history(e)
	if err != nil {
		return nil, err
	}
	return j.Reels(compare.HistoryOf(h))
}

// sayReels says what the reels of a build draw that are in several groups, and
// how to keep it.
func sayReels(w io.Writer, reels []belief.Reel) {
	var lines []string
	for _, r := range reels {
		if len(r.Groups) < 2 {
			continue
		}
		lines = append(lines, reelText(r))
		if r.Beyond {
			lines = append(lines, "  that is more than its tolerance allows: is it another part than planned, or "+
				"are all of its groups wrong alike? Look at one of them lit")
		}
	}
	if len(lines) == 0 {
		return
	}
	fmt.Fprintln(w, "\nWhat the groups tell of their reels, all weighed together:")
	for _, s := range lines {
		wrap(w, "  ", "    ", s)
	}
	fmt.Fprintln(w, "  for the next build: sealworthy part --from BUILD")
}

// reelText says what a reel draws: "strip warm 60/m: this reel draws 4 % less than
// its data sheet (±1 %), by: cabin windows, bridge, saloon". The band holds 95 of 100.
func reelText(r belief.Reel) string {
	draws := "draws what its data sheet says"
	if math.Abs(r.Rel) >= r.U/2 && percentTo(r.Rel, r.U) != "0" {
		than := "more"
		if r.Rel < 0 {
			than = "less"
		}
		draws = fmt.Sprintf("draws %s %% %s than its data sheet", percentTo(r.Rel, r.U), than)
	}
	return fmt.Sprintf("%s: this reel %s (±%s %%), by: %s", r.Reel, draws, percentDoubt(1.96*r.U),
		strings.Join(r.Groups, ", "))
}

// percentDoubt writes an uncertainty in per cent: two digits below ten, none after.
func percentDoubt(x float64) string {
	x *= 100
	switch {
	case x < 0.995:
		return fmt.Sprintf("%.2g", x)
	case x < 9.95:
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", x)
}

// percentTo writes a size in per cent with the digits that its uncertainty leaves.
func percentTo(x, u float64) string {
	x, u = math.Abs(100*x), 1.96*100*u
	if u < 0.995 {
		return fmt.Sprintf("%.1f", x)
	}
	return fmt.Sprintf("%.0f", x)
}

// partsFrom writes what a build taught of its reels into the part book: the
// next build that names the entry starts with it.
func partsFrom(e env, dir string) (int, error) {
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	reels, err := b.reels(e)
	if err != nil {
		return exitFailure, err
	}
	if len(reels) == 0 {
		return exitFailure, withHint(fmt.Errorf("the build %q taught nothing of a reel yet", b.plan.Build),
			"a reel is learned from groups that were measured, at least two of them")
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
	for _, r := range reels {
		for _, base := range compare.PartsOf(b.plan, r.Reel, b.book) {
			p, err := r.Part(base, freeName(e, base.Name+", "+b.plan.Build), reelSource(r, b.plan.Build))
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

// reelSource is where the values of an entry come from.
func reelSource(r belief.Reel, build string) string {
	n := "1 group"
	if len(r.Groups) > 1 {
		n = fmt.Sprintf("%d groups", len(r.Groups))
	}
	t := "learned from " + n
	if build != "" {
		t += " of " + build
	}
	return t
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
