package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sealworthy/capture/record"
	"sealworthy/capture/record/parcel"
	"sealworthy/instruments/plainfile"
)

const packHelp = `sealworthy pack BUILD [--into FILE] [--without-client]

Puts a whole build into one file: plan, record, signatures, pages, photos. It is
a ZIP archive whose first entry, SHA256SUMS, holds the sum of every file. The
same content gives the same bytes. "sealworthy unpack FILE" checks it and takes
it out.

--without-client leaves out what concerns the client: the files that the record
says lie beside it (photos, addresses) and the pages that show them. No verdict
changes by that.

Exit status: 0 all of it, 4 a file couldn't be packed, 1 failure, 2 usage.`

const parcelExt = ".zip"

func runPack(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "pack", packHelp)
	into := f.String("into", "", "a new `file`; else the build's name and .zip, where you are")
	anonymous := f.Bool("without-client", false, "leave out photos and what else concerns the client")
	asJSON := f.Bool("json", false, "print what was packed as JSON")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if dir, err = folderOf(dir); err != nil {
		return exitFailure, err
	}
	if *into == "" {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return exitFailure, err
		}
		*into = filepath.Base(abs) + parcelExt
	}
	leave, err := leftOut(dir, *into, *anonymous)
	if err != nil {
		return exitFailure, err
	}
	var x parcel.Packed
	if err := writeNewBy(*into, func(w io.Writer) error {
		var err error
		x, err = parcel.Pack(w, os.DirFS(dir), record.HeadFile, leave)
		return err
	}); err != nil {
		return exitFailure, err
	}
	status := exitReady
	if slices.ContainsFunc(x.Left, func(s string) bool { return !strings.HasSuffix(s, onPurpose) }) {
		status = exitNotReady
	}
	if *asJSON {
		return status, writeJSON(e.stdout, x)
	}
	sayPacked(e.stdout, x, *into)
	return status, nil
}

// onPurpose ends the reason of what is left out because it was asked for, or can be
// made anew.
const onPurpose = " (on purpose)"

// leftOut says what isn't packed: what is of this machine and moment, and the client's
// where that is wanted.
func leftOut(dir, into string, anonymous bool) (func(string) string, error) {
	var client []string
	if anonymous {
		f, err := record.ReadDir(dir)
		if err != nil {
			return nil, err
		}
		for _, x := range f.Files {
			if !strings.HasPrefix(x.Name, signatureDir+"/") { // of the model, not of the client
				client = append(client, x.Name)
			}
		}
	}
	self, err := filepath.Abs(into)
	if err != nil {
		return nil, err
	}
	return func(name string) string {
		abs, err := filepath.Abs(filepath.Join(dir, filepath.FromSlash(name)))
		switch base := filepath.Base(strings.TrimSuffix(name, "/")); {
		case err == nil && abs == self, strings.HasPrefix(base, "."), filepath.Ext(base) == ".lock",
			filepath.Ext(base) == ".held", name == sentFile:
			return "it is of this machine" + onPurpose
		case slices.Contains(client, name), anonymous && slices.Contains([]string{deliveryFile, sheetFile}, name):
			// photos stand on both
			return "it concerns the client" + onPurpose
		}
		return ""
	}, nil
}

func sayPacked(w io.Writer, x parcel.Packed, file string) {
	wrap(w, "", "  ", fmt.Sprintf("%s, %.1f MB: %s", countOf(len(x.Files), "file"), float64(x.Bytes)/1e6, file))
	for _, s := range x.Left {
		if s != "" && !strings.HasSuffix(s, "it is of this machine"+onPurpose) {
			wrap(w, "left out: ", "  ", s)
		}
	}
}

const unpackHelp = `sealworthy unpack FILE [--into DIR]

Takes a packed build out into a new folder, after every file was checked against
its sum: whole, or not at all. Names that lead elsewhere, links, and what is far
longer than its parcel are refused. Then it says whether the record is whole.

Exit status: 0 whole, 4 the record was damaged when it was packed, 1 failure,
2 usage.`

func runUnpack(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "unpack", unpackHelp)
	into := f.String("into", "", "a new `folder`; else the file's name without .zip, where you are")
	asJSON := f.Bool("json", false, "print what was unpacked as JSON")
	rest, err := parse(f, args, 1)
	if err != nil {
		return exitUsage, err
	}
	if *into == "" {
		*into = strings.TrimSuffix(filepath.Base(rest[0]), parcelExt)
		if *into == filepath.Base(rest[0]) {
			return exitUsage, misuse("unpack", "say where: --into DIR")
		}
	}
	x, err := unpacked(rest[0], *into)
	if err != nil {
		return exitFailure, fmt.Errorf("%s: %w", rest[0], err)
	}
	c, err := checkRecord(e, *into)
	if err != nil {
		return exitFailure, err
	}
	status := exitReady
	if c.Open > 0 {
		status = exitNotReady
	}
	if *asJSON {
		return status, writeJSON(e.stdout, whatIsUnpacked{x, c.Whole})
	}
	sayPacked(e.stdout, x, *into)
	if !c.Whole {
		wrap(e.stdout, "! ", "  ",
			"its record was damaged when it was packed: \"sealworthy check "+quoted(*into)+"\" says where")
	}
	return status, nil
}

func unpacked(file, dir string) (p parcel.Packed, err error) {
	info, err := os.Stat(file)
	if err != nil {
		return p, err
	}
	if err := plainfile.Plain(file, info); err != nil {
		return p, err
	}
	r, err := openToRead(file)
	if err != nil {
		return p, err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return parcel.Unpack(r, info.Size(), dir, parcel.Usual())
}
