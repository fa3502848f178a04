package recordtest

import (
	"errors"
	"io"
	"io/fs"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing/fstest"
)

// ErrPower is what everything gives once the power is off.
var ErrPower = errors.New("the power is off")

// sector is what a disk writes whole; what wasn't synced may reach it sector by sector,
// in any order. Databases are tested so (SQLite, "How SQLite Is Tested", section 3.3).
const sector = 512

// Power is a record.FS on a disk whose power goes off at one of its operations: what was
// synced is certain, of all else any part may have reached the disk, in any order, and
// torn. A kill is not that: the system still writes what it holds.
type Power struct {
	mu     sync.Mutex
	names  map[string]*inode // as programs see them
	sure   map[string]*inode // as they were certified
	moves  []move            // of names, since
	off    bool
	locked map[string]bool

	// After is at which operation the power goes off; 0: never. Done counts them.
	After, Done int
	// Lies: a sync does nothing, as some disks have it.
	Lies bool
}

type inode struct {
	data, sure []byte
	writes     []stretch // since the last sync
}

// stretch is bytes of a file that were written, or that are not there any more.
type stretch struct{ from, to int }

// move is a change of names.
type move struct {
	dir      string // that has to be synced
	from, to string // from "": a new file; to "": taken away
	file     *inode
}

// NewPower gives an empty disk.
func NewPower(after int) *Power {
	return &Power{names: map[string]*inode{}, sure: map[string]*inode{}, locked: map[string]bool{}, After: after}
}

// step counts an operation; p.mu is held.
func (p *Power) step() error {
	if p.off {
		return ErrPower
	}
	p.Done++
	if p.After > 0 && p.Done >= p.After {
		p.off = true
		return ErrPower
	}
	return nil
}

// Tree shows the folder as programs see it.
func (p *Power) Tree(dir string) fs.FS {
	p.mu.Lock()
	defer p.mu.Unlock()
	out := fstest.MapFS{}
	for name, f := range p.names {
		if rel, ok := strings.CutPrefix(name, filepath.Clean(dir)+string(filepath.Separator)); ok {
			out[filepath.ToSlash(rel)] = &fstest.MapFile{Data: slices.Clone(f.data), Mode: 0o644}
		}
	}
	return out
}

// Create makes a file.
func (p *Power) Create(name string) (File, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	name = filepath.Clean(name)
	if p.names[name] != nil {
		return nil, &fs.PathError{Op: "create", Path: name, Err: fs.ErrExist}
	}
	return p.create(name)
}

func (p *Power) create(name string) (*powerFile, error) {
	if err := p.step(); err != nil {
		return nil, err
	}
	f := &inode{}
	p.names[name] = f
	p.moves = append(p.moves, move{filepath.Dir(name), "", name, f})
	return &powerFile{p, f}, nil
}

// Open opens a file.
func (p *Power) Open(name string) (File, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch f := p.names[filepath.Clean(name)]; {
	case p.off:
		return nil, ErrPower
	case f == nil:
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	default:
		return &powerFile{p, f}, nil
	}
}

// Replace does what a system's own does: a file of another name, synced, then renamed.
func (p *Power) Replace(name string, content []byte) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	name = filepath.Clean(name)
	temp := name + ".temporary"
	f, err := p.create(temp)
	if err != nil {
		return err
	}
	if err := f.write(content, 0); err != nil {
		return err
	}
	if err := f.sync(); err != nil {
		return err
	}
	if err := p.rename(temp, name); err != nil {
		return err
	}
	return p.syncFolder(filepath.Dir(name))
}

// Rename gives a file another name.
func (p *Power) Rename(from, to string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	from, to = filepath.Clean(from), filepath.Clean(to)
	switch {
	case p.names[from] == nil:
		return &fs.PathError{Op: "rename", Path: from, Err: fs.ErrNotExist}
	case p.names[to] != nil:
		return &fs.PathError{Op: "rename", Path: to, Err: fs.ErrExist}
	}
	return p.rename(from, to)
}

func (p *Power) rename(from, to string) error {
	if err := p.step(); err != nil {
		return err
	}
	p.names[to] = p.names[from]
	delete(p.names, from)
	p.moves = append(p.moves, move{filepath.Dir(to), from, to, p.names[to]})
	return nil
}

// SyncFolder certifies the names of a folder.
func (p *Power) SyncFolder(name string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.syncFolder(filepath.Dir(filepath.Clean(name)))
}

func (p *Power) syncFolder(dir string) error {
	if err := p.step(); err != nil || p.Lies {
		return err
	}
	var left []move
	for _, m := range p.moves {
		if m.dir == dir {
			m.apply(p.sure)
		} else {
			left = append(left, m)
		}
	}
	p.moves = left
	return nil
}

