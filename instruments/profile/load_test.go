package profile

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
)

func TestBuiltInProfilesLoad(t *testing.T) {
	list, err := List("")
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]Kind{
		"scpi supply": SupplyKind, "scpi supply outputs": SupplyKind, "scpi meter": MeterKind,
		"scpi relays": RelaysKind, "terse supply": SupplyKind,
		"modbus supply": SupplyKind, "modbus relay board": RelaysKind, "modbus shunt": MeterKind,
		"text meter": MeterKind, "lcd meter": MeterKind,
	}
	for _, e := range list {
		if want[e.Name] != e.Kind {
			t.Errorf("%s is a %s", e.Name, e.Kind)
		}
		delete(want, e.Name)
		if !e.BuiltIn || e.About == "" {
			t.Errorf("%+v should be built in and say what it is", e)
		}
	}
	if len(want) > 0 {
		t.Errorf("missing: %v", want)
	}
}

func TestSupplyExchangesStayUnder300ms(t *testing.T) {
	list, err := List("")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		p, err := Load(e.Name, "")
		if err != nil {
			t.Fatal(err)
		}
		if p.Kind == SupplyKind && p.Timeout() > 300*time.Millisecond {
			t.Errorf("%s waits %v", e.Name, p.Timeout())
		}
	}
}

func TestRangesInSI(t *testing.T) {
	p, err := Load("scpi meter", "")
	if err != nil {
		t.Fatal(err)
	}
	r := p.RangesOf(instruments.Current)
	if len(r) != 3 || r[0].Name != "20 mA" || r[1].BurdenOhm != 1 {
		t.Fatalf("ranges %+v", r)
	}
	// ±(0.2 % of 100 mA + 5 counts of 10 uA) = 0.25 mA, by hand.
	if hw := r[1].Accuracy.HalfWidth(0.1); hw < 0.000249999 || hw > 0.000250001 {
		t.Errorf("half-width %v", hw)
	}
	if d := p.Describe(); d.Window != 100*time.Millisecond || d.JackFuseAmps != 2 || d.Profile != "scpi meter" {
		t.Errorf("description %+v", d)
	}
}

func TestMakersFolderGoesFirst(t *testing.T) {
	dir := t.TempDir()
	src, err := builtin.ReadFile("builtin/scpi meter.toml")
	if err != nil {
		t.Fatal(err)
	}
	own := strings.Replace(string(src), "integration_ms = 100.0", "integration_ms = 200.0", 1)
	for _, name := range []string{"scpi meter.toml", "my meter.toml"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(own), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, name := range []string{"scpi meter", "my meter"} {
		p, err := Load(name, dir)
		if err != nil {
			t.Fatal(err)
		}
		if p.Window() != 200*time.Millisecond {
			t.Errorf("%s: window %v", name, p.Window())
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "bad.toml"), []byte("kind = \"metre\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	list, err := List(dir)
	if err == nil || !strings.Contains(err.Error(), "bad.toml:1:1") {
		t.Errorf("the bad profile should be named: %v", err)
	}
	if len(list) != 11 {
		t.Errorf("%d profiles beside it", len(list))
	}
}

func TestUnknownProfile(t *testing.T) {
	_, err := Load("no such", t.TempDir())
	if !errors.Is(err, ErrUnknown) || !strings.Contains(err.Error(), "scpi meter") {
		t.Errorf("%v should name what there is", err)
	}
	if _, err := Load("../x", ""); err == nil {
		t.Error("a path is no profile name")
	}
}
