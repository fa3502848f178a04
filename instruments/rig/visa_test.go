package rig_test

import (
	"encoding/json"
	"os/exec"
	"runtime"
	"strings"
	"testing"

	"sealworthy/instruments/clock"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/rig"
)

// An independent client (pyvisa with pyvisa-py, Debian's python3-pyvisa) finds
// the bench to be three SCPI instruments on serial ports, in wall time.
func TestIndependentClient(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("the packages are Debian's")
	}
	outside.Need(t, outside.Debian, "pyvisa, pyvisa_py, serial", "python3-pyvisa-py")
	b, err := rig.New(background, clock.Wall{}, bench2(), rig.Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	p := b.Ports()
	raw, err := exec.Command(outside.Debian, "testdata/visa_client.py", p.Supply, p.Meter, p.Relays).Output()
	if err != nil {
		t.Fatalf("%v: %s", err, raw)
	}
	var got struct {
		Who           []string
		Closed, Opc   string
		Amps          float64
		SupplyAmps    float64 `json:"supply_amps"`
		Error, Output string
	}
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatalf("%v: %s", err, raw)
	}
	for i, word := range []string{"SUPPLY", "METER", "RELAYS"} {
		if !strings.Contains(got.Who[i], ","+word+",") {
			t.Errorf("identity: %s", got.Who[i])
		}
	}
	if got.Closed != "(@2)" || got.Opc != "1" || got.Output != "0" || !strings.HasPrefix(got.Error, "-113,") {
		t.Errorf("%+v", got)
	}
	near(t, "meter", got.Amps, 12/(470+1.1), 0.002*0.0255+50e-6+0.00003)
	near(t, "supply", got.SupplyAmps, 12/(470+1.1), 0.004)
	if b.Output().On {
		t.Error("the output is on")
	}
}
