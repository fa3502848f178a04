package plan

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// cells reads a table of testdata: its first column as text, all of it as numbers.
func cells(t *testing.T, name string) (first []string, rows [][]float64) {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	all, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range all[1:] {
		var row []float64
		for _, c := range line {
			x, err := strconv.ParseFloat(c, 64)
			if err != nil {
				t.Fatal(err)
			}
			row = append(row, x)
		}
		first, rows = append(first, line[0]), append(rows, row)
	}
	return first, rows
}

// The printed wire table (NBS Handbook 100, ASTM B258). Below 4 AWG the printed
// resistance has only two or three digits.
func TestWireAgainstTheCopperTable(t *testing.T) {
	names, rows := cells(t, "awg_copper_20C.csv")
	for i, r := range rows {
		awg := r[0]
		if strings.Trim(names[i], "0") == "" {
			awg = float64(1 - len(names[i])) // 00 is -1
		}
		d := awgDiameterM(awg)
		ohms := newWire(areaM2(d), 1000*0.3048, 0, false).Ohms.Nominal
		tol := 0.0004
		if awg < 4 {
			tol = 0.0009
		}
		if math.Abs(ohms/r[2]-1) > tol {
			t.Errorf("AWG %s: %.5g ohm per 1000 ft, printed %g", names[i], ohms, r[2])
		}
		if math.Abs(d/0.0254-r[3]) > 0.51e-5 && math.Abs(d/0.0254/r[3]-1) > 0.002 {
			t.Errorf("AWG %s: %.6f inch, printed %g", names[i], d/0.0254, r[3])
		}
	}
	if len(rows) != 44 {
		t.Errorf("%d sizes, want 44", len(rows))
	}
}

// IEC 60228 gives the most that a conductor may have; pure copper of the
// nominal area stays below by a few per cent.
func TestConductorClasses(t *testing.T) {
	names, rows := cells(t, "iec60228.csv")
	for i, r := range rows {
		got := newWire(r[0]*1e-6, 1000, 0, false).Ohms.Nominal
		for _, most := range r[1:] {
			if got > most || got < 0.85*most {
				t.Errorf("%s mm2: %.3g ohm/km against at most %g", names[i], got, most)
			}
		}
	}
	if len(rows) < 5 {
		t.Errorf("only %d sizes", len(rows))
	}
}
