package main

import (
	"bytes"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
)

// replaceFile writes a file whole or not at all: into a temporary file of the
// same folder, synced, then renamed. A failed run leaves the old one.
func replaceFile(path string, write func(io.Writer) error) (err error) {
	var buf bytes.Buffer
	if err := write(&buf); err != nil {
		return err
	}
	f, err := os.CreateTemp(filepath.Dir(path), ".sealworthy-*")
	if err != nil {
		return err
	}
	name := f.Name()
	defer func() {
		if err != nil {
			os.Remove(name)
		}
	}()
	if _, err = f.Write(buf.Bytes()); err == nil {
		err = f.Sync()
	}
	if e := f.Close(); err == nil { // closed before the rename: Windows!
		err = e
	}
	if err != nil {
		return err
	}
	if err = os.Chmod(name, 0o644); err != nil {
		return err
	}
	return os.Rename(name, path)
}

func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}
