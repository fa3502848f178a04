package main

import (
	"bufio"
	"cmp"
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
	"strings"
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
bench. q or Ctrl-C ends it, the output off.

With --listen, or by a button at its foot, a tablet on a stand has the page,
too, or a helper's phone: over TLS, in this computer's own network. "sealworthy
help tablet" tells what its browser says then, and which six words to compare.
Of all pages one starts tests; a helper's may look, photograph and STOP.

STOP stands on each page in the same place. A test that no page shows any more
(closed, asleep, out of reach) pauses within two seconds, its output off; one
tap repeats the step. A soak and a warm-up go on without a page. Once the
program itself is killed it can't switch off: the supply's limit, set for each
step, holds then.

Ports come from BUILD/bench.toml, from your bench, which the page finds, tries
with you and writes down, or from the flags.`

// pageStart is how the page is started.
type pageStart struct {
	flags     benchFlags
	port      int
	open      bool // the maker's browser is opened
	simulated bool
	listen    listenFlag
	dir       string        // whose builds it lists; "": this folder
	alone     time.Duration // after how long without any open page it ends; 0: never
}

func runPage(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "page", pageHelp)
	p := pageStart{flags: benchFlags{room: noRoom, alone: "the page asks"}}
	x := &p.flags
	x.declarePorts(f)
	f.StringVar(&x.over.RelaysPort, "relays", "", "`port` of the relay board")
	x.declareHands(f)
	f.Float64Var(&x.room, "room", noRoom, "room temperature in `degC`; left out: unknown")
	f.IntVar(&p.port, "port", 0, "the `number` of the page's port on this computer; 0: one that is free")
	f.Var(&p.listen, "listen", "serve it to other devices, too; --listen=ADDRESS or --listen=ADDRESS:PORT says under "+
		"which of this computer's addresses")
	noOpen := f.Bool("no-open", false, "print the address, open nothing")
	f.BoolVar(&p.simulated, "simulated", false, "a copy of BUILD on a simulated bench, in a temporary folder")
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	if len(rest) > 0 && p.listen.on && net.ParseIP(rest[len(rest)-1]) != nil {
		return exitUsage, misuse("page", "an address follows --listen with a sign: --listen=%s", rest[len(rest)-1])
	}
	if len(rest) > 1 || p.simulated && len(rest) == 0 {
		return exitUsage, misuse("page", "takes one BUILD, or none: all of this folder; --simulated needs one")
	}
	p.open = !*noOpen && isTerminal(e.stdout)
	return p.run(ctx, e, rest...)
}

// run serves the page of a build, or of a folder of them.
func (p pageStart) run(ctx context.Context, e env, args ...string) (int, error) {
	w := &pageWork{e: e, w: machine(), flags: p.flags, seed: rand.Uint64, warm: returns.Warm, dir: p.dir,
		sims: map[string]*simulatedBuild{}}
	first, err := w.start(args, p.simulated)
	if err != nil {
		return exitFailure, err
	}
	l, err := net.Listen("tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(p.port)))
	if err != nil {
		return exitFailure, withHint(err, "is the page open already? --port takes another number")
	}
	at := l.Addr().String()
	_, port, err := net.SplitHostPort(at)
	if err != nil {
		return exitFailure, errors.Join(err, l.Close())
	}
	o := page.Options{Work: w, Plans: w, Now: time.Now, Hosts: []string{at, "localhost:" + port}, First: first,
		Alone: p.alone}
	if p.listen.on {
		if o.Beyond, err = p.listen.beyond(e, machineNetwork(), time.Now()); err != nil {
			return exitFailure, errors.Join(err, l.Close())
		}
	} else {
		o.Listen = func() (*page.Beyond, error) { return p.listen.beyond(e, machineNetwork(), time.Now()) }
	}
	ctx, stop := signal.NotifyContext(ctx, capture.Signals()...)
	defer stop()
	if first != "" {
		w.ahead([]string{cmp.Or(w.only, w.dir)})
	}
	return exitReady, p.serve(ctx, e, l, o)
}

// start takes the build that was named, or the folder.
func (p *pageWork) start(args []string, simulated bool) (first string, err error) {
	if len(args) == 0 {
		if p.dir, err = filepath.Abs(cmp.Or(p.dir, ".")); err != nil {
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

// serve serves the page until ctx ends.
func (p pageStart) serve(ctx context.Context, e env, l net.Listener, o page.Options) error {
	s, err := page.New(ctx, o)
	if err != nil {
		return errors.Join(err, l.Close())
	}
	address := func() string { return "http://" + o.Hosts[0] + page.Entry(s.Code()) }
	a := address()
	fmt.Fprintf(e.stdout, "The bench page, good once: %s\n", a)
	if o.Beyond != nil {
		sayBeyond(e, s, o.Beyond, page.Maker)
		sayWarning(e)
		wrap(e.stderr, "", "", "Enter prints new addresses, \"helper\" and Enter one for a helper: to look, "+
			"photograph "+
			"and STOP. q or Ctrl-C ends it, the output off.")
	} else {
		fmt.Fprintln(e.stderr, "Enter prints a new address. q or Ctrl-C ends it, the output off.")
		fmt.Fprintln(e.stderr, "On a tablet or a phone, too: Another device, at the foot of the page.")
	}
	if p.open {
		if err := openBrowser(ctx, a); err != nil {
			wrap(e.stderr, "note: ", "  ", "no browser could be opened ("+err.Error()+"): open that address yourself")
		}
	}
	if o.Beyond != nil {
		instruments.Go(func() { sayMoved(ctx, e, machineNetwork(), o.Beyond) }, func(error) {})
	}
	ignoreBackground()
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	instruments.Go(func() { // ends with the process: a read can't be stopped
		for in := bufio.NewScanner(e.stdin); in.Scan(); {
			if stops(strings.TrimSpace(in.Text())) {
				stop()
				return
			}
			role := page.Maker
			if strings.EqualFold(strings.TrimSpace(in.Text()), string(page.Helper)) {
				role = page.Helper
			} else {
				fmt.Fprintf(e.stdout, "Another address, good once: %s\n", address())
			}
			if o.Beyond != nil {
				sayBeyond(e, s, o.Beyond, role)
			}
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
