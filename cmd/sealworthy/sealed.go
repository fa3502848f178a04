package main

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"hash/crc32"
	"regexp"
)

// What the program makes anew each time carries a seal: its name and a checksum
// of all the rest, where each format has room for a word that nobody sees. So
// it knows its own again, and leaves alone what somebody has changed since.

// sealing is how one format carries a seal.
type sealing struct {
	begins []byte // what the format begins with
	place  func(src []byte) int
	write  func(sum string) []byte
	find   *regexp.Regexp
}

const sealWord = "made by sealworthy"

var sealings = []sealing{
	{[]byte("<!DOCTYPE html>"), atEnd, comment("<!-- ", " -->\n"), commented("<!-- ", " -->\n")},
	{[]byte("<svg "), atEnd, comment("\n<!-- ", " -->\n"), commented("\n<!-- ", " -->\n")},
	{[]byte("%PDF-"), beforeStartxref, comment("%", "\n"), commented("%", "\n")},
	{[]byte("\x89PNG\r\n\x1a\n"), afterIHDR, textChunk, regexp.MustCompile(`(?s)....tEXtSoftware\x00` + sealWord + ` ([0-9a-f]{32})....`)},
	{[]byte("# "), atEnd, comment("# ", "\n"), commented("# ", "\n")},
}

func comment(first, last string) func(string) []byte {
	return func(sum string) []byte { return []byte(first + sealWord + " " + sum + last) }
}

func commented(first, last string) *regexp.Regexp {
	return regexp.MustCompile(regexp.QuoteMeta(first) + sealWord + ` ([0-9a-f]{32})` + regexp.QuoteMeta(last))
}

func atEnd(src []byte) int { return len(src) }

// beforeStartxref: there a comment moves nothing that the file's table of
// places points to. Source: ISO 32000-1, 7.2.3 and 7.5.5.
func beforeStartxref(src []byte) int { return bytes.LastIndex(src, []byte("startxref")) }

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

func checksum(parts ...[]byte) string {
	h := sha256.New()
	for _, p := range parts {
		h.Write(p)
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// sealed puts the seal into a file of the program's own.
func sealed(src []byte) ([]byte, error) {
	s, ok := sealingOf(src)
	at := -1
	if ok {
		at = s.place(src)
	}
	if at < 0 || at > len(src) {
		return nil, errors.New("what was made is no page, no picture and no text with a heading")
	}
	out := append([]byte(nil), src[:at]...)
	out = append(out, s.write(checksum(src[:at], src[at:]))...)
	return append(out, src[at:]...), nil
}

// isSealed: the program made this, and nobody changed it since.
func isSealed(src []byte) bool {
	s, ok := sealingOf(src)
	if !ok {
		return false
	}
	all := s.find.FindAllSubmatchIndex(src, -1)
	if len(all) == 0 {
		return false
	}
	m := all[len(all)-1]
	return string(src[m[2]:m[3]]) == checksum(src[:m[0]], src[m[1]:])
}

// randomName is a part of a file's name that nobody else has.
func randomName() string { return rand.Text()[:12] }
