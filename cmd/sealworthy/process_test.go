//go:build unix

package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/creack/pty"
)

// patience is how long a test in real time waits for what must come: long,
// since the machine may be busy. Nothing is judged by how long it took.
const patience = 100 * time.Second

// heard collects what a process says.
type heard struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (h *heard) Write(p []byte) (int, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.Write(p)
}

var (
	colours = regexp.MustCompile("\x1b\\[[0-9;]*m")
	escapes = regexp.MustCompile("\x1b(\\[[0-9;]*[A-Za-z]|[78])")
)

// plain is what was said without escape codes, with single spaces: a terminal
// breaks lines where it likes.
func (h *heard) plain() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return strings.Join(strings.Fields(escapes.ReplaceAllString(colours.ReplaceAllString(h.text.String(), ""), " ")),
		" ")
}

func (h *heard) raw() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.text.String()
}

// process is a sealworthy of its own.
type process struct {
	t    *testing.T
	cmd  *exec.Cmd
	in   io.Writer
	out  heard // stdout; of a terminal all of it
	err  heard
	from int // of the plain words, what was awaited already
	done chan struct{}
}

func command(t *testing.T, args ...string) *process {
	t.Helper()
	if testing.Short() {
		t.Skip("real time between processes: runs without -short")
	}
	p := &process{t: t, cmd: exec.Command("sealworthy", args...), done: make(chan struct{})}
	p.cmd.Env = append(os.Environ(), "SEALWORTHY_HOME="+t.TempDir(), "NO_COLOR=", "TERM=xterm", "LANG=C.UTF-8")
	return p
}

// follow waits for the end in the background: of the process, and of reading
// what it said.
func (p *process) follow(read func()) {
	t := p.t
	go func() {
		read()
		_ = p.cmd.Wait() // the status is asked for below
		close(p.done)
	}()
	t.Cleanup(func() {
		select {
		case <-p.done:
		default:
			_ = p.cmd.Process.Kill()
			<-p.done
		}
	})
}

// start runs a process with pipes.
func start(t *testing.T, args ...string) *process {
	t.Helper()
	p := command(t, args...)
	in, err := p.cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.in, p.cmd.Stdout, p.cmd.Stderr = in, &p.out, &p.err
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p.follow(func() {})
	return p
}

// startTerminal runs a process on a terminal of 80 columns and 24 lines.
func startTerminal(t *testing.T, args ...string) *process {
	t.Helper()
	p := command(t, args...)
	p.onTerminal()
	return p
}

func (p *process) onTerminal() {
	p.t.Helper()
	f, err := pty.StartWithSize(p.cmd, &pty.Winsize{Rows: 24, Cols: 80})
	if err != nil {
		p.t.Fatal(err)
	}
	p.in = f
	p.follow(func() { io.Copy(&p.out, f) }) // ends with EIO when the process has gone
	p.t.Cleanup(func() { f.Close() })
}

// await waits for words that come after those awaited before.
func (p *process) await(words string) {
	p.t.Helper()
	p.awaitIn(&p.out, words)
}

