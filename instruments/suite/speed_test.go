package suite_test

import (
	"context"
	"fmt"
	"testing"
	"time"

	"sealworthy/instruments"
)

// BenchmarkReadings reads in simulated time over a paced line. waste-% is what
// the driver adds to what the line and the instrument need for the bytes of its
// replies; cpu-%@20/s is what 20 readings a second take of a core, fake
// instrument and clock included.
func BenchmarkReadings(b *testing.B) {
	for _, x := range []struct {
		profile string
		baud    int
		bytes   int // of a reply
	}{
		{"scpi meter", 9600, 14}, {"scpi meter", 115200, 14},
		{"scpi supply", 9600, 7}, {"scpi supply", 115200, 7},
		{"modbus supply", 9600, 0}, {"terse supply", 9600, 5},
	} {
		b.Run(fmt.Sprintf("%s/%d", x.profile, x.baud), func(b *testing.B) {
			p := load(b, x.profile)
			p.Line.Baud = x.baud
			f, c := putUp(b, p, drivers()[x.profile](), nil)
			f.True(5, 0.02)
			ctx := context.Background()
			read := func() error {
				var err error
				if c.Supply != nil {
					_, err = c.Supply.Read(ctx, instruments.Current)
				} else {
					_, err = c.Meter.Read(ctx, instruments.Current)
				}
				return err
			}
			if err := read(); err != nil {
				b.Fatal(err)
			}
			began := f.c.Now()
			b.ResetTimer()
			for b.Loop() {
				if err := read(); err != nil {
					b.Fatal(err)
				}
			}
			each := f.c.Now().Sub(began) / time.Duration(b.N)
			b.ReportMetric(1/each.Seconds(), "readings/s(simulated)")
			if x.bytes > 0 {
				need := time.Duration(p.Talk.GapMs)*time.Millisecond + 2*time.Millisecond + time.Duration(x.bytes)*p.SerialLine().CharTime()
				b.ReportMetric(100*float64(each-need)/float64(each), "waste-%")
			}
			b.ReportMetric(100*20*b.Elapsed().Seconds()/float64(b.N), "cpu-%@20/s")
		})
	}
}
