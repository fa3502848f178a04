package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The latest return is that of the latest sitting, whatever its file is called:
// the clock may have been set back between two.
func TestLastReturnIsOfTheLatestSitting(t *testing.T) {
	t.Parallel()
	b := build{dir: t.TempDir()}
	dir := filepath.Join(b.dir, returnDir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	for name, src := range map[string]string{
		"20270101T000000Z.json": `{"sitting": 4, "diagnosis": {"build": "first"}}`,
		"20260101T000000Z.json": `{"sitting": 7, "diagnosis": {"build": "second"}}`,
		"20260301T000000Z.json": `{"diagnosis": {"build": "of before sittings were numbered"}}`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(src), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	k, err := b.lastReturn()
	if err != nil || !strings.Contains(k.Diagnosis.Build, "second") {
		t.Errorf("%+v, %v", k.Diagnosis, err)
	}
}
