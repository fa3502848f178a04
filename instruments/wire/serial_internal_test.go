package wire

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"go.bug.st/serial"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/hold"
)

// fake is a port of the serial library; methods that are not called are absent.
type fake struct {
	serial.Port
	timeout time.Duration
	closed  bool
}

func (f *fake) SetReadTimeout(d time.Duration) error { f.timeout = d; return nil }
func (f *fake) ResetInputBuffer() error              { return nil }
func (f *fake) Close() error                         { f.closed = true; return nil }
func (f *fake) Read([]byte) (int, error) {
	if f.closed {
		panic("read of a port that was closed: the descriptor may be another's by now")
	}
	time.Sleep(time.Millisecond)
	return 0, nil
}

func yes(b bool) *bool { return &b }

func TestOpenLeavesStatusLinesAloneUnlessAsked(t *testing.T) {
	for name, k := range map[string]struct {
		line instruments.Line
		want *serial.ModemOutputBits
	}{
		"not asked": {instruments.Line{Baud: 9600}, nil},
		"DTR off":   {instruments.Line{Baud: 9600, DTR: yes(false)}, &serial.ModemOutputBits{DTR: false, RTS: true}},
		"RTS off":   {instruments.Line{Baud: 9600, RTS: yes(false)}, &serial.ModemOutputBits{DTR: true, RTS: false}},
		"both": {instruments.Line{Baud: 9600, DTR: yes(true), RTS: yes(true)},
			&serial.ModemOutputBits{DTR: true, RTS: true}},
	} {
		t.Run(name, func(t *testing.T) {
			f := &fake{}
			var got *serial.Mode
			o := opener{c: clock.Wall{}, system: "linux", locks: locksIn(t),
				open: func(_ string, m *serial.Mode) (serial.Port, error) {
					got = m
					return f, nil
				}}
			p, err := o.port(context.Background(), "/dev/ttyUSB0", k.line)
			if err != nil {
				t.Fatal(err)
			}
			if err := p.Close(); err != nil || !f.closed {
				t.Errorf("close: %v", err)
			}
			b := got.InitialStatusBits
			if (b == nil) != (k.want == nil) || b != nil && *b != *k.want {
				t.Errorf("status bits %+v, want %+v", b, k.want)
			}
			if got.DataBits != 8 || got.StopBits != serial.OneStopBit || f.timeout != readTimeout {
				t.Errorf("mode %+v, timeout %v", got, f.timeout)
			}
		})
	}
}

func TestOpenErrors(t *testing.T) {
	for name, k := range map[string]struct {
		system string
		err    error
		want   error
		hint   string
	}{
		"missing, Linux": {"linux", &fs.PathError{Op: "open", Err: syscall.ENOENT}, ErrNoSuchPort, "by-id"},
		"missing, bare":  {"darwin", fs.ErrNotExist, ErrNoSuchPort, "cu."},
		"access, bare":   {"linux", fs.ErrPermission, ErrNotAllowed, "dialout"},
		"busy":           {"windows", &serial.PortError{}, ErrBusy, "close other programs"},
		"what can't be":  {"linux", errors.New("inappropriate ioctl for device"), ErrNotSerial, "another port"},
	} {
		t.Run(name, func(t *testing.T) {
			o := opener{c: clock.Wall{}, system: k.system, locks: locksIn(t),
				open: func(string, *serial.Mode) (serial.Port, error) { return nil, k.err }}
			_, err := o.port(context.Background(), "COM9", instruments.Line{Baud: 9600})
			var pe *instruments.PortError
			if !errors.Is(err, k.want) || !errors.Is(err, k.err) || !errors.As(err, &pe) ||
				!strings.Contains(pe.Hint, k.hint) {
				t.Errorf("got %v", err)
			}
		})
	}
}

