package record

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
)

// TornSuffix is added to a file's name for the bytes of torn lines.
const TornSuffix = ".torn"

// catchUp brings what the head says of a sitting that has no end up to what its
// file holds: the program may have died between the two. A torn last line that
// the head doesn't count is put aside and cut. A damaged file is left as it is.
func (p *prepared) catchUp(f listed) error {
	s := p.head.find(f.name)
	if s == nil || f.size == 0 {
		return nil
	}
	if s.Whole {
		if ends, err := p.endsLine(f); err != nil || ends {
			return err
		}
	}
	hurt := false
	scan := newChainScan(f.path(), p.head.Build, s.Number, int64(s.Lines))
	scan.use = func(int64, Line) error { return nil }
	scan.reading = func(int64, Record) {}
	scan.damage = func(Damage) { hurt = true }
	r, err := p.tree.Open(f.path())
	if err != nil {
		return err
	}
	err = errJoin(scan.read(r), r.Close())
	if err != nil {
		return fmt.Errorf("%s: %w", f.path(), err)
	}
	scan.end(int64(s.Lines), s.Check)
	if hurt {
		return nil
	}
	if scan.torn > 0 {
		if err := p.cut(f, scan.bytes); err != nil {
			return err
		}
	}
	s.Lines, s.Check, s.Until, s.Whole = int(scan.last), scan.good, scan.until, scan.whole
	if s.Lines == 0 {
		s.Check = ""
	}
	return nil
}

// endsLine reports whether the last byte of a file is a newline.
func (p *prepared) endsLine(f listed) (_ bool, err error) {
	file, err := p.fs.Open(filepath.Join(p.dir, FilesDir, f.name))
	if err != nil {
		return false, err
	}
	defer func() { err = errJoin(err, file.Close()) }()
	size, err := file.Size()
	if err != nil || size == 0 {
		return true, err
	}
	var last [1]byte
	if _, err := file.ReadAt(last[:], size-1); err != nil && err != io.EOF {
		return false, err
	}
	return last[0] == '\n', nil
}

// cut puts the bytes from good on aside and cuts them off.
func (p *prepared) cut(f listed, good int64) (err error) {
	name := filepath.Join(p.dir, FilesDir, f.name)
	file, err := p.fs.Open(name)
	if err != nil {
		return err
	}
	defer func() { err = errJoin(err, file.Close()) }()
	size, err := file.Size()
	if err != nil {
		return err
	}
	end, err := lastLineEnd(file, size)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if end != good || end == size {
		return nil // somebody else was here
	}
	if err := p.putAside(file, name, end, size); err != nil {
		return fmt.Errorf("%s: keep the torn line in %s%s: %w", name, name, TornSuffix, err)
	}
	if err := file.Truncate(end); err != nil {
		return fmt.Errorf("%s: cut the torn line at byte %d: %w", name, end, err)
	}
	if err := file.Sync(); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	p.warn = append(p.warn, Warning{File: f.path(), What: fmt.Sprintf(
		"the last line was torn (%d bytes from byte %d); it was cut and is kept in %s%s", size-end, end, f.name,
		TornSuffix)})
	return nil
}

// lastLineEnd gives the offset after the last newline, reading from the end.
func lastLineEnd(f io.ReaderAt, size int64) (int64, error) {
	buf := make([]byte, 64<<10)
	for end := size; end > 0; {
		n := min(int64(len(buf)), end)
		if _, err := f.ReadAt(buf[:n], end-n); err != nil && err != io.EOF {
			return 0, err
		}
		if i := bytes.LastIndexByte(buf[:n], '\n'); i >= 0 {
			return end - n + int64(i) + 1, nil
		}
		end -= n
	}
	return 0, nil
}

// putAside appends the bytes from one to another to NAME.torn and syncs them,
// each tear on a line of its own. If the program dies before the cut, the next
// opening keeps the same bytes once more, which loses nothing.
func (p *prepared) putAside(from File, name string, start, size int64) (err error) {
	t, err := p.fs.Open(name + TornSuffix)
	if err != nil {
		t, err = p.fs.Create(name + TornSuffix)
	}
	if err != nil {
		return err
	}
	defer func() { err = errJoin(err, t.Close()) }()
	at, err := t.Size()
	if err != nil {
		return err
	}
	if at > 0 {
		if _, err := t.WriteAt([]byte{'\n'}, at); err != nil {
			return err
		}
		at++
	}
	n, err := io.Copy(io.NewOffsetWriter(t, at), io.NewSectionReader(from, start, size-start))
	if err != nil {
		return err
	}
	if n != size-start {
		return io.ErrUnexpectedEOF
	}
	if err := t.Sync(); err != nil {
		return err
	}
	return p.fs.SyncFolder(name)
}
