package hold

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

func folderIn(t *testing.T, dir string) Folder {
	t.Helper()
	return Folder{Path: filepath.Join(dir, "sealworthy", "locks"), Who: "a test, process 7"}
}

// TestTake: one at a time, who has it is said, and names don't mix.
func TestTake(t *testing.T) {
	f := folderIn(t, t.TempDir())
	release, err := f.Take("build /a")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := f.Take("build /a"); !errors.Is(err, ErrHeld) || !strings.Contains(err.Error(), "process 7") {
		t.Errorf("taken twice: %v", err)
	}
	other, err := f.Take("build /b")
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(release(), other()); err != nil {
		t.Fatal(err)
	}
	again, err := f.Take("build /a")
	if err != nil {
		t.Fatal(err)
	}
	if err := again(); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(f.Path); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o700 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
}

// TestNoLinkIsFollowed: neither for the folder, nor for one of its files; what a
// link leads to stays as it is.
func TestNoLinkIsFollowed(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("making a link takes a right that users don't have")
	}
	dir := t.TempDir()
	precious := filepath.Join(dir, "precious")
	for what, set := range map[string]func(f Folder, name string) error{
		"lock": func(f Folder, name string) error { return os.Symlink(precious, name+".lock") },
		"held": func(f Folder, name string) error { return os.Symlink(precious, name+".held") },
		"lock to nowhere": func(f Folder, name string) error {
			return os.Symlink(filepath.Join(dir, "made by a lock"), name+".lock")
		},
		"folder": func(f Folder, name string) error {
			elsewhere := filepath.Join(dir, "elsewhere")
			return errors.Join(os.RemoveAll(f.Path), os.MkdirAll(elsewhere, 0o700), os.Symlink(elsewhere, f.Path))
		},
		"a folder for a lock": func(f Folder, name string) error { return os.Mkdir(name+".lock", 0o700) },
	} {
		f := folderIn(t, t.TempDir())
		if err := os.WriteFile(precious, []byte("keep me"), 0o600); err != nil {
			t.Fatal(err)
		}
		release, err := f.Take("build /a")
		if err != nil {
			t.Fatal(err)
		}
		if err := release(); err != nil {
			t.Fatal(err)
		}
		locks, err := filepath.Glob(filepath.Join(f.Path, "*.lock"))
		if err != nil || len(locks) != 1 {
			t.Fatal(locks, err)
		}
		if err := errors.Join(os.Remove(locks[0]), set(f, strings.TrimSuffix(locks[0], ".lock"))); err != nil {
			t.Fatal(err)
		}
		if _, err := f.Take("build /a"); err == nil || !strings.Contains(err.Error(), "remove it") {
			t.Errorf("%s: %v", what, err)
		}
		if b, err := os.ReadFile(precious); err != nil || string(b) != "keep me" {
			t.Errorf("%s: %q, %v", what, b, err)
		}
		if _, err := os.Stat(filepath.Join(dir, "made by a lock")); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: a link was followed to what wasn't there", what)
		}
	}
}

// TestOthersMustNotWrite where the locks lie.
func TestOthersMustNotWrite(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("it has access lists, not modes")
	}
	f := folderIn(t, t.TempDir())
	for _, path := range []string{f.Path, filepath.Dir(f.Path)} {
		if err := os.MkdirAll(f.Path, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, 0o777); err != nil {
			t.Fatal(err)
		}
		if _, err := f.Take("x"); err == nil || !strings.Contains(err.Error(), "chmod go-w") {
			t.Errorf("%s: %v", path, err)
		}
		if err := os.Chmod(path, 0o700); err != nil {
			t.Fatal(err)
		}
	}
}

func TestUser(t *testing.T) {
	f := User(func(k string) string { return map[string]string{"XDG_RUNTIME_DIR": "/run/user/7"}[k] })
	if runtime.GOOS != "windows" && f.Path != "/run/user/7/sealworthy/locks" || !strings.Contains(f.Who, "process ") {
		t.Errorf("%+v", f)
	}
	// A relative one is to be ignored (XDG Base Directory Specification).
	if f := User(func(string) string { return "here" }); strings.HasPrefix(f.Path, "here") || !filepath.IsAbs(f.Path) {
		t.Errorf("%+v", f)
	}
}
