// Package parcel puts a whole build into one file and takes it out again. The file is a
// ZIP archive whose first entry, SHA256SUMS, lists every other with its SHA-256, as
// sha256sum -c reads it: any program for archives opens it, and it can be checked
// without this one. The same content gives the same bytes: names are sorted, no times
// are kept.
//
// Start with Pack and Unpack. Unpack believes nothing that an archive says of itself:
// names that lead elsewhere, links, names that come twice and bombs are refused, and
// what doesn't have its sum isn't left behind.
package parcel

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strings"
)

// Sums is the name of the list.
const Sums = "SHA256SUMS"

// Packed is what went into a parcel, or came out of it.
type Packed struct {
	Files []File   `json:"files"`
	Bytes int64    `json:"bytes"`    // of all Files together, unpacked
	Left  []string `json:"left_out"` // what was left out, with why
}

// File is one file of it.
type File struct {
	Name   string `json:"name"`   // relative to the build's folder, with slashes
	Bytes  int64  `json:"bytes"`  // its length, unpacked
	SHA256 string `json:"sha256"` // in hex, of its content
}

// Pack packs the folder tree. leave says why a file is left out; "" packs it. Links and
// whatever else is no plain file are left out, too. A build that is measured meanwhile
// is packed as far as it is: first is read first, so that it names no more than is there.
func Pack(w io.Writer, tree fs.FS, first string, leave func(name string) string) (Packed, error) {
	out := Packed{Files: []File{}, Left: []string{}}
	names, err := out.names(tree, leave)
	if err != nil {
		return out, err
	}
	// A file may grow while it's packed: what is packed is what was summed.
	var list bytes.Buffer
	lengths := map[string]int64{}
	if i := slices.Index(names, first); i > 0 {
		names = slices.Concat([]string{first}, names[:i], names[i+1:])
	}
	for _, name := range names {
		x, err := summed(tree, name)
		if err != nil {
			return out, err
		}
		lengths[name] = x.Bytes
		out.Files = append(out.Files, x)
		out.Bytes += x.Bytes
	}
	slices.SortFunc(out.Files, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
	for _, x := range out.Files {
		fmt.Fprintf(&list, "%s  %s\n", x.SHA256, x.Name)
	}
	z := zip.NewWriter(w)
	if err := put(z, Sums, &list); err != nil {
		return out, err
	}
	for _, x := range out.Files {
		if err := packOne(z, tree, x); err != nil {
			return out, err
		}
	}
	return out, z.Close()
}

// names lists what is to be packed.
func (p *Packed) names(tree fs.FS, leave func(string) string) ([]string, error) {
	var names []string
	err := fs.WalkDir(tree, ".", func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case name == ".":
			return nil
		case d.IsDir():
			if why := leave(name + "/"); why != "" {
				p.Left = append(p.Left, name+"/: "+why)
				return fs.SkipDir
			}
			return nil
		case !d.Type().IsRegular():
			p.Left = append(p.Left, name+": it is no plain file")
			return nil
		case Check(name) != nil:
			p.Left = append(p.Left, name+": "+Check(name).Error())
			return nil
		}
		if why := leave(name); why != "" {
			p.Left = append(p.Left, name+": "+why)
			return nil
		}
		names = append(names, name)
		return nil
	})
	return names, err
}

// summed sums a file as it is now.
func summed(tree fs.FS, name string) (File, error) {
	f, err := tree.Open(name)
	if err != nil {
		return File{}, err
	}
	defer f.Close() // read only: nothing to lose
	h := sha256.New()
	n, err := io.Copy(h, f)
	if err != nil {
		return File{}, &fs.PathError{Op: "read", Path: name, Err: err}
	}
	return File{Name: name, Bytes: n, SHA256: hex.EncodeToString(h.Sum(nil))}, nil
}

// packOne packs as much of a file as was summed.
func packOne(z *zip.Writer, tree fs.FS, x File) error {
	f, err := tree.Open(x.Name)
	if err != nil {
		return err
	}
	defer f.Close() // read only: nothing to lose
	h := sha256.New()
	if err := put(z, x.Name, io.TeeReader(io.LimitReader(f, x.Bytes), h)); err != nil {
		return err
	}
	if hex.EncodeToString(h.Sum(nil)) != x.SHA256 {
		return fmt.Errorf("%s was changed while it was packed: do it once more", x.Name)
	}
	return nil
}

func put(z *zip.Writer, name string, from io.Reader) error {
	h := &zip.FileHeader{Name: name, Method: zip.Deflate}
	h.SetMode(0o644)
	w, err := z.CreateHeader(h)
	if err != nil {
		return err
	}
	if _, err = io.Copy(w, from); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// ErrName says that a name leads elsewhere, or would on some system.
var ErrName = errors.New("its name isn't one that every system can have")

// Check says whether a name stays within its folder on every system: no way up, no
// drive, no device, nothing that one of them changes silently.
func Check(name string) error {
	if !fs.ValidPath(name) || name == "." || len(name) > 1000 {
		return ErrName
	}
	for part := range strings.SplitSeq(name, "/") {
		base, _, _ := strings.Cut(strings.ToUpper(part), ".")
		switch {
		case strings.ContainsAny(part, "\\:*?\"<>|"), strings.HasSuffix(part, "."), strings.HasSuffix(part, " "),
			strings.HasPrefix(part, " "),
			slices.Contains(devices, strings.TrimRight(base, " ")):
			return ErrName
		}
		for _, r := range part {
			if r < ' ' || r == 0x7f || r == 0xfffd {
				return ErrName
			}
		}
	}
	return nil
}

// devices are names that Windows keeps for what is no file (Microsoft, "Naming Files,
// Paths, and Namespaces").
var devices = []string{"CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$", "COM0", "COM1", "COM2", "COM3", "COM4",
	"COM5", "COM6", "COM7", "COM8", "COM9",
	"COM¹", "COM²", "COM³", "LPT0", "LPT1", "LPT2", "LPT3", "LPT4", "LPT5", "LPT6", "LPT7", "LPT8", "LPT9", "LPT¹",
	"LPT²", "LPT³"}

// folded is a name as systems compare it that tell no capitals apart.
func folded(name string) string { return strings.ToLower(path.Clean(name)) }
