package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/plots"
	"sealworthy/plots/photo"
)

// photoDir is where the photos of a build lie.
const photoDir = "photos"

// What the names of notes begin with that say what a photo is of, and whether it stands
// on a client's page.
const (
	photoNote  = "photo/"
	clientNote = "photo for the client/"
	onClients  = "yes"
	notClients = "no"
)

// mostPhotos are kept of a build (our own choice): some 200 MB.
const mostPhotos = 400

// madePhoto is a photo that is kept beside the record.
type madePhoto struct {
	Name   string // of its file, in photoDir
	Of     string // the closure; "": all of it
	Stage  string
	At     time.Time
	Client bool             // it stands on a client's page
	State  record.FileState // of its file
	kept   record.Attached
}

// photos lists the photos that a record names, in the order in which they were taken.
func (b build) photos(f record.Folded) ([]madePhoto, error) {
	var out []madePhoto
	for _, a := range f.Files {
		dir, name := path.Split(a.Name)
		if dir != photoDir+"/" {
			continue
		}
		out = slices.DeleteFunc(out, func(p madePhoto) bool { return p.Name == name })
		state, err := record.StateOf(os.DirFS(b.dir), a)
		if err != nil {
			return nil, err
		}
		out = append(out, madePhoto{Name: name, Stage: a.Stage, At: a.At, State: state, kept: a})
	}
	for _, n := range f.Notes {
		of, isOf := strings.CutPrefix(n.Name, photoNote)
		for i := range out {
			switch {
			case isOf && out[i].Name == of:
				out[i].Of = n.Text
			case n.Name == clientNote+out[i].Name:
				out[i].Client = n.Text == onClients
			}
		}
	}
	return out, nil
}

// readPhoto reads a photo that is as it was kept.
func (b build) readPhoto(p madePhoto) ([]byte, error) {
	if p.State != record.FileThere {
		return nil, fmt.Errorf("the photo %s is %s: %w", p.Name, p.State, fs.ErrNotExist)
	}
	return readFile(filepath.Join(b.dir, photoDir, p.Name), photo.MostBytes)
}

// keepPhoto makes a photo the program's own and keeps it beside the record: in the sitting
// that is under way, else in one of its own. It gives the name of its file. Where the build
// is in use by another run of the program nothing is kept.
func (b build) keepPhoto(e env, of string, src []byte, beside *session.Beside, now time.Time) (name string,
	err error) {
	f, err := b.history(quietly(e))
	if err != nil {
		return "", err
	}
	if have, err := b.photos(f); err != nil || len(have) >= mostPhotos {
		return "", errors.Join(err, tooMany(len(have)))
	}
	if of != "" && b.plan.ClosureAt(of) < 0 {
		return "", fmt.Errorf("the plan has no closure %q", of)
	}
	clean, err := photo.Clean(src)
	if err != nil {
		return "", err
	}
	dir := filepath.Join(b.dir, photoDir)
	if err := makeFolder(dir); err != nil {
		return "", err
	}
	if name, err = writeUnder(dir, photoName(now, of), clean); err != nil {
		return "", err
	}
	do := func(rec *record.Recorder, now time.Time, stage string) error {
		if err := rec.Attach(os.DirFS(b.dir), photoDir+"/"+name, now); err != nil {
			return err
		}
		k := record.Keep(rec)
		if of != "" {
			if err := k.Note(photoNote+name, of, stage, now); err != nil {
				return err
			}
		}
		return k.Sync()
	}
	err = b.tellBeside(e, beside, do)
	switch {
	case errors.Is(err, record.ErrInUse):
		return "", errors.Join(err, removeOwn(filepath.Join(dir, name)))
	case err != nil:
		err = fmt.Errorf("the photo lies in %s, but the record doesn't name it: %w", filepath.Join(dir, name), err)
	}
	return name, err
}

func tooMany(n int) error {
	if n < mostPhotos {
		return nil
	}
	return fmt.Errorf("%d photos are kept of this build, and no more are", n)
}

// tellBeside keeps something in the sitting that is under way, else in one of its own. One
// may begin between the two.
func (b build) tellBeside(e env, beside *session.Beside, do func(*record.Recorder, time.Time, string) error) error {
	for last := false; ; last = true {
		done, err := beside.Keep(do)
		if done {
			return err
		}
		if err = b.record(quietly(e)).Tell(do); last || !errors.Is(err, record.ErrInUse) {
			return err
		}
	}
}

// photoName is a file's name without its end: when, and of what.
func photoName(now time.Time, of string) string {
	name := now.UTC().Format("20060102T150405Z")
	if of != "" {
		about, _ := readable(of)
		name += "-" + about
	}
	return name
}

// writeUnder writes a new photo under the first name that is free.
func writeUnder(dir, name string, src []byte) (string, error) {
	const ext, most = ".jpg", 99
	for i := 1; ; i++ {
		file := name + ext
		if i > 1 {
			file = fmt.Sprintf("%s-%d%s", name, i, ext)
		}
		err := writeNew(filepath.Join(dir, file), src)
		if !errors.Is(err, fs.ErrExist) || i == most {
			return file, err
		}
	}
}

// tickPhotos keeps which photos stand on a client's page.
func (b build) tickPhotos(e env, names []string, beside *session.Beside) error {
	f, err := b.history(quietly(e))
	if err != nil {
		return err
	}
	have, err := b.photos(f)
	if err != nil {
		return err
	}
	for _, n := range names {
		if !slices.ContainsFunc(have, func(p madePhoto) bool { return p.Name == n }) {
			return fmt.Errorf("there is no photo %q", n)
		}
	}
	have = slices.DeleteFunc(have, func(p madePhoto) bool { return p.Client == slices.Contains(names, p.Name) })
	if len(have) == 0 {
		return nil
	}
	return b.tellBeside(e, beside, func(rec *record.Recorder, now time.Time, stage string) error {
		k := record.Keep(rec)
		for _, p := range have {
			text := notClients
			if !p.Client {
				text = onClients
			}
			if err := k.Note(clientNote+p.Name, text, stage, now); err != nil {
				return err
			}
		}
		return k.Sync()
	})
}

// sheetPhotos are the photos that stand on a printed page: all of them, or those for the
// client. One that isn't there any more, or isn't as it was, is left out.
func (b build) sheetPhotos(f record.Folded, client bool) ([]plots.SheetPhoto, error) {
	have, err := b.photos(f)
	if err != nil {
		return nil, err
	}
	var out []plots.SheetPhoto
	for _, p := range have {
		if client && !p.Client || p.State != record.FileThere {
			continue
		}
		src, err := b.readPhoto(p)
		if err != nil {
			return nil, err
		}
		out = append(out, plots.SheetPhoto{Of: p.Of, Stage: p.Stage, At: p.At, JPEG: src})
	}
	return out, nil
}
