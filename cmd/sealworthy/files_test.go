package main

import (
	"bytes"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"rsc.io/pdf"

	"sealworthy/compare"
	"sealworthy/plots"
)

const (
	bowPage = "<!DOCTYPE html>\n<html lang=\"en\"><title>bow</title></html>\n"
	other   = "<!DOCTYPE html>\n<html lang=\"en\"><title>somebody else's</title></html>\n"
)

// What the program made is replaced, whatever its format; changed by one byte it
// isn't any more.
func TestOnlyOwnFilesAreReplaced(t *testing.T) {
	dir := t.TempDir()
	bands := plots.BandsData{Title: "bands", Rows: []plots.BandRow{{Group: "galley", ExpectedA: 0.02,
		Band: compare.Band{LowA: 0.019, HighA: 0.024, Coverage: 0.95}, SmallestA: 0.02}}}
	for ext, write := range map[string]func(io.Writer) error{
		"html": writeBytes([]byte(bowPage)),
		"toml": writeBytes([]byte("# made anew each time\na = 1\n")),
		"svg":  func(w io.Writer) error { return plots.Bands(w, plots.SVG, plots.DefaultStyle(), bands) },
		"png":  func(w io.Writer) error { return plots.Bands(w, plots.PNG, plots.DefaultStyle(), bands) },
		"pdf":  func(w io.Writer) error { return plots.Bands(w, plots.PDF, plots.DefaultStyle(), bands) },
	} {
		t.Run(ext, func(t *testing.T) {
			file := filepath.Join(dir, "made."+ext)
			for range 2 {
				if err := writeMade(file, write); err != nil {
					t.Fatal(err)
				}
			}
			src := mustRead(t, file)
			if !isSealed(src) {
				t.Fatal("not sealed")
			}
			stillReadable(t, ext, src)
			for i := 0; i < len(src); i += 1 + len(src)/97 {
				changed := bytes.Clone(src)
				changed[i] ^= 1
				if isSealed(changed) {
					t.Fatalf("byte %d of %d changed, and still its own", i, len(src))
				}
			}
			if isSealed(src[:len(src)-1]) || isSealed(append(bytes.Clone(src), '\n')) {
				t.Error("cut or longer, and still its own")
			}
			if err := os.WriteFile(file, append(src, ' '), 0o644); err != nil {
				t.Fatal(err)
			}
			if err := writeMade(file, write); !errors.Is(err, errNotOurs) {
				t.Errorf("a changed file was replaced: %v", err)
			}
		})
	}
}

// What stands where a page should go and isn't the program's own stays as it is,
// byte for byte.
func TestForeignFilesStay(t *testing.T) {
	dir := t.TempDir()
	inner := filepath.Join(dir, "inner")
	must(t, os.Mkdir(inner, 0o755))
	for name, src := range map[string]string{
		"plan.toml": "build = \"x\"\n", "Plan.TOML": "build = \"x\"\n", "bench.toml": "",
		"20261201T101500Z-fitted.lp": "mark,build=x a=1 1\n",
		"page.html":                  other, "letter.txt": "dear client\n", "empty.html": "",
		"named.html": other + "<!-- " + sealWord + " 00000000000000000000000000000000 -->\n",
	} {
		file := filepath.Join(dir, name)
		must(t, os.WriteFile(file, []byte(src), 0o600))
		if err := writeMade(file, writeBytes([]byte(bowPage))); err == nil {
			t.Errorf("%s was replaced", name)
		} else if h := new(hinted); !errors.As(err, &h) || !strings.Contains(err.Error(), "nothing was written") {
			t.Errorf("%s: %v", name, err)
		}
		if got := mustRead(t, file); string(got) != src {
			t.Errorf("%s holds %q now", name, got)
		}
	}
	if err := writeMade(inner, writeBytes([]byte(bowPage))); err == nil ||
		!strings.Contains(err.Error(), "is a folder") {
		t.Errorf("a folder: %v", err)
	}
	if err := writeMade(filepath.Join(dir, "nowhere", "page.html"), writeBytes([]byte(bowPage))); err == nil ||
		!strings.Contains(err.Error(), "there is no folder") {
		t.Errorf("no folder: %v", err)
	}
	// Names that are kept, with nothing there.
	for _, name := range []string{"plan.toml", "bench.toml", "priors.toml", "a.lp"} {
		if err := writeMade(filepath.Join(inner, name), writeBytes([]byte(bowPage))); err == nil {
			t.Errorf("a page was written as %s", name)
		}
	}
	noneLeft(t, dir)
}

// A link is no file of the program's own, wherever it leads.
func TestLinksAreNotFollowed(t *testing.T) {
	dir := t.TempDir()
	target := filepath.Join(dir, "own.html")
	must(t, writeMade(target, writeBytes([]byte(bowPage))))
	for name, to := range map[string]string{"to-own.html": target, "dangling.html": filepath.Join(dir, "nothing.html"),
		"to-folder.html": dir} {
		link := filepath.Join(dir, name)
		if err := os.Symlink(to, link); err != nil {
			t.Skip("no links here:", err)
		}
		if err := writeMade(link, writeBytes([]byte(bowPage))); err == nil || !strings.Contains(err.Error(), "link") {
			t.Errorf("%s: %v", name, err)
		}
		if err := writeNew(link, []byte("x")); err == nil {
			t.Errorf("%s: written as new", name)
		}
		if got, err := os.Readlink(link); err != nil || got != to {
			t.Errorf("%s leads to %q now (%v)", name, got, err)
		}
	}
	if _, err := os.Lstat(filepath.Join(dir, "nothing.html")); !errors.Is(err, fs.ErrNotExist) {
		t.Error("a dangling link was written through")
	}
	// The maker's own file is changed where it really lies.
	plan, link := filepath.Join(dir, "elsewhere.toml"), filepath.Join(dir, "linked.toml")
	must(t, os.WriteFile(plan, []byte("old"), 0o640))
	must(t, os.Symlink(plan, link))
	must(t, writeEdited(link, []byte("old"), []byte("new")))
	if got := mustRead(t, plan); string(got) != "new" {
		t.Errorf("%q", got)
	}
	if got, err := os.Readlink(link); err != nil || got != plan {
		t.Errorf("the link became %q (%v)", got, err)
	}
	noneLeft(t, dir)
}