func TestFreshPortThatIsBusyIsTriedAgain(t *testing.T) {
	c := clock.NewSimulated(time.Date(2026, 3, 1, 9, 0, 0, 0, time.UTC))
	tries := 0
	o := opener{c: c, system: "linux", locks: locksIn(t), open: func(string, *serial.Mode) (serial.Port, error) {
		if tries++; tries < 5 {
			return nil, &serial.PortError{}
		}
		return &fake{}, nil
	}}
	p, err := o.port(context.Background(), "/dev/ttyACM0", instruments.Line{Baud: 9600})
	if err != nil || tries != 5 {
		t.Fatalf("%d tries, %v", tries, err)
	}
	p.Close()
	tries = -1000
	if _, err = o.port(context.Background(), "/dev/ttyACM0", instruments.Line{Baud: 9600}); !errors.Is(err, ErrBusy) ||
		!strings.Contains(err.Error(), "ID_MM_DEVICE_IGNORE") {
		t.Errorf("never free: %v", err)
	}
}

func TestLineModeRefusals(t *testing.T) {
	for _, l := range []instruments.Line{{}, {Baud: -1}, {Baud: 9600, DataBits: 9}, {Baud: 9600, Parity: "mark"},
		{Baud: 9600, StopBits: 3}} {
		if _, _, err := lineMode(l); !errors.Is(err, ErrLine) {
			t.Errorf("%+v: %v", l, err)
		}
	}
	m, l, err := lineMode(instruments.Line{Baud: 2400, DataBits: 7, Parity: "even", StopBits: 2})
	if err != nil || m.Parity != serial.EvenParity || m.StopBits != serial.TwoStopBits || l.Bits() != 11 {
		t.Errorf("%+v, %v", m, err)
	}
}

func TestPortPath(t *testing.T) {
	if got := portPath("darwin", "/dev/tty.usbserial-1"); got != "/dev/cu.usbserial-1" {
		t.Error(got)
	}
	if got := portPath("linux", "/dev/tty.usbserial-1"); got != "/dev/tty.usbserial-1" {
		t.Error(got)
	}
}

func TestPortIsLockedAgainstASecondOpening(t *testing.T) {
	dir := t.TempDir()
	real := filepath.Join(dir, "ttyUSB0")
	if err := os.WriteFile(real, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	locks := locksIn(t)
	release, err := lockPort(locks, real)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{real}
	if err := os.Symlink(real, filepath.Join(dir, "by-id")); err == nil {
		names = append(names, filepath.Join(dir, "by-id"))
	}
	for _, n := range names {
		if _, err := lockPort(locks, n); !errors.Is(err, ErrBusy) || !strings.Contains(err.Error(), "process ") {
			t.Errorf("%s: %v", n, err)
		}
	}
	if err := release(); err != nil {
		t.Fatal(err)
	}
	again, err := lockPort(locks, real)
	if err != nil {
		t.Fatal(err)
	}
	if err := again(); err != nil {
		t.Fatal(err)
	}
}

// locksIn is a folder for locks of a test's own.
func locksIn(t *testing.T) hold.Folder {
	return hold.Folder{Path: filepath.Join(t.TempDir(), "own", "locks"), Who: "a test, process 7"}
}

func TestListed(t *testing.T) {
	got := listed("darwin", []string{"/dev/tty.usbmodem1", "/dev/cu.usbmodem1", "/dev/cu.Bluetooth-Incoming-Port"},
		nil)
	if len(got) != 2 || got[1].Name != "/dev/cu.usbmodem1" || got[0].Hint == "" {
		t.Errorf("%+v", got)
	}
	got = listed("linux", []string{"/dev/ttyUSB1", "/dev/ttyS0"},
		map[string]string{"/dev/ttyUSB1": "/dev/serial/by-id/usb-meter"})
	if len(got) != 2 || got[1].Lasting != "/dev/serial/by-id/usb-meter" || got[1].Hint == "" || got[0].Hint == "" {
		t.Errorf("%+v", got)
	}
}
