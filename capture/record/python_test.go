package record

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
)

// TestAnotherReader: a reader in another language, made from the page alone,
// gets the same out of a record as this one, and the same word on its chain.
func TestAnotherReader(t *testing.T) {
	python(t)
	dir := t.TempDir()
	fs := osIn(filepath.Join(dir, "locks"))
	at := func(o *Opening) { o.Dir = dir }
	hard := mark(capture.MarkReworked, "a,b =c", 90, func(m *capture.Mark) {
		m.Reason, m.Groups = `said "no", then \ yes=1, 5 V`, []string{`größe "x"`, "b c"}
	})
	odd := read("mast", 21)
	odd.Reading.Raw = "\x00\xffé\"\\ ,=\r\n"
	late := read("mast", 20) // before the line before it
	recorded(t, fs, append(session(), odd, late), at)
	recorded(t, fs, []Record{hard, mark(capture.MarkBegin, "cabin", 91, nil), read("cabin", 92)}, at,
		startAt(time.Hour))
	type told struct {
		Build    string
		Readings int
		Marks    int
		Amperes  float64
		Instants json.Number
		Names    []string
		Whole    []bool
	}
	other := func() (x told) {
		t.Helper()
		otherReader(t, dir, &x)
		return x
	}
	got := other()
	f, err := ReadDir(dir)
	if err != nil || f.Damage != nil {
		t.Fatal(f.Damage, err)
	}
	readings, amperes, instants := 0, 0.0, int64(0)
	for _, s := range f.Steps {
		for _, r := range slices.Concat(slices.Collect(s.Before()), slices.Collect(s.All())) {
			readings++
			amperes += *r.Value
			instants += r.At.UnixNano() / 1000 // else they don't fit
		}
	}
	n, err := got.Instants.Float64()
	if err != nil {
		t.Fatal(err)
	}
	if got.Build != f.BuildID || got.Readings != readings || math.Abs(got.Amperes-amperes) > 1e-12 ||
		math.Abs(n/1000-float64(instants)) > 1e3 ||
		!reflect.DeepEqual(got.Names, []string{"Brackwater", "Brackwater"}) ||
		!reflect.DeepEqual(got.Whole, []bool{true, true}) {
		t.Errorf("the other reader says %+v, this one %s, %d readings, %v A, %d us", got, f.BuildID, readings, amperes,
			instants)
	}
	marks := 2
	for _, r := range session() {
		if r.Mark != nil {
			marks++
		}
	}
	if got.Marks != marks {
		t.Errorf("the other reader counts %d marks, %d were written", got.Marks, marks)
	}
	// Damaged and cut it isn't whole for either.
	name := filepath.Join(dir, FilesDir, "20261125T064500Z-loose.lp")
	file, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	cut, _ := lineOf(file, 20)
	for what, b := range map[string][]byte{"changed": []byte(strings.Replace(string(file), "value=0.0", "value=0.1",
		1)), "cut": file[:cut], "lacking": without(file, 4, 5)} {
		if err := os.WriteFile(name, b, 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := ReadDir(dir)
		if err != nil || len(f.Damage) == 0 || !reflect.DeepEqual(other().Whole, []bool{false, true}) {
			t.Errorf("%s: %v, %v, the other reader says %v", what, f.Damage, err, other().Whole)
		}
	}
}
