//go:build unix

package suite_test

import (
	"bufio"
	"context"
	"os"
	"syscall"
	"testing"

	"github.com/creack/pty"
	"golang.org/x/term"

	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// The bytes of one reading, as the driver and the bare exchange send them.
const question, answer = "READ?\n", "+1.99998000E-02\n"

// pseudoMeter is a pseudo terminal with a meter at its far end that answers at
// once. It gives the near end, open and in raw mode.
func pseudoMeter(b *testing.B) *os.File {
	b.Helper()
	master, slave, err := pty.Open()
	if err != nil {
		b.Fatal(err)
	}
	if _, err := term.MakeRaw(int(slave.Fd())); err != nil {
		b.Fatal(err)
	}
	go func() {
		in := bufio.NewReader(master)
		for {
			s, err := in.ReadString('\n')
			if err != nil {
				return
			}
			reply := map[string]string{question: answer, "*IDN?\n": "BENCH,METER,2,1.0\n",
				"SYST:ERR?\n": "0,\"No error\"\n"}[s]
			if reply != "" {
				if _, err := master.WriteString(reply); err != nil {
					return
				}
			}
		}
	}()
	b.Cleanup(func() { slave.Close(); master.Close() })
	return slave
}

// cpu is the processor time of this process so far, in seconds.
func cpu(b *testing.B) float64 {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return float64(u.Utime.Sec+u.Stime.Sec) + float64(u.Utime.Usec+u.Stime.Usec)/1e6
}

// BenchmarkExchange is one reading in wall time: by the driver through the serial
// library, and beside it a bare write and read of the same bytes. Neither end is
// paced, so this is the machine's own time; a real line adds its own, 23 ms at
// 9600 baud. cpu-%@20/s is what 20 readings a second take of one core, the far
// end included.
func BenchmarkExchange(b *testing.B) {
	var bare float64 // s
	b.Run("bare", func(b *testing.B) {
		near := pseudoMeter(b)
		buf := make([]byte, 64)
		for b.Loop() {
			if _, err := near.WriteString(question); err != nil {
				b.Fatal(err)
			}
			for got := 0; got < len(answer); {
				n, err := near.Read(buf)
				if err != nil {
					b.Fatal(err)
				}
				got += n
			}
		}
		bare = b.Elapsed().Seconds() / float64(b.N)
	})
	b.Run("driver", func(b *testing.B) {
		p, err := profile.Load("scpi meter", "")
		if err != nil {
			b.Fatal(err)
		}
		p.Meter.SettlingMs = 0
		c, ctx := clock.Wall{}, context.Background()
		x, err := bench.Connect(ctx, c, wire.Serial(c, nil, nil), pseudoMeter(b).Name(), p)
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { x.Port.Close() })
		read := func() {
			if _, err := x.Meter.Read(ctx, instruments.Current); err != nil {
				b.Fatal(err)
			}
		}
		read() // it chooses its quantity at the first
		used := cpu(b)
		for b.Loop() {
			read()
		}
		used = cpu(b) - used
		each := b.Elapsed().Seconds() / float64(b.N)
		b.ReportMetric(100*20*used/float64(b.N), "cpu-%@20/s")
		if bare > 0 {
			b.ReportMetric(each/bare, "times-bare")
			b.ReportMetric((each-bare)*1e6, "µs-over-bare")
		}
	})
}
