package rig_test

import (
	"errors"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// The serial library panics in its reader when its descriptor is 1024 or
// higher. That must be a lost port with a hint, and not the end of the program.
func TestDescriptorTooHighIsALostPort(t *testing.T) {
	b, err := rig.New(background, clock.Wall{}, bench2(), rig.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	var files []*os.File
	defer func() {
		for _, f := range files {
			f.Close()
		}
	}()
	for range 1100 {
		f, err := os.Open(os.DevNull)
		if err != nil {
			if os.Getenv("CI") != "" {
				t.Fatalf("this system allows too few descriptors: %v", err)
			}
			t.Skipf("this system allows too few descriptors: %v", err)
		}
		files = append(files, f)
	}
	p, err := b.Opener()(background, b.Ports().Supply, line)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	_, err = p.ReadUntil(background, make([]byte, 8), time.Now().Add(10*time.Second))
	var pe *instruments.PortError
	if !errors.Is(err, instruments.ErrPortGone) || !errors.As(err, &pe) ||
		!strings.Contains(pe.Hint, "too many files") {
		t.Errorf("got %v", err)
	}
}
