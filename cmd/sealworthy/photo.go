package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"sealworthy/capture/record"
	"sealworthy/compare/words"
	"sealworthy/plots/photo"
)

const photoHelp = `sealworthy photo BUILD FILE... [--closure NAME] [--client]
sealworthy photo BUILD

Puts photos beside the record: JPEG files, as a phone or a camera makes them.
Each is drawn anew, upright and no larger than a sheet needs. Nothing stays of
it but what is to be seen: where it was taken, and by whose camera, is gone.
Your own file stays as it is. The record names the photo, so one that was
changed or lost since is known. It stands on the sheet; on a client's page with
--client alone. Without a FILE those that are kept are listed.

On the page a photo can be taken while the lights are on.

Exit status: 0 kept or listed, 1 failure, 2 usage.`

// listedPhoto is a photo as --json prints it.
type listedPhoto struct {
	File   string           `json:"file"`         // in the build's folder
	Of     string           `json:"of,omitempty"` // the closure; empty: all of it
	Stage  string           `json:"stage"`
	At     time.Time        `json:"at"`
	Client bool             `json:"client"` // it stands on a client's page
	State  record.FileState `json:"state"`
}

func runPhoto(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "photo", photoHelp)
	closure := f.String("closure", "", "the `closure` that they are of; else all of the build")
	client := f.Bool("client", false, "they stand on a client's page, too")
	asJSON := f.Bool("json", false, "print the photos that are kept as JSON")
	rest, err := parse(f, args, -1)
	switch {
	case err != nil:
		return exitUsage, err
	case len(rest) == 0:
		return exitUsage, misuse("photo", "takes a build and the files of photos")
	case len(rest) == 1 && (*closure != "" || *client):
		return exitUsage, misuse("photo", "--closure and --client are of photos that are put in: name their files")
	}
	b, err := openBuild(e, rest[0])
	if err != nil {
		return exitFailure, err
	}
	var kept []string
	for _, file := range rest[1:] {
		var name string
		if name, err = b.takePhoto(e, *closure, file); err != nil {
			break
		}
		kept = append(kept, name)
		if !*asJSON {
			fmt.Fprintln(e.stdout, "kept as "+filepath.Join(b.dir, photoDir, name))
		}
	}
	if *client && len(kept) > 0 { // what was kept before one that can't be
		if wrong := b.alsoForTheClient(e, kept); err == nil {
			err = wrong
		}
	}
	if err != nil {
		return exitFailure, err
	}
	if len(kept) > 0 && !*asJSON {
		return exitReady, nil
	}
	h, err := b.history(e)
	if err != nil {
		return exitFailure, err
	}
	all, err := b.photos(h)
	if err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, whatIsPhotographed{listedPhotos(all)})
	}
	sayPhotos(e.stdout, all, e.here())
	return exitReady, nil
}

// takePhoto puts the photo of a file beside the record, and gives the name that it has there.
func (b build) takePhoto(e env, closure, file string) (string, error) {
	src, err := readFile(file, photo.MostBytes)
	if err != nil {
		return "", err
	}
	name, err := b.keepPhoto(e, closure, src, nil, time.Now())
	switch {
	case errors.Is(err, record.ErrInUse):
		return "", withHint(fmt.Errorf("%s: %w", file, err), "end that test first, or give the photo to its page")
	case err != nil:
		return "", fmt.Errorf("%s: %w", file, err)
	}
	return name, nil
}

// alsoForTheClient has photos stand on a client's page beside those that do already.
func (b build) alsoForTheClient(e env, names []string) error {
	h, err := b.history(quietly(e))
	if err != nil {
		return err
	}
	have, err := b.photos(h)
	if err != nil {
		return err
	}
	for _, p := range have {
		if p.Client {
			names = append(names, p.Name)
		}
	}
	return b.tickPhotos(e, names, nil)
}

func listedPhotos(all []madePhoto) []listedPhoto {
	out := []listedPhoto{}
	for _, p := range all {
		out = append(out, listedPhoto{photoDir + "/" + p.Name, p.Of, p.Stage, p.At, p.Client, p.State})
	}
	return out
}

func sayPhotos(w io.Writer, all []madePhoto, where *time.Location) {
	if len(all) == 0 {
		fmt.Fprintln(w, "No photo is kept yet.")
	}
	for _, p := range all {
		text := cmp.Or(p.Of, "all of it") + ", " + p.Stage
		if p.Client {
			text += ", on the client's page"
		}
		if p.State != record.FileThere {
			text += ": it is " + string(p.State)
		}
		wrap(w, words.Day(p.At, where)+" ", "           ", photoDir+"/"+p.Name+": "+text)
	}
}
