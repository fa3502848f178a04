package record

import (
	"bytes"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// TestRepair: of a damaged file a copy of what is sound lies beside it, whose lines the
// line-protocol library reads and are those that the record uses. The file itself stays,
// and so does what is said of it; in its place the copy is damage again.
func TestRepair(t *testing.T) {
	const n = 10
	for name, damage := range map[string]func(f []byte) []byte{
		"a value":         func(f []byte) []byte { a, _ := lineOf(f, 6); f[a+300] ^= 1; return f },
		"a line lost":     func(f []byte) []byte { return without(f, 5, 6) },
		"NULs for a line": func(f []byte) []byte { a, b := lineOf(f, 4); clear(f[a : b-1]); return f },
		"a line by hand": func(f []byte) []byte {
			_, b := lineOf(f, 5)
			return splice(f, b, []byte("reading value=1 5\n"))
		},
		"swapped": func(f []byte) []byte {
			a, b := lineOf(f, 5)
			_, c := lineOf(f, 6)
			return append(append(append(bytes.Clone(f[:a]), f[b:c]...), f[a:b]...), f[c:]...)
		},
		"the tail lost":  func(f []byte) []byte { return f[:len(f)-40] },
		"the first lost": func(f []byte) []byte { return without(f, 0, 1) },
		"line ends": func(f []byte) []byte {
			return bytes.ReplaceAll(without(f, 5, 6), []byte("\n"), []byte("\r\n"))
		},
	} {
		t.Run(name, func(t *testing.T) {
			m := shipOf(t, n)
			was := damage(m.Content(first))
			m.Set(first, was)
			used, hurt, _ := survivors(t, m, first)
			before, err := ReadFS(m.Tree(ship))
			if err != nil {
				t.Fatal(err)
			}
			done, err := Repair(m, ship, "sealworthy of a test", start.Add(time.Hour))
			const into = "readings/20261125T064500Z-loose.lp.repaired"
			if err != nil || len(done) != 1 || done[0].Into != into || done[0].Why != "" ||
				len(done[0].Left) != len(hurt) {
				t.Fatalf("%+v, %v", done, err)
			}
			if !bytes.Equal(m.Content(first), was) {
				t.Fatal("the damaged file isn't as it was")
			}
			after, err := ReadFS(m.Tree(ship))
			if err != nil || !reflect.DeepEqual(before, after) {
				t.Fatalf("something else is said of the build: %v", err)
			}
			copied := m.Content(ship + "/" + done[0].Into)
			got := []int{}
			lines := 0
			for d := lineprotocol.NewDecoderWithBytes(copied); d.Next(); lines++ {
				if _, err := d.Measurement(); err != nil {
					t.Fatal(err)
				}
				for {
					key, v, err := d.NextField()
					if err != nil {
						t.Fatal(err)
					}
					if key == nil {
						break
					}
					if i := 0; string(key) == "raw" {
						if _, err := fmt.Sscanf(v.StringV(), "#%d", &i); err != nil {
							t.Fatal(err)
						}
						got = append(got, i)
					}
				}
			}
			if !slices.Equal(got, used) || lines != done[0].Lines {
				t.Errorf("readings %v in %d lines, the record uses %v; said are %d lines",
					got, lines, used, done[0].Lines)
			}
			for line := range bytes.Lines(copied) {
				if line[0] != '#' && !bytes.Contains(bytes.ReplaceAll(was, []byte("\r"), nil), line) {
					t.Errorf("not in the file: %s", line)
				}
			}
			for _, d := range hurt {
				if !bytes.Contains(copied, []byte("# left out: "+d.Name)) {
					t.Errorf("%s isn't said to be left out:\n%s", d.Name, copied)
				}
			}
			m.Set(first, copied)
			if f, err := ReadFS(m.Tree(ship)); err != nil || len(f.Damage) == 0 || f.Damage[0].Answered != "" {
				t.Errorf("in its place it passes for whole: %v, %v", f.Damage, err)
			}
			m.Set(first, was)
			if done, err := Repair(m, ship, "x", start); err != nil || !strings.HasSuffix(done[0].Into, ".repaired2") ||
				!bytes.Equal(copied, m.Content(first+RepairedSuffix)) {
				t.Errorf("once more: %+v, %v", done, err)
			}
		})
	}
}

// TestRepairOfWhatIsWhole: there is nothing to do, and nothing is written. What is
// missing can't be copied, what isn't of the chain isn't.
func TestRepairOfWhatIsWhole(t *testing.T) {
	m := shipOf(t, 3)
	names := m.Names()
	if done, err := Repair(m, ship, "x", start); err != nil || len(done) != 0 || !slices.Equal(m.Names(), names) {
		t.Errorf("%+v, %v, %v", done, err, m.Names())
	}
	other := newMemory()
	recorded(t, other, []Record{nth(3)}, func(o *Opening) { o.Random = random(2) })
	m.Set(ship+"/readings/20270101T000000Z-loose.lp", other.Content(first))
	done, err := Repair(m, ship, "x", start)
	if err != nil || len(done) != 1 || done[0].Into != "" || done[0].Why != "it is not of this chain" {
		t.Errorf("of another build: %+v, %v", done, err)
	}
}

// TestRepairOnAFullDisk: a copy that didn't get onto the disk has no name that says it is
// one, and nothing else is touched.
func TestRepairOnAFullDisk(t *testing.T) {
	for _, op := range []string{"create", "write", "sync", "rename"} {
		m := shipOf(t, 5)
		m.Set(first, without(m.Content(first), 3, 4))
		was := m.Content(first)
		m.Fail = func(o, _ string) error {
			if o == op {
				return os.ErrInvalid
			}
			return nil
		}
		_, err := Repair(m, ship, "x", start)
		if err == nil || slices.Contains(m.Names(), first+RepairedSuffix) || !bytes.Equal(was, m.Content(first)) {
			t.Errorf("%s: %v, %v", op, err, m.Names())
		}
	}
}
