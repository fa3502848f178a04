package record

import (
	"bytes"
	"fmt"
	"io"
)

// TornSuffix is added to a file's name for the bytes of torn lines.
const TornSuffix = ".torn"

// recover readies the file for appending: it puts a torn last line aside, cuts
// it, and takes the last time of each series from the lines above it.
func (r *Recorder) recover() ([]Warning, error) {
	size, err := r.file.Size()
	if err != nil {
		return nil, err
	}
	if size == 0 {
		// The name of a new file must outlast a power cut too.
		return nil, r.fs.SyncFolder(r.name)
	}
	r.good, err = lastLineEnd(r.file, size)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.name, err)
	}
	var warn []Warning
	if r.good < size {
		if err := r.putAside(size); err != nil {
			return nil, fmt.Errorf("%s: keep the torn line in %s%s: %w", r.name, r.name, TornSuffix, err)
		}
		if err := r.file.Truncate(r.good); err != nil {
			return nil, fmt.Errorf("%s: cut the torn line at byte %d: %w", r.name, r.good, err)
		}
		if err := r.file.Sync(); err != nil {
			return nil, fmt.Errorf("%s: %w", r.name, err)
		}
		warn = append(warn, Warning{File: r.name, What: fmt.Sprintf(
			"the last line was torn (%d bytes from byte %d); it was cut and is kept in %s%s", size-r.good, r.good, r.name, TornSuffix)})
	}
	damaged, err := scan(io.NewSectionReader(r.file, 0, r.good), func(int, Line) error { return nil }, r.last)
	for i := range damaged {
		damaged[i].File = r.name
	}
	if err != nil {
		return warn, fmt.Errorf("%s: %w", r.name, err)
	}
	for _, at := range r.last {
		if at.After(r.latest) {
			r.latest = at
		}
	}
	return append(warn, damaged...), nil
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

// putAside appends the bytes from r.good to size to NAME.torn and syncs them,
// each tear on a line of its own. If the program dies before the cut, the next
// opening keeps the same bytes once more, which loses nothing.
func (r *Recorder) putAside(size int64) (err error) {
	t, err := r.fs.Open(r.name + TornSuffix)
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
	n, err := io.Copy(io.NewOffsetWriter(t, at), io.NewSectionReader(r.file, r.good, size-r.good))
	if err != nil {
		return err
	}
	if n != size-r.good {
		return io.ErrUnexpectedEOF
	}
	if err := t.Sync(); err != nil {
		return err
	}
	return r.fs.SyncFolder(r.name)
}
