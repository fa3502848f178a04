//go:build unix

package main

import (
	"bufio"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"sealworthy/instruments/profile"
)

// A Modbus module that others wrote (python3-pymodbus), at another address, speed and parity
// than those of the profile that is chosen for it: it's found there, driven, and written
// down with a profile that says where it is.
func TestBenchFindsAModuleElsewhere(t *testing.T) {
	t.Parallel()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import pymodbus").Run(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("%s with pymodbus (python3-pymodbus) is needed in CI: %v", python, err)
		}
		t.Skip("no python3-pymodbus: the check against an independent module is left out")
	}
	module := exec.Command(python, "../../instruments/find/testdata/modbus_module.py", "19200", "even", "3")
	out, err := module.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	hold, err := module.StdinPipe() // it ends with its input
	if err != nil {
		t.Fatal(err)
	}
	defer hold.Close()
	if err := module.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = module.Process.Kill(); _ = module.Wait() })
	port, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	port = strings.TrimSpace(port)
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
