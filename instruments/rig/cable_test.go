package rig_test

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
	"sealworthy/instruments/wire"
)

func TestUnplugInMidReadingAndReplug(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory, Seed: 3})
		s.b.Connect("cabin")
		s.supply.do("VOLT 12;CURR 0.1;:OUTP ON")
		who := s.meter.ask("*IDN?")
		old := s.b.Ports().Meter
		began := s.c.Now()
		s.c.Go(func() {
			s.c.Wait(context.Background(), nil, began.Add(40*time.Millisecond))
			if err := s.b.Unplug(rig.Meter); err != nil {
				t.Error(err)
			}
		})
		s.meter.send("READ?")
		if _, err := s.meter.tryReply(); !errors.Is(err, instruments.ErrPortGone) {
			t.Fatalf("in mid-reading: %v", err)
		}
		if got := s.c.Now().Sub(began); got != 40*time.Millisecond {
			t.Errorf("the lost port was noticed after %v", got)
		}
		if err := s.meter.p.Write(context.Background(), []byte("READ?\n")); !errors.Is(err, instruments.ErrPortGone) {
			t.Errorf("write: %v", err)
		}
		s.meter.p.Close()
		if _, err := s.b.Opener()(context.Background(), old, line); !errors.Is(err, wire.ErrNoSuchPort) {
			t.Errorf("open while it is out: %v", err)
		}
		if p := s.b.Ports(); p.Meter != "" || p.Supply == "" {
			t.Errorf("ports: %+v", p)
		}
		// The other instruments don't mind, and nothing hangs.
		if r := s.supply.ask("OUTP?"); r != "1" {
			t.Errorf("output %q", r)
		}
		name, err := s.b.Replug(rig.Meter, true)
		if err != nil || name == "" || name == old {
			t.Fatalf("back as %q, %v", name, err)
		}
		m := open(t, s.c, s.b, name)
		if r := m.ask("*IDN?"); r != who {
			t.Errorf("back as %s, was %s", r, who)
		}
		near(t, "reading after it", m.number("READ?"), 0.012, 1e-4)
	})
}

func TestPortCanBeClosedAndOpenedAgain(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		s := up(t, bench2(), rig.Options{MemoryPorts: memory})
		if _, err := s.b.Opener()(context.Background(), s.b.Ports().Supply, line); !errors.Is(err, wire.ErrBusy) {
			t.Errorf("opened twice: %v", err)
		}
		s.supply.do("VOLT 7")
		s.supply.send("OUTP ON") // and away, before the bytes are over
		s.supply.p.Close()
		s.meter.pause(time.Second)
		if !s.b.Output().On {
			t.Error("what was sent before closing is lost")
		}
		s.meter.send("*IDN?") // the reply comes when nobody listens
		s.meter.p.Close()
		s.relays.pause(time.Second)
		m := open(t, s.c, s.b, s.b.Ports().Meter)
		if r := m.ask("SYST:VERS?"); r != "1999.0" {
			t.Errorf("first answer after opening again: %q", r)
		}
		again := open(t, s.c, s.b, s.b.Ports().Supply)
		if r := again.ask("VOLT?"); r != "7.0000" {
			t.Errorf("after opening again: %q", r)
		}
	})
}

func TestBenchEndsWithItsContext(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		before := runtime.NumGoroutine()
		files := openFiles(t)
		for range 3 {
			c := clock.NewSimulated(start)
			ctx, cancel := context.WithCancel(context.Background())
			b, err := rig.New(ctx, c, bench2(), rig.Options{MemoryPorts: memory})
			if err != nil {
				t.Fatal(err)
			}
			u := &user{t: t, c: c}
			if u.p, err = b.Opener()(ctx, b.Ports().Meter, line); err != nil {
				t.Fatal(err)
			}
			u.ask("*IDN?")
			u.send("READ?") // left in the middle
			cancel()
			if err := errors.Join(b.Close(), u.p.Close()); err != nil {
				t.Error(err)
			}
		}
		for n := 0; runtime.NumGoroutine() > before && n < 100; n++ {
			time.Sleep(10 * time.Millisecond)
		}
		if after := runtime.NumGoroutine(); after > before {
			buf := make([]byte, 1<<16)
			t.Errorf("%d goroutines before, %d after\n%s", before, after, buf[:runtime.Stack(buf, true)])
		}
		if after := openFiles(t); after > files {
			t.Errorf("%d descriptors before, %d after", files, after)
		}
	})
}

