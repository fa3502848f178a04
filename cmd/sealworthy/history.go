package main

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/compare"
	"sealworthy/compare/rule"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

const historyHelp = `sealworthy history BUILD [--picture FILE]
sealworthy history --reels FOLDER [--picture FILE]

What each group of a build drew, each time that it was measured, over stages and
years, with its uncertainty, and against its first reading. Your notes stand
beside it.

--reels goes through all builds in a folder: what each reel of lights draws
against your part book, build by build: which is off, drifts, or fails.

Exit status: 0, 4 where a build couldn't be read, 1 failure, 2 usage.`

func runHistory(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "history", historyHelp)
	reels := f.String("reels", "", "the reels of all builds in this `folder`")
	picture := f.String("picture", "", drawnToo)
	asJSON := f.Bool("json", false, "print it as JSON")
	if rest, err := parse(f, args, -1); err != nil {
		return exitUsage, err
	} else if err := pictureNamed("history", *picture); err != nil {
		return exitUsage, err
	} else if *reels != "" {
		if len(rest) > 0 {
			return exitUsage, misuse("history", "--reels takes a folder and no build")
		}
		return reelHistory(e, *reels, *picture, *asJSON)
	}
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	b, err := openBuild(e, dir)
	if err != nil {
		return exitFailure, err
	}
	return b.groupHistory(e, *picture, *asJSON)
}

// buildHistory is what --json prints of a build.
type buildHistory struct {
	Build  string               `json:"build"`
	Serial string               `json:"serial,omitempty"`
	Groups []compare.GroupYears `json:"groups"`
	Notes  []madeNote           `json:"notes"`
}

func (b build) groupHistory(e env, picture string, asJSON bool) (int, error) {
	leads, err := b.leads()
	if err != nil {
		return exitFailure, err
	}
	h, err := b.history(e)
	if err != nil {
		return exitFailure, err
	}
	j, err := b.judge(leads)
	if err != nil {
		return exitFailure, err
	}
	groups, err := j.Years(compare.HistoryOf(h))
	if err != nil {
		return exitFailure, err
	}
	out := buildHistory{Build: b.plan.Build, Serial: serialOf(h.Notes), Groups: groups, Notes: notesOf(h.Notes)}
	if asJSON {
		if err := writeJSON(e.stdout, out); err != nil {
			return exitFailure, err
		}
	} else {
		out.say(e.stdout, colour(e), b.here)
	}
	return exitReady, drawYears(picture, out.drawn(b.here))
}

// drawn is it as a picture shows it.
func (x buildHistory) drawn(where *time.Location) plots.YearsData {
	name := x.Build
	if x.Serial != "" {
		name += ", serial " + x.Serial
	}
	d := plots.YearsOf(name, x.Groups, where)
	for i, g := range x.Groups {
		for _, n := range x.Notes {
			if n.Group == g.Group {
				d.Rows[i].Notes = append(d.Rows[i].Notes, n.line(where))
			}
		}
	}
	return d
}

// drawYears draws where a file is given.
func drawYears(file string, d plots.YearsData) error {
	if file == "" {
		return nil
	}
	return drawInto(file, func(w io.Writer, f plots.Format) error { return plots.Years(w, f, plots.DefaultStyle(), d) })
}

func (x buildHistory) say(w io.Writer, k ink, where *time.Location) {
	head := k.loud(x.Build)
	if x.Serial != "" {
		head += ", serial " + x.Serial
	}
	fmt.Fprintln(w, head)
	if len(x.Groups) == 0 {
		fmt.Fprintln(w, "Nothing was measured yet.")
	}
	for _, g := range x.Groups {
		name := g.Group
		if g.Pace != "" {
			name += ", " + g.Pace
		}
		fmt.Fprintln(w, "\n"+name)
		for _, n := range x.Notes {
			if n.Group == g.Group {
				wrap(w, "  note: ", "        ", n.line(where))
			}
		}
		for i, p := range g.Points {
			line := fmt.Sprintf("%s %-9s %-12s %s", words.Day(p.At, where), p.Stage, p.Verdict,
				words.Milliamps(p.MeasuredA, p.MeasuredU))
			if i > 0 {
				line += fmt.Sprintf(", %+.1f %% against the first (±%s %%)", 100*(p.Rel-1), percentDoubt(1.96*p.RelU))
				if p.Changed {
					line += ": it changed"
				}
			}
			wrap(w, "  ", "      ", line)
		}
	}
}

