package main

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"sealworthy/compare/plan"
	"sealworthy/plots/plain"
)

// pictureID says what a picture is of: a kind and the names that it's about.
// Two different ones never look the same, whatever the names hold.
func pictureID(parts ...string) string { return strings.Join(parts, "\x00") }

// fileNames gives each of some ids a file name without extension that no other
// of them has: not on a file system that takes capitals and small letters for
// one, nor on one that writes accents its own way. A name that is alone stays
// readable; those that would share one each get a few digits of their own. The
// order of the ids doesn't matter.
func fileNames(ids []string) map[string]string {
	out, digits := map[string]string{}, map[string]int{}
	for _, id := range ids {
		digits[id] = 0
		if name, whole := readable(id); !whole || plan.ReservedFileName(name) {
			digits[id] = fewDigits
		}
	}
	for {
		taken := map[string]int{}
		for id, n := range digits {
			out[id] = nameOf(id, n)
			taken[oneForAll(out[id])]++
		}
		alone := true
		for id := range digits {
			if taken[oneForAll(out[id])] > 1 && digits[id] < 2*sha256.Size {
				alone = false
				digits[id] += fewDigits
			}
		}
		if alone {
			return out
		}
	}
}

const (
	fewDigits = 8
	// mostNameBytes leaves room for digits and extension in the 255 bytes that
	// file systems take (ext4, NTFS and APFS: at least so many, from memory).
	mostNameBytes = 120
)

func nameOf(id string, digits int) string {
	name, _ := readable(id)
	if digits == 0 {
		return name
	}
	sum := sha256.Sum256([]byte(id))
	return name + "-" + hex.EncodeToString(sum[:])[:digits]
}

// readable is what can be read of an id in a file name; whole: all of it fits,
// and there is something to read.
func readable(id string) (name string, whole bool) {
	var parts []string
	for _, p := range strings.Split(id, "\x00") {
		if p != "" {
			parts = append(parts, safeName(p))
		}
	}
	name = strings.Join(parts, "-")
	for i := range name {
		if i > mostNameBytes {
			return name[:i], false
		}
	}
	return name, strings.Trim(name, "-_") != ""
}

// oneForAll is the same for two names that some file system takes for one.
// Sources: Unicode Standard Annex 15 and The Unicode Standard 3.13 (caseless
// matching); which of it NTFS, APFS and HFS+ do is from memory, so all is done.
func oneForAll(name string) string {
	return cases.Fold().String(norm.NFKC.String(cases.Fold().String(norm.NFKD.String(name))))
}

// safeName keeps letters, digits and a few signs: a file name everywhere.
func safeName(s string) string {
	out := []rune(s)
	for i, r := range out {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_', isForeignLetter(r):
		default:
			out[i] = '-'
		}
	}
	return string(out)
}

func isForeignLetter(r rune) bool {
	return r >= unicode.MaxASCII && unicode.In(r, unicode.L, unicode.M, unicode.Nd) && plain.Shown(r)
}
