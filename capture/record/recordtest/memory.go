// Package recordtest gives a file system in memory for tests of what writes to a
// record: there is no disk to wait for, it can fill up and fail, and what was
// synced is known. It doesn't import record, so that record's own tests can use it.
package recordtest

import (
	"errors"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing/fstest"
)

// File is record.File.
type File = interface {
	io.ReaderAt
	io.WriterAt
	// Size is how long it is, bytes.
	Size() (int64, error)
	// Truncate cuts it to size bytes, from its begin.
	Truncate(size int64) error
	// Sync returns once what was written outlasts a loss of power; an error: it may not.
	Sync() error
	Close() error
}

// Memory is a record.FS in memory. Its methods may be called from any goroutine.
type Memory struct {
	mu     sync.Mutex
	files  map[string]*memoryFile // by clean path
	locked map[string]bool

	// Fail, where set, is asked before each operation; its error is what becomes
	// of it. op is write, sync, cut, create, open, replace, rename or sync folder.
	Fail func(op, name string) error
	// Room is how many bytes a file may grow to; 0: no end.
	Room int64
	// Held is what taking a lock gives that is taken already.
	Held error
}

// ErrNoRoom is what writing gives beyond the room.
var ErrNoRoom = errors.New("no space left on device")

type memoryFile struct {
	fs     *Memory
	name   string
	data   []byte
	synced []byte
}

// NewMemory gives an empty file system.
func NewMemory() *Memory {
	return &Memory{files: map[string]*memoryFile{}, locked: map[string]bool{}, Held: errors.New("locked already")}
}

// Locked changes what f changes of the file system while others use it.
func (m *Memory) Locked(f func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	f()
}

// ask is called with m.mu held.
func (m *Memory) ask(op, name string) error {
	if m.Fail == nil {
		return nil
	}
	return m.Fail(op, name)
}

// Tree gives the folder as it is now.
func (m *Memory) Tree(dir string) fs.FS {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := fstest.MapFS{}
	under := filepath.Clean(dir) + string(filepath.Separator)
	for name, f := range m.files {
		if rel, ok := strings.CutPrefix(name, under); ok {
			out[filepath.ToSlash(rel)] = &fstest.MapFile{Data: slices.Clone(f.data), Mode: 0o644}
		}
	}
	return out
}

// Live is Tree that shows the folder as it is at each access.
func (m *Memory) Live(dir string) fs.FS { return live{m, dir} }

type live struct {
	m   *Memory
	dir string
}

// Open implements fs.FS.
func (l live) Open(name string) (fs.File, error) { return l.m.Tree(l.dir).Open(name) }

// Create makes a file that isn't there.
func (m *Memory) Create(name string) (File, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	name = filepath.Clean(name)
	if err := m.ask("create", name); err != nil {
		return nil, err
	}
	if m.files[name] != nil {
		return nil, &fs.PathError{Op: "create", Path: name, Err: fs.ErrExist}
	}
	m.files[name] = &memoryFile{fs: m, name: name}
	return m.files[name], nil
}

// Open opens a file that is there.
func (m *Memory) Open(name string) (File, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	name = filepath.Clean(name)
	if err := m.ask("open", name); err != nil {
		return nil, err
	}
	if m.files[name] == nil {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return m.files[name], nil
}

// Replace writes a file whole.
func (m *Memory) Replace(name string, content []byte) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	name = filepath.Clean(name)
	if err := m.ask("replace", name); err != nil {
		return err
	}
	m.files[name] = &memoryFile{fs: m, name: name, data: slices.Clone(content), synced: slices.Clone(content)}
	return nil
}

// Rename gives a file another name.
func (m *Memory) Rename(from, to string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	from, to = filepath.Clean(from), filepath.Clean(to)
	if err := m.ask("rename", from); err != nil {
		return err
	}
	switch {
	case m.files[from] == nil:
		return &fs.PathError{Op: "rename", Path: from, Err: fs.ErrNotExist}
	case m.files[to] != nil:
		return &fs.PathError{Op: "rename", Path: to, Err: fs.ErrExist}
	}
	m.files[to] = m.files[from]
	m.files[to].name = to
	delete(m.files, from)
	return nil
}

// SyncFolder does nothing but ask.
func (m *Memory) SyncFolder(name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.ask("sync folder", filepath.Clean(name))
}

// Same reports whether f has this name now.
func (m *Memory) Same(f File, name string) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	mf, ok := f.(*memoryFile)
	return ok && m.files[filepath.Clean(name)] == mf, nil
}

// Lock takes the right to write to dir.
func (m *Memory) Lock(dir string) (func() error, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	dir = filepath.Clean(dir)
	if m.locked[dir] {
		return nil, m.Held
	}
	m.locked[dir] = true
	return func() error {
		m.mu.Lock()
		defer m.mu.Unlock()
		m.locked[dir] = false
		return nil
	}, nil
}

// Names lists all files, sorted.
func (m *Memory) Names() []string {
	m.mu.Lock()
	defer m.mu.Unlock()
	var out []string
	for name := range m.files {
		out = append(out, name)
	}
	slices.Sort(out)
	return out
}

// Content gives the bytes of a file; nil if there is none.
func (m *Memory) Content(name string) []byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	if f := m.files[filepath.Clean(name)]; f != nil {
		return slices.Clone(f.data)
	}
	return nil
}

// Synced gives the bytes of a file that a power cut would leave.
func (m *Memory) Synced(name string) []byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	if f := m.files[filepath.Clean(name)]; f != nil {
		return slices.Clone(f.synced)
	}
	return nil
}

// Set puts a file there as if it had always lain on the disk; nil takes it away.
func (m *Memory) Set(name string, data []byte) {
	m.mu.Lock()
	defer m.mu.Unlock()
	name = filepath.Clean(name)
	if data == nil {
		delete(m.files, name)
		return
	}
	m.files[name] = &memoryFile{fs: m, name: name, data: slices.Clone(data), synced: slices.Clone(data)}
}

// Copy gives another file system with the same files and nothing locked.
func (m *Memory) Copy() *Memory {
	m.mu.Lock()
	defer m.mu.Unlock()
	out := NewMemory()
	out.Held = m.Held
	for name, f := range m.files {
		out.files[name] = &memoryFile{fs: out, name: name, data: slices.Clone(f.data), synced: slices.Clone(f.synced)}
	}
	return out
}

func (f *memoryFile) ReadAt(p []byte, off int64) (int, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if off >= int64(len(f.data)) {
		return 0, io.EOF
	}
	n := copy(p, f.data[off:])
	if n < len(p) {
		return n, io.EOF
	}
	return n, nil
}

func (f *memoryFile) WriteAt(p []byte, off int64) (int, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	err := f.fs.ask("write", f.name)
	n := len(p)
	if err != nil {
		n = 0
	}
	if room := f.fs.Room; room > 0 && off+int64(n) > room {
		n = int(max(0, room-off))
		err = ErrNoRoom
	}
	if need := int(off) + n; need > len(f.data) {
		f.data = append(f.data, make([]byte, need-len(f.data))...)
	}
	copy(f.data[off:], p[:n])
	return n, err
}

func (f *memoryFile) Size() (int64, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	return int64(len(f.data)), nil
}

func (f *memoryFile) Truncate(n int64) error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if err := f.fs.ask("cut", f.name); err != nil {
		return err
	}
	f.data = f.data[:n]
	return nil
}

func (f *memoryFile) Sync() error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	if err := f.fs.ask("sync", f.name); err != nil {
		return err
	}
	f.synced = slices.Clone(f.data)
	return nil
}

func (f *memoryFile) Close() error { return nil }