func (m move) apply(names map[string]*inode) {
	delete(names, m.from)
	names[m.to] = m.file
}

// Same reports whether f has this name.
func (p *Power) Same(f File, name string) (bool, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	x, ok := f.(*powerFile)
	return ok && p.names[filepath.Clean(name)] == x.f, nil
}

// Lock takes the right to write.
func (p *Power) Lock(dir string) (func() error, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.locked[dir] {
		return nil, errors.New("locked already")
	}
	p.locked[dir] = true
	return func() error {
		p.mu.Lock()
		defer p.mu.Unlock()
		p.locked[dir] = false
		return nil
	}, nil
}

// Cut gives what lies on the disk after the power went off, one of all the ways.
func (p *Power) Cut(r *rand.Rand) *Memory {
	p.mu.Lock()
	defer p.mu.Unlock()
	names := map[string]*inode{}
	for name, f := range p.sure {
		names[name] = f
	}
	for _, m := range p.moves {
		if r.IntN(2) == 0 && (m.from == "" || names[m.from] != nil) {
			m.apply(names)
		}
	}
	out := NewMemory()
	for name, f := range names {
		if strings.HasSuffix(name, ".temporary") && r.IntN(2) == 0 {
			continue
		}
		out.Set(name, append([]byte{}, f.onDisk(r)...))
	}
	return out
}

// onDisk is what the disk holds of a file: of each sector that was written since the last
// sync the old, the new, nothing, or a part of the new.
func (f *inode) onDisk(r *rand.Rand) []byte {
	out := slices.Clone(f.sure)
	size := len(out)
	for _, w := range f.writes {
		if w.to < w.from { // cut
			if r.IntN(2) == 0 {
				size = min(size, w.to)
				out = out[:size]
			}
			continue
		}
		for from := w.from; from < w.to; from = (from/sector + 1) * sector {
			to := min((from/sector+1)*sector, w.to, len(f.data))
			if from >= to {
				break
			}
			kind := r.IntN(4)
			if kind == 0 {
				continue
			}
			if need := to - len(out); need > 0 {
				out = append(out, make([]byte, need)...) // what lies between reads as NULs
			}
			switch kind {
			case 1: // its length reached the disk, its bytes didn't
			case 2:
				copy(out[from:to], f.data[from:from+r.IntN(to-from+1)])
			default:
				copy(out[from:to], f.data[from:to])
			}
		}
	}
	return out
}

type powerFile struct {
	p *Power
	f *inode
}

func (x *powerFile) ReadAt(b []byte, off int64) (int, error) {
	x.p.mu.Lock()
	defer x.p.mu.Unlock()
	if off >= int64(len(x.f.data)) {
		return 0, io.EOF
	}
	n := copy(b, x.f.data[off:])
	if n < len(b) {
		return n, io.EOF
	}
	return n, nil
}

func (x *powerFile) WriteAt(b []byte, off int64) (int, error) {
	x.p.mu.Lock()
	defer x.p.mu.Unlock()
	if err := x.write(b, int(off)); err != nil {
		return 0, err
	}
	return len(b), nil
}

// write: where the power goes off in it, it was under way.
func (x *powerFile) write(b []byte, off int) error {
	was := x.p.off
	err := x.p.step()
	if was {
		return err
	}
	if need := off + len(b) - len(x.f.data); need > 0 {
		x.f.data = append(x.f.data, make([]byte, need)...)
	}
	copy(x.f.data[off:], b)
	x.f.writes = append(x.f.writes, stretch{off, off + len(b)})
	return err
}

func (x *powerFile) Size() (int64, error) {
	x.p.mu.Lock()
	defer x.p.mu.Unlock()
	return int64(len(x.f.data)), nil
}

func (x *powerFile) Truncate(n int64) error {
	x.p.mu.Lock()
	defer x.p.mu.Unlock()
	if err := x.p.step(); err != nil {
		return err
	}
	x.f.writes = append(x.f.writes, stretch{len(x.f.data), int(n)})
	x.f.data = x.f.data[:n]
	return nil
}

func (x *powerFile) Sync() error {
	x.p.mu.Lock()
	defer x.p.mu.Unlock()
	return x.sync()
}

func (x *powerFile) sync() error {
	if err := x.p.step(); err != nil || x.p.Lies {
		return err
	}
	x.f.sure, x.f.writes = slices.Clone(x.f.data), nil
	return nil
}

func (x *powerFile) Close() error { return nil }
