package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/instruments"
)

// mostFound builds are held with what was found of them (our own choice: who looks at more of
// them in turn waits for each).
const mostFound = 8

// heldFindings holds what was found of builds, so that the page of one is there at once: to judge all
// of a record takes nearly all of the time that its page does. It is what the same files said:
// whatever becomes of one of them, they're judged anew.
type heldFindings struct {
	mu sync.Mutex
	of map[string]*judgedAs // by folder
}

// judgedAs is what was found of a build as its files were; done is closed once it is.
type judgedAs struct {
	key  string
	done chan struct{}
	cs   []compare.ClosureFinding
	err  error
}

// findings is build.findings of all closures, held. Who asks for what is being judged already
// waits for that.
func (p *pageWork) findings(b build, l compare.Leads) ([]compare.ClosureFinding, record.Folded, error) {
	e := p.quiet()
	key, kerr := filesOf(e, b)
	f, err := b.history(e)
	switch {
	case err != nil:
		return nil, f, err
	case kerr != nil: // what can't be read is told by whatever needs it
		cs, err := b.findingsOf(e, f, "", l)
		return cs, f, err
	}
	x, mine := p.found.begin(b.dir, fmt.Sprintf("%s\n%+v\n%+v", key, l, f.Damage))
	if mine {
		func() {
			defer close(x.done)
			x.err = errors.New("what was found can't be said: the program failed at it")
			x.cs, x.err = b.findingsOf(e, f, "", l)
		}()
		if again, err := filesOf(e, b); x.err != nil || err != nil || again != key { // they changed meanwhile
			p.found.forget(b.dir, x)
		}
	}
	<-x.done
	return slices.Clone(x.cs), f, x.err
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
			_, _ = p.Overview(context.Background(), buildID(dir)) // what is wrong with it is told when it's opened
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

// filesOf stands for all that findings of a build are made of, byte for byte: its plan as it was
// read, its folder but for photos, and what the maker's own folder says.
func filesOf(e env, b build) (string, error) {
	h := sha256.New()
	h.Write(b.src)
	if err := hashFolder(h, b.dir, func(name string) bool { return name != photoDir }); err != nil {
		return "", err
	}
	if dir, err := configDir(e); err == nil {
		for _, name := range []string{priorsFile, partsFile} {
			src, err := readFile(filepath.Join(dir, name), mostBytes)
			fmt.Fprintf(h, "\n%s %d %v\n%s", name, len(src), err, src)
		}
	}
	return fmt.Sprintf("%x", h.Sum(nil)), nil
}

// hashFolder takes in what a folder holds, with the folders in it that are wanted.
func hashFolder(h hash.Hash, dir string, wanted func(name string) bool) error {
	all, err := inFolder(dir)
	if err != nil {
		return err
	}
	for _, x := range all {
		if x.IsDir() && !wanted(x.Name()) {
			continue
		}
		path := filepath.Join(dir, x.Name())
		fmt.Fprintf(h, "\n%q %v\n", x.Name(), x.Type())
		switch {
		case x.IsDir():
			err = hashFolder(h, path, wanted)
		case x.Type().IsRegular():
			err = hashFile(h, path)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// hashFile takes in a file, however long it is.
func hashFile(h hash.Hash, path string) error {
	f, err := openToRead(path)
	if err != nil {
		return err
	}
	defer f.Close()
	n, err := io.Copy(h, f)
	fmt.Fprintf(h, "\n%d\n", n)
	return err
}
