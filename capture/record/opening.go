package record

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"sealworthy/instruments"
)

// Begin opens a new sitting of the build in o.Dir: a new file, numbered one above
// all that is there. It takes the build's lock first, and holds it until Close.
//
// A torn last line of an earlier sitting goes to NAME.torn and is cut; that, and
// what was wrong with the head, is a Warning.
func Begin(fsys FS, o Opening) (*Recorder, []Warning, error) {
	unlock, err := fsys.Lock(o.Dir)
	if err != nil {
		return nil, nil, err
	}
	r, warn, err := begin(fsys, o)
	if err != nil {
		return nil, warn, errJoin(err, unlock())
	}
	r.unlock = unlock
	run := o.Go
	if run == nil {
		run = instruments.Go
	}
	run(r.write, r.gone)
	return r, warn, nil
}

func begin(fsys FS, o Opening) (*Recorder, []Warning, error) {
	name, err := NewName(o.Now, o.Stage)
	if err != nil {
		return nil, nil, err
	}
	dir := filepath.Join(o.Dir, FilesDir)
	p, err := prepare(fsys, o)
	if err != nil {
		return nil, nil, err
	}
	number := p.highest + 1
	if p.taken(name) {
		if name, err = NumberedName(o.Now, o.Stage, number); err != nil {
			return nil, p.warn, err
		}
	}
	p.head.Sittings = append(p.head.Sittings, HeadSitting{Number: number, File: name})
	if err := writeHead(fsys, o.Dir, p.head); err != nil {
		return nil, p.warn, err
	}
	file, err := fsys.Create(filepath.Join(dir, name))
	if err != nil {
		return nil, p.warn, err
	}
	// The name of a new file must outlast a power cut, too.
	if err := fsys.SyncFolder(filepath.Join(dir, name)); err != nil {
		return nil, p.warn, errJoin(err, file.Close())
	}
	r := &Recorder{name: filepath.Join(dir, name), number: number, fs: fsys, o: o, done: make(chan struct{}),
		file: file, head: p.head, sums: newSummer(), check: seedOf(p.head.Build, number), is: map[string]string{}}
	r.changed = sync.NewCond(&r.mu)
	first := SittingLine{At: o.Now, Stage: o.Stage, What: o.What, Name: o.Build, PlanRevision: o.PlanRevision,
		Program: o.Program,
		Bench:   o.Bench, GoesOn: o.GoesOn}
	if last := p.latest(); last != nil && last.Until.After(o.Now) {
		first.Behind = last.Until.Sub(o.Now.Round(0))
		// simulated time begins where it likes
		if !o.Simulated && !p.simulated(last.File) && first.Behind >= time.Second {
			p.warn = append(p.warn, Warning{File: FilesDir + "/" + name, What: behindWords(first.Behind)})
		}
	}
	err = r.put(Record{Sitting: &first})
	for _, f := range p.found {
		err = errJoin(err, r.put(Record{Found: &Found{Name: f.Name, What: f.What, At: o.Now, Stage: o.Stage}}))
	}
	if err != nil {
		return nil, p.warn, errJoin(err, file.Close())
	}
	return r, p.warn, nil
}

// prepared is a build's record made ready for another sitting.
type prepared struct {
	fs      FS
	dir     string
	tree    fs.FS
	files   []listed
	head    Head
	highest int      // number of a sitting
	found   []Damage // that can't be seen any more once the head is written
	warn    []Warning
}

// latest is the sitting before the one that begins; nil: there was none.
func (p *prepared) latest() *HeadSitting {
	if len(p.head.Sittings) < 2 {
		return nil
	}
	return &p.head.Sittings[len(p.head.Sittings)-2]
}

func (p *prepared) simulated(file string) bool {
	return slices.ContainsFunc(p.files, func(f listed) bool { return f.name == file && f.simulated })
}

// taken: a file has this name, or had.
func (p *prepared) taken(name string) bool {
	return p.head.find(name) != nil || p.head.before(name) != nil ||
		slices.ContainsFunc(p.files, func(f listed) bool { return f.name == name })
}

