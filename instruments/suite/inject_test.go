package suite_test

import (
	"math/rand/v2"
	"slices"
	"time"
)

// piece is part of a reply as it goes on the line.
type piece struct {
	after  time.Duration
	bytes  []byte
	hangUp bool
}

// injector spoils requests and replies at random, each fault by its name.
type injector struct {
	rng    *rand.Rand
	rate   float64 // share of replies spoiled
	late   time.Duration
	last   []byte
	held   []byte
	latest string
	counts map[string]int
}

func newInjector(seed uint64, rate float64, late time.Duration) *injector {
	return &injector{rng: rand.New(rand.NewPCG(seed, 1)), rate: rate, late: late, counts: map[string]int{}}
}

// request spoils a tenth as often: one bit or one byte.
func (i *injector) request(p []byte) []byte {
	if len(p) == 0 || i.rng.Float64() > i.rate/10 {
		return p
	}
	out := slices.Clone(p)
	at := i.rng.IntN(len(out))
	if i.rng.IntN(2) == 0 {
		i.counts["request: flipped bit"]++
		out[at] ^= 1 << i.rng.IntN(8)
		return out
	}
	i.counts["request: dropped byte"]++
	return slices.Delete(out, at, at+1)
}

var faultNames = []string{"dropped byte", "doubled byte", "flipped bit", "two flipped bits", "doubled reply", "late",
	"split",
	"stale before it", "stale instead", "wrong order", "endless", "silence", "noise before", "noise after", "hang-up"}

func (i *injector) reply(p []byte) (out []piece) {
	whole := slices.Clone(p)
	defer func() { i.last = whole }()
	if held := i.held; held != nil {
		i.held = nil
		return []piece{{bytes: whole}, {after: time.Millisecond, bytes: held}}
	}
	if i.rng.Float64() > i.rate || len(p) == 0 {
		return []piece{{bytes: whole}}
	}
	name := faultNames[i.rng.IntN(len(faultNames))]
	if name == "hang-up" && i.rng.IntN(5) > 0 {
		name = "silence"
	}
	i.counts[name]++
	i.latest = name
	at := i.rng.IntN(len(p))
	b := slices.Clone(p)
	switch name {
	case "dropped byte":
		b = slices.Delete(b, at, at+1)
	case "doubled byte":
		b = slices.Insert(b, at, b[at])
	case "flipped bit":
		b[at] ^= 1 << i.rng.IntN(8)
	case "two flipped bits":
		b[at] ^= 1 << i.rng.IntN(8)
		b[i.rng.IntN(len(b))] ^= 1 << i.rng.IntN(8)
	case "doubled reply":
		b = append(b, p...)
	case "late":
		return []piece{{after: time.Duration(i.rng.Float64() * 3 * float64(i.late)), bytes: b}}
	case "split":
		return []piece{{bytes: b[:at]}, {after: time.Duration(i.rng.IntN(40)) * time.Millisecond, bytes: b[at:]}}
	case "stale before it":
		return []piece{{bytes: append(slices.Clone(i.last), b...)}}
	case "stale instead":
		if i.last != nil {
			b = slices.Clone(i.last)
		}
	case "wrong order":
		i.held = b
		return nil
	case "endless":
		for range 40 + i.rng.IntN(200) {
			b = append(b, byte('0'+i.rng.IntN(10)))
		}
	case "silence":
		return nil
	case "noise before", "noise after":
		noise := make([]byte, 1+i.rng.IntN(6))
		for k := range noise {
			noise[k] = byte(i.rng.IntN(256))
		}
		if name == "noise before" {
			b = append(noise, b...)
		} else {
			b = append(b, noise...)
		}
	case "hang-up":
		return []piece{{bytes: b[:at]}, {hangUp: true}}
	}
	return []piece{{bytes: b}}
}
