package record

import (
	"bufio"
	"crypto/rand"
	"fmt"
	"io"
	mrand "math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments/hold"
)

const childEnv = "RECORD_TEST_APPEND_TO"

// TestMain lets the test binary be the program that is killed.
func TestMain(m *testing.M) {
	if name := os.Getenv(childEnv); name != "" {
		if err := appendForEver(name, os.Getenv(childEnv+"_FROM")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// appendForEver appends readings and prints the number of each that was kept.
func appendForEver(name, from string) error {
	n, err := strconv.Atoi(from)
	if err != nil {
		return err
	}
	// The sitting's own line is the first; a damaged record ends it at once.
	f, err := ReadDir(name)
	if err != nil || len(f.Damage) > 0 {
		return fmt.Errorf("%v, %v", f.Damage, err)
	}
	o := opening()
	o.Dir, o.Now, o.Random = name, start.Add(time.Duration(n)*time.Hour), rand.Reader
	o.Kept = func(seq uint64) {
		if seq > 1 {
			fmt.Println(n + int(seq) - 2)
		}
	}
	r, _, err := Begin(osIn(filepath.Join(name, "locks")), o)
	if err != nil {
		return err
	}
	for i := n; ; i++ {
		x := nth(i)
		x.Reading.At = o.Now.Add(time.Duration(i-n) * 100 * time.Millisecond)
		if _, err := r.Append(x); err != nil {
			return err
		}
		if i%7 == 0 {
			time.Sleep(time.Millisecond) // as a meter paces it; else one batch is all
		}
	}
}

// osIn is the machine's file system with its locks in a folder.
func osIn(locks string) OS {
	return OS{Locks: hold.Folder{Path: locks, Who: fmt.Sprintf("a test, process %d", os.Getpid())}}
}

// TestKill kills a process that appends, at random moments, again and again in
// one build: each line that it showed as kept is there, in its chain, and no kill
// is damage.
func TestKill(t *testing.T) {
	kills := 20
	if os.Getenv("SEALWORTHY_LONG") != "" {
		kills = 1000
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	rnd := mrand.New(mrand.NewPCG(1, 2))
	dir := t.TempDir()
	next, tears := 0, 0
	for k := range kills {
		if k%100 == 99 { // keep the record small
			dir = t.TempDir()
		}
		shown := runAndKill(t, exe, dir, next, time.Duration(rnd.IntN(30))*time.Millisecond)
		there := map[int]bool{}
		last := next - 1
		f, err := ReadDir(dir)
		if err != nil || len(f.Damage) > 0 {
			t.Fatalf("kill %d: %v, %v", k, f.Damage, err)
		}
		for i, s := range f.Sittings {
			if s.Whole || s.Number != i+1 {
				t.Fatalf("kill %d: sitting %+v", k, s)
			}
		}
		tears += strings.Count(fmt.Sprint(f.Warnings), "torn")
		for _, n := range onDisk(t, dir) {
			if there[n] {
				t.Fatalf("kill %d: reading %d twice", k, n)
			}
			there[n] = true
			last = max(last, n)
		}
		for n := next; n <= shown; n++ {
			if !there[n] {
				t.Fatalf("kill %d: reading %d was shown as kept and is not there", k, n)
			}
		}
		next = last + 1
	}
	t.Logf("%d kills, %d readings, %d torn lines", kills, next, tears)
	if next == 0 {
		t.Fatal("no reading was ever kept: this tested nothing")
	}
}

// onDisk gives the numbers of the readings in all files of a build, torn ones
// left out.
func onDisk(t *testing.T, dir string) (out []int) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, FilesDir, "*"+Ext))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`(?m)raw="#(\d+) .*\n`).FindAllSubmatch(b, -1) {
			n, err := strconv.Atoi(string(m[1]))
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, n)
		}
	}
	return out
}

// runAndKill gives the last number that the child showed as kept; -1 for none.
func runAndKill(t *testing.T, exe, name string, from int, after time.Duration) int {
	t.Helper()
	cmd := exec.Command(exe)
	cmd.Env = append(os.Environ(), childEnv+"="+name, childEnv+"_FROM="+strconv.Itoa(from))
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewReader(out)
	shown := -1
	first, err := lines.ReadString('\n') // it's up; the moment of the kill counts from here
	if err != nil {
		t.Fatalf("child ended: %v %s", err, stderr.String())
	}
	timer := time.AfterFunc(after, func() { _ = cmd.Process.Kill() })
	defer timer.Stop()
	rest, err := io.ReadAll(lines)
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Wait(); err == nil || stderr.Len() > 0 {
		t.Fatalf("child was not killed: %v %s", err, stderr.String())
	}
	for _, s := range strings.Split(first+string(rest), "\n") {
		if n, err := strconv.Atoi(s); err == nil {
			shown = max(shown, n)
		}
	}
	return shown
}
