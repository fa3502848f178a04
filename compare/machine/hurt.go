package machine

import (
	"bytes"
	"os"
	"path/filepath"
	"time"

	"sealworthy/capture/record"
)

// hurt changes the record behind the program's back.
func (w *World) hurt(e Event) error {
	files := w.files()
	if len(files) == 0 {
		return nil
	}
	path := files[e.N%len(files)]
	if e.Verb == Tear {
		path = files[len(files)-1]
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	lines := bytes.SplitAfter(b, []byte("\n"))
	lines = lines[:len(lines)-1] // what is after the last newline is no line
	if len(lines) == 0 {
		return nil
	}
	i := e.N * 7919 % len(lines)
	var out []byte
	switch e.Verb {
	case Flip:
		out = bytes.Clone(b)
		out[e.N*7919%len(b)] ^= 1 << (e.N % 8)
	case Drop:
		out = bytes.Join(append(append([][]byte{}, lines[:i]...), lines[i+1:]...), nil)
	case Double:
		out = bytes.Join(append(append([][]byte{}, lines[:i+1]...), lines[i:]...), nil)
	case Swap:
		if i+1 >= len(lines) {
			return nil
		}
		lines[i], lines[i+1] = lines[i+1], lines[i]
		out = bytes.Join(lines, nil)
	case Tear:
		out = b[:len(b)-1-e.N*7919%min(len(b)-1, 4000)]
	case DropFile:
		w.o.damage = append(w.o.damage, e.String())
		return os.Remove(path)
	case DropHead:
		return w.dropHead(e)
	case Foreign:
		return w.foreign(e)
	}
	w.o.damage = append(w.o.damage, e.String())
	return os.WriteFile(path, out, 0o644)
}

// dropHead deletes what lies outside the record and knows of its end.
func (w *World) dropHead(e Event) error {
	w.o.damage = append(w.o.damage, e.String())
	return os.Remove(filepath.Join(w.folder(), record.HeadFile))
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
	w.o.damage = append(w.o.damage, e.String())
	return nil
}
