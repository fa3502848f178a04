package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/find"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/smoke"
	"sealworthy/instruments/wire"
)

const benchHelp = `sealworthy bench [--port PORT]... [--profile PORT=NAME]... [--try] [--save]
       sealworthy bench --print NAME

Finds the instruments on your ports, tells what was found, what not and why,
tries them with you if you like, and writes them down, for all your builds: one
that has a bench.toml of its own goes by that. What can't be on a port beside
what was found there leaves it; the bench of before is kept beside the new one.

It asks what can do no harm: who is there, at the usual speeds, and one Modbus
register, at ordinary addresses and parities; what it asked in vain it says. A
silent port takes it 40 s. Nothing is switched on before you said yes; q ends
it, the output off. On a terminal it asks whether to try and to save; elsewhere
--try and --save say so. Ports on which something else than an instrument stands
are left out by naming the others: --port.

No port? --supply-by-hand and --typed-meter write down that you set the one and
read the other.

--print NAME prints a profile, to start one of your own from. Your own lie in a
folder that is named at the end, one NAME.toml each; sealworthy explain
tells their keys.`

// benchVerb is what the verb takes.
type benchVerb struct {
	ports, profiles     names
	channel             int
	print               string
	try, save, asJSON   bool
	events              bool
	supplyByHand, typed bool
	looked              func() ([]wire.Listed, error) // lists the ports where none is named
}

// benchReport is what the verb prints with --json.
type benchReport struct {
	Looked   []session.Looked `json:"looked"`
	Saved    string           `json:"saved,omitempty"`    // the file that they were written to
	Profiles string           `json:"profiles,omitempty"` // the folder of the maker's own
	Broken   []string         `json:"broken,omitempty"`   // profiles there that don't parse
	// What is the maker's own hand or eye was written down as that.
	SupplyByHand bool `json:"supply_by_hand,omitempty"`
	TypedMeter   bool `json:"typed_meter,omitempty"`
}

func runBench(ctx context.Context, e env, args []string) (int, error) {
	return benchIn(ctx, e, machine(), args)
}

func benchIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "bench", benchHelp)
	v := benchVerb{looked: wire.List}
	f.Var(&v.ports, "port", "look at this `port` only, as tcp://HOST:PORT for one on the network; may be given again")
	f.Var(&v.profiles, "profile", "the `PORT=NAME` of how the instrument there speaks; NAME alone with one --port")
	f.IntVar(&v.channel, "channel", 0, "`number` of the output in use, of a supply with several")
	f.StringVar(&v.print, "print", "", "print the profile of this `name`")
	f.BoolVar(&v.try, "try", false, "try each instrument that is found; you are asked before anything goes on")
	f.BoolVar(&v.save, "save", false, "write down what was found")
	f.BoolVar(&v.supplyByHand, "supply-by-hand", false, "you set the supply: write that down instead of one")
	f.BoolVar(&v.typed, "typed-meter", false, "you type what the meter shows: write that down instead of one")
	f.BoolVar(&v.events, "events", false, eventsUsage)
	f.BoolVar(&v.asJSON, "json", false, "print it as JSON; asks nothing")
	if _, err := parse(f, args, 0); err != nil {
		return exitUsage, err
	}
	folder := ""
	if dir, err := configDir(e); err == nil {
		folder = profileFolder(dir)
	}
	if v.print != "" {
		src, err := profile.Source(v.print, folder)
		if err != nil {
			return exitUsage, misuse("bench", "%v", err)
		}
		_, err = e.stdout.Write(src)
		return exitReady, err
	}
	x := benchFlags{events: v.events}
	return x.spoken(e, w, func(e env) (int, error) { return v.run(ctx, e, w, folder) })
}

