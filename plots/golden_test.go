package plots_test

import (
	"flag"
	"log"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/cmpimg"

	"sealworthy/plots"
)

var update = flag.Bool("update", false, "write the pictures in testdata anew")

// pictures is where examples draw: a folder of its own in a test, none in documentation.
var pictures string

// drawTo draws a picture as PNG and SVG to files, as a caller does.
func drawTo(name string, paint func(*os.File, plots.Format) error) {
	if pictures == "" {
		return
	}
	for _, f := range []plots.Format{plots.PNG, plots.SVG} {
		file, err := os.Create(filepath.Join(pictures, name+"."+string(f)))
		if err != nil {
			log.Fatal(err)
		}
		if err := paint(file, f); err != nil {
			log.Fatal(err)
		}
		if err := file.Close(); err != nil {
			log.Fatal(err)
		}
	}
}

// golden runs an example and compares its picture with the one in testdata.
// The tolerance takes what arm64 does differently in the last bit.
func golden(t *testing.T, name string, example func()) {
	t.Helper()
	compareFiles(t, example, name+".png", name+".svg")
}

// goldenText does so for a file that isn't a picture.
func goldenText(t *testing.T, name string, example func()) {
	t.Helper()
	compareFiles(t, example, name)
}

func compareFiles(t *testing.T, example func(), names ...string) {
	t.Helper()
	pictures = t.TempDir()
	defer func() { pictures = "" }()
	example()
	for _, name := range names {
		got, err := os.ReadFile(filepath.Join(pictures, name))
		if err != nil {
			t.Fatal(err)
		}
		path := filepath.Join("testdata", name)
		if *update {
			if err := os.WriteFile(path, got, 0o644); err != nil {
				t.Fatal(err)
			}
			continue
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatalf("%v (make it with -update, then look at it)", err)
		}
		same := sameText(string(got), string(want))
		if filepath.Ext(name) == ".png" {
			same, err = cmpimg.EqualApprox("png", got, want, 0.05)
		}
		if err != nil || !same {
			if err := os.WriteFile(path+".got", got, 0o644); err != nil {
				t.Error(err)
			}
			t.Errorf("%s differs (%v); look at it and at %s.got, then -update", path, err, path)
		}
	}
}

var number = regexp.MustCompile(`-?\d+(\.\d+)?`)

// sameText compares files of text whose numbers may differ by a hundredth of a
// point, as arm64 and amd64 may, and whose lines may end as on Windows.
func sameText(got, want string) bool {
	got, want = strings.ReplaceAll(got, "\r\n", "\n"), strings.ReplaceAll(want, "\r\n", "\n")
	if number.ReplaceAllString(got, "#") != number.ReplaceAllString(want, "#") {
		return false
	}
	a, b := number.FindAllString(got, -1), number.FindAllString(want, -1)
	for i := range a {
		x, err1 := strconv.ParseFloat(a[i], 64)
		y, err2 := strconv.ParseFloat(b[i], 64)
		if err1 != nil || err2 != nil || math.Abs(x-y) > 0.011 {
			return false
		}
	}
	return true
}

func TestTraceGolden(t *testing.T)        { golden(t, "trace", ExampleTrace) }
func TestTraceBlinkerGolden(t *testing.T) { golden(t, "trace_blinker", ExampleTrace_blinker) }

// TestNothingSaysSimulatedTime: a bench is simulated, on a clock of its own or the wall's;
// what is measured on it says so, and in the same words everywhere.
func TestNothingSaysSimulatedTime(t *testing.T) {
	texts := map[string]string{"the client's page": delivery(1), "the return's page": returned(1)}
	names, err := filepath.Glob(filepath.Join("testdata", "*.*"))
	if err != nil || len(names) == 0 {
		t.Fatal(names, err)
	}
	for _, name := range names {
		if ext := filepath.Ext(name); ext != ".svg" && ext != ".html" {
			continue
		}
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		texts[name] = string(b)
	}
	for name, s := range texts {
		said := strings.Contains(s, plots.SimulatedBench)
		// What a plan expects is measured on no bench.
		if expected := filepath.Base(name) == "bands.svg"; said == expected {
			t.Errorf("%s says that the bench was simulated: %t", name, said)
		}
		if strings.Contains(strings.ToLower(s), "simulated time") {
			t.Errorf("%s says that time was simulated", name)
		}
	}
}