// openFiles counts this process's descriptors where the system shows them.
func openFiles(t *testing.T) int {
	d, err := os.ReadDir("/proc/self/fd")
	if err != nil {
		return 0
	}
	return len(d)
}

// Another process opens the port in wall time, is killed, and a second one
// finds the port as it should be. The child is this test binary.
func TestAnotherProcessUsesThePort(t *testing.T) {
	if name := os.Getenv("RIG_TEST_PORT"); name != "" {
		child(name)
		return
	}
	t.Parallel()
	if !rig.PseudoTerminals {
		t.Skip("a memory port is seen by its own process only")
	}
	b, err := rig.New(context.Background(), clock.Wall{}, bench2(),
		rig.Options{Supply: rig.SupplyOptions{LineOptions: rig.LineOptions{Line: instruments.Line{Baud: 115200,
			DataBits: 8, StopBits: 1}}}})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	for range 2 {
		cmd := exec.Command(os.Args[0], "-test.run", "^TestAnotherProcessUsesThePort$")
		cmd.Env = append(os.Environ(), "RIG_TEST_PORT="+b.Ports().Supply)
		out, err := cmd.CombinedOutput()
		if err == nil || !strings.Contains(string(out), "SIMULATED BENCH,SUPPLY") {
			t.Fatalf("%v: %s", err, out)
		}
		if b.Output().On != true {
			t.Error("the output is off")
		}
	}
}

// child asks and dies without closing anything.
func child(name string) {
	p, err := wire.Serial(clock.Wall{}, nil, nil)(context.Background(), name, instruments.Line{Baud: 115200})
	if err == nil {
		u := &user{c: clock.Wall{}, p: p}
		err = p.Write(context.Background(), []byte("OUTP ON;*IDN?\n"))
		if err == nil {
			var r string
			r, err = u.tryReply()
			os.Stdout.WriteString(r + "\n")
		}
	}
	if err != nil {
		os.Stdout.WriteString(err.Error() + "\n")
	}
	self, _ := os.FindProcess(os.Getpid())
	self.Kill()
	select {}
}

// A link in the bench's folder is the port's name, and stays it through a replug; a
// pulled cable has none.
func TestLastingNames(t *testing.T) {
	if !rig.PseudoTerminals {
		t.Skip("no pseudo terminals here")
	}
	ctx, c := context.Background(), clock.Wall{}
	folder := t.TempDir()
	b, err := rig.New(ctx, c, &testLoad{}, rig.Options{Folder: folder})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	name := b.Ports().Meter
	if filepath.Dir(name) != folder {
		t.Errorf("the meter's port is called %s", name)
	}
	first, err := filepath.EvalSymlinks(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Unplug(rig.Meter); err != nil {
		t.Fatal(err)
	}
	if _, err := os.Lstat(name); err == nil {
		t.Error("a pulled cable has a port")
	}
	again, err := b.Replug(rig.Meter, true)
	if err != nil || again != name {
		t.Errorf("plugged in again it is %q, %v", again, err)
	}
	second, err := filepath.EvalSymlinks(name)
	if err != nil || second == first {
		t.Errorf("the port behind it was %s and is %s, %v", first, second, err)
	}
	p, err := b.Opener()(ctx, name, instruments.Line{Baud: 9600})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Close(); err != nil {
		t.Error(err)
	}
}
