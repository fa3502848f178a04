package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strconv"
	"time"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/page"
	"sealworthy/compare/returns"
	"sealworthy/instruments"
)

const pageHelp = `sealworthy page [BUILD] [--supply PORT --meter PORT --relays PORT]

The bench page: the power-on test in a browser, to be read from two metres.
It prints an address and opens it; the address is good once, for a quarter of
an hour, and only on this computer. Enter prints a new one. Without BUILD it
lists the builds of this folder, and can begin a new one or open a simulated
bench. Ctrl-C ends it, the output off.

STOP stands on each page in the same place. A test that no page shows any more
(closed, asleep, out of reach) pauses within two seconds, its output off; one
tap repeats the step. A soak and a warm-up go on without a page. Once the
program itself is killed it can't switch off: the supply's limit, set for each
step, holds then.

Ports come from BUILD/bench.toml or from the flags.`

func runPage(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "page", pageHelp)
	x := benchFlags{room: noRoom, alone: "the page asks"}
	x.declarePorts(f)
	f.StringVar(&x.over.RelaysPort, "relays", "", "`port` of the relay board")
	x.declareHands(f)
	f.Float64Var(&x.room, "room", noRoom, "room temperature in `degC`; left out: unknown")
	port := f.Int("port", 0, "the `number` of the page's port; 0: one that is free")
	noOpen := f.Bool("no-open", false, "print the address, open nothing")
	simulated := f.Bool("simulated", false, "a copy of BUILD on a simulated bench, in a temporary folder")
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	if len(rest) > 1 || *simulated && len(rest) == 0 {
		return exitUsage, misuse("page", "takes one BUILD, or none: all of this folder; --simulated needs one")
	}
	w := &pageWork{e: e, w: machine(), flags: x, seed: rand.Uint64, warm: returns.Warm,
		sims: map[string]*simulatedBuild{}}
	first, err := w.start(rest, *simulated)
	if err != nil {
		return exitFailure, err
	}
	l, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(*port)))
	if err != nil {
		return exitFailure, withHint(err, "is the page open already? --port takes another number")
	}
	ctx, stop := signal.NotifyContext(ctx, capture.Signals()...)
	defer stop()
	return exitReady, servePage(ctx, e, w, l, first, !*noOpen)
}

// start takes the build that was named, or the folder.
func (p *pageWork) start(args []string, simulated bool) (first string, err error) {
	if len(args) == 0 {
		if p.dir, err = filepath.Abs("."); err != nil {
			return "", err
		}
		if _, serr := os.Stat(filepath.Join(p.dir, planFile)); serr == nil {
			first = buildID(p.dir)
		}
		return first, nil
	}
	b, err := openBuild(p.e, args[0])
	if err != nil {
		return "", err
	}
	if simulated {
		dir, err := p.copied(b)
		if err != nil {
			return "", err
		}
		p.only = dir
		return p.simulate(&simulatedBuild{dir: dir, seed: p.seed()}), nil
	}
	p.only, err = filepath.Abs(b.dir)
	return buildID(p.only), err
}

// copied copies a plan and its bench into a temporary folder: what a simulated bench
// shows never gets among the readings of a real model.
func (p *pageWork) copied(b build) (string, error) {
	dir, err := temporaryFolder("simulated")
	if err != nil {
		return "", err
	}
	if err := writeOnce(filepath.Join(dir, planFile), b.src); err != nil {
		return "", err
	}
	src, err := readFile(filepath.Join(b.dir, benchFile), mostBytes)
	if errors.Is(err, os.ErrNotExist) {
		return dir, nil
	}
	if err == nil {
		err = writeOnce(filepath.Join(dir, benchFile), src)
	}
	return dir, err
}

// servePage serves the page until ctx ends.
func servePage(ctx context.Context, e env, w *pageWork, l net.Listener, first string, open bool) error {
	at := l.Addr().String()
	_, port, err := net.SplitHostPort(at)
	if err != nil {
		return errors.Join(err, l.Close())
	}
	s, err := page.New(ctx, page.Options{Work: w, Plans: w, Now: time.Now, Hosts: []string{at, "localhost:" + port},
		First: first})
	if err != nil {
		return errors.Join(err, l.Close())
	}
	address := func() string { return "http://" + at + page.Entry(s.Code()) }
	a := address()
	fmt.Fprintf(e.stdout, "The bench page, good once: %s\n", a)
	fmt.Fprintln(e.stderr, "Enter prints a new address. Ctrl-C ends it, the output off.")
	if open && isTerminal(e.stdout) {
		if err := openBrowser(ctx, a); err != nil {
			wrap(e.stderr, "note: ", "  ", "no browser could be opened ("+err.Error()+"): open that address yourself")
		}
	}
	ignoreBackground()
	instruments.Go(func() { // ends with the process: a read can't be stopped
		for in := bufio.NewScanner(e.stdin); in.Scan(); {
			fmt.Fprintf(e.stdout, "Another address, good once: %s\n", address())
		}
	}, func(error) {})
	return s.Serve(ctx, l)
}

// openBrowser opens an address in the maker's browser.
func openBrowser(ctx context.Context, address string) error {
	var c *exec.Cmd
	switch runtime.GOOS {
	case "windows":
		c = exec.CommandContext(ctx, "rundll32", "url.dll,FileProtocolHandler", address)
	case "darwin":
		c = exec.CommandContext(ctx, "open", address)
	default:
		c = exec.CommandContext(ctx, "xdg-open", address)
	}
	return c.Start()
}
