package main

import (
	"bytes"
	"context"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"sealworthy/compare/plan"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
)

// tableOfType is the table in which the keys of a type are told, where it isn't that
// of the key that leads to it.
var tableOfType = map[reflect.Type]string{
	reflect.TypeFor[profile.Point]():         "point",
	reflect.TypeFor[profile.MeterFunction](): "function",
}

// keysOfType walks the toml keys of a type: "table.key".
func keysOfType(t reflect.Type, table string, out map[string]bool) {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice {
		t = t.Elem()
	}
	if named, ok := tableOfType[t]; ok {
		table = named
	}
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		if name == "" || name == "-" {
			continue
		}
		ft := f.Type
		for ft.Kind() == reflect.Pointer || ft.Kind() == reflect.Slice {
			ft = ft.Elem()
		}
		if ft.Kind() != reflect.Struct {
			out[table+"."+name] = true
			continue
		}
		if _, shared := tableOfType[ft]; shared {
			out[table+"."+name] = true
		}
		keysOfType(f.Type, name, out)
	}
}

func keysTold(keys []plan.Key) map[string]bool {
	out := map[string]bool{}
	for _, k := range keys {
		for _, t := range strings.Fields(k.In) {
			out[t+"."+k.Name] = true
		}
	}
	return out
}

// The strict readers of bench.toml and of a profile know exactly the keys that are
// explained. The plan's reader takes its keys from the table itself.
func TestEachKeyIsExplained(t *testing.T) {
	for _, c := range []struct {
		file   string
		is     any
		top    string
		keys   []plan.Key
		tables []keyTable
	}{
		{"bench.toml", bench.Config{}, "bench", benchKeys, benchTables},
		{"profile", profile.Profile{}, "profile", profileKeys, profileTables},
	} {
		read := map[string]bool{}
		keysOfType(reflect.TypeOf(c.is), c.top, read)
		told := keysTold(c.keys)
		for k := range read {
			if !told[k] {
				t.Errorf("%s: %s is read and not explained", c.file, k)
			}
		}
		for k := range told {
			if !read[k] {
				t.Errorf("%s: %s is explained and not read", c.file, k)
			}
		}
		for _, k := range c.keys {
			if k.Example == "" || !strings.HasSuffix(strings.TrimRight(k.Says, "…"), ".") && !strings.HasSuffix(k.Says, "…") {
				t.Errorf("%s: %+v", c.file, k)
			}
			for _, table := range strings.Fields(k.In) {
				if !slices.ContainsFunc(c.tables, func(x keyTable) bool { return x.name == table }) {
					t.Errorf("%s: no table %q", c.file, table)
				}
			}
		}
	}
}

// Whatever is listed can be explained, by its name alone and with its table.
func TestExplainFindsWhatItLists(t *testing.T) {
	_, all := explanations("")
	for _, x := range all {
		for _, word := range []string{x.Name, x.Table + "." + x.Name} {
			var out, errs bytes.Buffer
			e := env{stdout: &out, stderr: &errs, getenv: func(string) string { return "" }}
			if status := run(context.Background(), []string{"explain", word}, e); status != exitReady {
				t.Fatalf("explain %s: %d %s", word, status, &errs)
			}
			if !strings.Contains(out.String(), x.Name) {
				t.Errorf("explain %s:\n%s", word, &out)
			}
			for _, l := range strings.Split(out.String(), "\n") {
				if n := len([]rune(l)); n > width && !strings.HasPrefix(l, "  example") {
					t.Errorf("explain %s: %d columns: %s", word, n, l)
				}
			}
		}
	}
	if n := len(all); n < 200 {
		t.Error(fmt.Sprint(n, " keys"))
	}
}