func (p *process) awaitIn(h *heard, words string) {
	p.t.Helper()
	for end := time.Now().Add(patience); ; {
		gone := false
		select {
		case <-p.done: // asked first: what comes before its end counts
			gone = true
		default:
		}
		s := h.plain()
		if i := strings.Index(s[min(p.from, len(s)):], words); i >= 0 {
			p.from += i + len(words)
			return
		}
		if gone || time.Now().After(end) {
			p.t.Fatalf("%v: %q didn't come (ended: %v); after what was awaited before it said:\n%s\nstderr:\n%s",
				p.cmd.Args, words, gone, s[min(p.from, len(s)):], p.err.raw())
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// enter types a line, once its question could be read: what comes sooner isn't
// taken for its answer.
func (p *process) enter(line string) {
	p.t.Helper()
	time.Sleep(tooSoon + tooSoon/4)
	p.typeAhead(line)
}

// typeAhead types a line at once.
func (p *process) typeAhead(line string) {
	p.t.Helper()
	if _, err := io.WriteString(p.in, line+"\n"); err != nil {
		p.t.Fatal(err)
	}
}

func (p *process) signal(s syscall.Signal) {
	p.t.Helper()
	if err := p.cmd.Process.Signal(s); err != nil {
		p.t.Fatal(err)
	}
}

// status waits for the end.
func (p *process) status() int {
	p.t.Helper()
	select {
	case <-p.done:
	case <-time.After(patience):
		p.t.Fatalf("%v doesn't end; it said:\n%s\n%s", p.cmd.Args, p.out.raw(), p.err.raw())
	}
	return p.cmd.ProcessState.ExitCode()
}

// rigged is a simulated bench in a process of its own.
type rigged struct {
	*process
	rep rigReport
}

// putUpBench starts a rig with the tender on it and returns a build to measure.
func putUpBench(t *testing.T, args ...string) (dir string, r *rigged) {
	t.Helper()
	dir = tender(t)
	return dir, putUpFor(t, dir, args...)
}

// putUpFor starts a rig with a build on it.
func putUpFor(t *testing.T, dir string, args ...string) (r *rigged) {
	t.Helper()
	r = &rigged{process: start(t, append([]string{"rig", dir, "--json", "--verbose", "--seed", "7"}, args...)...)}
	for end := time.Now().Add(patience); ; time.Sleep(10 * time.Millisecond) {
		if json.Unmarshal([]byte(r.out.raw()), &r.rep) == nil {
			return r
		}
		if time.Now().After(end) {
			t.Fatalf("the rig didn't come up: %s %s", r.out.raw(), r.err.raw())
		}
	}
}

// tender copies the smallest build into a folder.
func tender(t *testing.T) string {
	t.Helper()
	return copyOf(t, "tender")
}

// copyOf copies one of the test's builds into a folder.
func copyOf(t *testing.T, name string) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), name)
	if err := os.CopyFS(dir, os.DirFS("testdata/plans/"+name)); err != nil {
		t.Fatal(err)
	}
	return dir
}

// ports are the flags that name the rig's ports; relays may be left out.
func (r *rigged) ports(relays bool) []string {
	f := []string{"--supply", r.rep.Ports.Supply, "--meter", r.rep.Ports.Meter}
	if relays {
		f = append(f, "--relays", r.rep.Ports.Relays)
	}
	return f
}

// says waits for a line of the rig.
func (r *rigged) says(words string) {
	r.t.Helper()
	r.awaitIn(&r.err, words)
}

// hand does something at the bench.
func (r *rigged) hand(line string) {
	r.t.Helper()
	r.typeAhead(line)
	r.says("ok: " + line)
}

// ends takes the bench down and tells what the output did.
func (r *rigged) ends() rigEnd {
	r.t.Helper()
	r.signal(syscall.SIGINT)
	if s := r.status(); s != exitReady {
		r.t.Errorf("the rig ended with %d: %s", s, r.err.raw())
	}
	var end rigEnd
	d := json.NewDecoder(strings.NewReader(r.out.raw()))
	var first, last json.RawMessage
	if err := errors.Join(d.Decode(&first), d.Decode(&last), json.Unmarshal(last, &end)); err != nil {
		r.t.Fatal(err)
	}
	mustConform(r.t, "rig", first)
	mustConform(r.t, "rig-end", last)
	return end
}

// mustBeOff checks that the output is off, and was never on twice in a row.
func (r *rigged) mustBeOff() (times int) {
	r.t.Helper()
	end := r.ends()
	if end.Output != "output off" {
		r.t.Errorf("the output was left: %s", end.Output)
	}
	for i, x := range end.Outputs {
		if x.On {
			times++
		}
		if x.On && (x.LimitA <= 0 || x.LimitA > 0.2) {
			r.t.Errorf("it went on with a limit of %v A", x.LimitA)
		}
		if i > 0 && x.On && end.Outputs[i-1].On {
			r.t.Errorf("on again without an off before: %+v", x)
		}
	}
	return times
}

// nextQuestion waits for whichever of these words comes first, and gives it.
func (p *process) nextQuestion(any ...string) string {
	p.t.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		s := p.out.plain()
		s = s[min(p.from, len(s)):]
		first, at := "", len(s)
		for _, w := range any {
			if i := strings.Index(s, w); i >= 0 && i < at {
				first, at = w, i
			}
		}
		if first != "" {
			p.from += at + len(first)
			return first
		}
	}
	p.t.Fatalf("none of %q came: %s", any, p.out.plain())
	return ""
}
