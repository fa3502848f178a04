package place

import (
	"strings"
	"testing"
)

type boat struct {
	Name  string   `toml:"name"`
	Lamps []lamp   `toml:"lamp"`
	Mast  mast     `toml:"mast"`
	Tags  []string `toml:"tags"`
}

type lamp struct {
	Volts float64 `toml:"volts"`
	Wire  struct {
		Ohms float64 `toml:"ohms"`
	} `toml:"wire"`
}

type mast struct {
	Height float64 `toml:"height"`
}

const src = `name = "x"
tags = ["a",
  "b"]

[[lamp]]
volts = 3.0
wire = { ohms = 1.0 }

[[lamp]]
volts = 5.0
[lamp.wire]
ohms = 2.0

[mast]
height = 3.0
`

func TestWhereKeysStand(t *testing.T) {
	for path, want := range map[string]string{
		"name": "b.toml:1:1:", "tags.1": "b.toml:3:3:", "lamp.0.volts": "b.toml:6:1:",
		"lamp.0.wire.ohms": "b.toml:7:10:",
		"lamp.1":           "b.toml:9:3:", "lamp.1.wire.ohms": "b.toml:12:1:", "mast.height": "b.toml:15:1:",
		"lamp.0.colour": "b.toml:5:3:", "nowhere": "b.toml:1:1:",
	} {
		var b boat
		f := Decode("b.toml", []byte(src), &b)
		if err := f.Err(); err != nil {
			t.Fatal(err)
		}
		f.Add(path, "wrong", "")
		if err := f.Err(); !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: %v, want %s", path, err, want)
		}
	}
}

func TestEveryMistakeIsReportedInOrder(t *testing.T) {
	var b boat
	f := Decode("b.toml", []byte("names = \"x\"\n[mast]\nhieght = 1.0\n"), &b)
	f.Add("mast", "too short", "build it higher")
	got := f.Err().Error()
	for _, want := range []string{`b.toml:1:1: unknown key "names"`, `did you mean "name"?`, "b.toml:3:1:",
		`did you mean "height"?`, "b.toml:2:2: too short\n    [mast]\n  build it higher"} {
		if !strings.Contains(got, want) {
			t.Errorf("%s\nlacks %q", got, want)
		}
	}
	if strings.Index(got, "too short") > strings.Index(got, "hieght") {
		t.Error("not in the order of lines")
	}
}

func TestCRLFFilesKeepTheirLines(t *testing.T) {
	var b boat
	f := Decode("b.toml", []byte("name = \"x\"\r\n\r\nnom = 1\r\n"), &b)
	if err := f.Err(); err == nil || !strings.Contains(err.Error(), "b.toml:3:1:") ||
		strings.Contains(err.Error(), "\r") {
		t.Errorf("%q", err)
	}
}

func TestHas(t *testing.T) {
	var b boat
	f := Decode("b.toml", []byte(src), &b)
	if !f.Has("mast.height") || f.Has("mast.width") {
		t.Error("what the file has")
	}
}
