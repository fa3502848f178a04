package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"sealworthy/capture/record"
	"sealworthy/capture/record/out"
)

const exportHelp = `sealworthy export BUILD [--format csv|json|lines] [--into FILE]

Writes every reading of a build for other programs, in order, to the terminal or
into a new file.

  csv    a table (RFC 4180), one reading a row, units beside the numbers: value
         and half_width in the row's unit, window_s and latency_s in seconds. A
         text, or part of one, that a spreadsheet would compute gets an
         apostrophe before it
  json   the same, one object a line
  lines  InfluxDB line protocol, every line of the record as it stands there

What is damaged is left out and named; what the bench simulated says so.

Exit status: 0 all of it, 4 something was left out, 1 failure, 2 usage.`

func runExport(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "export", exportHelp)
	format := f.String("format", string(out.CSV), "`format`: csv, json or lines")
	into := f.String("into", "", "a new `file`; else it is printed")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if !slices.Contains(out.Formats(), out.Format(*format)) {
		return exitUsage, misuse("export", "--format %q: it is one of csv, json, lines", *format)
	}
	if dir, err = folderOf(dir); err != nil {
		return exitFailure, err
	}
	var x out.Written
	write := func(w io.Writer) error {
		b := bufio.NewWriterSize(w, 256<<10)
		var err error
		if x, err = out.Write(b, os.DirFS(dir), out.Format(*format)); err != nil {
			return err
		}
		return b.Flush()
	}
	if *into == "" {
		err = write(e.stdout)
	} else {
		err = writeNewBy(*into, write)
	}
	if err != nil {
		return exitFailure, err
	}
	if *into != "" {
		fmt.Fprintf(e.stderr, "%s, %s\n", countOf(x.Lines, "line"), *into)
	}
	return sayLeftOut(e, x.Walked), nil
}

// sayLeftOut says what of a record didn't go out, and gives the exit status.
func sayLeftOut(e env, x record.Walked) int {
	status := exitReady
	for _, d := range x.Damage {
		wrap(e.stderr, "note: ", "  ", d.String()+"; it is left out")
		status = exitNotReady
	}
	if len(x.Before) > 0 {
		wrap(e.stderr, "note: ", "  ",
			fmt.Sprintf("left out: %s of before the chain (%s); \"sealworthy check --convert\" chains it",
				countOf(len(x.Before), "file"), strings.Join(x.Before, ", ")))
		status = exitNotReady
	}
	return status
}
