package parcel

import (
	"archive/zip"
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Limits are what is taken out of a parcel at most.
type Limits struct {
	Files int   // how many
	Bytes int64 // of all of them together, unpacked
	// Times is how many times as long as the parcel its content may be: the lines of
	// a record shrink to a fifteenth, a bomb to a thousandth.
	Times int64
}

// Usual are limits that no build comes near.
func Usual() Limits { return Limits{Files: 100_000, Bytes: 16 << 30, Times: 200} }

// free is how long the content may be whatever its parcel is.
const free = 1 << 20

// mostSums bounds the list, bytes.
const mostSums = 64 << 20

// ErrParcel says that a file is none that Pack has made, or no longer is.
var ErrParcel = errors.New("it is no whole build that was packed")

// Unpack takes a parcel out into a new folder dir, whole or not at all. Everything is
// checked against its sum before the folder has its name.
func Unpack(r io.ReaderAt, size int64, dir string, most Limits) (Packed, error) {
	out := Packed{Files: []File{}, Left: []string{}}
	if _, err := os.Lstat(dir); !errors.Is(err, fs.ErrNotExist) {
		return out, &fs.PathError{Op: "unpack into", Path: dir, Err: fs.ErrExist}
	}
	files, err := looked(r, size, most)
	if err != nil {
		return out, err
	}
	want, err := sumsOf(files[0])
	if err != nil {
		return out, err
	}
	temp, err := os.MkdirTemp(filepath.Dir(filepath.Clean(dir)), ".sealworthy-unpack-")
	if err != nil {
		return out, err
	}
	defer os.RemoveAll(temp) // nothing is left of what failed; after the rename nothing is there
	if err := out.into(temp, files[1:], want); err != nil {
		return out, err
	}
	if err := os.Chmod(temp, 0o755); err != nil {
		return out, err
	}
	return out, os.Rename(temp, dir)
}

// looked lists what a parcel holds, after it was found to hold nothing that it shouldn't.
func looked(r io.ReaderAt, size int64, most Limits) ([]*zip.File, error) {
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrParcel, err)
	}
	if len(z.File) == 0 || z.File[0].Name != Sums || z.File[0].UncompressedSize64 > mostSums {
		return nil, fmt.Errorf("%w: it doesn't begin with %s", ErrParcel, Sums)
	}
	if len(z.File)-1 > most.Files {
		return nil, fmt.Errorf("it holds %d files, more than %d: nothing was unpacked", len(z.File)-1, most.Files)
	}
	seen := map[string]bool{}
	var total uint64
	for _, f := range z.File {
		switch {
		case Check(f.Name) != nil:
			return nil, fmt.Errorf("it holds %q: %w; nothing was unpacked", f.Name, ErrName)
		case !f.Mode().IsRegular() || f.Mode().Type() != 0:
			return nil, fmt.Errorf("it holds %q, which is no plain file (%s): nothing was unpacked", f.Name,
				f.Mode().Type())
		case seen[folded(f.Name)]:
			return nil, fmt.Errorf("it holds %q twice: nothing was unpacked", f.Name)
		}
		for up := path.Dir(folded(f.Name)); up != "."; up = path.Dir(up) {
			if seen[up] {
				return nil, fmt.Errorf("it holds %q as a file and as a folder: nothing was unpacked", up)
			}
		}
		seen[folded(f.Name)] = true
		total += f.UncompressedSize64
		if f.UncompressedSize64 > uint64(most.Bytes) || total > uint64(most.Bytes) ||
			total > free+uint64(size)*uint64(most.Times) {
			return nil, fmt.Errorf("what it holds is far longer than itself, more than %d times or %d MB: "+
				"nothing was unpacked", most.Times, most.Bytes>>20)
		}
	}
	return z.File, nil
}

// sumsOf reads the list.
func sumsOf(f *zip.File) (map[string]string, error) {
	var b bytes.Buffer
	if err := copyOf(&b, f); err != nil {
		return nil, err
	}
	out := map[string]string{}
	lines := bufio.NewScanner(&b)
	for lines.Scan() {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		if _, err := hex.DecodeString(sum); !ok || err != nil || len(sum) != 2*sha256.Size || out[name] != "" {
			return nil, fmt.Errorf("%w: %q isn't a line of %s", ErrParcel, lines.Text(), Sums)
		}
		out[name] = sum
	}
	return out, lines.Err()
}

// into writes the files into a folder that nothing leads out of.
func (p *Packed) into(dir string, files []*zip.File, want map[string]string) (err error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, root.Close()) }()
	for _, f := range files {
		sum, listed := want[f.Name]
		if !listed {
			return fmt.Errorf("%w: %q isn't in %s", ErrParcel, f.Name, Sums)
		}
		delete(want, f.Name)
		if err := root.MkdirAll(filepath.FromSlash(path.Dir(f.Name)), 0o777); err != nil {
			return err
		}
		h := sha256.New()
		if err := writeOne(root, f, h); err != nil {
			return err
		}
		if got := hex.EncodeToString(h.Sum(nil)); got != sum {
			return fmt.Errorf("%w: %q isn't what was packed, by its SHA-256", ErrParcel, f.Name)
		}
		p.Files = append(p.Files, File{f.Name, int64(f.UncompressedSize64), sum})
		p.Bytes += int64(f.UncompressedSize64)
	}
	if len(want) > 0 {
		var missing []string
		for name := range want {
			missing = append(missing, name)
		}
		slices.Sort(missing)
		return fmt.Errorf("%w: %q is missing", ErrParcel, missing[0])
	}
	return nil
}

func writeOne(root *os.Root, f *zip.File, also io.Writer) error {
	w, err := root.OpenFile(filepath.FromSlash(f.Name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return err
	}
	err = copyOf(io.MultiWriter(w, also), f)
	return errors.Join(err, w.Sync(), w.Close())
}

// copyOf copies an entry, no more of it than it says.
func copyOf(w io.Writer, f *zip.File) error {
	r, err := f.Open()
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrParcel, f.Name, err)
	}
	defer r.Close() // read only: nothing to lose
	n, err := io.Copy(w, io.LimitReader(r, int64(f.UncompressedSize64)+1))
	if err == nil && uint64(n) != f.UncompressedSize64 {
		err = errors.New("it isn't as long as it says")
	}
	if err != nil {
		return fmt.Errorf("%w: %s: %w", ErrParcel, f.Name, err)
	}
	return nil
}
