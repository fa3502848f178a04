package record

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
)

var errFull = errors.New("no space left on device")

// memFS is a file system in memory whose disk can fill up and whose syncs can
// fail. It also keeps what was synced, which is all that a power cut leaves.
type memFS struct {
	mu       sync.Mutex
	files    map[string]*memFile
	locked   map[string]bool
	room     int64 // bytes that a file may grow to; negative: no end
	failSync int   // so many syncs fail
	failCut  int   // so many truncations fail
	syncs    int
	log      []string // operations, in order
}

func newMemFS() *memFS {
	return &memFS{files: map[string]*memFile{}, locked: map[string]bool{}, room: -1}
}

type memFile struct {
	fs     *memFS
	name   string
	data   []byte
	synced []byte
}

func (m *memFS) note(format string, a ...any) { m.log = append(m.log, fmt.Sprintf(format, a...)) }

func (m *memFS) Open(name string) (File, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.files[name] == nil {
		m.files[name] = &memFile{fs: m, name: name}
	}
	return m.files[name], nil
}

func (m *memFS) SyncFolder(name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.note("sync folder")
	return nil
}

func (m *memFS) Lock(name string) (func() error, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.locked[name] {
		return nil, ErrInUse
	}
	m.locked[name] = true
	return func() error {
		m.mu.Lock()
		defer m.mu.Unlock()
		m.locked[name] = false
		return nil
	}, nil
}

// set puts a file there as if it had lain on the disk.
func (m *memFS) set(name string, data []byte) {
	m.files[name] = &memFile{fs: m, name: name, data: slices.Clone(data), synced: slices.Clone(data)}
}

func (m *memFS) content(name string) []byte {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.files[name] == nil {
		return nil
	}
	return slices.Clone(m.files[name].data)
}

func (m *memFS) set1(f func()) {
	m.mu.Lock()
	defer m.mu.Unlock()
	f()
}

func (f *memFile) ReadAt(p []byte, off int64) (int, error) {
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

func (f *memFile) WriteAt(p []byte, off int64) (int, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	f.fs.note("write %s", f.name)
	n := len(p)
	var err error
	if f.fs.room >= 0 && off+int64(n) > f.fs.room {
		n = int(max(0, f.fs.room-off))
		err = errFull
	}
	if need := int(off) + n; need > len(f.data) {
		f.data = append(f.data, make([]byte, need-len(f.data))...)
	}
	copy(f.data[off:], p[:n])
	return n, err
}

func (f *memFile) Size() (int64, error) {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	return int64(len(f.data)), nil
}

func (f *memFile) Truncate(n int64) error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	f.fs.note("cut %s", f.name)
	if f.fs.failCut > 0 {
		f.fs.failCut--
		return errors.New("input/output error")
	}
	f.data = f.data[:n]
	return nil
}

func (f *memFile) Sync() error {
	f.fs.mu.Lock()
	defer f.fs.mu.Unlock()
	f.fs.note("sync %s", f.name)
	if f.fs.failSync > 0 {
		f.fs.failSync--
		return errors.New("input/output error")
	}
	f.fs.syncs++
	f.synced = slices.Clone(f.data)
	return nil
}

func (f *memFile) Close() error { return nil }
