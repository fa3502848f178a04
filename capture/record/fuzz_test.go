package record

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/capture/record/recordtest"
	"sealworthy/instruments"
)

// wholeSession is a build with all that a session can hold, in two sittings.
func wholeSession(t testing.TB) *recordtest.Memory {
	m := newMemory()
	all := session()
	recorded(t, m, all[:8])
	recorded(t, m, append(all[8:],
		mark(capture.MarkAllowed, "", 30, func(m *capture.Mark) { m.Check, m.Reason = "burns", "short" }),
		mark(capture.MarkTakenBack, "", 31, func(m *capture.Mark) { m.Of = capture.OrderAt(1, 10) }),
		mark(capture.MarkNote, "proof", 32, nil),
		Record{File: &Attached{Name: "photos/bow.jpg", Bytes: 3, SHA256: strings.Repeat("0", 64), At: at(33),
			Stage: "loose"}},
	), func(o *Opening) { o.GoesOn = 1 })
	return m
}

// mended puts checks that fit into each line of a file that has one, as if it had
// been written so: whatever bytes stand in a line then reach what reads it.
func mended(file []byte, build string, sitting int) []byte {
	sums, before := newSummer(), seedOf(build, sitting)
	var out []byte
	for line := range bytes.Lines(file) {
		b := bytes.TrimSuffix(line, []byte("\n"))
		if l, ok := lookAt(b); ok {
			before = string(sums.of(before, b[:l.head], b[l.head+len(chainHolder)+1:]))
			b = bytes.Clone(b)
			copy(b[l.head+len(checkStart):], before)
		}
		out = append(append(out, b...), '\n')
	}
	return out
}

// FuzzRecord: nothing makes reading fail or panic, whatever stands in the file of
// a sitting and in the head; damage has a name of its own and is the same at the
// next reading; and another sitting can be begun beside whatever is of this version, and read.
func FuzzRecord(f *testing.F) {
	m := newMemory()
	recorded(f, m, []Record{nth(0),
		mark(capture.MarkTakenBack, "", 31, func(m *capture.Mark) { m.Of = capture.OrderAt(1, 2) })})
	file := m.Content(first)
	build, _, err := readHead(m.Tree(ship))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(file)
	f.Add(file[:len(file)-5])
	f.Add(bytes.ReplaceAll(file, []byte("\n"), []byte("\r\n")))
	f.Add(without(file, 1, 2))
	f.Add([]byte("\x00\xff\"\n\n\r\n#"))
	f.Add([]byte("step,build=" + build.Build +
		",sitting=1,stage=loose check=\"0000000000000000\",seq=1i,v=1i,mark=\"redone\" 5\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, file := range [][]byte{b, mended(b, build.Build, 1)} {
			for _, h := range [][]byte{m.Content(head), nil} {
				m := m.Copy()
				m.Set(first, append([]byte{}, file...))
				m.Set(head, h)
				readsTheSame(t, m)
			}
		}
	})
}

func readsTheSame(t *testing.T, m *recordtest.Memory) {
	one, err1 := ReadFS(m.Tree(ship))
	two, err2 := ReadFS(m.Tree(ship))
	if fmt.Sprint(err1) != fmt.Sprint(err2) || fmt.Sprint(one.Damage) != fmt.Sprint(two.Damage) ||
		len(one.Steps) != len(two.Steps) {
		t.Fatalf("read twice: %v %v\n%v\n%v", err1, err2, one.Damage, two.Damage)
	}
	keys := map[string]bool{}
	for _, d := range one.Damage {
		if keys[d.key()] || d.Name == "" || d.What == "" || d.Kind == "" {
			t.Fatalf("damage %+v", d)
		}
		keys[d.key()] = true
	}
	// Without the writer's goroutine: what runs when would be new to the fuzzer each time.
	r, _, err := begin(m, opening())
	if err != nil {
		return
	}
	if err := r.commit(r.queue, tail{r.seq, r.check, r.last, r.ended}); err != nil {
		t.Fatal(err)
	}
	// A line that a later version wrote is refused, or damage: never passed over.
	var newer *NewerError
	refused := errors.As(err1, &newer)
	more, err := ReadFS(m.Tree(ship))
	if err != nil && !(refused && errors.As(err, &newer)) || err == nil && refused && len(more.Damage) == 0 {
		t.Fatalf("one more sitting: read with %v, before it with %v", err, err1)
	}
}

