//go:build unix

package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/instruments/outside"
	"sealworthy/instruments/profile"
)

// A Modbus module that others wrote (python3-pymodbus), at another address, speed and parity
// than those of the profile that is chosen for it: it's found there, driven, and written
// down with a profile that says where it is.
func TestBenchFindsAModuleElsewhere(t *testing.T) {
	t.Parallel()
	outside.Need(t, outside.Debian, "pymodbus", "python3-pymodbus")
	port := outside.Start(t, false, outside.Debian, "../../instruments/find/testdata/modbus_module.py",
		"19200", "even", "3").Line(t)
	home := t.TempDir()
	p := command(t, "bench", "--port", port, "--profile", "modbus shunt", "--json", "--save")
	p.cmd.Env = append(p.cmd.Env, "SEALWORTHY_HOME="+home)
	p.cmd.Stdout, p.cmd.Stderr = &p.out, &p.err
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	p.follow(func() {})
	if s := p.status(); s != exitReady {
		t.Fatalf("status %d: %s", s, p.err.raw())
	}
	mustConform(t, "bench", []byte(p.out.raw()))
	var rep benchReport
	if err := json.Unmarshal([]byte(p.out.raw()), &rep); err != nil {
		t.Fatal(err)
	}
	x := rep.Looked[0]
	if x.Found == nil || x.Found.Bus == nil || x.Trial == nil || x.Trial.Reading == nil ||
		x.Trial.Reading.Value == nil ||
		*x.Trial.Reading.Value != -0.04096 || x.Why != "" {
		t.Fatalf("%s", p.out.raw())
	}
	own, err := profile.Load(x.DrivenBy, profileFolder(home))
	if err != nil {
		t.Fatal(err)
	}
	if own.Bus.Address != 3 || own.Line.Parity != "even" || own.Line.Baud != 19200 {
		t.Errorf("the profile %q says %+v, %+v", x.DrivenBy, own.Bus, own.Line)
	}
	src, err := os.ReadFile(filepath.Join(home, benchFile))
	if err != nil || !strings.Contains(string(src), x.DrivenBy) {
		t.Errorf("%v: %s", err, src)
	}
}
