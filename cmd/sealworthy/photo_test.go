//go:build unix

package main

import (
	"bytes"
	"image/jpeg"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/capture/record"
)

// A photo that a verb puts beside the record is the one that the page would have kept: drawn
// anew and upright, named by the record, on the sheet, on a client's page where that is said.
// The maker's own file stays as it is.
func TestPhotoByAVerb(t *testing.T) {
	t.Parallel()
	b := gig(t)
	own := filepath.Join(t.TempDir(), "deck.jpg")
	src := turned(t)
	must(t, os.WriteFile(own, src, 0o600))
	runs := func(want int, args ...string) (stdout, stderr string) {
		t.Helper()
		var out, errs bytes.Buffer
		e := quiet()
		e.stdin, e.stdout, e.stderr, e.exit = strings.NewReader(""), &out, &errs, func(int) {}
		if got := run(t.Context(), append([]string{"photo"}, args...), e); got != want {
			t.Fatalf("photo %q: status %d, want %d: %s", args, got, want, errs.String())
		}
		return strings.Join(strings.Fields(out.String()), " "), errs.String() // however it's broken into lines
	}
	if said, _ := runs(exitReady, b.dir); !strings.Contains(said, "No photo is kept yet.") {
		t.Errorf("said: %s", said)
	}
	if said, _ := runs(exitReady, b.dir, own, "--closure", "locker"); !strings.HasPrefix(said, "kept as ") {
		t.Errorf("said: %s", said)
	}
	runs(exitReady, b.dir, own, own, "--client")
	if is, err := os.ReadFile(own); err != nil || !bytes.Equal(is, src) {
		t.Errorf("the maker's file was changed: %v", err)
	}
	f := mustBeWhole(t, b.dir)
	all, err := b.photos(f)
	must(t, err)
	if len(all) != 3 || all[0].Of != "locker" || all[0].Client || !all[1].Client || !all[2].Client || all[2].Of != "" {
		t.Fatalf("%+v", all)
	}
	for _, p := range all {
		is, err := b.readPhoto(p)
		must(t, err)
		picture, err := jpeg.Decode(bytes.NewReader(is))
		must(t, err)
		if size := picture.Bounds().Size(); bytes.Contains(is, []byte("Exif")) || size.X != 32 || size.Y != 64 {
			t.Errorf("%s is kept with %v pixels: %.60q", p.Name, size, is)
		}
	}
	for client, want := range map[bool]int{false: 3, true: 2} {
		if on, err := b.sheetPhotos(f, client); err != nil || len(on) != want {
			t.Errorf("for the client %v: %d photos, %v", client, len(on), err)
		}
	}
	said, _ := runs(exitReady, b.dir)
	if strings.Count(said, "on the client's page") != 2 || !strings.Contains(said, "locker, ") {
		t.Errorf("listed: %s", said)
	}
	said, _ = runs(exitReady, b.dir, "--json")
	mustConform(t, "photo", []byte(said))
	must(t, os.WriteFile(filepath.Join(b.dir, photoDir, all[0].Name), src, 0o600))
	if said, _ := runs(exitReady, b.dir); !strings.Contains(said, ": it is changed") {
		t.Errorf("of one that was changed: %s", said)
	}
}

// What was kept before a file that is no photo stands on the client's page, as was said.
func TestPhotosBeforeOneThatIsNone(t *testing.T) {
	t.Parallel()
	b := gig(t)
	dir := t.TempDir()
	good, bad := filepath.Join(dir, "good.jpg"), filepath.Join(dir, "bad.jpg")
	must(t, os.WriteFile(good, turned(t), 0o600))
	must(t, os.WriteFile(bad, []byte("no photo"), 0o600))
	e := quiet()
	var errs bytes.Buffer
	e.stdin, e.stderr, e.exit = strings.NewReader(""), &errs, func(int) {}
	if got := run(t.Context(), []string{"photo", b.dir, good, bad, good, "--client"}, e); got != exitFailure ||
		!strings.Contains(errs.String(), "bad.jpg") {
		t.Errorf("status %d: %s", got, errs.String())
	}
	all, err := b.photos(mustBeWhole(t, b.dir))
	must(t, err)
	if len(all) != 1 || !all[0].Client {
		t.Errorf("kept %+v", all)
	}
}

// What is no photo, too much, of no closure or no file isn't kept, and is said; nor is any
// while a test of the build is under way, and nothing of it stays.
func TestPhotosThatArentKept(t *testing.T) {
	t.Parallel()
	b := gig(t)
	dir := t.TempDir()
	in := func(name string, src []byte) string {
		file := filepath.Join(dir, name)
		must(t, os.WriteFile(file, src, 0o600))
		return file
	}
	good := in("good.jpg", turned(t))
	refused := func(want int, says string, args ...string) {
		t.Helper()
		var errs bytes.Buffer
		e := quiet()
		e.stdin, e.stderr, e.exit = strings.NewReader(""), &errs, func(int) {}
		if got := run(t.Context(), append([]string{"photo"}, args...), e); got != want ||
			!strings.Contains(strings.Join(strings.Fields(errs.String()), " "), says) {
			t.Errorf("photo %q: status %d: %s", args, got, errs.String())
		}
		if f, err := record.ReadDir(b.dir); err != nil || len(f.Files) > 0 {
			t.Errorf("kept %+v, %v", f.Files, err)
		}
		if left, _ := os.ReadDir(filepath.Join(b.dir, photoDir)); len(left) > 0 {
			t.Errorf("%s lies there", left[0].Name())
		}
	}
	refused(exitFailure, "that is no photo as JPEG", b.dir, in("page.jpg", []byte("<script>")))
	refused(exitFailure, "good.jpg: the plan has no closure", b.dir, good, "--closure", "mast")
	refused(exitFailure, "is larger than anything that belongs there", b.dir,
		in("large.jpg", slices.Repeat([]byte{0xff}, 17<<20)))
	refused(exitFailure, "none.jpg", b.dir, filepath.Join(dir, "none.jpg"))
	refused(exitFailure, dir, b.dir, dir)
	refused(exitUsage, "takes a build")
	refused(exitUsage, "name their files", b.dir, "--client")
	rec, err := b.record(quiet()).Begin(record.Opening{Stage: "fitted", What: record.ForTest, Now: time.Now()})
	must(t, err)
	refused(exitFailure, "end that test first", b.dir, good)
	must(t, rec.Close())
}
