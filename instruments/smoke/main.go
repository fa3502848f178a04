// Smoke talks to one real instrument and goes through what its driver promises:
//
//	go run ./instruments/smoke --port /dev/ttyUSB0 --profile "scpi supply"
//
// A supply is set to 1 V and 10 mA with its output off, read back, and, after
// you said yes, switched on for a second, read, and switched off. Relays are
// closed one by one, with a question before the first. A meter is read. Nothing
// is connected to the supply or behind the relays while it runs.
//
// It is for the bench, not for the tests: it needs hardware and somebody who
// watches. Try it on the simulated bench first (sealworthy rig).
package main

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdin, shown{os.Stdout})
	stop()
	if err != nil {
		fmt.Fprintln(shown{os.Stderr}, "smoke:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, in io.Reader, out io.Writer) error {
	f := flag.NewFlagSet("smoke", flag.ContinueOnError)
	port := f.String("port", "", "the serial port")
	name := f.String("profile", "scpi supply", "how the instrument speaks")
	folder := f.String("profiles", "", "a folder with profiles of your own")
	channels := f.Int("channels", 0, "of a relay board with fewer relays than its profile says")
	quiet := f.Bool("quiet", false, "don't show the bytes")
	if err := f.Parse(args); err != nil {
		return err
	}
	if *port == "" {
		return fmt.Errorf("which port? give --port")
	}
	p, err := profile.Load(*name, *folder)
	if err != nil {
		return err
	}
	if p.Relays != nil && *channels > 0 {
		p.Relays.Channels = min(*channels, p.Relays.Channels)
	}
	c := clock.Wall{}
	began := c.Now()
	open := wire.Serial(c, nil, nil)
	if !*quiet {
		open = wire.Tapped(c, open, func(at time.Time, _ string, d wire.Direction, b []byte) {
			fmt.Fprintf(out, "%8.3f s  %-5s %+q\n", at.Sub(began).Seconds(), string(d), b)
		})
	}
	x, err := bench.Connect(ctx, c, open, *port, p)
	if err != nil {
		return err
	}
	answers := bufio.NewReader(in)
	ask := func(question string) bool {
		fmt.Fprintf(out, "\n%s [yes/no] ", question)
		line, err := answers.ReadString('\n')
		return err == nil && strings.TrimSpace(line) == "yes"
	}
	fmt.Fprintf(out, "\nit is: %s\n", x.Identity)
	err = try(ctx, c, x, p, ask, out)
	if cerr := x.Port.Close(); err == nil {
		err = cerr
	}
	return err
}
