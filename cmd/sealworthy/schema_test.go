package main

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"sealworthy/capture/record/out"
	"sealworthy/cmd/sealworthy/session"
)

var updateSchemas = flag.Bool("update-schemas", false, "write the schemas anew: where one changes, raise its version")

// TestSchemas: the schema of each output is that of what is printed. Where this fails the
// output has changed: raise its version in outputs, then run with -update-schemas.
func TestSchemas(t *testing.T) {
	names := slices.Sorted(maps.Keys(outputs()))
	for _, name := range names {
		file, want := filepath.Join("schema", name+".json"), schemaText(t, name, outputs()[name])
		if *updateSchemas {
			if err := os.WriteFile(file, want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		if have, err := os.ReadFile(file); err != nil || !bytes.Equal(have, want) {
			t.Errorf("%s isn't what %s prints now (%v): raise its version, and write it anew with -update-schemas",
				file, name, err)
		}
	}
	files, err := filepath.Glob("schema/*.json")
	if err != nil || len(files) != len(names) {
		t.Errorf("%d schemas of %d outputs, %v", len(files), len(names), err)
	}
}

// schemaOf compiles the schema of an output, as a reader of it would.
func schemaOf(name string) (*jsonschema.Schema, error) {
	b, err := schemas.ReadFile("schema/" + name + ".json")
	if err != nil {
		return nil, err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		return nil, err
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource(name+".json", doc); err != nil {
		return nil, err
	}
	return c.Compile(name + ".json")
}

// conforms holds what was printed to the schema that it names itself. A schema is no
// output.
func conforms(x any) error {
	m, is := x.(map[string]any)
	if !is {
		return fmt.Errorf("it's no object: %T", x)
	}
	if m["$schema"] != nil {
		return nil
	}
	format, _ := m[formatKey].(string)
	for name, o := range outputs() {
		if o.format(name) != format {
			continue
		}
		s, err := schemaOf(name)
		if err != nil {
			return err
		}
		return s.Validate(x)
	}
	return fmt.Errorf("it says of itself %q, which is no format", format)
}

// mustConform is conforms of what a process printed, which is this output.
func mustConform(t *testing.T, name string, src []byte) {
	t.Helper()
	x, err := jsonschema.UnmarshalJSON(bytes.NewReader(src))
	if err != nil {
		t.Fatalf("no JSON: %v\n%s", err, src)
	}
	if err := conforms(x); err != nil {
		t.Errorf("%s: %v", name, err)
	}
	if m, _ := x.(map[string]any); m[formatKey] != outputs()[name].format(name) {
		t.Errorf("it says of itself %v, and should be %s", m[formatKey], name)
	}
}

// TestOutputsFitTheirSchema runs verbs with --json over a measured build and an empty one,
// and holds what they print to its schema: errors, too.
func TestOutputsFitTheirSchema(t *testing.T) {
	if raceEnabled {
		t.Skip("one goroutine, and slow")
	}
	dir := filepath.Join(t.TempDir(), "gig")
	err := measureInto(dir, func(e env, dir string) (build, []string, error) {
		if err := os.CopyFS(dir, os.DirFS("testdata/plans/gig")); err != nil {
			return build{}, nil, err
		}
		b, err := openBuild(e, dir)
		return b, []string{"bow lamps=open branch"}, err
	})
	if err != nil {
		t.Fatal(err)
	}
	empty := filepath.Join(t.TempDir(), "empty")
	if err := os.CopyFS(empty, os.DirFS("testdata/plans/gig")); err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	parcelFile := filepath.Join(home, "gig.zip")
	tug := filepath.Join(home, "tug")
	for _, c := range []struct {
		schema string
		args   []string
	}{
		{"error", []string{"mesure", dir}}, {"new", []string{"new", tug}},
		{"new", []string{"new", filepath.Join(home, "gig 2"), "--from", dir}},
		{"new", []string{"new", tug, "--priors"}}, {"note", []string{"note", empty, "bow lamps", "bright"}},
		{"photo", []string{"photo", dir}},
		{"explain", []string{"explain"}}, {"explain", []string{"explain", "awg"}}, {"version", []string{"version"}},
		{"schema", []string{"schema"}}, {"rig-list", []string{"rig", "--list"}}, {"ports", []string{"ports"}},
		{"sheet", []string{"sheet", dir}},
		{"sheet", []string{"sheet", dir, "--form", "buy", "--into", filepath.Join(home, "buy.html")}},
		{"bench", []string{"bench", "--port", "tcp://127.0.0.1:1"}}, {"error", []string{"new", tug}},
		{"error", []string{"new", filepath.Join(home, "asked"), "--ask"}},
		{"error", []string{"measure", dir, "--unattended"}},
		{"error", []string{"keep", dir}}, {"error", []string{"return", dir}},
		{"error", []string{"rig", filepath.Join(home, "nowhere")}},
		{"error", []string{"part", "nothing", "--like", "nothing"}}, {"error", []string{"explain", "nothing"}},
		{"note", []string{"note", dir}}, {"budget", []string{"budget", dir}}, {"compare", []string{"compare", dir}},
		{"compare", []string{"compare", empty}},
		{"check", []string{"check", dir}}, {"check", []string{"check", empty}}, {"left", []string{"left", dir}},
		{"left", []string{"left", empty}},
		{"next", []string{"next", dir}}, {"next", []string{"next", empty}}, {"plot", []string{"plot", dir}},
		{"builds", []string{"builds", filepath.Dir(dir)}},
		{"history", []string{"history", dir}}, {"history", []string{"history", empty}},
		{"history-reels", []string{"history", "--reels", filepath.Dir(dir)}},
		{"history-reels", []string{"history", "--reels", filepath.Dir(empty)}},
		{"pack", []string{"pack", dir, "--into", parcelFile}},
		{"unpack", []string{"unpack", parcelFile, "--into", filepath.Join(home, "out")}},
		{"parts", []string{"part"}}, {"send", []string{"send", dir, "--to", "http://127.0.0.1:1", "--database",
			"shop"}},
		{"error", []string{"compare", filepath.Join(home, "nowhere")}}, {"error", []string{"soak", dir}},
		{"error", []string{"compare", dir, "--closure", "nothing"}},
		{"error", []string{"unpack", filepath.Join(dir, planFile), "--into", filepath.Join(home, "x")}},
		{"error", []string{"plot", dir, "--format", "x"}},
	} {
		t.Run(strings.Join(c.args[:1], " ")+" as "+c.schema, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			status := run(context.Background(), append(slices.Clone(c.args), "--json"),
				env{stdin: strings.NewReader(""), stdout: &stdout, stderr: &stderr,
					getenv: func(key string) string { return map[string]string{"SEALWORTHY_HOME": home}[key] },
					exit:   func(int) {}})
			mustConform(t, c.schema, stdout.Bytes())
			if (c.schema == "error") != (status == exitFailure || status == exitUsage) {
				t.Errorf("%v ended with %d: %s", c.args, status, stderr.String())
			}
		})
	}
}

// TestLinesOfAnExport: each says itself what it is.
func TestLinesOfAnExport(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "gig")
	if err := measureInto(dir, func(e env, dir string) (build, []string, error) {
		if err := os.CopyFS(dir, os.DirFS("testdata/plans/gig")); err != nil {
			return build{}, nil, err
		}
		b, err := openBuild(e, dir)
		return b, nil, err
	}); err != nil {
		t.Fatal(err)
	}
	var stdout bytes.Buffer
	e := quiet()
	e.stdin, e.stdout, e.exit = strings.NewReader(""), &stdout, func(int) {}
	if s := run(t.Context(), []string{"export", dir, "--format", "json"}, e); s != exitReady {
		t.Fatalf("status %d", s)
	}
	lines := strings.Split(strings.TrimSpace(stdout.String()), "\n")
	if len(lines) < 10 {
		t.Fatalf("%d lines", len(lines))
	}
	for _, l := range lines[:10] {
		mustConform(t, "export", []byte(l))
	}
}

// TestFull: lists and maps of which there is none are empty ones, at any depth, and what
// it was made of isn't touched.
func TestFull(t *testing.T) {
	type inner struct {
		List []int          `json:"list"`
		Map  map[string]int `json:"map"`
		None []int          `json:"none,omitempty"`
		Text []byte         `json:"-"`
		own  []int
	}
	type outer struct {
		Inner   inner            `json:"inner"`
		Pointer *inner           `json:"pointer"`
		Nil     *inner           `json:"nil"`
		Many    []inner          `json:"many"`
		ByName  map[string]inner `json:"by_name"`
		Any     any              `json:"any"`
		At      time.Time        `json:"at"`
	}
	was := outer{Pointer: &inner{own: []int{1}}, Many: make([]inner, 1), ByName: map[string]inner{"a": {}},
		Any: []inner(nil)}
	b, err := json.Marshal(session.Full(was))
	want := `{"inner":{"list":[],"map":{}},"pointer":{"list":[],"map":{}},"nil":null,"many":[{"list":[],"map":{}}],` +
		`"by_name":{"a":{"list":[],"map":{}}},"any":[],"at":"0001-01-01T00:00:00Z"}`
	if err != nil || string(b) != want {
		t.Errorf("%s, %v\nwant %s", b, err, want)
	}
	if was.Many[0].List != nil || was.Pointer.List != nil {
		t.Error("what it was made of is changed")
	}
	if b, err := json.Marshal(session.Full([]string(nil))); err != nil || string(b) != "[]" {
		t.Errorf("%s, %v", b, err)
	}
}

// TestEveryOutputIsHeld: each output is printed by a test that holds it to its schema: of
// the table above, in a script, or in another test.
func TestEveryOutputIsHeld(t *testing.T) {
	var all strings.Builder
	for _, pattern := range []string{"testdata/scripts/*.txtar", "testdata/returns/*.txtar", "*_test.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatal(files, err)
		}
		for _, f := range files {
			src, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			all.Write(src)
		}
	}
	for name, o := range outputs() {
		held := regexp.MustCompile(`format=` + o.format(name) + `\b|mustConform\((r\.)?t, "` + name +
			`"|\{"` + name + `", \[\]string\{"`)
		if !held.MatchString(all.String()) {
			t.Errorf("no test holds what is printed as %q to its schema", name)
		}
	}
}

