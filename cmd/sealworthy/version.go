package main

import (
	"cmp"
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
	"strings"
)

// build's own description, as it's printed and as JSON.
type versionSaid struct {
	Version   string `json:"version"`            // of a release, or "devel"
	Revision  string `json:"revision,omitempty"` // of the source
	Made      string `json:"made,omitempty"`     // when that revision was made, RFC 3339
	Changed   bool   `json:"changed,omitempty"`  // the source differed from its revision
	GoRelease string `json:"go"`
	System    string `json:"system"` // linux/arm64
}

func runVersion(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "version", `sealworthy version [--json]

Which version this is, of which source, made with which Go, for which system.
Say it when you report something.`)
	asJSON := f.Bool("json", false, "print it as JSON")
	if _, err := parse(f, args, 0); err != nil {
		return exitUsage, err
	}
	info, _ := debug.ReadBuildInfo()
	v := versionOf(info)
	if *asJSON {
		return exitReady, writeJSON(e.stdout, v)
	}
	fmt.Fprintln(e.stdout, v)
	return exitReady, nil
}

// versionOf reads what the build wrote into the program; nil says nothing.
func versionOf(info *debug.BuildInfo) versionSaid {
	v := versionSaid{Version: "devel", GoRelease: runtime.Version(), System: runtime.GOOS + "/" + runtime.GOARCH}
	if info == nil {
		return v
	}
	if m := strings.Trim(info.Main.Version, "()"); m != "" {
		v.Version = m
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			v.Revision = s.Value
		case "vcs.time":
			v.Made = s.Value
		case "vcs.modified":
			v.Changed = s.Value == "true"
		}
	}
	return v
}

// String is the version in one line.
func (v versionSaid) String() string {
	s := "sealworthy " + v.Version
	if v.Revision != "" {
		s += fmt.Sprintf(", source %s of %s", v.Revision[:min(12, len(v.Revision))], cmp.Or(v.Made, "an unknown time"))
		if v.Changed {
			s += " with changes"
		}
	}
	return s + ", " + v.GoRelease + ", " + v.System
}
