package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare/plan"
)

var _ page.Asker = (*pageWork)(nil)

// unfinished are the folders in which an interview can be gone on with.
func (p *pageWork) unfinished() (out []string, err error) {
	if p.only != "" {
		return nil, nil
	}
	entries, err := inFolder(p.dir)
	if err != nil {
		return nil, err
	}
	for _, x := range foldersIn(entries) {
		dir := filepath.Join(p.dir, x)
		if info, err := os.Stat(answersFile(dir)); err == nil && info.Mode().IsRegular() && len(out) < mostBuilds {
			if _, err := os.Stat(filepath.Join(dir, planFile)); errors.Is(err, fs.ErrNotExist) {
				out = append(out, dir)
			}
		}
	}
	return out, nil
}

// Unfinished lists them.
func (p *pageWork) Unfinished(context.Context) (out []page.Build, err error) {
	dirs, err := p.unfinished()
	for _, dir := range dirs {
		out = append(out, page.Build{ID: buildID(dir), Name: filepath.Base(dir), Where: dir})
	}
	return out, err
}

// newFolder is where a new build of a name goes.
func (p *pageWork) newFolder(name string) (string, error) {
	if p.only != "" {
		return "", withHint(errors.New("this page is of one build"),
			"sealworthy page, without BUILD, lists a folder's and begins new ones")
	}
	if name == "" {
		return "", &page.NameError{Why: "A build needs a name", Better: p.free("My model")}
	}
	what, _ := plan.NameProblem("build", name)
	switch {
	case what == "" && strings.HasPrefix(name, "-"):
		what = "begins with a hyphen"
	case what == "" && strings.Contains(name, "."):
		what = "has a point, which a folder of this program hasn't"
	}
	if what != "" {
		better := strings.Trim(strings.ReplaceAll(mended(p.quiet(), name), ".", "-"), "- ")
		return "", &page.NameError{Name: name, Why: what, Better: p.free(cmp.Or(better, "My model"))}
	}
	return filepath.Join(p.dir, name), nil
}

// free is a name that no folder here has: that one, or with a number behind it.
func (p *pageWork) free(name string) string {
	for n, x := 2, name; ; n, x = n+1, fmt.Sprintf("%s %d", name, n) {
		if _, err := os.Stat(filepath.Join(p.dir, x)); errors.Is(err, fs.ErrNotExist) || n > mostBuilds {
			return x
		}
	}
}