// A private file stays private; a new one has the mode that the mask leaves.
func TestModesAreKept(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("modes are Unix's")
	}
	dir := t.TempDir()
	probe := filepath.Join(dir, "probe")
	must(t, os.WriteFile(probe, nil, 0o666))
	usual := modeOf(t, probe)
	file := filepath.Join(dir, "page.html")
	must(t, writeMade(file, writeBytes([]byte(bowPage))))
	if got := modeOf(t, file); got != usual {
		t.Errorf("a new file has mode %o, others %o", got, usual)
	}
	for _, mode := range []fs.FileMode{0o600, 0o640, 0o644, 0o755} {
		must(t, os.Chmod(file, mode))
		must(t, writeMade(file, writeBytes([]byte(other))))
		if got := modeOf(t, file); got != mode {
			t.Errorf("mode %o became %o", mode, got)
		}
	}
	must(t, os.Chmod(file, 0o400))
	if err := writeMade(file, writeBytes([]byte(bowPage))); err == nil ||
		!strings.Contains(err.Error(), "write-protected") {
		t.Errorf("a protected file: %v", err)
	}
	plan := filepath.Join(dir, "plan.toml")
	must(t, os.WriteFile(plan, []byte("old"), 0o600))
	must(t, writeEdited(plan, []byte("old"), []byte("new")))
	if got := modeOf(t, plan); got != 0o600 {
		t.Errorf("a private plan has mode %o now", got)
	}
}

// Who changed a file meanwhile keeps the change.
func TestEditedOnlyAsItWasRead(t *testing.T) {
	file := filepath.Join(t.TempDir(), "plan.toml")
	must(t, os.WriteFile(file, []byte("theirs"), 0o644))
	if err := writeEdited(file, []byte("read"), []byte("ours")); err == nil {
		t.Error("their change is lost")
	}
	if err := writeNew(file, []byte("ours")); !errors.Is(err, fs.ErrExist) {
		t.Errorf("new over one that is there: %v", err)
	}
	if got := mustRead(t, file); string(got) != "theirs" {
		t.Errorf("%q", got)
	}
}

// What is read is bounded, and a plain file.
func TestReadingIsBounded(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "plan.toml")
	must(t, os.WriteFile(file, bytes.Repeat([]byte("#"), 9), 0o644))
	if src, err := readFile(file, 9); err != nil || len(src) != 9 {
		t.Errorf("%d bytes, %v", len(src), err)
	}
	if _, err := readFile(file, 8); err == nil || !strings.Contains(err.Error(), "larger") {
		t.Errorf("%v", err)
	}
	if _, err := readFile(dir, 8); err == nil || !strings.Contains(err.Error(), "is a folder") {
		t.Errorf("%v", err)
	}
	if runtime.GOOS == "linux" {
		link := filepath.Join(dir, "bench.toml")
		must(t, os.Symlink("/dev/zero", link))
		if _, err := readFile(link, 8); err == nil || !strings.Contains(err.Error(), "is a device, no plain file") {
			t.Errorf("%v", err)
		}
	}
}

// stillReadable: the seal is where each format has room for it.
func stillReadable(t *testing.T, ext string, src []byte) {
	t.Helper()
	switch ext {
	case "png":
		if _, err := png.Decode(bytes.NewReader(src)); err != nil {
			t.Error(err)
		}
	case "pdf":
		r, err := pdf.NewReader(bytes.NewReader(src), int64(len(src)))
		if err != nil || r.NumPage() != 1 {
			t.Errorf("%v", err)
		}
	case "svg":
		d := xml.NewDecoder(bytes.NewReader(src))
		for {
			if _, err := d.Token(); err == io.EOF {
				return
			} else if err != nil {
				t.Fatal(err)
			}
		}
	}
}

func noneLeft(t *testing.T, dir string) {
	t.Helper()
	if m, _ := filepath.Glob(filepath.Join(dir, ".sealworthy-*")); len(m) > 0 {
		t.Errorf("left behind: %v", m)
	}
}

func modeOf(t *testing.T, file string) fs.FileMode {
	t.Helper()
	info, err := os.Lstat(file)
	must(t, err)
	return info.Mode().Perm()
}

func mustRead(t *testing.T, file string) []byte {
	t.Helper()
	src, err := os.ReadFile(file)
	must(t, err)
	return src
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// Whatever is sealed is known again; nothing else is.
func FuzzSeal(f *testing.F) {
	for _, s := range []string{bowPage, other, "# a\n", "<svg >", "%PDF-1.3\nstartxref\n1\n%%EOF\n",
		"\x89PNG\r\n\x1a\n" + strings.Repeat("x", 40), "text"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, src []byte) {
		if isSealed(src) {
			t.Fatalf("%q is taken for sealed", src)
		}
		out, err := sealed(src)
		if err != nil {
			return
		}
		if !isSealed(out) {
			t.Fatalf("%q became %q, not known again", src, out)
		}
		for i := range out {
			out[i]++
			if isSealed(out) {
				t.Fatalf("changed at %d: %q", i, out)
			}
			out[i]--
		}
	})
}
