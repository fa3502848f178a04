package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"sealworthy/capture/record"
)

// What may lie in a build's folder instead of what belongs there. No verb hangs,
// eats the memory or panics over it; each says which file it is, in one error.
func TestHostileFilesInABuild(t *testing.T) {
	kept := filepath.Join(t.TempDir(), "kept")
	must(t, measureInto(kept, func(e env, dir string) (build, []string, error) {
		must(t, os.CopyFS(dir, os.DirFS("testdata/plans/tender")))
		b, err := openBuild(e, dir)
		return b, nil, err
	}))
	folder := func(t *testing.T, path string) { must(t, os.RemoveAll(path)); must(t, os.MkdirAll(path, 0o755)) }
	big := func(t *testing.T, path string) { // holes: 100 MB that take no room
		must(t, os.RemoveAll(path))
		f, err := os.Create(path)
		must(t, err)
		must(t, f.Truncate(100<<20))
		must(t, f.Close())
	}
	linkTo := func(target string) func(*testing.T, string) {
		return func(t *testing.T, path string) {
			if runtime.GOOS == "windows" {
				t.Skip("devices are files on Unix")
			}
			must(t, os.RemoveAll(path))
			must(t, os.Symlink(target, path))
		}
	}
	empty := func(t *testing.T, path string) { must(t, os.RemoveAll(path)); must(t, os.WriteFile(path, nil, 0o644)) }
	noise := func(t *testing.T, path string) {
		must(t, os.RemoveAll(path))
		must(t, os.WriteFile(path, bytes.Repeat([]byte("\xff\x00\x1b[2J\n"), 999), 0o644))
	}
	protected := func(t *testing.T, path string) {
		must(t, os.Chmod(path, 0))
		if f, err := os.Open(path); err == nil {
			f.Close()
			t.Skip("this user may read everything")
		}
	}
	for _, c := range []struct {
		name, file string
		lay        func(*testing.T, string)
		verb       string // that must fail, naming the file
	}{
		{"the plan is a folder", planFile, folder, "budget"},
		{"the plan has 100 MB", planFile, big, "budget"},
		{"the plan never ends", planFile, linkTo("/dev/zero"), "budget"},
		{"the plan is empty", planFile, empty, "budget"},
		{"the plan is noise", planFile, noise, "budget"},
		{"the plan can't be read", planFile, protected, "budget"},
		{"the plan is a link in a circle", planFile, linkTo(planFile), "budget"},
		{"the plan leads nowhere", planFile, linkTo("nothing.toml"), "budget"},
		{"the bench is a folder", benchFile, folder, "budget"},
		{"the bench has 100 MB", benchFile, big, "compare"},
		{"the bench never ends", benchFile, linkTo("/dev/zero"), "compare"},
		{"the bench is the terminal", benchFile, linkTo("/dev/tty"), "compare"},
		{"the bench is noise", benchFile, noise, "measure"},
		{"the priors are a folder", priorsFile, folder, "compare"},
		{"the priors never end", priorsFile, linkTo("/dev/zero"), "compare"},
		{"the priors are noise", priorsFile, noise, "compare"},
		{"the part book never ends", "home/" + partsFile, linkTo("/dev/zero"), "budget"},
		{"the part book is a folder", "home/" + partsFile, folder, "budget"},
		{"the readings are a file", readingDir, empty, "compare"},
		{"the readings lead to a device", readingDir, linkTo("/dev/null"), "compare"},
		{"a record never ends", "readings/20250101T000000Z-fitted.lp", linkTo("/dev/zero"), "compare"},
		{"the head is a folder", record.HeadFile, folder, "compare"},
		{"the head never ends", record.HeadFile, linkTo("/dev/zero"), "compare"},
		{"a signature never ends", "signatures/20261201T101500Z.lp", linkTo("/dev/zero"), "return"},
		{"a signature is a folder", "signatures/20261201T101500Z.lp", folder, "return"},
		{"the profile never ends", "home/profiles/scpi meter.toml", linkTo("/dev/zero"), "budget"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "the [bow] 1")
			must(t, os.CopyFS(dir, os.DirFS(kept)))
			must(t, os.MkdirAll(filepath.Join(dir, "home", "profiles"), 0o755))
			must(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, c.file)), 0o755))
			c.lay(t, filepath.Join(dir, c.file))
			for _, args := range [][]string{{"budget", dir}, {"compare", dir}, {"compare", dir, "--json"},
				{"check", dir}, {"next", dir}, {"plot", dir, "--into", filepath.Join(dir, "p")},
				{"sheet", dir, "--into", filepath.Join(dir, "page.html")}, {"measure", dir, "--accept", "cabin lamps",
					"--closure", "hull", "--reason", "so"},
				{"measure", dir, "--unattended", "--supply", "none", "--meter", "none", "--relays", "none"},
				{"return", dir}, {"keep", dir}, {"soak", dir}, {"part"}, {"new", dir}} {
				var stdout, stderr bytes.Buffer
				getenv := func(k string) string {
					return map[string]string{"SEALWORTHY_HOME": filepath.Join(dir,
						"home")}[k]
				}
				ended := make(chan int, 1)
				go func() {
					ended <- run(context.Background(), args, env{stdin: strings.NewReader(""), stdout: &stdout,
						stderr: &stderr, getenv: getenv, exit: func(int) {}})
				}()
				select {
				case status := <-ended:
					if args[0] != c.verb || args[len(args)-1] == "--json" {
						continue
					}
					if said := strings.Join(strings.Fields(stderr.String()), ""); status != exitFailure ||
						!strings.Contains(said, strings.ReplaceAll(filepath.Base(c.file), " ", "")) {
						t.Errorf("%v ended with %d:\n%s", args, status, stderr.String())
					}
					if strings.Contains(stderr.String(), "goroutine ") {
						t.Errorf("%v: %s", args, stderr.String())
					}
				case <-time.After(100 * time.Second):
					t.Fatalf("%v doesn't end", args)
				}
			}
		})
	}
}
