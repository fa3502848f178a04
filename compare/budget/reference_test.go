package budget

import (
	"bufio"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// rowsOf reads a comma separated file of testdata, without comments and its header.
func rowsOf(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows [][]string
	for s, header := bufio.NewScanner(f), true; s.Scan(); {
		if strings.HasPrefix(s.Text(), "#") {
			continue
		}
		if header {
			header = false
			continue
		}
		rows = append(rows, strings.Split(strings.TrimSpace(s.Text()), ","))
	}
	if len(rows) == 0 {
		t.Fatalf("%s holds no values", name)
	}
	return rows
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// NIST StRD, univariate summary statistics: digits of mean and standard
// deviation. NumAcc3 and NumAcc4 hold numbers that are no float64, which costs
// digits before any arithmetic.
func TestNISTUnivariate(t *testing.T) {
	src, err := os.ReadFile(filepath.Join("testdata", "univariate_certified.json"))
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		Sets map[string]struct {
			N    int
			Mean string
			SD   string `json:"sd_n_minus_1"`
			File string
		}
	}
	if err := json.Unmarshal(src, &doc); err != nil {
		t.Fatal(err)
	}
	if len(doc.Sets) != 8 {
		t.Fatalf("%d sets, want 8", len(doc.Sets))
	}
	digits := map[string]float64{"NumAcc3": 9, "NumAcc4": 8}
	for name, set := range doc.Sets {
		var y []float64
		for _, r := range rowsOf(t, set.File) {
			y = append(y, number(t, r[len(r)-1]))
		}
		if len(y) != set.N {
			t.Fatalf("%s: %d values, want %d", name, len(y), set.N)
		}
		want := 13.0
		if d, ok := digits[name]; ok {
			want = d
		}
		s := summarise(y, Coverage)
		for _, c := range []struct {
			what      string
			got, cert float64
			digits    float64
		}{{"mean", s.mean, number(t, set.Mean), 13}, {"standard deviation", s.u, number(t, set.SD), want}} {
			if lre := -math.Log10(math.Abs(c.got-c.cert) / math.Abs(c.cert)); !(lre >= c.digits) {
				t.Errorf("%s: %s has %.1f digits, want %g", name, c.what, lre, c.digits)
			}
		}
	}
}

// IEC 60063: the whole decade, and E12 as every second value.
func TestPreferredValues(t *testing.T) {
	rows := rowsOf(t, "e24.csv")
	if len(rows) != 24 {
		t.Fatalf("%d values, want 24", len(rows))
	}
	for i, r := range rows {
		for d := -2; d <= 7; d++ {
			want, err := strconv.ParseFloat(r[2]+"e"+strconv.Itoa(d), 64)
			if err != nil {
				t.Fatal(err)
			}
			if got, ok := PreferredOhms(E24, want); !ok || math.Abs(got/want-1) > 1e-12 {
				t.Errorf("E24 at %g: got %g", want, got)
			}
			got, _ := PreferredOhms(E24, want*1.001)
			if got <= want {
				t.Errorf("E24 just above %g: got %g", want, got)
			}
			twelve, _ := PreferredOhms(E12, want)
			if i%2 == 0 && math.Abs(twelve/want-1) > 1e-12 || i%2 == 1 && twelve <= want {
				t.Errorf("E12 at %g: got %g", want, twelve)
			}
		}
	}
	if v, _ := PreferredOhms(E24, 4653); v != 4700 {
		t.Errorf("above 4653 ohm comes 4700, got %v", v)
	}
	for _, bad := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if v, ok := PreferredOhms(E24, bad); ok {
			t.Errorf("PreferredOhms(%g) = %g, want no answer", bad, v)
		}
	}
}

func TestFuseSize(t *testing.T) {
	for _, c := range []struct{ draw, want float64 }{{0.46, 0.8}, {0.4, 0.63}, {0.02, 0.032}, {1, 1.6}} {
		got, ok := FuseAmps(c.draw)
		if !ok || got != c.want {
			t.Errorf("steady %g A: fuse %g A, want %g A", c.draw, got, c.want)
		}
		if got < 1.5*c.draw*(1-1e-9) || got > 2*c.draw {
			t.Errorf("steady %g A: fuse %g A lies outside 1.5 to 2 times", c.draw, got)
		}
	}
	if _, ok := FuseAmps(9); ok {
		t.Error("no small fuse carries 13.5 A")
	}
}