func (v benchVerb) run(ctx context.Context, e env, w world, folder string) (int, error) {
	attended := !v.asJSON && (e.at != nil || w.terminal(e.stdin))
	if v.try && !attended && !v.asJSON {
		return exitFailure, withHint(errors.New("nobody to ask: the input is no terminal"),
			"leave --try out: without a yes nothing is switched on", "a program answers with --events")
	}
	at, leave := sitDown(e, w, attended)
	defer leave()
	rep, err := v.search(ctx, at, w, folder)
	switch {
	case errors.Is(err, capture.ErrStopped) && !errors.Is(err, smoke.ErrMayBeOn):
		fmt.Fprintln(e.stderr, "Stopped, the output off. Nothing was written down.")
		return exitNotReady, nil
	case err != nil:
		return statusOf(err), err
	case v.asJSON || v.events:
		return exitReady, e.found(rep)
	}
	if !attended {
		for _, x := range rep.Looked {
			sayLooked(e.stdout, columnsOf(e.stdout), x)
		}
	}
	rep.say(e.stdout)
	return exitReady, nil
}

// search looks for the instruments, tries them and writes them down, with all that is
// told and asked at a seat.
func (v benchVerb) search(ctx context.Context, at seat, w world, folder string) (benchReport, error) {
	finder, broken := finderOf(w, folder)
	rep := benchReport{Profiles: folder, Broken: broken, Looked: []session.Looked{}, SupplyByHand: v.supplyByHand,
		TypedMeter: v.typed}
	chosen, err := v.chosen(folder)
	if err != nil {
		return rep, err
	}
	ports, err := v.portsToLook()
	if err != nil {
		return rep, err
	}
	s := session.Search{World: w.World, Guard: at.guard, Desk: at.desk, Finder: finder, Folder: folder, Ports: ports,
		Chosen: chosen, Channel: v.channel, ByHand: v.supplyByHand, Typed: v.typed, Try: v.try, Write: v.save}
	if folder != "" {
		config := filepath.Dir(folder)
		s.Known = knownJack(config)
		s.Keep = func(taken []*session.Looked) (string, error) {
			for _, x := range taken {
				if err := saveProfile(x, folder); err != nil {
					return "", err
				}
			}
			return saveBench(config, taken, v.supplyByHand, v.typed)
		}
	}
	got, err := s.Run(ctx)
	rep.Looked, rep.Saved = got.Looked, got.Saved
	return rep, err
}

// finderOf takes every profile that can be read; the others are named.
func finderOf(w world, folder string) (f find.Finder, broken []string) {
	f = find.Finder{Clock: w.Clock, Open: w.Open, Own: map[string]bool{}}
	entries, err := profile.List(folder)
	if err != nil {
		broken = strings.Split(err.Error(), "\n")
	}
	for _, x := range entries {
		p, err := profile.Load(x.Name, folder)
		if err != nil {
			continue // it is among the broken ones
		}
		f.Own[x.Name] = !x.BuiltIn
		if x.BuiltIn {
			f.Profiles = append(f.Profiles, p)
		} else {
			f.Profiles = append([]*profile.Profile{p}, f.Profiles...)
		}
	}
	return f, broken
}

// chosen are the profiles that the maker chose, by port.
func (v benchVerb) chosen(folder string) (map[string]*profile.Profile, error) {
	out := map[string]*profile.Profile{}
	for _, s := range v.profiles {
		port, name, both := cutLast(s)
		if !both {
			if len(v.ports) != 1 {
				return nil, misuse("bench", "--profile %s: of which port? Write --profile PORT=%s", s, s)
			}
			port, name = v.ports[0], s
		}
		p, err := profile.Load(name, folder)
		if err != nil {
			return nil, misuse("bench", "%v", err)
		}
		out[port] = p
	}
	return out, nil
}

// cutLast parts PORT=NAME; a name of a port may hold the sign, too.
func cutLast(s string) (port, name string, both bool) {
	i := strings.LastIndexByte(s, '=')
	if i < 0 {
		return "", s, false
	}
	return s[:i], s[i+1:], true
}

// portsToLook are those that were named, or all that the system lists, each by the
// name that lasts.
func (v benchVerb) portsToLook() ([]string, error) {
	if len(v.ports) > 0 || v.supplyByHand && v.typed {
		return v.ports, nil
	}
	listed, err := v.looked()
	if err != nil {
		return nil, err
	}
	var out []string
	for _, p := range listed {
		out = append(out, cmp.Or(p.Lasting, p.Name))
	}
	return out, nil
}

// makersBenchFile is where the instruments of the maker are written down.
func makersBenchFile(config string) string { return filepath.Join(config, benchFile) }
