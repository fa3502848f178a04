package record

import (
	"bufio"
	"bytes"
	"io"
)

// copyOf reports whether a file holds nothing but what the listed file of its
// sitting holds, from its first line on: a copy of it, of now or of earlier.
func (r *reading) copyOf(f listed, s HeadSitting) (bool, error) {
	of, there := r.file(s.File)
	if !there {
		return false, nil
	}
	a, err := r.tree.Open(f.path())
	if err != nil {
		return false, err
	}
	defer a.Close() // read only: nothing to lose
	b, err := r.tree.Open(of.path())
	if err != nil {
		return false, err
	}
	defer b.Close()
	x, y := bufio.NewReaderSize(a, 64<<10), bufio.NewReaderSize(b, 64<<10)
	for {
		line, _, err := readLine(x, nil)
		if err == io.EOF {
			return true, nil // a torn last line of a copy says nothing
		}
		if err != nil {
			return false, err
		}
		want, _, err := readLine(y, nil)
		if err != nil && err != io.EOF {
			return false, err
		}
		if !bytes.Equal(bytes.TrimRight(line, "\r\n"), bytes.TrimRight(want, "\r\n")) {
			return false, nil
		}
	}
}
