package place

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
)

// Key is a key of a file, and what is to be said of it to whoever writes the file.
type Key struct {
	In      string // tables that take it, by a word each
	Name    string // as it's written
	Unit    string // of its number; "" text, a list, a table, a count
	Default string // what holds where it isn't said
	Example string // its value, as it stands in a file
	Says    string // one or two sentences
}

// Table is one table of a file: its word in Key.In, how it's opened, what it is.
type Table struct {
	Name, Opened, Says string // "[supply]", "[[relay]]", and what it is
}

// Untold sets the keys that a type decodes against those that are told: it lists
// what is read and not told, told and not read, or told without an example or a
// sentence. Top is the word of the file's own table; shared gives types that stand
// under several keys a table of their own.
func Untold(t reflect.Type, top string, shared map[reflect.Type]string, keys []Key, tables []Table) []string {
	read := map[string]bool{}
	walkKeys(t, top, shared, read)
	told := map[string]bool{}
	var out []string
	for _, k := range keys {
		for _, table := range strings.Fields(k.In) {
			told[table+"."+k.Name] = true
			if !slices.ContainsFunc(tables, func(x Table) bool { return x.Name == table }) {
				out = append(out, fmt.Sprintf("%s: there is no table %q", k.Name, table))
			}
		}
		if k.Example == "" || k.Says == "" {
			out = append(out, fmt.Sprintf("%s.%s has no example or no sentence", k.In, k.Name))
		}
	}
	for k := range read {
		if !told[k] {
			out = append(out, k+" is read and not told: write its line in keys.go")
		}
	}
	for k := range told {
		if !read[k] {
			out = append(out, k+" is told and not read")
		}
	}
	slices.Sort(out)
	return out
}

// walkKeys collects "table.key" of a struct with toml tags and of those below it.
func walkKeys(t reflect.Type, table string, shared map[reflect.Type]string, out map[string]bool) {
	if named, ok := shared[t]; ok {
		table = named
	}
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
		if name == "" || name == "-" {
			continue
		}
		under := f.Type
		for under.Kind() == reflect.Pointer || under.Kind() == reflect.Slice {
			under = under.Elem()
		}
		if under.Kind() != reflect.Struct {
			out[table+"."+name] = true
			continue
		}
		if _, ok := shared[under]; ok {
			out[table+"."+name] = true
		}
		walkKeys(under, name, shared, out)
	}
}
