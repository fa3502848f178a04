package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/plan"
)

// The files of a build.
const (
	planFile   = "plan.toml"
	benchFile  = session.BenchFile
	partsFile  = "parts.toml" // of the maker, not of a build
	readingDir = "readings"
	sheetFile  = "sheet.html"

	deliveryFile = "delivery.html"
	labelFile    = "label.html"
	returnFile   = "return.html"
	replyFile    = "reply.html"
	buyFile      = "buy.html"
)

// build is a build's folder with its plan read.
type build struct {
	dir  string
	file string // of the plan
	plan *plan.Plan
	src  []byte // of the plan
	book *plan.Book
	here *time.Location // whose clock tells times
	home string         // where what belongs to the maker lies; empty: not known
}

// here is where times are told for: on a screen, on paper.
func (e env) here() *time.Location {
	if e.zone == nil {
		return time.Local
	}
	return e.zone
}

// openBuild takes a folder, or the path of the plan in it.
func openBuild(e env, path string) (build, error) {
	info, err := os.Stat(path)
	if err != nil {
		return build{}, noBuild(path, err)
	}
	dir, file := path, filepath.Join(path, planFile)
	if !info.IsDir() {
		dir, file = filepath.Dir(path), path
	}
	src, err := readFile(file, mostBytes)
	if err != nil {
		return build{}, noBuild(file, err)
	}
	book, err := partBook(e)
	if err != nil {
		return build{}, err
	}
	p, problems := plan.ParseWith(file, src, plan.Options{Book: book})
	if len(problems) > 0 {
		return build{}, planError(file, problems)
	}
	for _, w := range p.Warnings {
		sayProblem(e.stderr, "note: ", w)
	}
	wantMemory(e.getenv, len(p.Groups))
	home, err := configDir(e)
	if err != nil {
		home = ""
	}
	return build{dir: dir, file: file, plan: p, src: src, book: book, here: e.here(), home: home}, nil
}

func noBuild(path string, err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		err := fmt.Errorf("no build at %s: %w", path, fs.ErrNotExist)
		dir := path
		if filepath.Base(path) == planFile {
			dir = filepath.Dir(path)
		}
		if what := misplacedPlan(dir); what != "" {
			return withHint(err, what)
		}
		return withHint(err, "sealworthy new DIR starts one")
	}
	return err
}

func planError(file string, problems []plan.Problem) error {
	var s strings.Builder
	n := "a problem"
	if len(problems) > 1 {
		n = fmt.Sprintf("%d problems", len(problems))
	}
	fmt.Fprintf(&s, "%s has %s:\n", file, n)
	for _, p := range problems {
		fmt.Fprintln(&s)
		sayProblem(&s, "", p)
	}
	return &wrongPlanError{file, problems, strings.TrimRight(s.String(), "\n")}
}

// wrongPlanError is a plan, or another file of that kind, that can't be read: what is wrong in it, and that as a
// terminal shows it.
type wrongPlanError struct {
	file     string
	problems []plan.Problem
	said     string
}

func (e *wrongPlanError) Error() string { return e.said }

// sayProblem writes what is wrong, the line as it stands with a mark under the
// place, and what to write instead.
func sayProblem(w io.Writer, lead string, p plan.Problem) {
	instead := p.Instead
	p.Instead = "" // written below, within the width
	what, place, _ := strings.Cut(p.String(), "\n")
	wrap(w, lead, "  ", what)
	if place != "" {
		fmt.Fprintln(w, place)
	}
	if instead != "" {
		wrap(w, "  ", "  ", instead)
	}
}

// configDir is where what belongs to the maker lies, rather than to a build.
func configDir(e env) (string, error) {
	if d := e.getenv("SEALWORTHY_HOME"); d != "" {
		return d, nil
	}
	d, err := os.UserConfigDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(d, "sealworthy"), nil
}

// partBook reads the maker's own parts; none is no error.
func partBook(e env) (*plan.Book, error) {
	dir, err := configDir(e)
	if err != nil {
		return nil, nil // no home: the built-in parts do
	}
	file := filepath.Join(dir, partsFile)
	src, err := readFile(file, mostBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	book, problems := plan.ParseBook(file, src)
	if len(problems) > 0 {
		return nil, planError(file, problems)
	}
	return book, nil
}

// history reads all sittings of a build. What is wrong with the record is said,
// and stands in it.
func (b build) history(e env) (record.Folded, error) {
	f, err := record.ReadDir(b.dir)
	f.ExpectBuild(b.plan.Build)
	for _, w := range f.Warnings {
		wrap(e.stderr, "note: ", "  ", fmt.Sprint(w))
	}
	for _, d := range f.Damage {
		if d.Answered == "" {
			wrap(e.stderr, "note: ", "  ", filepath.Join(b.dir, filepath.FromSlash(d.Name))+": "+d.What)
		}
	}
	for _, name := range f.Builds {
		if name != b.plan.Build {
			wrap(e.stderr, "note: ", "  ", fmt.Sprintf("some readings are of a build called %q; this plan is of %q",
				name, b.plan.Build))
		}
	}
	return f, err
}

// findings judges what was recorded of a build, and holds it where the whole model
// changed since the stage before.
func (b build) findings(e env, closure string, l compare.Leads) ([]compare.ClosureFinding, record.Folded, error) {
	f, err := b.history(e)
	if err != nil {
		return nil, f, err
	}
	cs, err := b.findingsOf(f, closure, l)
	return cs, f, err
}

// findingsOf is findings of a record that was read.
func (b build) findingsOf(f record.Folded, closure string, l compare.Leads) ([]compare.ClosureFinding, error) {
	j, err := b.judge(l)
	if err != nil {
		return nil, err
	}
	return b.findingsBy(j, f, closure)
}

// findingsBy is findingsOf by a judge that is there.
func (b build) findingsBy(j *compare.Judge, f record.Folded, closure string) ([]compare.ClosureFinding, error) {
	h, l := compare.HistoryOf(f), j.Leads
	cs, err := j.Findings(h, closure)
	if err != nil {
		return cs, err
	}
	whole, beside, err := b.changes(f.Kept(), l)
	if err != nil {
		beside = append(beside, "the whole model couldn't be set against the stage before: "+err.Error())
	}
	for i := range cs {
		cs[i].Beside = append(cs[i].Beside, beside...)
	}
	if n := len(whole); err == nil && changed(whole) {
		last := whole[n-1]
		what := "the whole model, " + last.Stage + ": " + last.Text
		if compare.HoldForChange(cs, b.plan, h, last.Stage, what) {
			for i := range cs {
				cs[i].Changed = what
			}
		}
		return cs, nil
	}
	// What changed and then didn't is no better, unless something was touched.
	for steps := compare.BeforeLastWhole(f.Kept(), h); err == nil &&
		len(steps) > 0; steps = compare.BeforeLastWhole(steps, h) {
		if whole, _, err = b.changes(steps, l); err == nil && changed(whole) {
			last := whole[len(whole)-1]
			compare.HoldForChange(cs, b.plan, h, last.Stage, "the whole model, "+last.Stage+
				": it had changed, then it had not, with nothing told to be touched in between: something moves")
			break
		}
	}
	return cs, nil
}

// judged judges what was recorded of a build, each closure by its own.
func (b build) judged(e env, closure string, l compare.Leads) ([]compare.ClosureFinding, record.Folded, error) {
	f, err := b.history(e)
	if err != nil {
		return nil, f, err
	}
	j, err := b.judge(l)
	if err != nil {
		return nil, f, err
	}
	cs, err := j.Findings(compare.HistoryOf(f), closure)
	return cs, f, err
}
