package machine

import (
	"bufio"
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestTheMachineFindsPlantedDefects: for each planted bug a sequence is kept that the
// machine found it by, shrunk, in which all is earned without the bug. Under
// SEALWORTHY_LONG each is looked for anew, within the ordinary number of sequences.
func TestTheMachineFindsPlantedDefects(t *testing.T) {
	kept := keptFor(t)
	shop, found := NewShop(), 0
	for _, d := range Defects() {
		s, ok := kept[d.Name]
		if !ok {
			t.Errorf("no sequence is kept that finds: %s", d.Name)
			continue
		}
		o, err := Play(shop, Direct{}, s, d)
		if err != nil || len(o.Breaches) == 0 {
			t.Errorf("not found by its kept sequence: %s (%v)", d.Name, err)
			continue
		}
		found++
		t.Logf("%s: %v", d.Name, o.Breaches[0])
	}
	t.Logf("the machine finds %d of %d planted defects", found, len(Defects()))
	if !long() {
		return
	}
	const most = 300
	for _, d := range Defects() {
		from := rand.Uint64N(1 << 40)
		at, breach := findDefect(shop, d, from, most)
		if at == 0 {
			t.Errorf("not found in %d sequences from seed %d: %s", most, from, d.Name)
			continue
		}
		t.Logf("%s: found in sequence %d from seed %d: %v", d.Name, at, from, breach)
	}
}

// keptFor reads the scripts of testdata that name a planted bug in their first line.
func keptFor(t *testing.T) map[string]Script {
	files, err := filepath.Glob("testdata/*.script")
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]Script{}
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		first := bufio.NewScanner(bytes.NewReader(b))
		first.Scan()
		if name, ok := strings.CutPrefix(first.Text(), "# planted: "); ok {
			if out[name], err = ParseScript(string(b)); err != nil {
				t.Fatal(err)
			}
		}
	}
	return out
}

// findDefect looks for a sequence that a planted bug spoils and that is earned
// without it; at counts from 1 and is 0 where none is found.
func findDefect(shop *Shop, d Defect, from, most uint64) (at uint64, b Breach) {
	for n := range most {
		s := Sequence(shop, from+n)
		o, err := Play(shop, Direct{}, s, d)
		if err != nil || len(o.Breaches) == 0 {
			continue
		}
		if whole, err := Play(shop, Direct{}, s, Defect{}); err == nil && len(whole.Breaches) == 0 {
			return n + 1, o.Breaches[0]
		}
	}
	return 0, b
}