// prepare reads the head, or makes one, brings it up to what the files hold and
// puts torn lines aside.
func prepare(fsys FS, o Opening) (*prepared, error) {
	p := &prepared{fs: fsys, dir: o.Dir, tree: fsys.Tree(o.Dir)}
	var err error
	if p.files, err = list(p.tree); err != nil {
		return nil, err
	}
	h, ok, err := readHead(p.tree)
	if err != nil && !errors.Is(err, ErrHeadDamaged) {
		return nil, err
	}
	if err := newer(p.files, h.Build); err != nil { // before anything is written
		return nil, err
	}
	if p.head = h; !ok {
		if err := p.newHead(o.Random, err); err != nil {
			return nil, err
		}
	}
	for _, s := range p.head.Sittings {
		p.highest = max(p.highest, s.Number)
	}
	for _, b := range p.head.Before {
		p.highest = max(p.highest, b.Number)
	}
	for _, f := range p.files {
		if f.begins && f.build == p.head.Build {
			p.highest = max(p.highest, f.sitting)
		}
		if err := p.catchUp(f); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// newHead makes a head for a build that has none, or none that can be read. Files
// of before the chain are listed with what they hold. Chained files without a
// head are taken as they are, and the sitting says that it was missing.
func (p *prepared) newHead(random io.Reader, damaged error) error {
	latest, build := ownBuild(p.files)
	p.head = Head{Version: Version, Build: build}
	what := ""
	switch {
	case damaged != nil:
		what = fmt.Sprintf("%v when sitting %d began; what it listed isn't known", damaged, latest+1)
		aside := HeadFile + ".bad"
		for n := 1; p.exists(aside); n++ {
			aside = fmt.Sprintf("%s.bad%d", HeadFile, n)
		}
		if err := p.fs.Rename(filepath.Join(p.dir, HeadFile), filepath.Join(p.dir, aside)); err != nil {
			return err
		}
	case latest > 0:
		what = fmt.Sprintf("the head of the chain was missing when sitting %d began; what it listed isn't known",
			latest+1)
	}
	if what != "" {
		p.found = append(p.found, Damage{Name: HeadFile, What: what})
		p.warn = append(p.warn, Warning{File: HeadFile, What: what})
	}
	if p.head.Build == "" {
		id, err := newID(random)
		if err != nil {
			return err
		}
		p.head.Build = id
	}
	n := 0
	for _, f := range p.files {
		switch {
		case f.chained && f.build == p.head.Build && p.head.number(f.sitting) == nil:
			p.head.Sittings = append(p.head.Sittings, HeadSitting{Number: f.sitting, File: f.name})
		case f.old:
			n++
			b, err := digest(p.tree, f.path())
			if err != nil {
				return err
			}
			b.Number, b.File = n, f.name
			p.head.Before = append(p.head.Before, b)
		}
	}
	slices.SortFunc(p.head.Sittings, func(a, b HeadSitting) int { return a.Number - b.Number })
	return nil
}

func (p *prepared) exists(name string) bool {
	_, err := fs.Stat(p.tree, name)
	return err == nil
}

// digest gives the length of a file and its SHA-256.
func digest(tree fs.FS, name string) (HeadBefore, error) {
	f, err := tree.Open(name)
	if err != nil {
		return HeadBefore{}, err
	}
	defer f.Close() // read only: nothing to lose
	h := sha256.New()
	n, err := io.Copy(h, f)
	return HeadBefore{Bytes: n, SHA256: hex.EncodeToString(h.Sum(nil))}, err
}

// writeHead replaces the head of a build.
func writeHead(fsys FS, dir string, h Head) error {
	b, err := h.bytes()
	if err == nil {
		err = fsys.Replace(filepath.Join(dir, HeadFile), b)
	}
	if err != nil {
		return fmt.Errorf("the head of the chain: %w", err)
	}
	return nil
}