// reelHistory goes through the builds of a folder.
func reelHistory(e env, folder, picture string, asJSON bool) (int, error) {
	dirs, err := buildsIn(folder)
	if err != nil {
		return exitFailure, err
	}
	status := exitReady
	byReel := map[string]*compare.ReelYears{}
	for _, dir := range dirs {
		if err := addReels(quietly(e), dir, byReel); err != nil {
			wrap(e.stderr, "note: ", "  ", dir+" isn't in it: "+inOneLine(err))
			status = exitNotReady
		}
	}
	all := []compare.ReelYears{}
	for _, r := range byReel {
		all = append(all, *r)
	}
	slices.SortFunc(all, func(a, b compare.ReelYears) int { return strings.Compare(a.Reel, b.Reel) })
	if asJSON {
		if err := writeJSON(e.stdout, whatReelsDid{all}); err != nil {
			return exitFailure, err
		}
	} else if len(all) == 0 {
		fmt.Fprintln(e.stdout, "No reel is in a group that was measured.")
	}
	for _, r := range all {
		if !asJSON {
			sayReelYears(e.stdout, colour(e), r, e.here())
		}
	}
	return status, drawYears(picture, plots.ReelsOf(folderName(folder), all, e.here()))
}

func addReels(e env, dir string, into map[string]*compare.ReelYears) error {
	b, err := openBuild(e, dir)
	if err != nil {
		return err
	}
	reels, err := b.reels(e)
	if err != nil {
		return err
	}
	leads, err := b.leads()
	if err != nil {
		return err
	}
	cs, _, err := b.judged(e, "", leads)
	if err != nil {
		return err
	}
	var fs []compare.Finding
	for _, c := range cs {
		fs = append(fs, c.Groups...)
	}
	points := compare.ReelPoints(labelOf(b.plan.Build, dir), reels, fs)
	for _, r := range reels {
		p, ok := points[r.Reel]
		if !ok {
			continue
		}
		if into[r.Reel] == nil {
			into[r.Reel] = &compare.ReelYears{Reel: r.Reel, Parts: []string{}}
		}
		into[r.Reel].Add(p, r.Parts, rule.Default().K)
	}
	return nil
}

// labelOf tells builds of one name apart by their folders.
func labelOf(build, dir string) string {
	if base := filepath.Base(dir); !strings.EqualFold(base, build) {
		return build + " (" + base + ")"
	}
	return build
}

func sayReelYears(w io.Writer, k ink, r compare.ReelYears, where *time.Location) {
	state := k.good("as the book says")
	if says := r.Says(); len(says) > 0 {
		state = k.bad(strings.Join(says, ", "))
	}
	wrap(w, k.loud(r.Reel)+": ", "  ", fmt.Sprintf("%s; %+.1f %% (±%s %%)", state, 100*r.Rel, percentDoubt(1.96*r.U)))
	for _, p := range r.Points {
		line := fmt.Sprintf("%s %s %+.1f %% (±%s %%), by: %s", words.Day(p.At, where), p.Build, 100*p.Rel,
			percentDoubt(1.96*p.U), strings.Join(p.Groups, ", "))
		if len(p.Failed) > 0 {
			line += "; failed: " + strings.Join(p.Failed, ", ")
		}
		wrap(w, "  ", "      ", line)
	}
}
