package machine

import (
	"bytes"
	"errors"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/capture/record"
)

// hurt changes the record behind the program's back.
func (w *World) hurt(e Event) error {
	files := w.files()
	switch {
	case len(files) == 0:
		return nil
	case e.Verb == DropHead:
		return w.dropHead(e)
	case e.Verb == OldHead:
		return w.oldHead(e)
	case w.rolledBack && (e.Verb == DropFile || e.Verb == OldFile || e.Verb == Tear):
		// An old head and a record cut to match is a build put back whole from a copy:
		// nothing inside it can know.
		return nil
	case e.Verb == Foreign:
		return w.foreign(e)
	}
	path := files[e.N%len(files)]
	if e.Verb == Tear {
		path = files[len(files)-1]
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if _, hurt := w.whole[path]; !hurt {
		w.whole[path] = b
	}
	switch e.Verb {
	case DropFile:
		w.o.damage[path] = e.String()
		return os.Remove(path)
	case Rename: // it is still all there: nothing is claimed
		return os.Rename(path, strings.TrimSuffix(path, record.Ext)+"-9"+record.Ext)
	case Copy:
		return os.WriteFile(strings.TrimSuffix(path, record.Ext)+" (copy)"+record.Ext, b, 0o644)
	case Editor:
		return os.WriteFile(path, append([]byte("\xef\xbb\xbf"), bytes.ReplaceAll(b, []byte("\n"), []byte("\r\n"))...),
			0o644)
	case Splice:
		other, err := os.ReadFile(files[(e.N+1)%len(files)])
		if err != nil {
			return err
		}
		return w.put(e, path, other)
	}
	if out, ok := changed(e, b); ok {
		return w.put(e, path, out)
	}
	return nil
}

// put writes a changed file. One that is what it was is whole again.
func (w *World) put(e Event, path string, b []byte) error {
	if bytes.Equal(b, w.whole[path]) {
		delete(w.o.damage, path)
	} else {
		w.o.damage[path] = e.String()
	}
	return os.WriteFile(path, b, 0o644)
}

// changed is what an event makes of a file; false where it fits none of its lines.
func changed(e Event, b []byte) ([]byte, bool) {
	lines := bytes.SplitAfter(b, []byte("\n"))
	tail := lines[len(lines)-1] // what is after the last newline is no line
	lines = lines[:len(lines)-1]
	if len(lines) < 2 {
		return nil, false
	}
	const far = 7919 // a prime: numbers up to a thousand reach every line
	i := e.N * far % len(lines)
	join := func(parts ...[][]byte) ([]byte, bool) {
		return append(bytes.Join(slices.Concat(parts...), nil), tail...), true
	}
	switch e.Verb {
	case Flip:
		out := bytes.Clone(b)
		out[e.N*far%len(b)] ^= 1 << (e.N % 8)
		return out, true
	case Drop:
		return join(lines[:i], lines[i+1:])
	case Double:
		return join(lines[:i+1], lines[i:])
	case Swap:
		i = min(i, len(lines)-2)
		return join(lines[:i], [][]byte{lines[i+1], lines[i]}, lines[i+2:])
	case OldFile:
		return bytes.Join(lines[:max(1, i)], nil), true
	case Tear:
		return b[:len(b)-1-e.N*far%min(len(b)-1, 4000)], true
	}
	return nil, false
}

// oldHead puts back what knew of the end of the record some events ago.
func (w *World) oldHead(e Event) error {
	path := filepath.Join(w.folder(), record.HeadFile)
	now, err := os.ReadFile(path)
	if err != nil || len(w.heads) == 0 {
		return nil
	}
	cut := slices.ContainsFunc(slices.Collect(maps.Keys(w.o.damage)), func(f string) bool { return f != path })
	if old := w.heads[e.N%len(w.heads)]; !cut && !bytes.Equal(old, now) {
		if _, hurt := w.whole[path]; !hurt {
			w.whole[path] = now
		}
		w.rolledBack = true
		return w.put(e, path, old)
	}
	return nil
}

// keepHead keeps what the head is after an event.
func (w *World) keepHead() {
	b, err := os.ReadFile(filepath.Join(w.folder(), record.HeadFile))
	if n := len(w.heads); err == nil && (n == 0 || !bytes.Equal(w.heads[n-1], b)) {
		w.heads = append(w.heads, b)
	}
}

// dropHead deletes what lies outside the record and knows of its end.
func (w *World) dropHead(e Event) error {
	path := filepath.Join(w.folder(), record.HeadFile)
	err := os.Remove(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	w.o.damage[path] = e.String()
	return err
}

// foreign copies files of another build's record in, under later names. The other
// build is a healthy one of the same plan, measured and looked at: the worst that
// can be taken for this one's.
func (w *World) foreign(e Event) error {
	dir, err := os.MkdirTemp("", "sealworthy-foreign-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	other := *w
	other.dir, other.o = filepath.Join(dir, filepath.Base(w.dir)), newOracle(directMeter)
	if other.truth, err = drawHealthy(w.first, w.truth.pieces+uint64(e.N)+1); err != nil {
		return err
	}
	other.now = w.now.Add(time.Hour)
	if err := (Direct{}).Test(&other, Run{Closure: "all", Looks: "looks", DieIn: -1}); err != nil {
		return err
	}
	w.now = other.now
	for _, path := range other.files() {
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(w.dir, filepath.Base(path)), b, 0o644); err != nil {
			return err
		}
	}
	w.o.damage["foreign"] = e.String()
	return nil
}
