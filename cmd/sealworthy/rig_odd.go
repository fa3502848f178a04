package main

import (
	"fmt"
	"io"
	"strings"

	"sealworthy/instruments/rig"
	"sealworthy/instruments/rig/odd"
)

// oddBench makes the options of a bench whose instruments differ from the usual: each
// item is names of oddities, for supply and meter, or INSTRUMENT=NAMES for one.
func oddBench(items []string) (rig.Options, error) {
	var o rig.Options
	of := map[string]*odd.Oddities{rig.Supply: &o.Supply.Odd, rig.Meter: &o.Meter.Odd, rig.Relays: &o.Relays.Odd}
	for _, item := range items {
		which, how, one := strings.Cut(item, "=")
		if !one {
			how = item
		}
		list, err := odd.Parse(how)
		if err != nil {
			return o, err
		}
		if !one {
			o.Supply.Odd, o.Meter.Odd = append(o.Supply.Odd, list...), append(o.Meter.Odd, list.For(false)...)
			continue
		}
		if err := isInstrument(which); err != nil {
			return o, err
		}
		*of[which] = append(*of[which], list...)
	}
	return o, nil
}

// listOddities lists the ways in which instruments differ.
func listOddities(e env, asJSON bool) error {
	if asJSON {
		return writeJSON(e.stdout, whatIsOdd{odd.List()})
	}
	for _, k := range odd.List() {
		wrap(e.stdout, fmt.Sprintf("%-12s ", k.Name), strings.Repeat(" ", 13), k.About)
		if k.Profile != "" {
			wrap(e.stdout, strings.Repeat(" ", 13)+"in its profile: ", strings.Repeat(" ", 15), k.Profile)
		}
	}
	wrap(e.stdout, "", "",
		"What a profile needs for them, sealworthy bench finds out by itself; a coarse limit when it tries the "+
			"supply.")
	return nil
}

// sayOddities says how the instruments of a bench differ from the usual.
func sayOddities(w io.Writer, of map[string]odd.Oddities) {
	for _, which := range []string{rig.Supply, rig.Meter, rig.Relays} {
		for _, k := range odd.List() {
			if of[which].Has(k.Name) {
				wrap(w, fmt.Sprintf("  the %s ", which), "    ", k.About)
			}
		}
	}
}
