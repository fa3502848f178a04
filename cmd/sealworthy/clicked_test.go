//go:build linux

package main

import (
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A double click on a desktop, where there is no terminal: the maker's browser is opened
// on the page of all builds, in a folder of its own among the documents. A script that
// reads what the program says, and one without a desktop, get the list of verbs.
func TestDoubleClick(t *testing.T) {
	if testing.Short() {
		t.Skip("real time between processes: runs without -short")
	}
	home, tools := t.TempDir(), t.TempDir()
	opened := filepath.Join(home, "opened")
	script := fmt.Appendf(nil, "#!/bin/sh\necho \"$1\" > %s\n", opened)
	must(t, os.WriteFile(filepath.Join(tools, "xdg-open"), script, 0o755))
	must(t, os.Mkdir(filepath.Join(home, "Documents"), 0o755))
	start := func(desktop string) (*exec.Cmd, *os.File) {
		c := exec.Command("sealworthy")
		c.Dir = t.TempDir()
		c.Env = append(os.Environ(), "HOME="+home, "DISPLAY="+desktop, "WAYLAND_DISPLAY=",
			"PATH="+tools+":"+os.Getenv("PATH"), "SEALWORTHY_HOME="+t.TempDir(), "XDG_CONFIG_HOME=")
		out, err := os.Create(filepath.Join(t.TempDir(), "said"))
		must(t, err)
		t.Cleanup(func() { out.Close() })
		c.Stdout, c.Stderr = out, out // a file, as a session's log is
		return c, out
	}
	c, _ := start("")
	if err := c.Run(); c.ProcessState.ExitCode() != exitUsage {
		t.Errorf("without a desktop: %v", err)
	}
	c, _ = start(":1")
	c.Stdout = new(strings.Builder) // read by somebody
	if err := c.Run(); c.ProcessState.ExitCode() != exitUsage {
		t.Errorf("read by a script: %v", err)
	}
	c, out := start(":1")
	must(t, c.Start())
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	t.Cleanup(func() { _ = c.Process.Kill() })
	var address string
	for end := time.Now().Add(patience); address == ""; time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			said, _ := os.ReadFile(out.Name())
			t.Fatalf("no browser is opened; it says\n%s", said)
		}
		src, _ := os.ReadFile(opened)
		address = strings.TrimSpace(string(src))
	}
	a, err := http.Get(address)
	must(t, err)
	cookie := a.Cookies()[0]
	_ = a.Body.Close()
	at, _, _ := strings.Cut(address, "/enter")
	r, err := http.NewRequestWithContext(t.Context(), "GET", at+"/", nil)
	must(t, err)
	r.AddCookie(cookie)
	a, err = http.DefaultClient.Do(r)
	must(t, err)
	src := new(strings.Builder)
	must(t, a.Write(src))
	if folder := filepath.Join(home, "Documents", clickedFolder); !strings.Contains(src.String(), folder) ||
		!strings.Contains(src.String(), "A new one") {
		t.Errorf("it doesn't say %s:\n%s", folder, src)
	}
	must(t, c.Process.Signal(syscall.SIGTERM))
	select {
	case <-ended:
	case <-time.After(patience):
		t.Error("it doesn't end")
	}
}
