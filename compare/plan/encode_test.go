package plan

import (
	"bytes"
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// What EncodePart writes, ParseBook reads as the same part.
func TestEveryBuiltInPartRoundTrips(t *testing.T) {
	for _, p := range BuiltIn().Parts() {
		text, err := EncodePart(p)
		if err != nil {
			t.Errorf("%s: %v", p.Name, err)
			continue
		}
		b, problems := ParseBook("book.toml", text)
		if len(problems) > 0 {
			t.Errorf("%s:\n%s", p.Name, problemsText(problems))
			continue
		}
		got, err := b.Find(p.Name)
		if err != nil {
			t.Error(err)
			continue
		}
		if again, _ := EncodePart(got); !bytes.Equal(again, text) {
			t.Errorf("written twice, part %q differs:\n%s\n%s", p.Name, text, again)
		}
		for i := range p.Paces {
			p.Paces[i].Pos, got.Paces[i].Pos = Pos{}, Pos{}
		}
		if !alike(reflect.ValueOf(got), reflect.ValueOf(p)) {
			t.Errorf("got  %+v\nwant %+v", got, p)
		}
	}
}

// alike is DeepEqual, with numbers to six digits.
func alike(a, b reflect.Value) bool {
	switch a.Kind() {
	case reflect.Float64:
		return math.Abs(a.Float()-b.Float()) <= 1e-5*math.Abs(b.Float())
	case reflect.Struct:
		for i := range a.NumField() {
			if !alike(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !alike(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	}
	return reflect.DeepEqual(a.Interface(), b.Interface())
}

func TestAnySampledPartRoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p, err := Find("strip warm white 12 V")
		if err != nil {
			t.Fatal(err)
		}
		p.Amps = rapid.Float64Range(1e-4, 1).Draw(t, "A")
		p.Tolerance = rapid.Float64Range(1e-4, 0.9).Draw(t, "tolerance")
		p.Source = rapid.StringN(0, 20, 80).Draw(t, "source")
		text, err := EncodePart(p)
		if fault, _ := textFault(p.Source); fault != "" || strings.TrimSpace(p.Source) == "" && p.Source != "" {
			if err == nil {
				t.Fatalf("kept with the source %q", p.Source)
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		b, problems := ParseBook("book.toml", text)
		if len(problems) > 0 {
			t.Fatal(problems[0])
		}
		got, _ := b.Find(p.Name)
		if math.Abs(got.Amps-p.Amps) > 1e-5*p.Amps || math.Abs(got.Tolerance-p.Tolerance) > 1e-5*p.Tolerance {
			t.Fatalf("got %+v, want %+v", got, p)
		}
	})
}

func TestPartsThatCantBeKept(t *testing.T) {
	strip, _ := Find("strip warm white 12 V")
	for what, spoil := range map[string]func(*Part){
		"backslash":    func(p *Part) { p.Name = `a\b` },
		"unknown kind": func(p *Part) { p.Kind = "lamp" },
		"can't be":     func(p *Part) { p.Amps = math.NaN() },
		"without":      func(p *Part) { p.Kind = PartLoad },
		"unknown LED":  func(p *Part) { p.LED = "red 99" },
	} {
		p := strip
		spoil(&p)
		if _, err := EncodePart(p); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// A maker's book narrows what is built in.
func TestPartBookNarrowsABuiltInPart(t *testing.T) {
	b, problems := ParseBook("parts.toml",
		[]byte("[part.\"strip warm white 12 V\"]\nsegment_mA = 15.1\ntolerance = 0.04\nsource = \"three pieces "+
			"measured\"\n"))
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	p, problems := ParseWith("plan.toml", []byte(sound), Options{Book: b})
	if len(problems) > 0 {
		t.Fatal(problemsText(problems))
	}
	l := p.Groups[0].Lights[0]
	near(t, "spread", l.BranchSpread.HalfWidth, 0.04)
	near(t, "current", l.Series[0].Points[0].Amps, 0.0151)
	if l.Source != "three pieces measured" {
		t.Errorf("source %q", l.Source)
	}
	generic, _ := Find("strip warm white 12 V")
	near(t, "the built-in part stays", generic.Tolerance, 0.3)
}

func TestFindNamesTheNearest(t *testing.T) {
	_, err := Find("red led 1.8mm")
	var unknown *UnknownPartError
	if !errors.As(err, &unknown) || len(unknown.Nearest) == 0 || unknown.Nearest[0] != "red 1.8 mm" {
		t.Errorf("got %v", err)
	}
	if _, err := (&Book{}).Find("x"); err == nil || !strings.Contains(err.Error(), "empty") {
		t.Errorf("got %v", err)
	}
}
