package record

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// TestOneWriter: a second writer is refused and told who holds the file, in this
// process and in another one; after the close the next one may.
func TestOneWriter(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a.lp")
	r, _, err := OpenRecorder(OS{}, name, nil)
	if err != nil {
		t.Fatal(err)
	}
	pid := "process " + strconv.Itoa(os.Getpid())
	if _, _, err := OpenRecorder(OS{}, name, nil); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), pid) {
		t.Fatalf("second writer: %v", err)
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), childEnv+"="+name, childEnv+"_FROM=0")
	if out, err := cmd.CombinedOutput(); err == nil || !strings.Contains(string(out), pid) {
		t.Fatalf("another process: %v, %s", err, out)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatalf("second Close: %v", err)
	}
	r, _, err = OpenRecorder(OS{}, name, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(name + ".held"); !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("who held it is left: %v", err)
	}
}

// TestOSCutsATear does on the machine's file system what the fake one does.
func TestOSCutsATear(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a.lp")
	file := fileOf(t, 3)
	if err := os.WriteFile(name, file[:len(file)-7], 0o600); err != nil {
		t.Fatal(err)
	}
	r, warn, err := OpenRecorder(OS{}, name, nil)
	if err != nil || len(warn) != 1 {
		t.Fatal(warn, err)
	}
	if _, err := r.Append(nth(9)); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	now, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	got, left := numbers(t, now)
	if len(got) != 3 || got[2] != 9 || left != nil {
		t.Fatalf("%v, %v", got, left)
	}
	torn, err := os.ReadFile(name + TornSuffix)
	if err != nil || len(torn) == 0 || !strings.HasSuffix(string(file), string(torn)+string(file[len(file)-7:])) {
		t.Fatalf("%q, %v", torn, err)
	}
	if _, _, err := OpenRecorder(OS{}, filepath.Join(t.TempDir(), "none", "a.lp"), nil); !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("a folder that isn't there: %v", err)
	}
}

// BenchmarkAppend tells how many readings a second can be taken and brought to
// disk, here in the folder for temporary files.
func BenchmarkAppend(b *testing.B) {
	r, _, err := OpenRecorder(OS{}, filepath.Join(b.TempDir(), "a.lp"), nil)
	if err != nil {
		b.Fatal(err)
	}
	for i := 0; b.Loop(); i++ {
		if _, err := r.Append(nth(i)); err != nil {
			b.Fatal(err)
		}
	}
	if err := r.Close(); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkScan tells the speed of the way back.
func BenchmarkScan(b *testing.B) {
	file := fileOf(b, 1000)
	b.SetBytes(int64(len(file)))
	for b.Loop() {
		n := 0
		if _, err := Scan(strings.NewReader(string(file)), func(Record) error { n++; return nil }); err != nil || n != 1000 {
			b.Fatal(n, err)
		}
	}
}
