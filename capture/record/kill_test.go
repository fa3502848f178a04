package record

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
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
	first, err := strconv.Atoi(from)
	if err != nil {
		return err
	}
	r, _, err := OpenRecorder(OS{}, name, func(seq uint64) { fmt.Println(first + int(seq) - 1) })
	if err != nil {
		return err
	}
	for i := first; ; i++ {
		if _, err := r.Append(nth(i)); err != nil {
			return err
		}
		if i%7 == 0 {
			time.Sleep(time.Millisecond) // as a meter paces it; else one batch is all
		}
	}
}

// TestKill kills a process that appends, at random moments, again and again on
// one file: each line that it showed as kept is there.
func TestKill(t *testing.T) {
	kills := 20
	if os.Getenv("SEALWORTHY_LONG") != "" {
		kills = 1000
	}
	exe, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	name := filepath.Join(t.TempDir(), "a.lp")
	next, tears := 0, 0
	for k := range kills {
		if k%100 == 99 { // keep the file small
			if err := os.Remove(name); err != nil {
				t.Fatal(err)
			}
		}
		shown := runAndKill(t, exe, name, next, time.Duration(rnd.IntN(30))*time.Millisecond)
		there := map[int]bool{}
		last := next - 1
		file, err := os.ReadFile(name)
		if err != nil && !errors.Is(err, os.ErrNotExist) {
			t.Fatal(err)
		}
		if len(file) > 0 && file[len(file)-1] != '\n' {
			tears++
		}
		got, _ := numbers(t, file)
		for _, n := range got {
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
