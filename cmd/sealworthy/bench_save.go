package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
)

// saveProfile writes the profile that was made for an instrument. Another one of its
// name stays: this one gets a number.
func saveProfile(x *session.Looked, folder string) error {
	if x.Src == nil {
		return nil
	}
	if err := makeFolder(folder); err != nil {
		return err
	}
	name := x.DrivenBy
	const most = 99
	for n := 2; n <= most; n++ {
		err := writeOnce(filepath.Join(folder, x.DrivenBy+".toml"), x.Src)
		if !errors.Is(err, fs.ErrExist) {
			return err
		}
		x.DrivenBy = fmt.Sprintf("%s %d", name, n)
	}
	return fmt.Errorf("there are %d profiles called %q already in %s", most, name, folder)
}

// saveBench puts the instruments into the maker's bench, or the maker's own hand and eye.
// What else stands there stays, but for what was on a port that is another's now; a file
// with words of the maker's own, or with an instrument that doesn't stay, is kept beside the
// new one.
func saveBench(config string, keep []*session.Looked, byHand, typed bool) (string, error) {
	if err := makeFolder(config); err != nil {
		return "", err
	}
	file := makersBenchFile(config)
	was, err := readFile(file, mostBytes)
	cfg, kept := bench.Default(), false
	switch {
	case errors.Is(err, fs.ErrNotExist):
		was = nil
	case err != nil:
		return "", err
	default:
		if cfg, err = bench.Parse(file, was); err != nil {
			return "", withHint(err, "mend it, or move it away, and look again")
		}
		if plain, err := cfg.Encode(); err == nil && !bytes.Equal(plain, was) {
			if err := keepBeside(file, was); err != nil {
				return "", err
			}
			kept = true
		}
	}
	before := *cfg
	for _, x := range keep {
		if left := cfg.MakeRoom(x.Port, x.Use, profileFolder(config)); len(left) > 0 && !kept {
			if err := keepBeside(file, was); err != nil {
				return "", err
			}
			kept = true
		}
	}
	if byHand {
		cfg.Supply = bench.Supply{ByHand: true}
	}
	if typed {
		cfg.Meter = bench.Meter{Typed: true}
	}
	for _, x := range keep {
		into(cfg, before, x)
	}
	src, err := cfg.Encode()
	switch {
	case err != nil:
		return "", err
	case was == nil:
		return file, writeNew(file, src)
	}
	return file, writeEdited(file, was, src)
}

// keepBeside keeps what the maker wrote under another name.
func keepBeside(file string, src []byte) error {
	base := strings.TrimSuffix(file, ".toml")
	const most = 99
	for n := 1; n <= most; n++ {
		if err := writeOnce(fmt.Sprintf("%s before %d.toml", base, n), src); !errors.Is(err, fs.ErrExist) {
			return err
		}
	}
	return fmt.Errorf("there are %d older benches beside %s: move some away", most, file)
}

// into writes an instrument into a bench, a Modbus module with its address: another one may
// be on its line. What is said of its output, its jack, its fuse and its window stays where it
// is the same instrument.
func into(c *bench.Config, was bench.Config, x *session.Looked) {
	id := x.Identity()
	address := 0
	if x.Use.Bus != nil {
		address = x.Use.Bus.Address
	}
	switch x.Use.Kind {
	case profile.SupplyKind:
		c.Supply = bench.Supply{Port: x.Port, Profile: x.DrivenBy, Identity: id, Channel: x.Channel, Address: address}
		if isWritten(was.Supply.Identity, was.Supply.Port, x) {
			c.Supply.OutputUF = was.Supply.OutputUF
		}
	case profile.MeterKind:
		m := bench.Meter{Port: x.Port, Profile: x.DrivenBy, Identity: id, Address: address}
		if isWritten(was.Meter.Identity, was.Meter.Port, x) {
			m.Jack, m.FuseAmps, m.WindowMs = was.Meter.Jack, was.Meter.FuseAmps, was.Meter.WindowMs
		}
		if x.Jack != "" {
			m.Jack = x.Jack
		}
		if x.FuseA > 0 {
			m.FuseAmps = x.FuseA
		}
		c.Meter = m
	case profile.RelaysKind:
		c.Relays = bench.Relays{Port: x.Port, Profile: x.DrivenBy, Identity: id, Address: address}
	}
}

// isWritten: what is written down of an instrument that calls itself so is of this one. One
// without a name of its own is it on its port alone: another of its kind would answer alike.
func isWritten(identity, port string, x *session.Looked) bool {
	id := x.Identity()
	return id != "" && identity == id && (port == x.Port || !capture.NamelessAs(x.DrivenBy, id))
}

// knownJack gives what is written down of the jack of a meter.
func knownJack(config string) func(x *session.Looked) (string, float64) {
	return func(x *session.Looked) (string, float64) {
		c, err := session.ReadBench(config)
		if err != nil || !isWritten(c.Meter.Identity, c.Meter.Port, x) {
			return "", 0 // what is wrong with the file is said where it's written
		}
		return c.Meter.Jack, c.Meter.FuseAmps
	}
}

// say ends the report: how to go on.
func (r benchReport) say(w io.Writer) {
	fmt.Fprintln(w)
	driven := session.Usable(r.Looked)
	switch {
	case r.Saved != "":
		wrap(w, "", "", "Written down in "+r.Saved)
		wrap(w, "", "", "Next: sealworthy measure BUILD")
	case len(r.Looked) == 0:
		wrap(w, "", "",
			"No serial port is plugged in. An instrument on the network is looked at with --port tcp://HOST:PORT; "+
				"with none at all, --supply-by-hand and --typed-meter work.")
	case len(driven) == 0:
		wrap(w, "", "", "Nothing was found that can be driven. Choose how an instrument speaks with --profile "+
			"PORT=NAME; "+
			"sealworthy ports lists the profiles, --print NAME writes one to start from.")
	default:
		wrap(w, "", "", "Nothing was written down. --save does that.")
	}
	for _, x := range r.Looked {
		if x.Spare && x.Use != nil {
			wrap(w, "", "", fmt.Sprintf("The %s on %s isn't taken: another one is. --port names the one that is "+
				"meant.", x.Use.Kind, x.Port))
		}
		if x.Use != nil && x.Use.Channel.By != "" && x.Channel == 0 && !x.Spare {
			wrap(w, "", "", "The supply's first output is taken; --channel 2 takes the second.")
		}
		if x.Use == nil && x.Found != nil && x.DrivenBy == "" {
			wrap(w, "", "", "Choose how the one on "+x.Port+" speaks with --profile PORT=NAME.")
		}
	}
	for _, b := range r.Broken {
		wrap(w, "a profile that can't be read: ", "  ", b)
	}
	if r.Profiles != "" {
		wrap(w, "", "", "Your own profiles: "+r.Profiles)
	}
}