// TestEachTypeIsOneOutput: what is printed is known by its type.
func TestEachTypeIsOneOutput(t *testing.T) {
	by := map[reflect.Type]string{}
	for name, o := range outputs() {
		of := reflect.TypeOf(o.value)
		if of.Kind() != reflect.Struct || by[of] != "" {
			t.Errorf("%s prints a %v, as %q does", name, of, by[of])
		}
		by[of] = name
	}
	if out.ReadingFormat != outputs()["export"].format("export") {
		t.Errorf("lines of an export say %s", out.ReadingFormat)
	}
	for _, v := range []any{nil, 3, []string{"a"}, env{}} {
		if b, err := asPrinted(v); err == nil {
			t.Errorf("%v is printed as %s", v, b)
		}
	}
}

// TestVerbsForPrograms: each verb prints JSON, but for those whose output is a file, a page
// or a conversation.
func TestVerbsForPrograms(t *testing.T) {
	without := []string{"export", "page"}
	for name, v := range verbs {
		has := false
		e := quiet()
		e.listing = func(f *flag.FlagSet) { has = f.Lookup("json") != nil }
		if _, err := v(t.Context(), e, []string{"-h"}); err == nil {
			t.Errorf("%s -h ran", name)
		}
		if has == slices.Contains(without, name) {
			t.Errorf("%s has --json: %v", name, has)
		}
		if !has && !strings.Contains(schemaHelp, name) {
			t.Errorf("the help doesn't say that %s has none", name)
		}
	}
}