// BeginAsking makes the folder of a new build with no answer in it yet.
func (p *pageWork) BeginAsking(_ context.Context, name string) (string, error) {
	dir, err := p.newFolder(name)
	if err != nil {
		return "", err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if _, err := os.Stat(filepath.Join(dir, planFile)); !errors.Is(err, fs.ErrNotExist) {
		return "", &page.NameError{Name: name, Why: "is that of a build already", Better: p.free(name)}
	}
	if err := makeFolder(dir); err != nil {
		return "", err
	}
	v, err := newInterview(p.quiet(), answersFile(dir)) // there may be answers from before
	if errors.As(err, new(*strangeAnswersError)) {
		return buildID(dir), nil // which says so, and how to begin anew
	}
	if err != nil {
		return "", err
	}
	return buildID(dir), v.keep()
}

// Asked tells where an interview stands.
func (p *pageWork) Asked(_ context.Context, id string) (page.Interview, error) {
	return p.onInterview(id, func(v *interview, open bool) (string, error) { return "", nil })
}

// Reply answers the question that is open, if the answer is meant for it.
func (p *pageWork) Reply(_ context.Context, id string, nth int, answer string) (page.Interview, error) {
	answer = strings.TrimSpace(answer)
	x, err := p.onInterview(id, func(v *interview, open bool) (string, error) {
		if !open || nth != len(v.answers) {
			return "", nil
		}
		a, why := v.open.take(answer)
		if why != "" {
			return why, nil
		}
		v.answers = append(v.answers, a)
		return "", v.keep()
	})
	if x.Refused != "" {
		x.Was = answer
	}
	return x, err
}

// Back takes the last answer back.
func (p *pageWork) Back(_ context.Context, id string, nth int) (page.Interview, error) {
	return p.onInterview(id, func(v *interview, _ bool) (string, error) {
		if n := len(v.answers); n > 0 && nth == n {
			v.answers = v.answers[:n-1]
			return "", v.keep()
		}
		return "", nil
	})
}

// BeginAnew moves answers that can't be gone on with beside, and asks from the beginning.
func (p *pageWork) BeginAnew(ctx context.Context, id string) (page.Interview, error) {
	if err := p.moveStrange(id); err != nil {
		return page.Interview{}, err
	}
	return p.Asked(ctx, id)
}

func (p *pageWork) moveStrange(id string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	dir, err := p.interviewIn(id)
	if err != nil {
		return err
	}
	file := answersFile(dir)
	if _, err := newInterview(p.quiet(), file); !errors.As(err, new(*strangeAnswersError)) {
		return err
	}
	if _, err := moveBeside(file); err != nil {
		return err
	}
	v, err := newInterview(p.quiet(), file)
	if err != nil {
		return err
	}
	return v.keep()
}

// interviewIn is the folder of an interview.
func (p *pageWork) interviewIn(id string) (string, error) {
	dirs, err := p.unfinished()
	if err != nil {
		return "", err
	}
	for _, d := range dirs {
		if buildID(d) == id {
			return d, nil
		}
	}
	return "", fmt.Errorf("there is no such interview in this folder: %w", fs.ErrNotExist)
}

// onInterview does something with an interview and tells where it stands then. With its
// last answer the plan is written.
func (p *pageWork) onInterview(id string, do func(v *interview, open bool) (refused string,
	err error)) (x page.Interview, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	dir, err := p.interviewIn(id)
	if err != nil {
		return x, err
	}
	var said bytes.Buffer
	e := p.quiet()
	e.stdout = outletOf(&said)
	book, err := bookOf(e)
	if err != nil {
		return x, err
	}
	name := mended(e, filepath.Base(dir))
	v, err := newInterview(e, answersFile(dir))
	if strange := (*strangeAnswersError)(nil); errors.As(err, &strange) {
		return page.Interview{ID: id, Name: name, Strange: strange.Error()}, nil
	}
	if err != nil {
		return x, err
	}
	v.leaf = true
	ask := func() (plan.Draft, error) {
		v.next = 0
		said.Reset()
		return askFor(v, book, name)
	}
	_, err = ask()
	if err != nil && !errors.Is(err, errOpen) {
		return x, err
	}
	refused, err := do(v, err != nil)
	if err != nil {
		return x, err
	}
	d, err := ask()
	x = page.Interview{ID: id, Name: name, Refused: refused, Nth: len(v.answers),
		Said: strings.TrimSpace(said.String())}
	switch {
	case errors.Is(err, errOpen):
		v.open.onto(&x)
		if v.about != "" {
			x.Question = v.about + ": " + x.Question
		}
		return x, nil
	case err != nil:
		return x, err
	}
	x.Build = buildID(dir)
	err = startBuild(e, dir, name, func(env, string, string) ([]byte, map[string][]byte, error) {
		src, err := textOf(d, book)
		return src, nil, err
	})
	if err != nil {
		x.Build, x.Question, x.Refused = "", "That makes no plan: take the last answer back.", err.Error()
	}
	return x, nil
}

// onto shows a question on a page, which has a button for each key that a terminal names.
func (q query) onto(x *page.Interview) {
	x.Usual, x.Empty, x.Typed = q.fallback, q.hasFall, q.named
	x.Question, x.Help = strings.Replace(q.text, " Enter: ", " Left empty: ", 1), q.help
	if text, other := strings.CutSuffix(x.Question, elseTyped); other {
		x.Question, x.Else, x.Help = text, somethingElse, strings.TrimSuffix(x.Help, elseAsks)
	}
	for i, c := range q.listed(true) {
		x.Choices = append(x.Choices, page.Choice{Head: q.heads[i], Says: c})
	}
}
