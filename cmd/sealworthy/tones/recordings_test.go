package tones

import (
	"bytes"
	"encoding/binary"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update-tones", false, "record the tones of the page anew")

// recordings is where the page has them.
var recordings = filepath.Join("..", "page", "static", "tones")

// A tone is recorded with 8 bits at 8 kHz: small, and clean enough for a workshop.
const (
	rate     = 8000
	loudest  = 100 // of 127
	softer   = 0.4
	attackS  = 0.004
	mostFile = 6 << 10
)

// samples are a tone from -1 to 1: each note struck, with a little of its octave and of
// the twelfth, and dying away to a twentieth.
func samples(t tone) []float64 {
	var out []float64
	at := time.Duration(0)
	for _, s := range t.strikes {
		at += s.after
		from, n := int(at.Seconds()*rate), int(s.lasts.Seconds()*rate)
		for len(out) < from+n {
			out = append(out, 0)
		}
		level := 1.0
		if s.soft {
			level = softer
		}
		for i := range n {
			sec := float64(i) / rate
			gone := sec / s.lasts.Seconds()
			fade := math.Min(1, sec/attackS) * math.Exp(-3*gone) * math.Min(1, (1-gone)/0.1)
			w := 2 * math.Pi * s.hz * sec
			out[from+i] += level * fade * (math.Sin(w) + 0.3*math.Sin(2*w) + 0.12*math.Sin(3*w)) / 1.42
		}
	}
	return out
}

// wave is a tone as a file: RIFF/WAVE, PCM, unsigned 8 bits, one channel (Microsoft and
// IBM, Multimedia Programming Interface and Data Specifications 1.0, 1991; from memory).
func wave(t tone) []byte {
	data := []byte{}
	for _, x := range samples(t) {
		data = append(data, byte(128+math.Round(loudest*math.Max(-1, math.Min(1, x)))))
	}
	if len(data)%2 == 1 {
		data = append(data, 128)
	}
	var b bytes.Buffer
	put := func(xs ...any) {
		for _, x := range xs {
			if s, ok := x.(string); ok {
				b.WriteString(s)
				continue
			}
			_ = binary.Write(&b, binary.LittleEndian, x) // a buffer takes all
		}
	}
	put("RIFF", uint32(36+len(data)), "WAVE", "fmt ", uint32(16), uint16(1), uint16(1), uint32(rate), uint32(rate),
		uint16(1), uint16(8))
	put("data", uint32(len(data)), string(data))
	return b.Bytes()
}

// fileOf is as the page's script names it.
func fileOf(n Name) string {
	return filepath.Join(recordings, strings.ReplaceAll(strings.ReplaceAll(string(n), " ", "-"), "'", "-")+".wav")
}

// What the page plays is what the table says. Sines may differ by one count from one
// machine to the next.
func TestRecordings(t *testing.T) {
	total := 0
	for _, x := range all {
		want := wave(x)
		if *update {
			if err := os.WriteFile(fileOf(x.name), want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		got, err := os.ReadFile(fileOf(x.name))
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != len(want) || len(got) > mostFile {
			t.Errorf("%s: %d bytes, want %d, at most %d", x.name, len(got), len(want), mostFile)
			continue
		}
		for i := range got {
			if d := int(got[i]) - int(want[i]); d > 1 || d < -1 {
				t.Errorf("%s isn't what its strikes say, from byte %d on: go generate ./cmd/sealworthy/tones", x.name,
					i)
				break
			}
		}
		total += len(got)
	}
	files, err := filepath.Glob(filepath.Join(recordings, "*"))
	if err != nil || len(files) != len(all) {
		t.Errorf("%d files for %d tones: %v", len(files), len(all), err)
	}
	t.Logf("%d bytes in all", total)
}
