package plainfile_test

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"sealworthy/instruments/plainfile"
)

func TestRead(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "plan.toml")
	want := bytes.Repeat([]byte("#"), 9)
	if err := os.WriteFile(file, want, 0o644); err != nil {
		t.Fatal(err)
	}
	if got, err := plainfile.Read(file, 9); err != nil || !bytes.Equal(got, want) {
		t.Errorf("%q, %v", got, err)
	}
	if _, err := plainfile.Read(file, 8); !errors.Is(err, plainfile.ErrTooLarge) {
		t.Errorf("nine bytes where eight may be: %v", err)
	}
	if _, err := plainfile.Read(dir, 8); !errors.Is(err, plainfile.ErrNotPlain) {
		t.Errorf("a folder: %v", err)
	}
	if _, err := plainfile.Read(filepath.Join(dir, "none"), 8); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("nothing: %v", err)
	}
	link := filepath.Join(dir, "link.toml")
	if err := os.Symlink(file, link); err != nil {
		t.Skip("no links here:", err)
	}
	if got, err := plainfile.Read(link, 9); err != nil || !bytes.Equal(got, want) {
		t.Errorf("through a link: %q, %v", got, err)
	}
	if runtime.GOOS == "windows" {
		return
	}
	endless := filepath.Join(dir, "endless.toml")
	if err := os.Symlink("/dev/zero", endless); err != nil {
		t.Fatal(err)
	}
	if _, err := plainfile.Read(endless, 8); !errors.Is(err, plainfile.ErrNotPlain) {
		t.Errorf("a device: %v", err)
	}
}
