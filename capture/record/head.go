package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"time"

	"sealworthy/instruments/plainfile"
)

// The names in a build's folder.
const (
	HeadFile = "chain.json" // the head of the chain
	FilesDir = "readings"
)

// Head lists all that a record should hold. It lies outside the folder of the
// record, so that what is missing there is known.
type Head struct {
	Version int    `json:"version"` // of the head's own format
	Build   string `json:"build"`   // the build's own identity, 16 hex digits, made once
	// Before are the files of before the chain, in their order.
	Before   []HeadBefore  `json:"before,omitempty"`
	Sittings []HeadSitting `json:"sittings"` // by their numbers
}

// HeadSitting is one sitting as the head knows it.
type HeadSitting struct {
	Number int       `json:"number"` // from 1
	File   string    `json:"file"`   // in the folder of the record
	Lines  int       `json:"lines"`  // known to be on disk; 0: it was about to be made
	Check  string    `json:"check"`  // of the last of them
	Until  time.Time `json:"until"`  // its time
	Whole  bool      `json:"whole"`  // the last of them is its end
}

// HeadBefore is a file that was there before the chain began.
type HeadBefore struct {
	Number int    `json:"number"` // it stands for a sitting of this number
	File   string `json:"file"`   // in the folder of the record
	Bytes  int64  `json:"bytes"`  // its length when the chain began
	SHA256 string `json:"sha256"` // in hex, of the whole file then
	// Converted: a chained sitting with the same number stands in its stead.
	Converted bool `json:"converted,omitempty"`
}

// ErrHeadDamaged says that the head of the chain is not what was written.
var ErrHeadDamaged = errors.New("the head of the chain is damaged")

// headCheck is the last member of a head: the first 16 hex digits of the SHA-256
// of all bytes before it, from the file's first to the quote of its name.
const headCheck = `"check": "`

// bytes gives the head as it lies on disk.
func (h Head) bytes() ([]byte, error) {
	b, err := json.MarshalIndent(h, "", "  ")
	if err != nil {
		return nil, err
	}
	b = append(bytes.TrimSuffix(b, []byte("\n}")), ",\n  "...)
	sum := sha256.Sum256(b)
	b = append(b, headCheck...)
	b = append(b, hex.EncodeToString(sum[:checkDigits/2])...)
	return append(b, "\"\n}\n"...), nil
}

// ParseHead reads a head. The error wraps ErrHeadDamaged, or is a *NewerError.
func ParseHead(b []byte) (Head, error) {
	// as an editor leaves it
	b = bytes.ReplaceAll(bytes.TrimPrefix(b, []byte("\xef\xbb\xbf")), []byte("\r\n"), []byte("\n"))
	at := bytes.LastIndex(b, []byte(headCheck))
	if at < 0 {
		return Head{}, fmt.Errorf("%w: it has no check", ErrHeadDamaged)
	}
	sum := sha256.Sum256(b[:at])
	if want := headCheck + hex.EncodeToString(sum[:checkDigits/2]) +
		"\"\n}"; string(bytes.TrimRight(b[at:], "\n")) != want {
		return Head{}, fmt.Errorf("%w: its check doesn't fit", ErrHeadDamaged)
	}
	var v struct {
		Version int64 `json:"version"`
	}
	if err := json.Unmarshal(b, &v); err != nil {
		return Head{}, fmt.Errorf("%w: %w", ErrHeadDamaged, err)
	}
	if v.Version > Version {
		return Head{}, &NewerError{File: HeadFile, Version: v.Version}
	}
	var h Head
	if err := json.Unmarshal(b, &h); err != nil {
		return Head{}, fmt.Errorf("%w: %w", ErrHeadDamaged, err)
	}
	return h, h.valid()
}

// valid refuses what couldn't have been written.
func (h Head) valid() error {
	numbers, files := map[int]bool{}, map[string]bool{}
	add := func(number int, file string) error {
		if number < 1 || number > mostSittings || numbers[number] {
			return fmt.Errorf("%w: sitting %d", ErrHeadDamaged, number)
		}
		if file == "" || file != path.Base(file) || files[file] {
			return fmt.Errorf("%w: file %q", ErrHeadDamaged, file)
		}
		numbers[number], files[file] = true, true
		return nil
	}
	if h.Version != Version || !isID(h.Build) {
		return fmt.Errorf("%w: version %d of build %q", ErrHeadDamaged, h.Version, h.Build)
	}
	for _, s := range h.Sittings {
		if err := add(s.Number, s.File); err != nil {
			return err
		}
		if s.Lines < 0 || int64(s.Lines) > mostLines || s.Lines > 0 && !isID(s.Check) {
			return fmt.Errorf("%w: %d lines up to %q", ErrHeadDamaged, s.Lines, s.Check)
		}
	}
	for _, b := range h.Before {
		if b.Converted {
			continue
		}
		if err := add(b.Number, b.File); err != nil {
			return err
		}
	}
	return nil
}

// mostLines is how many lines a sitting can have, as capture.Order counts them.
const mostLines = 1<<32 - 1

// isID reports 16 lower-case hex digits.
func isID(s string) bool {
	if len(s) != checkDigits {
		return false
	}
	for _, r := range s {
		if (r < '0' || r > '9') && (r < 'a' || r > 'f') {
			return false
		}
	}
	return true
}

// newID makes the identity of a build.
func newID(random io.Reader) (string, error) {
	var b [checkDigits / 2]byte
	if _, err := io.ReadFull(random, b[:]); err != nil {
		return "", fmt.Errorf("no identity for the build: %w", err)
	}
	return hex.EncodeToString(b[:]), nil
}

// mostHeadBytes is room for a hundred thousand sittings.
const mostHeadBytes = 64 << 20

// readHead reads the head of a build; without one, ok is false.
func readHead(tree fs.FS) (h Head, ok bool, err error) {
	b, err := plainfile.ReadIn(tree, HeadFile, mostHeadBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return Head{}, false, nil
	}
	if err != nil {
		return Head{}, false, err
	}
	h, err = ParseHead(b)
	return h, err == nil, err
}

// find gives the sitting with a file's name; nil if there is none.
func (h *Head) find(file string) *HeadSitting {
	for i := range h.Sittings {
		if h.Sittings[i].File == file {
			return &h.Sittings[i]
		}
	}
	return nil
}

// number gives the sitting with a number; nil if there is none.
func (h *Head) number(n int) *HeadSitting {
	for i := range h.Sittings {
		if h.Sittings[i].Number == n {
			return &h.Sittings[i]
		}
	}
	return nil
}

// before gives the file of before the chain with a name; nil if there is none.
func (h *Head) before(file string) *HeadBefore {
	for i := range h.Before {
		if h.Before[i].File == file {
			return &h.Before[i]
		}
	}
	return nil
}
