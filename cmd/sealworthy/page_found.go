package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare"
	"sealworthy/compare/scene"
	"sealworthy/instruments"
)

// mostFound builds are held with what was found of them (our own choice: who looks at more of
// them in turn waits for each).
const mostFound = 8

// heldFindings holds what was found of builds, so that the page of one is there whole at once: to judge
// all of a record takes nearly all of the time that its page does. It is what the same files said:
// whatever becomes of one of them, they're judged anew.
type heldFindings struct {
	mu sync.Mutex
	of map[string]*judgedAs // by folder
}

// judgedAs is what was found of a build as its files were; done is closed once it is.
type judgedAs struct {
	key  string
	done chan struct{}
	what page.Findings
	err  error
}

// evidence is all that findings of a build are made of.
type evidence struct {
	b      build
	leads  compare.Leads
	record record.Folded
	files  string // stands for what the files say; "": not all of them can be read
	key    string // files, with what was made of them
}

// evidence reads what a build's findings are made of.
func (p *pageWork) evidence(b build, l compare.Leads) (r evidence, err error) {
	r = evidence{b: b, leads: l}
	r.files, _ = p.read(b) // what can't be read is told by whatever needs it
	r.record, err = b.history(p.quiet())
	r.key = fmt.Sprintf("%s\n%+v\n%+v", r.files, l, r.record.Damage)
	return r, err
}

// Judge works out what the readings of a build say, or gives what is held.
func (p *pageWork) Judge(_ context.Context, id string) (page.Findings, error) {
	b, err := p.open(id)
	if err != nil {
		return page.Findings{}, err
	}
	_, what, err := p.judged(b)
	return what, err
}

// judged is what the files of a build say now, with what it was made of.
func (p *pageWork) judged(b build) (r evidence, what page.Findings, err error) {
	leads, err := b.leads()
	if err != nil {
		return r, what, err
	}
	if r, err = p.evidence(b, leads); err != nil {
		return r, what, err
	}
	what, err = p.judge(r)
	return r, what, err
}

// judge is what a reading says, held. Who asks for what is being judged already waits for that.
func (p *pageWork) judge(r evidence) (page.Findings, error) {
	if r.files == "" {
		return p.findings(r)
	}
	x, mine := p.held.begin(r.b.dir, r.key)
	if mine {
		func() {
			defer close(x.done)
			x.err = errors.New("what was found can't be said: the program failed at it")
			x.what, x.err = p.findings(r)
		}()
		if again, err := p.read(r.b); x.err != nil || err != nil || again != r.files { // they changed meanwhile
			p.held.forget(r.b.dir, x)
		}
	}
	<-x.done
	return x.what, x.err
}

// findings judges a reading.
func (p *pageWork) findings(r evidence) (out page.Findings, err error) {
	out.Files = r.files
	e, b, steps := p.quiet(), r.b, r.record.Kept()
	j, err := b.judge(r.leads)
	if err != nil {
		return out, err
	}
	if out.Closures, err = b.findingsBy(j, r.record, ""); err != nil {
		return out, err
	}
	for _, c := range planChanges(out.Closures) {
		out.Offers = append(out.Offers, page.Offer{Edit: c.Edit, For: c.For})
	}
	if severalStages(steps) {
		changes, trend, err := b.overStages(e, j.Expected, steps, r.leads)
		if err != nil {
			return out, err
		}
		out.StageChanges, out.Trend = stagesShown(changes, trend)
	}
	bud, err := j.Expected.At(scene.Scene{LeadsOhm: r.leads.Ohm, LeadsHalfOhm: r.leads.HalfOhm})
	if err != nil {
		return out, err
	}
	var text strings.Builder
	err = bud.Text(&text, width)
	out.Text = text.String()
	return out, err
}

// known is what was found by a reading, where that is held; nil: it has to be judged.
func (c *heldFindings) known(r evidence) *page.Findings {
	c.mu.Lock()
	defer c.mu.Unlock()
	x := c.of[r.b.dir]
	if x == nil || r.files == "" || x.key != r.key {
		return nil
	}
	select {
	case <-x.done:
	default:
		return nil
	}
	if x.err != nil {
		return nil
	}
	return &x.what
}

// mostAhead builds of a folder are judged before anybody opens one of them: what was worked at last
// is opened next.
const mostAhead = 3

// ahead judges builds before they are opened, one after another, those whose record grew last
// first. While a test is under way it leaves the machine to that.
func (p *pageWork) ahead(dirs []string) {
	grew := func(dir string) time.Time { return changedAt(filepath.Join(dir, record.FilesDir)) }
	dirs = slices.SortedStableFunc(slices.Values(dirs), func(a, b string) int { return grew(b).Compare(grew(a)) })
	dirs = dirs[:min(len(dirs), mostAhead)]
	instruments.Go(func() {
		for _, dir := range dirs {
			p.mu.Lock()
			testing := len(p.besides) > 0
			p.mu.Unlock()
			if testing {
				return
			}
			_, _ = p.Judge(context.Background(), buildID(dir)) // what is wrong with it is told when it's opened
		}
	}, func(error) {})
}

// begin gives what is known of a folder as its files are; mine: it's to be found by who asks.
func (c *heldFindings) begin(dir, key string) (x *judgedAs, mine bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if x := c.of[dir]; x != nil && x.key == key {
		return x, false
	}
	if c.of == nil {
		c.of = map[string]*judgedAs{}
	}
	for other := range c.of {
		if len(c.of) >= mostFound && other != dir {
			delete(c.of, other)
		}
	}
	x = &judgedAs{key: key, done: make(chan struct{})}
	c.of[dir] = x
	return x, true
}

// forget drops what was found, if nothing newer is there.
func (c *heldFindings) forget(dir string, x *judgedAs) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.of[dir] == x {
		delete(c.of, dir)
	}
}
