package main

import (
	"context"
	"embed"
	"fmt"
	"maps"
	"slices"

	"sealworthy/capture/record/out"
	"sealworthy/capture/record/parcel"
	"sealworthy/compare"
	"sealworthy/compare/returns"
)

const schemaHelp = `sealworthy schema [NAME]

What --json prints, for programs: a JSON schema (2020-12) for the output of a
verb, with the version of that output in its id. A version changes with anything
that a reader could stumble over. Without NAME it lists what there is.

With --json an error is an object on standard output, too: schema "error".

Exit status: 0, 2 usage.`

//go:embed schema/*.json
var schemas embed.FS

// output is what a verb prints as JSON.
type output struct {
	version int
	value   any // one of the type that is printed
}

// whatIsSoaked is what soak prints.
type whatIsSoaked struct {
	Soak   *returns.Soaked `json:"soak"`
	Trends []returns.Trend `json:"trends"`
}

// whatIsUnpacked is what unpack prints.
type whatIsUnpacked struct {
	parcel.Packed
	Whole bool `json:"whole"`
}

// whatFailed is an error as --json prints it.
type whatFailed struct {
	Error  string   `json:"error"`
	Hints  []string `json:"hints"`
	Status int      `json:"status"` // the exit status
}

// outputs are all that have a schema, by name: that of the verb, mostly. The versions
// count from 1, each output by itself.
func outputs() map[string]output {
	return map[string]output{
		"budget":        {1, gradedBudget{}},
		"builds":        {1, []shopBuild{}},
		"check":         {1, checked{}},
		"compare":       {1, []compare.ClosureFinding{}},
		"error":         {1, whatFailed{}},
		"export":        {1, out.Reading{}},
		"history":       {1, buildHistory{}},
		"history-reels": {1, []compare.ReelYears{}},
		"keep":          {1, &returns.Signature{}},
		"left":          {1, buildLeft{}},
		"measure":       {1, []compare.ClosureFinding{}},
		"next":          {1, []compare.Doubt{}},
		"note":          {1, []madeNote{}},
		"pack":          {1, parcel.Packed{}},
		"parts":         {1, []listedPart{}},
		"plot":          {1, []string{}},
		"return":        {1, &returns.Diagnosis{}},
		"send":          {1, out.Sent{}},
		"soak":          {1, whatIsSoaked{}},
		"unpack":        {1, whatIsUnpacked{}},
	}
}

func runSchema(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "schema", schemaHelp)
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	all := outputs()
	switch len(rest) {
	case 0:
		for _, name := range slices.Sorted(maps.Keys(all)) {
			fmt.Fprintf(e.stdout, "%-14s version %d\n", name, all[name].version)
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
