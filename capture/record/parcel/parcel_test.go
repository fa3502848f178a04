package parcel

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"
)

func none(string) string { return "" }

// ship is an invented build.
func ship() fstest.MapFS {
	return fstest.MapFS{
		"plan.toml":      {Data: []byte("build = \"Brackwater\"\n")},
		"chain.json":     {Data: []byte("{}\n")},
		"readings/a.lp":  {Data: bytes.Repeat([]byte("reading,closure=hull value=0.0381 1\n"), 3000)},
		"photos/bow.jpg": {Data: []byte{0xff, 0xd8, 0xff}, ModTime: time.Now()},
		"empty.txt":      {},
		"link":           {Data: []byte("plan.toml"), Mode: fs.ModeSymlink},
		"a:b":            {Data: []byte("x")},
	}
}

func packed(t testing.TB, tree fs.FS) ([]byte, Packed) {
	t.Helper()
	var b bytes.Buffer
	x, err := Pack(&b, tree, "chain.json", none)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), x
}

// TestPack: the same content gives the same bytes, and comes out as it went in.
func TestPack(t *testing.T) {
	a, x := packed(t, ship())
	time.Sleep(2 * time.Millisecond)
	b, _ := packed(t, ship())
	if !bytes.Equal(a, b) {
		t.Error("the same content gives other bytes")
	}
	if len(x.Files) != 5 || len(x.Left) != 2 {
		t.Fatalf("%+v", x)
	}
	dir := filepath.Join(t.TempDir(), "out")
	y, err := Unpack(bytes.NewReader(a), int64(len(a)), dir, Usual())
	if err != nil || fmt.Sprint(y.Files) != fmt.Sprint(x.Files) || y.Bytes != x.Bytes {
		t.Fatalf("%+v, %v", y, err)
	}
	for name, f := range ship() {
		got, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
		if left := name == "link" || name == "a:b"; left != errors.Is(err, fs.ErrNotExist) ||
			!left && !bytes.Equal(got, f.Data) {
			t.Errorf("%s: %d bytes, %v", name, len(got), err)
		}
	}
	if again, _ := packed(t, os.DirFS(dir)); !bytes.Equal(again, a) {
		t.Error("packed again it has other bytes")
	}
	if _, err := Unpack(bytes.NewReader(a), int64(len(a)), dir, Usual()); !errors.Is(err, fs.ErrExist) {
		t.Errorf("a folder that is there: %v", err)
	}
}

// entry is an entry of a parcel that somebody made by hand.
type entry struct {
	name, text string
	mode       fs.FileMode
	unlisted   bool
	sum        string
}

func byHand(t *testing.T, es ...entry) []byte {
	t.Helper()
	var b, list bytes.Buffer
	for _, e := range es {
		if e.sum == "" {
			e.sum = fmt.Sprintf("%x", sha256.Sum256([]byte(e.text)))
		}
		if !e.unlisted {
			fmt.Fprintf(&list, "%s  %s\n", e.sum, e.name)
		}
	}
	z := zip.NewWriter(&b)
	for _, e := range append([]entry{{name: Sums, text: list.String()}}, es...) {
		h := &zip.FileHeader{Name: e.name, Method: zip.Deflate}
		h.SetMode(0o644 | e.mode)
		w, err := z.CreateHeader(h)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(e.text)); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestUnpackRefuses: what a parcel must not do. Nothing is left of it, and nothing is
// written beside the folder.
func TestUnpackRefuses(t *testing.T) {
	good := byHand(t, entry{name: "plan.toml", text: "x"})
	cut := good[:len(good)-30]
	flipped := bytes.Clone(good)
	flipped[bytes.Index(flipped, []byte("plan.toml"))+9] ^= 0x10
	big := strings.Repeat("\x00", 64<<20)
	for name, c := range map[string]struct {
		b    []byte
		want string
	}{
		"up": {byHand(t, entry{name: "../plan.toml", text: "x"}),
			"isn't one that every system can have"},
		"up inside":         {byHand(t, entry{name: "a/../../plan.toml", text: "x"}), "isn't one"},
		"root":              {byHand(t, entry{name: "/etc/plan.toml", text: "x"}), "isn't one"},
		"drive":             {byHand(t, entry{name: "C:plan.toml", text: "x"}), "isn't one"},
		"backslash":         {byHand(t, entry{name: `..\plan.toml`, text: "x"}), "isn't one"},
		"device":            {byHand(t, entry{name: "readings/NUL.lp", text: "x"}), "isn't one"},
		"control character": {byHand(t, entry{name: "a\x1b[2J", text: "x"}), "isn't one"},
		"link":              {byHand(t, entry{name: "readings", text: "/etc", mode: fs.ModeSymlink}), "no plain file"},
		"pipe":              {byHand(t, entry{name: "readings", text: "", mode: fs.ModeNamedPipe}), "no plain file"},
		"twice":             {byHand(t, entry{name: "a", text: "x"}, entry{name: "A", text: "x"}), "twice"},
		"file and folder": {byHand(t, entry{name: "a", text: "x"}, entry{name: "a/b", text: "x"}),
			"as a file and as a folder"},
		"bomb": {byHand(t, entry{name: "a", text: big}), "far longer than itself"},
		"not listed": {byHand(t, entry{name: "a", text: "x"}, entry{name: "b", text: "x", unlisted: true}),
			"isn't in SHA256SUMS"},
		"other sum": {byHand(t, entry{name: "a", text: "x", sum: strings.Repeat("0", 64)}), "by its SHA-256"},
		"no sums":   {mustZip(t, "plan.toml"), "doesn't begin with SHA256SUMS"},
		"cut":       {cut, "no whole build"},
		"flipped":   {flipped, "no whole build"},
		"nothing":   {nil, "no whole build"},
		"text":      {[]byte("build = 1"), "no whole build"},
	} {
		in := t.TempDir()
		_, err := Unpack(bytes.NewReader(c.b), int64(len(c.b)), filepath.Join(in, "out"), Usual())
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, not %q", name, err, c.want)
		}
		if left, err := os.ReadDir(in); err != nil || len(left) > 0 {
			t.Errorf("%s: %v is left", name, left)
		}
	}
}

func mustZip(t *testing.T, name string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	w, err := z.Create(name)
	if err == nil {
		_, err = w.Write([]byte("x"))
	}
	if err = errors.Join(err, z.Close()); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// FuzzUnpack: whatever a file holds, nothing is written outside of the folder, and what
// comes out has its sum.
func FuzzUnpack(f *testing.F) {
	b, _ := packed(f, ship())
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		in := t.TempDir()
		_, err := Unpack(bytes.NewReader(b), int64(len(b)), filepath.Join(in, "out"),
			Limits{Files: 100, Bytes: 1 << 20, Times: 200})
		left, e := os.ReadDir(in)
		if e != nil || err != nil && len(left) > 0 || err == nil && (len(left) != 1 || left[0].Name() != "out") {
			t.Fatalf("%v is left, %v, %v", left, err, e)
		}
	})
}
