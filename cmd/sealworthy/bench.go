package main

import (
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
that has a bench.toml of its own goes by that.

It asks what can do no harm: who is there, at the usual speeds, and one Modbus
register, at ordinary addresses and parities; what it asked in vain it says. A
silent port takes it 40 s. Nothing is switched on before you said yes; q ends
it, the output off. On a terminal it asks whether to try and to save; elsewhere
--try and --save say so. Ports on which something else than an instrument stands
are left out by naming the others: --port.

--print NAME prints a profile, to start one of your own from. Your own lie in a
folder that is named at the end, one NAME.toml each; sealworthy explain
tells their keys.`

// benchVerb is what the verb takes.
type benchVerb struct {
	ports, profiles   names
	channel           int
	print             string
	try, save, asJSON bool
}

// benchReport is what the verb prints with --json.
type benchReport struct {
	Looked   []lookedAt `json:"looked"`
	Saved    string     `json:"saved,omitempty"`    // the file that they were written to
	Profiles string     `json:"profiles,omitempty"` // the folder of the maker's own
	Broken   []string   `json:"broken,omitempty"`   // profiles there that don't parse
}

// lookedAt is what came of one port.
type lookedAt struct {
	find.Looked
	DrivenBy string         `json:"driven_by,omitempty"` // the profile, by name
	Trial    *session.Trial `json:"trial,omitempty"`
	Tried    bool           `json:"tried,omitempty"` // with the maker's hands

	use *profile.Profile // nil: none drives it
	src []byte           // of a profile that is to be written; nil: it is there
}

func runBench(ctx context.Context, e env, args []string) (int, error) {
	return benchIn(ctx, e, machine(), args)
}

func benchIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "bench", benchHelp)
	var v benchVerb
	f.Var(&v.ports, "port", "look at this `port` only, as tcp://HOST:PORT for one on the network; may be given again")
	f.Var(&v.profiles, "profile", "the `PORT=NAME` of how the instrument there speaks; NAME alone with one --port")
	f.IntVar(&v.channel, "channel", 0, "`number` of the output in use, of a supply with several")
	f.StringVar(&v.print, "print", "", "print the profile of this `name`")
	f.BoolVar(&v.try, "try", false, "try each instrument that is found; you are asked before anything goes on")
	f.BoolVar(&v.save, "save", false, "write down what was found")
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
	return v.run(ctx, e, w, folder)
}

func (v benchVerb) run(ctx context.Context, e env, w world, folder string) (int, error) {
	finder, broken := finderOf(w, folder)
	chosen, err := v.chosen(folder)
	if err != nil {
		return exitUsage, err
	}
	ports, err := v.portsToLook()
	if err != nil {
		return exitFailure, err
	}
	rep := benchReport{Profiles: folder, Broken: broken, Looked: []lookedAt{}}
	for _, port := range ports {
		if !v.asJSON {
			fmt.Fprintf(e.stderr, "looks at %s …\n", port)
		}
		x, err := v.look(ctx, w, finder, port, folder, chosen[port])
		if err != nil {
			return exitFailure, err
		}
		rep.Looked = append(rep.Looked, x)
		if !v.asJSON {
			x.say(e.stdout)
		}
	}
	asks := !v.asJSON && w.terminal(e.stdin)
	h := newHands(e, w, asks)
	defer h.leave()
	err = v.tryAll(ctx, w, h, finder, folder, rep.Looked)
	if err == nil {
		rep.Saved, err = v.saveAll(ctx, e, h, rep.Looked, folder)
	}
	switch {
	case errors.Is(err, capture.ErrStopped) && !errors.Is(err, smoke.ErrMayBeOn):
		fmt.Fprintln(e.stderr, "Stopped, the output off. Nothing was written down.")
		return exitNotReady, nil
	case err != nil:
		return exitFailure, err
	}
	if v.asJSON {
		return exitReady, writeJSON(e.stdout, rep)
	}
	rep.say(e.stdout)
	return exitReady, nil
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
	if len(v.ports) > 0 {
		return v.ports, nil
	}
	listed, err := wire.List()
	if err != nil {
		return nil, err
	}
	var out []string
	for _, p := range listed {
		out = append(out, or(p.Lasting, p.Name))
	}
	return out, nil
}

// look finds who is on a port, and what drives it.
func (v benchVerb) look(ctx context.Context, w world, f find.Finder, port, folder string,
	chosen *profile.Profile) (lookedAt, error) {
	x := lookedAt{Looked: find.Looked{Port: port}}
	if chosen != nil {
		x.use, x.DrivenBy = chosen, chosen.Name
		x.Found = &find.Found{Port: port, Kind: chosen.Kind, Speaks: chosen.Speaks, Profile: chosen.Name}
	} else {
		var err error
		if x.Looked, err = f.Port(ctx, port); err != nil || x.Found == nil {
			return x, err
		}
		if err := x.derive(f, folder); err != nil {
			x.Why = err.Error()
			return x, nil
		}
	}
	if x.use == nil {
		return x, nil
	}
	if v.channel > 0 && x.use.Kind == profile.SupplyKind {
		x.use.Channel.Number = v.channel
	}
	err := x.try(ctx, w)
	if err != nil && ctx.Err() == nil && chosen != nil && chosen.Speaks == profile.Modbus {
		err = x.elsewhere(ctx, w, f, folder, v.channel, err)
	}
	if ctx.Err() != nil {
		return x, ctx.Err()
	}
	if err != nil {
		x.Why, x.use = "it can't be driven as "+x.DrivenBy+": "+err.Error(), nil
	}
	return x, nil
}

// try asks the instrument who it is, and for a reading.
func (x *lookedAt) try(ctx context.Context, w world) error {
	t, err := session.Try(ctx, w.World, x.Port, x.use, x.DrivenBy)
	x.Trial = &t
	return err
}

// elsewhere looks for a Modbus module at another address, speed or parity than those of
// the profile that was chosen, and makes one of it that says so.
func (x *lookedAt) elsewhere(ctx context.Context, w world, f find.Finder, folder string, channel int,
	was error) error {
	found, err := f.Port(ctx, x.Port)
	switch {
	case err != nil:
		return err
	case found.Found == nil:
		x.Asked = found.Asked
		return was
	case found.Found.Bus == nil:
		return was
	}
	changes := found.Found.Bus.Changes(x.use)
	if len(changes) == 0 {
		return was
	}
	x.Found.Bus, x.Found.Changes = found.Found.Bus, changes
	x.Found.Notes = append(x.Found.Notes, found.Found.Notes...)
	if err := x.derive(f, folder); err != nil {
		return err
	}
	if channel > 0 {
		x.use.Channel.Number = channel
	}
	return x.try(ctx, w)
}

// derive makes the profile that an instrument needs.
func (x *lookedAt) derive(f find.Finder, folder string) error {
	if x.Found.Profile == "" {
		return nil
	}
	x.DrivenBy = x.Found.Profile
	src, err := profile.Source(x.Found.Profile, folder)
	if len(x.Found.Changes) == 0 || err != nil {
		for _, p := range f.Profiles {
			if p.Name == x.Found.Profile {
				x.use = p
			}
		}
		return nil
	}
	comment := fmt.Sprintf("What sealworthy bench found of %q, made from the profile %q.\n"+
		"Accuracy and ranges are generic: "+
		"put those of its data sheet here before you rely on a narrow band.", x.Found.Identity, x.Found.Profile)
	x.src = profile.Derive(src, comment, x.Found.Changes)
	x.DrivenBy = ownName(x.Found)
	if x.use, err = profile.Parse(x.DrivenBy+".toml", x.src); err != nil {
		return errors.Join(errors.New("the profile that was made for it doesn't hold"), err)
	}
	x.use.Name = x.DrivenBy
	return nil
}

// ownName is what a profile made for an instrument is called: maker and model, as
// it says them.
func ownName(x *find.Found) string {
	fields := strings.Split(strings.ToLower(x.Identity), ",")
	text := strings.Join(fields[:min(2, len(fields))], " ")
	words := strings.FieldsFunc(text, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9') })
	name := strings.Join(words, " ")
	const longest = 40
	if len(name) > longest {
		name = strings.TrimSpace(name[:longest])
	}
	return or(name, "own "+string(x.Kind))
}

// makersBenchFile is where the instruments of the maker are written down.
func makersBenchFile(config string) string { return filepath.Join(config, benchFile) }
