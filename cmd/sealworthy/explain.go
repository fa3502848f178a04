package main

import (
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/profile"
	"sealworthy/instruments/profile/place"
)

const explainHelp = `sealworthy explain [KEY]

What a key of the plan, of bench.toml or of a profile means, with its unit, what
holds where it is left out, and an example. Without a KEY: all tables and their
keys.

  sealworthy explain awg
  sealworthy explain led.ohms
  sealworthy explain group
  sealworthy explain bench.toml
  sealworthy explain profile`

// keyTable is one table of a file, how it's opened and what it is.
type keyTable struct{ name, opened, says string }

// keyFile is one kind of file with its tables and keys.
type keyFile struct {
	name   string // plan.toml
	is     string
	tables []keyTable
	keys   []plan.Key
}

// keyFiles are the files that a maker writes.
func keyFiles() []keyFile {
	var ofPlan []keyTable
	for _, k := range plan.Keys() {
		for _, t := range strings.Fields(k.In) {
			if !slices.ContainsFunc(ofPlan, func(x keyTable) bool { return x.name == t }) {
				opened, says := plan.TableSays(t)
				ofPlan = append(ofPlan, keyTable{t, opened, says})
			}
		}
	}
	return []keyFile{
		{planFile, "the model", ofPlan, plan.Keys()},
		keyFileOf(benchFile, "what stands on the bench", bench.Tables(), bench.Keys()),
		keyFileOf("profile", "how an instrument is spoken to", profile.Tables(), profile.Keys()),
	}
}

func keyFileOf(name, is string, tables []place.Table, keys []place.Key) keyFile {
	f := keyFile{name: name, is: is}
	for _, t := range tables {
		f.tables = append(f.tables, keyTable{t.Name, t.Opened, t.Says})
	}
	for _, k := range keys {
		f.keys = append(f.keys, plan.Key(k))
	}
	return f
}

// explanation is a key in one table of one file.
type explanation struct {
	File  string `json:"file"`
	Table string `json:"table"`
	plan.Key
	opened, says string
}

func runExplain(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "explain", explainHelp)
	asJSON := f.Bool("json", false, "print it as JSON")
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	if len(rest) > 1 {
		return exitUsage, misuse("explain", "takes one KEY, got %d", len(rest))
	}
	word := ""
	if len(rest) == 1 {
		word = rest[0]
	}
	keys, listed := explanations(word)
	switch {
	case keys == nil && listed == nil:
		return exitUsage, unknownKey(word)
	case *asJSON:
		return exitReady, writeJSON(e.stdout, whatKeysMean{append(keys, listed...)})
	}
	for i, x := range keys {
		if i > 0 {
			fmt.Fprintln(e.stdout)
		}
		x.say(e.stdout)
	}
	if keys != nil && listed != nil {
		fmt.Fprintln(e.stdout)
	}
	sayTables(e.stdout, listed, word != "")
	return exitReady, nil
}

// explanations are those of a key (awg, wire.awg), to be told whole, and of a table
// (wire, [wire]) or a file, to be listed; of "" all of them.
func explanations(word string) (keys, listed []explanation) {
	word = strings.Trim(strings.TrimSpace(word), "[]")
	table, key, dotted := strings.Cut(word, ".")
	if word == planFile || word == benchFile {
		dotted = false
	}
	var files []explanation
	for _, file := range keyFiles() {
		for _, t := range file.tables {
			for _, k := range file.keys {
				if !slices.Contains(strings.Fields(k.In), t.name) {
					continue
				}
				x := explanation{file.name, t.name, k, t.opened, t.says}
				switch {
				case word == "", word == file.name, word == strings.TrimSuffix(file.name, ".toml"):
					files = append(files, x)
				case strings.TrimPrefix(t.name, "part") == word, t.name == word:
					listed = append(listed, x)
				}
				switch {
				case k.Name == word, dotted && k.Name == key &&
					strings.TrimPrefix(t.name, "part") == strings.TrimPrefix(table, "part"):
					keys = append(keys, x)
				}
			}
		}
	}
	if listed == nil {
		listed = files
	}
	return merged(keys), listed
}

// merged puts tables together of which a key says the same.
func merged(xs []explanation) []explanation {
	var out []explanation
	for _, x := range xs {
		i := slices.IndexFunc(out, func(o explanation) bool { return o.File == x.File && o.Key == x.Key })
		if i < 0 {
			out = append(out, x)
			continue
		}
		if !strings.Contains(out[i].opened, x.opened) {
			out[i].opened += "; " + x.opened
		}
		out[i].Table += " " + x.Table
	}
	return out
}

// unknownKey says which key was probably meant.
func unknownKey(word string) error {
	var known []string
	_, all := explanations("")
	for _, x := range all {
		known = append(known, x.Name, x.Table)
	}
	err := misuse("explain", "no key %q", word)
	if near := plan.Nearest(word, known); near != "" {
		return withNearest(err, near)
	}
	return withHint(err, "sealworthy explain lists them all")
}

// say writes one key whole.
func (x explanation) say(w io.Writer) {
	where := "in " + x.opened
	if strings.HasPrefix(x.opened, "at ") {
		where = x.opened
	}
	wrap(w, x.Name+": ", "  ", fmt.Sprintf("%s, %s", x.File, where))
	wrap(w, "  ", "  ", x.Says)
	if x.Unit != "" {
		unit := x.Unit
		if unit == "of one" {
			unit = "a share: 0.1 is 10 %"
		}
		fmt.Fprintln(w, "  unit     "+unit)
	}
	if x.Default != "" {
		wrap(w, "  left out ", "           ", x.Default)
	}
	example := x.Name + " = " + x.Example
	if strings.HasPrefix(x.Example, "[") && x.Table == "plan" {
		example = x.Example // a table of its own
	}
	fmt.Fprintln(w, "  example  "+example)
}

// sayTables writes keys by their tables, a line each, or their names alone.
func sayTables(w io.Writer, xs []explanation, each bool) {
	file, table := "", ""
	var names []string
	flush := func() {
		if len(names) > 0 {
			filled(w, "    ", "    ", names)
		}
		names = nil
	}
	for _, x := range xs {
		if x.File != file {
			flush()
			if file != "" {
				fmt.Fprintln(w)
			}
			fmt.Fprintf(w, "%s\n", x.File)
			file, table = x.File, ""
		}
		if x.Table != table {
			flush()
			wrap(w, "  "+x.opened+": ", "    ", x.says)
			table = x.Table
		}
		if !each {
			names = append(names, x.Name)
			continue
		}
		what := x.Says
		if x.Unit != "" && x.Unit != "of one" {
			what = "(" + x.Unit + ") " + what
		}
		wrap(w, fmt.Sprintf("    %-17s ", x.Name), strings.Repeat(" ", 22), what)
	}
	flush()
}
