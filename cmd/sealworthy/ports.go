package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/words"
	"sealworthy/instruments"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/wire"
)

// profileFolder is where the maker's own profiles lie.
func profileFolder(config string) string { return filepath.Join(config, "profiles") }

// portsReport is what the verb prints with --json.
type portsReport struct {
	Ports    []wire.Listed `json:"ports"`
	Profiles []string      `json:"profiles"`
	Folder   string        `json:"folder,omitempty"` // of the maker's own profiles
	Broken   []string      `json:"broken,omitempty"` // profiles there that don't parse
}

func runPorts(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "ports", `sealworthy ports [--try PORT --profile NAME] [--window BUILD] [--json]

Lists serial ports and profiles. --try opens one, asks who is there, takes one
reading from a meter or supply, and shows each byte that went and came. A try
switches nothing on. Don't list ports during a test.

--window BUILD finds how long your meter averages one reading, from what it read
of the blinkers of that build. Once for each meter; it goes into bench.toml.

To find what is on your ports, and to go through all that a driver promises:
  sealworthy bench`)
	try := f.String("try", "", "a `port` to try")
	prof := f.String("profile", "scpi meter", "`name` of how the instrument on it speaks")
	window := f.String("window", "", "a `build` with a slow blinker that was measured")
	asJSON := f.Bool("json", false, "print it as JSON")
	if _, err := parse(f, args, 0); err != nil {
		return exitUsage, err
	}
	folder := ""
	if dir, err := configDir(e); err == nil {
		folder = profileFolder(dir)
	}
	if *window != "" {
		return meterWindow(e, *window, *asJSON)
	}
	if *try != "" {
		return tryPort(ctx, e, *try, *prof, folder, *asJSON)
	}
	ports, err := wire.List()
	if err != nil {
		return exitFailure, err
	}
	entries, bad := profile.List(folder)
	rep := portsReport{Ports: ports, Folder: folder}
	if bad != nil {
		rep.Broken = strings.Split(bad.Error(), "\n")
	}
	for _, x := range entries {
		rep.Profiles = append(rep.Profiles, x.Name)
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, rep)
	}
	if len(ports) == 0 {
		fmt.Fprintln(e.stdout, "No serial port is plugged in.")
	}
	for _, p := range ports {
		wrap(e.stdout, fmt.Sprintf("%-16s ", p.Name), "                 ", cmp.Or(p.Lasting, p.Hint))
	}
	fmt.Fprintln(e.stdout, "\nProfiles:")
	for _, x := range entries {
		wrap(e.stdout, fmt.Sprintf("  %-22s ", x.Name), "                         ", x.About)
	}
	for _, b := range rep.Broken {
		wrap(e.stdout, "  can't be read: ", "    ", b)
	}
	if folder != "" {
		wrap(e.stdout, "\n", "", "Profiles of your own lie in "+folder+".")
	}
	wrap(e.stdout, "", "  ", "Find the instruments: sealworthy bench. Try one: sealworthy ports --try PORT "+
		"--profile NAME. "+
		"Write a profile, to start your own from: sealworthy bench --print NAME")
	return exitReady, nil
}

// tryPort talks to one instrument and tells all that was said.
func tryPort(ctx context.Context, e env, port, name, folder string, asJSON bool) (int, error) {
	p, err := profile.Load(name, folder)
	if err != nil {
		return exitUsage, misuse("ports", "%v", err)
	}
	rep, err := session.Try(ctx, session.Machine(), port, p, name)
	if asJSON {
		return exitReady, errors.Join(err, writeJSON(e.stdout, rep))
	}
	for _, b := range rep.Bytes {
		fmt.Fprintf(e.stdout, "%8.3f s  %-5s %s\n", b.AfterS, b.Way, b.Quoted)
	}
	if err != nil {
		return exitFailure, withHint(err, "check port, line settings and profile: sealworthy ports lists them")
	}
	sayTry(e.stdout, rep)
	return exitReady, nil
}

func sayTry(w io.Writer, rep session.Trial) {
	fmt.Fprintf(w, "\n%s: %s\n", rep.Port, cmp.Or(rep.Identity, "it doesn't say who it is"))
	if rep.Reading != nil {
		fmt.Fprintln(w, readingText(rep.Reading))
	}
	for _, n := range rep.Notes {
		wrap(w, "", "", n)
	}
}

// readingText is a reading as it is said of an instrument that is tried.
func readingText(r *instruments.Reading) string {
	switch v, ok := r.Float(); {
	case !ok:
		return fmt.Sprintf("reading: %s", r.Status)
	case r.Unit == instruments.Current.Unit():
		return "reading: " + words.Milliamps(v, r.HalfWidth)
	default:
		return fmt.Sprintf("reading: %s %s", words.Number(v, r.HalfWidth), r.Unit)
	}
}
