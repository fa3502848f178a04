package main

import (
	"context"
	"embed"
	"fmt"
	"maps"
	"slices"
)

const schemaHelp = `sealworthy schema [NAME]

What --json prints, for programs: a JSON schema (2020-12) for the output of a
verb. Each output is one object, and its "format" says which it is, and of which
version: urn:sealworthy:compare:2. That is the id of its schema, too. A version
changes with anything that a reader could stumble over. Without NAME it lists
what there is.

With --json an error is an object on standard output, too: schema "error". rig
prints two outputs, one when it's up and one at its end; ports --try prints what
was said, then an error if there was one. export writes lines, each one of the
format. Lines of events have a version of their own: sealworthy measure -h.

Without --json are those whose output is a file, a page or words: completion,
export, help and page, and new --ask, which is a conversation.

Exit status: 0, 2 usage.`

//go:embed schema/*.json
var schemas embed.FS

func runSchema(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "schema", schemaHelp)
	listJSON := f.Bool("json", false, "print the list as JSON")
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	all := outputs()
	switch len(rest) {
	case 0:
		list := whatHasSchema{}
		for _, name := range slices.Sorted(maps.Keys(all)) {
			list.Schemas = append(list.Schemas, schemaNamed{name, all[name].version, all[name].format(name)})
		}
		if *listJSON {
			return exitReady, writeJSON(e.stdout, list)
		}
		for _, x := range list.Schemas {
			fmt.Fprintf(e.stdout, "%-14s version %d\n", x.Name, x.Version)
		}
		return exitReady, nil
	case 1:
		if _, ok := all[rest[0]]; !ok {
			return exitUsage, misuse("schema", "nothing called %q has one; sealworthy schema lists what has", rest[0])
		}
		b, err := schemas.ReadFile("schema/" + rest[0] + ".json")
		if err != nil {
			return exitFailure, err
		}
		_, err = e.stdout.Write(b)
		return exitReady, err
	}
	return exitUsage, misuse("schema", "takes one NAME, got %d", len(rest))
}