// FuzzChain: whatever is done to the file of a sitting, no line is used that wasn't
// written so, none twice or out of order, and a change is damage.
func FuzzChain(f *testing.F) {
	m := shipOf(f, 2)
	file := m.Content(first)
	h, _, err := readHead(m.Tree(ship))
	if err != nil {
		f.Fatal(err)
	}
	written := map[int64]string{}
	for line := range bytes.Lines(file) {
		l, err := decodeLine(bytes.TrimSuffix(line, []byte("\n")))
		if err != nil {
			f.Fatal(err)
		}
		written[int64(len(written)+1)] = fmt.Sprint(l)
	}
	f.Add(file)
	f.Add(file[:len(file)-5])
	f.Add(bytes.ReplaceAll(file, []byte("\n"), []byte("\r\n")))
	f.Add(without(file, 1, 2))
	a, b := lineOf(file, 1)
	f.Add(splice(file, b, file[a:b]))
	f.Fuzz(func(t *testing.T, b []byte) {
		s := h.Sittings[0]
		scan := newChainScan("x", h.Build, 1, int64(s.Lines))
		damage, last := 0, int64(0)
		scan.damage = func(Damage) { damage++ }
		scan.use = func(seq int64, l Line) error {
			if seq <= last || fmt.Sprint(l) != written[seq] {
				t.Fatalf("line number %d after %d: %+v", seq, last, l)
			}
			last = seq
			return nil
		}
		if err := scan.read(bytes.NewReader(b)); err != nil {
			t.Fatal(err)
		}
		scan.end(int64(s.Lines), s.Check)
		if damage == 0 && !bytes.HasPrefix(plainly(b), plainly(file)) {
			t.Fatalf("no damage in %q", b)
		}
	})
}

// plainly takes off what an editor may leave: nothing of it is part of a line.
func plainly(b []byte) []byte {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	var out []byte
	for line := range bytes.Lines(b) {
		c := bytes.TrimSuffix(bytes.TrimSuffix(line, []byte("\n")), []byte("\r"))
		if len(c) > 0 {
			out = append(append(out, c...), line[len(line)-1])
		}
	}
	return out
}

// FuzzLookAt: where a line says that it stands is the same after it is encoded
// anew, and a line is never longer than its parts.
func FuzzLookAt(f *testing.F) {
	for line := range bytes.Lines(shipOf(f, 1).Content(first)) {
		f.Add(bytes.TrimSuffix(line, []byte("\n")))
	}
	f.Add([]byte(`a,build=b,sitting=1 check="0000000000000000",seq=1i,v=1i,x=1 5`))
	f.Add([]byte(`a\ ,build=b check="`))
	f.Fuzz(func(t *testing.T, b []byte) {
		l, ok := lookAt(b)
		if !ok {
			return
		}
		if l.head < 1 || l.head >= len(b) || len(l.check) != checkDigits || l.seq < 1 || l.sitting < 1 ||
			l.version < 1 {
			t.Fatalf("%q: %+v", b, l)
		}
		again := fmt.Sprintf(`%scheck="%s",seq=%di,v=%di,`, b[:l.head], l.check, l.seq, l.version)
		if m, ok := lookAt([]byte(again + "x=1 5")); !ok || m != l {
			t.Fatalf("%q: %+v, anew %+v", b, l, m)
		}
		x, err := decodeLine(b)
		if err != nil {
			return
		}
		d := decoder{chained: true, described: map[string]instruments.Description{}}
		r, err := d.decode(x)
		if err != nil {
			return
		}
		if _, err := r.content(); err != nil {
			t.Fatalf("%q was read as %+v, which can't be written: %v", b, r, err)
		}
	})
}

// FuzzHead: a head that is taken prints back to one that is taken and the same.
func FuzzHead(f *testing.F) {
	f.Add(wholeSession(f).Content(head))
	f.Add([]byte(`{"version":1,"build":"0123456789abcdef"}`))
	f.Add([]byte(nil))
	f.Fuzz(func(t *testing.T, b []byte) {
		for _, b := range [][]byte{b, sealedHead(b)} {
			h, err := ParseHead(b)
			if err != nil {
				continue
			}
			again, err := h.bytes()
			if err != nil {
				t.Fatal(err)
			}
			back, err := ParseHead(again)
			if err != nil || fmt.Sprintf("%+v", back) != fmt.Sprintf("%+v", h) {
				t.Fatalf("%+v, back %+v, %v", h, back, err)
			}
		}
	})
}

// sealedHead gives JSON the check that it should end with.
func sealedHead(b []byte) []byte {
	b = bytes.TrimRight(b, "}\n \t\r")
	if i := bytes.LastIndex(b, []byte(headCheck)); i >= 0 {
		b = b[:i]
	} else {
		b = append(bytes.Clone(b), ",\n  "...)
	}
	sum := newSummer().of("", b, nil)
	return append(append(append(bytes.Clone(b), headCheck...), sum...), "\"\n}\n"...)
}
