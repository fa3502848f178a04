package record

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/instruments/plainfile"
)

// Ext is the extension of a record.
const Ext = ".lp"

// nameTime is the time in a file's name, UTC, without the colons that Windows refuses.
const nameTime = "20060102T150405Z"

// Stages are the stages of a test in the order in which a model passes them.
func Stages() []string { return []string{"loose", "fitted", "closed", "delivered", "returned"} }

// NewName gives the name of the file of a sitting that starts at t, without a
// folder: 20261125T064500Z-loose.lp.
func NewName(t time.Time, stage string) (string, error) {
	if t.IsZero() || !slices.Contains(Stages(), stage) {
		return "", fmt.Errorf("stage %q: it is one of %s", stage, strings.Join(Stages(), ", "))
	}
	return t.UTC().Format(nameTime) + "-" + stage + Ext, nil
}

// NumberedName is NewName where that name is taken: with the sitting's number.
func NumberedName(t time.Time, stage string, number int) (string, error) {
	name, err := NewName(t, stage)
	return fmt.Sprintf("%s-%d%s", strings.TrimSuffix(name, Ext), number, Ext), err
}

// Named is what the name of a sitting's file says.
type Named struct {
	At     time.Time // when it started
	Stage  string
	Number int // of the sitting, where the name has it; else 0
}

// ParseName gives what a file's name says; ok is false for a name that NewName
// and NumberedName don't make.
func ParseName(name string) (n Named, ok bool) {
	base, isRecord := strings.CutSuffix(path.Base(name), Ext)
	at, stage, found := strings.Cut(base, "-")
	t, err := time.Parse(nameTime, at)
	if !isRecord || !found || err != nil {
		return Named{}, false
	}
	n = Named{At: t, Stage: stage}
	if s, number, numbered := strings.Cut(stage, "-"); numbered {
		n.Stage = s
		if n.Number, err = strconv.Atoi(number); err != nil || n.Number < 1 {
			return Named{}, false
		}
	}
	// The parser of times takes more than the format says, as fractions of a second.
	same, err := NewName(n.At, n.Stage)
	if n.Number > 0 && err == nil {
		same, err = NumberedName(n.At, n.Stage, n.Number)
	}
	if err != nil || same != path.Base(name) {
		return Named{}, false
	}
	return n, true
}

// listed is a file in the folder of the record.
type listed struct {
	name    string
	size    int64
	chained bool // it holds a line of the chain: build and sitting are the first one's
	old     bool // it holds a line of before the chain
	build   string
	sitting int
	begins  bool // its first line is a sitting's first one, whole
	// simulated: a line near its start says so. Then its times are of another clock.
	simulated bool
	version   int64 // that its first line is written in; 0: of before the chain
}

func (f listed) path() string { return FilesDir + "/" + f.name }

// ownBuild takes the identity of a build from its files where there is no head:
// that of the latest sitting, of those that begin as they should where there are
// any. latest is 0 where nothing is chained.
func ownBuild(files []listed) (latest int, build string) {
	for _, begins := range []bool{true, false} {
		for _, f := range files {
			if f.chained && f.begins == begins && f.sitting > latest {
				latest, build = f.sitting, f.build
			}
		}
		if latest > 0 {
			break
		}
	}
	return latest, build
}

// newer refuses what a later version of the program has written of a build, or of any
// where it isn't known which it is: also where the head is lost or an older one was put
// back, so that nothing of it is taken for damage, and nothing written beside it.
func newer(files []listed, build string) error {
	for _, f := range files {
		if f.begins && f.version > Version && (build == "" || f.build == build) {
			return &NewerError{File: f.path(), Version: f.version}
		}
	}
	return nil
}

// probe is how many bytes at the head of a file tell what it is.
const probe = 256 << 10

// list lists the files of a record by name; a folder that isn't there holds none.
func list(tree fs.FS) ([]listed, error) {
	entries, err := fs.ReadDir(tree, FilesDir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var out []listed
	for _, e := range entries {
		if e.IsDir() || path.Ext(e.Name()) != Ext {
			continue
		}
		f, err := lookInto(tree, e.Name())
		if errors.Is(err, fs.ErrNotExist) {
			continue // it went away meanwhile
		}
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

// lookInto tells what a file is by its first lines.
func lookInto(tree fs.FS, name string) (listed, error) {
	out := listed{name: name}
	info, err := fs.Stat(tree, out.path())
	if err != nil {
		return out, err
	}
	if err := plainfile.Plain(out.path(), info); err != nil { // a pipe would be waited for, a device never ends
		return out, err
	}
	out.size = info.Size()
	f, err := tree.Open(out.path())
	if err != nil {
		return out, err
	}
	defer f.Close() // read only: nothing to lose
	b := make([]byte, min(probe, out.size))
	n, err := io.ReadFull(f, b)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return out, &fs.PathError{Op: "read", Path: out.path(), Err: err}
	}
	out.simulated = bytes.Contains(b[:n], []byte(",simulated=true,"))
	for line := range bytes.Lines(bytes.TrimPrefix(b[:n], []byte("\xef\xbb\xbf"))) {
		line = bytes.TrimRight(line, "\r\n")
		if l, ok := lookAt(line); ok {
			out.chained, out.build, out.sitting, out.version = true, l.build, l.sitting, l.version
			out.begins = newSummer().fits(seedOf(l.build, l.sitting), line, l)
			return out, nil
		}
		if _, err := ParseLine(line); err == nil {
			out.old = true
			return out, nil
		}
	}
	return out, nil
}
