package rig_test

import (
	"context"
	"runtime"
	"testing"
	"time"

	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// BenchmarkCapture reads a meter for 20 s of simulated time, 8.2 readings/s at
// 9600 baud. It reports how much faster than the machine's time that is.
func BenchmarkCapture(b *testing.B) {
	for _, memory := range []bool{true, false} {
		name := "pty"
		if memory {
			name = "memory"
		} else if runtime.GOOS == "windows" {
			continue
		}
		b.Run(name, func(b *testing.B) {
			c := clock.NewSimulated(start)
			bench, err := rig.New(context.Background(), c, bench2(), rig.Options{MemoryPorts: memory})
			if err != nil {
				b.Fatal(err)
			}
			defer bench.Close()
			port := func(name string) *user {
				p, err := bench.Opener()(context.Background(), name, line)
				if err != nil {
					b.Fatal(err)
				}
				b.Cleanup(func() { p.Close() })
				return &user{c: c, p: p}
			}
			s, m := port(bench.Ports().Supply), port(bench.Ports().Meter)
			bench.Connect("beacon")
			for _, cmd := range []string{"VOLT 12;CURR 0.1;:OUTP ON;*OPC?"} {
				s.p.Write(context.Background(), []byte(cmd+"\n"))
				s.tryReply()
			}
			m.p.Write(context.Background(), []byte("CURR:DC:RANG 0.2\n"))
			readings := 0
			began := c.Now()
			b.ResetTimer()
			for range b.N {
				for end := c.Now().Add(20 * time.Second); c.Now().Before(end); readings++ {
					m.p.Write(context.Background(), []byte("READ?\n"))
					if _, err := m.tryReply(); err != nil {
						b.Fatal(err)
					}
				}
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(readings), "µs/reading")
			b.ReportMetric(c.Now().Sub(began).Seconds()/b.Elapsed().Seconds(), "times-real")
		})
	}
}
