package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"hash/crc32"
	"slices"
)

// What the program makes anew each time carries a seal: its name and a checksum
// of all the rest, where each format has room for a word that nobody sees. So
// it knows its own again, and leaves alone what somebody has changed since.

// sealing is how one format carries a seal.
type sealing struct {
	begins []byte                      // what the format begins with
	place  func(src []byte) int        // of a seal to be put in
	found  func(src []byte, n int) int // of one of n bytes that is in
	write  func(sum string) []byte
}

const sealWord = "made by sealworthy"

var sealings = []sealing{
	{[]byte("<!DOCTYPE html>"), atEnd, endsWith, comment("<!-- ", " -->\n")},
	{[]byte("<svg "), atEnd, endsWith, comment("\n<!-- ", " -->\n")},
	{[]byte("# "), atEnd, endsWith, comment("# ", "\n")},
	{[]byte("%PDF-"), startxref, beforeStartxref, comment("%", "\n")},
	{[]byte("\x89PNG\r\n\x1a\n"), afterIHDR, func(src []byte, _ int) int { return afterIHDR(src) }, textChunk},
}

func comment(first, last string) func(string) []byte {
	return func(sum string) []byte { return []byte(first + sealWord + " " + sum + last) }
}

func atEnd(src []byte) int { return len(src) }

func endsWith(src []byte, n int) int { return len(src) - n }

// startxref: a comment before it moves nothing that the file's table of places
// points to. Source: ISO 32000-1, 7.2.3 and 7.5.5.
func startxref(src []byte) int { return bytes.LastIndex(src, []byte("startxref")) }

func beforeStartxref(src []byte, n int) int { return startxref(src) - n }

// afterIHDR is behind the signature and the first chunk. Source: W3C PNG,
// second edition, 5.2, 5.3 and 11.2.2.
func afterIHDR([]byte) int { return 8 + 4 + 4 + 13 + 4 }

// textChunk is a tEXt chunk. Source: W3C PNG, second edition, 5.3 and 11.3.4.3.
func textChunk(sum string) []byte {
	body := []byte("tEXtSoftware\x00" + sealWord + " " + sum)
	out := binary.BigEndian.AppendUint32(nil, uint32(len(body)-len("tEXt")))
	return binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
}

func sealingOf(src []byte) (sealing, bool) {
	for _, s := range sealings {
		if bytes.HasPrefix(src, s.begins) {
			return s, true
		}
	}
	return sealing{}, false
}

// seal is that of a file of which these are the parts around it.
func (s sealing) seal(before, after []byte) []byte {
	h := sha256.New()
	h.Write(before)
	h.Write(after)
	return s.write(hex.EncodeToString(h.Sum(nil)[:16]))
}

// sealed puts the seal into a file of the program's own.
func sealed(src []byte) ([]byte, error) {
	s, ok := sealingOf(src)
	if !ok {
		return nil, errors.New("what was made is no page, no picture and no text with a heading")
	}
	at := s.place(src)
	if at < 0 || at > len(src) {
		return nil, errors.New("what was made is cut off")
	}
	return slices.Concat(src[:at], s.seal(src[:at], src[at:]), src[at:]), nil
}

// isSealed: the program made this, and nobody changed it since.
func isSealed(src []byte) bool {
	s, ok := sealingOf(src)
	if !ok {
		return false
	}
	n := len(s.seal(nil, nil)) // all are of one length
	at := s.found(src, n)
	if at < 0 || at+n > len(src) {
		return false
	}
	return bytes.Equal(src[at:at+n], s.seal(src[:at], src[at+n:]))
}
