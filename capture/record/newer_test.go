package record

import (
	"bytes"
	"errors"
	"path"
	"strings"
	"testing"
	"time"
)

// newerFile is the file of a sitting as a later version of the program would begin it.
func newerFile(t *testing.T, build string, sitting int) []byte {
	t.Helper()
	l, err := Record{Sitting: &SittingLine{At: start.Add(time.Hour), Stage: "loose",
		What: ForTest}}.line(placed{build: build, sitting: sitting, seq: 1})
	if err != nil {
		t.Fatal(err)
	}
	line, _, err := encodeLine(nil, l, chainHolder)
	if err != nil {
		t.Fatal(err)
	}
	line = bytes.Replace(line, []byte(",v=1i,"), []byte(",v=2i,"), 1)
	at := bytes.Index(line, []byte(chainHolder))
	sum := newSummer().of(seedOf(build, sitting), line[:at], line[at+len(chainHolder)+1:len(line)-1])
	copy(line[at+len(checkStart):], sum)
	return line
}

// TestNewerLines: where lines of a later version stand, nothing is begun, written or taken
// for damage, whatever became of the head.
func TestNewerLines(t *testing.T) {
	for name, head := range map[string]func(m string, b []byte) []byte{
		"an older head": func(_ string, b []byte) []byte { return b },
		"no head":       func(string, []byte) []byte { return nil },
		"a bad head": func(_ string, b []byte) []byte {
			return bytes.Replace(b, []byte("version"),
				[]byte("versiom"), 1)
		},
	} {
		m := shipOf(t, 3)
		h, _, err := readHead(m.Tree(ship))
		if err != nil {
			t.Fatal(err)
		}
		was := m.Content(path.Join(ship, HeadFile))
		m.Set(ship+"/readings/20261125T074500Z-loose.lp", newerFile(t, h.Build, 2))
		if b := head(ship, was); b == nil {
			if err := m.Rename(path.Join(ship, HeadFile), "elsewhere"); err != nil {
				t.Fatal(err)
			}
		} else {
			m.Set(path.Join(ship, HeadFile), b)
		}
		before := strings.Join(m.Names(), " ")
		var no *NewerError
		o := opening()
		o.Now = start.Add(2 * time.Hour)
		if _, _, err := Begin(m, o); !errors.As(err, &no) || no.Version != 2 {
			t.Errorf("%s: a sitting begins all the same: %v", name, err)
		}
		if after := strings.Join(m.Names(), " "); after != before {
			t.Errorf("%s: %s, before %s", name, after, before)
		}
		if f, err := ReadFS(m.Tree(ship)); !errors.As(err, &no) {
			t.Errorf("%s: it is read: %v, %v", name, f.Damage, err)
		}
	}
}
