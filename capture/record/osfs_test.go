package record

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// TestOneWriter: a second writer is refused and told who holds the build, in this
// process and in another one, by whatever name the folder is reached; after the
// close the next one may.
func TestOneWriter(t *testing.T) {
	dir := t.TempDir()
	fs := osIn(filepath.Join(dir, "locks"))
	at := func(path string) func(*Opening) { return func(o *Opening) { o.Dir = path } }
	r := opened(t, fs, at(dir))
	pid := "process " + strconv.Itoa(os.Getpid())
	names := []string{dir, filepath.Join(dir, FilesDir, "..")}
	if runtime.GOOS != "windows" {
		link := filepath.Join(t.TempDir(), "link")
		if err := os.Symlink(dir, link); err != nil {
			t.Fatal(err)
		}
		names = append(names, link)
	}
	for _, name := range names {
		o := opening()
		o.Dir = name
		if _, _, err := Begin(fs, o); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), pid) {
			t.Fatalf("second writer at %s: %v", name, err)
		}
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), childEnv+"="+dir, childEnv+"_FROM=0")
	if out, err := cmd.CombinedOutput(); err == nil || !strings.Contains(string(out), pid) {
		t.Fatalf("another process: %v, %s", err, out)
	}
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
	if err := r.Close(); err != nil {
		t.Fatalf("second Close: %v", err)
	}
	if err := opened(t, fs, at(dir)).Close(); err != nil {
		t.Fatal(err)
	}
	f, err := ReadDir(dir)
	if err != nil || f.Damage != nil || len(f.Sittings) != 2 ||
		f.Sittings[1].File != "readings/20261125T064500Z-loose-2.lp" {
		t.Fatalf("%+v, %v", f, err)
	}
}

// TestOSCutsATear: a torn last line beyond the head is put aside and cut by the
// next sitting; nothing else is touched.
func TestOSCutsATear(t *testing.T) {
	dir := t.TempDir()
	fs := osIn(filepath.Join(dir, "locks"))
	at := func(o *Opening) { o.Dir = dir }
	recorded(t, fs, []Record{nth(0)}, at)
	name := filepath.Join(dir, FilesDir, "20261125T064500Z-loose.lp")
	file, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for _, tear := range []string{"first", "second"} {
		if err := os.WriteFile(name, append(file, tear...), 0o600); err != nil {
			t.Fatal(err)
		}
		o := opening()
		o.Dir = dir
		r, warn, err := Begin(fs, o)
		if err != nil || len(warn) != 1 || !strings.Contains(warn[0].What, "torn") {
			t.Fatal(warn, err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	if now, err := os.ReadFile(name); err != nil || string(now) != string(file) {
		t.Fatalf("%q, %v", now, err)
	}
	if torn, err := os.ReadFile(name + TornSuffix); err != nil || string(torn) != "first\nsecond" {
		t.Fatalf("%q, %v", torn, err)
	}
	if f, err := ReadDir(dir); err != nil || f.Damage != nil || len(f.Sittings) != 3 {
		t.Fatalf("%+v, %v", f, err)
	}
}

// TestFileGoneOnDisk: as TestFileGone, on the machine's file system.
func TestFileGoneOnDisk(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("Windows removes no open file")
	}
	dir := t.TempDir()
	r := opened(t, osIn(filepath.Join(dir, "locks")), func(o *Opening) { o.Dir = dir })
	if err := r.Flush(); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(r.Path())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(r.Path(), r.Path()+".moved"); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(r.Path(), b, 0o600); err != nil { // as a synchronised folder does
		t.Fatal(err)
	}
	if seq, err := r.Append(nth(0)); seq == 0 {
		t.Fatal(err)
	}
	var gone *GoneError
	if err := r.Flush(); !errors.As(err, &gone) {
		t.Fatalf("%v", err)
	}
	if err := r.Close(); !errors.As(err, &gone) {
		t.Fatalf("%v", err)
	}
}

// BenchmarkAppend tells how many readings a second can be taken and brought to
// disk, here in the folder for temporary files.
func BenchmarkAppend(b *testing.B) {
	dir := b.TempDir()
	r := opened(b, osIn(filepath.Join(dir, "locks")), func(o *Opening) { o.Dir = dir })
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
