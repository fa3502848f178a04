package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// looks holds how the files of builds looked when they were read last, so that who only wants to know
// whether they changed, every two seconds while a page is open, doesn't read megabytes for it. Nothing
// is judged, called ready, glued or kept by a look: that reads every byte (pageWork.read).
type looks struct {
	read func(e env, b build) (string, error) // filesOf; a test counts

	mu sync.Mutex
	of map[string]lookedAt // by folder
}

// lookedAt is what was read of files that looked like that.
type lookedAt struct{ like, files string }

// tooFresh: a file that was written so shortly before it was read may be written again without
// looking otherwise. Times are kept to 2 s at worst (FAT; Microsoft, "File Times").
const tooFresh = 3 * time.Second

// Files stands for all that a build's findings are made of, as it is now: read anew where any of it looks
// otherwise than when it was read.
func (p *pageWork) Files(_ context.Context, id string) (string, error) {
	dir, err := p.dirOf(id)
	if err != nil {
		return "", err
	}
	if like, settled := p.like(dir); settled {
		if files := p.looks.known(dir, like); files != "" {
			return files, nil
		}
	}
	b, err := p.open(id)
	if err != nil {
		return "", err
	}
	return p.read(b)
}

// read reads all that findings of a build are made of, as filesOf.
func (p *pageWork) read(b build) (string, error) {
	read := p.looks.read
	if read == nil {
		read = filesOf
	}
	before, settled := p.like(b.dir)
	files, err := read(p.quiet(), b)
	after, _ := p.like(b.dir)
	src, srcErr := readFile(b.file, mostBytes) // of the plan: it was read some time before
	if settled && err == nil && before == after && srcErr == nil && bytes.Equal(src, b.src) {
		p.looks.hold(b.dir, lookedAt{before, files})
	} else {
		p.looks.hold(b.dir, lookedAt{})
	}
	return files, err
}

// known is what was read of a folder's files when they looked like that; "": nothing was.
func (l *looks) known(dir, like string) string {
	l.mu.Lock()
	defer l.mu.Unlock()
	if x := l.of[dir]; x.like == like {
		return x.files
	}
	return ""
}

// hold takes over what was read; nothing takes away what is known.
func (l *looks) hold(dir string, x lookedAt) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.of, dir)
	if x.files == "" {
		return
	}
	if l.of == nil {
		l.of = map[string]lookedAt{}
	}
	for other := range l.of {
		if len(l.of) >= mostFound {
			delete(l.of, other)
		}
	}
	l.of[dir] = x
}

// like says how the files of a build look that filesOf reads: their names, lengths and times, and what else
// the system tells without reading them. settled: all of it can be looked at, and none was written just now.
func (p *pageWork) like(dir string) (like string, settled bool) {
	s := strings.Builder{}
	now, settled := time.Now(), true
	note := func(path string) {
		info, err := lookedUp(path)
		if err != nil {
			fmt.Fprintf(&s, "%q %v\n", path, err)
			settled = settled && errors.Is(err, fs.ErrNotExist)
			return
		}
		fmt.Fprintf(&s, "%q %v %d %d %s\n", path, info.Mode(), info.Size(), info.ModTime().UnixNano(), alsoOf(info))
		settled = settled && now.Sub(info.ModTime()) > tooFresh
	}
	var walk func(dir string)
	walk = func(dir string) {
		note(dir)
		all, err := inFolder(dir)
		settled = settled && err == nil
		for _, x := range all {
			if path := filepath.Join(dir, x.Name()); !x.IsDir() {
				note(path)
			} else if judgedFrom(x.Name()) {
				walk(path)
			}
		}
	}
	walk(dir)
	if home, err := configDir(p.e); err == nil {
		for _, name := range makersFiles {
			note(filepath.Join(home, name))
		}
	}
	return s.String(), settled
}

// judgedFrom tells whether what a folder in a build's holds is judged: photos aren't.
func judgedFrom(folder string) bool { return folder != photoDir }

// makersFiles are those of the maker's own folder that builds are judged by.
var makersFiles = []string{priorsFile, partsFile}

// filesOf stands for all that findings of a build are made of, byte for byte: its plan as it was
// read, its folder but for photos, and what the maker's own folder says.
func filesOf(e env, b build) (string, error) {
	h := sha256.New()
	h.Write(b.src)
	if err := hashFolder(h, b.dir, judgedFrom); err != nil {
		return "", err
	}
	if dir, err := configDir(e); err == nil {
		for _, name := range makersFiles {
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
