package plots

import (
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
)

// A picture carries the letters that it shows and no others: some 15 kB instead of 400.

// errFont says that a typeface is not built as it is expected to be.
var errFont = errors.New("the typeface can't be cut down to its letters")

// The tables that a typeface with outlines needs to be shown (OpenType specification
// 1.9, "Required Tables" and "Tables Related to TrueType Outlines"). Hints for coarse
// screens and pairs of letters are left out.
var neededTables = []string{"OS/2", "cmap", "glyf", "head", "hhea", "hmtx", "loca", "maxp", "name", "post"}

// subset cuts a TrueType typeface down to the glyphs of some letters. The glyphs keep
// their numbers, so that what refers to them stays right.
func subset(ttf []byte, letters []rune, glyphOf func(rune) (uint16, error)) (out []byte, err error) {
	defer func() {
		if p := recover(); p != nil { // an index beyond a table: a broken typeface
			out, err = nil, fmt.Errorf("%w: %v", errFont, p)
		}
	}()
	t, err := tablesOf(ttf)
	if err != nil {
		return nil, err
	}
	glyphs := map[rune]uint16{}
	keep := map[uint16]bool{0: true} // the sign for what isn't there
	for _, r := range letters {
		g, err := glyphOf(r)
		if err != nil {
			return nil, err
		}
		if g != 0 {
			glyphs[r], keep[g] = g, true
		}
	}
	long := binary.BigEndian.Uint16(t["head"][50:]) == 1
	outline := func(g uint16) []byte {
		if long {
			return t["glyf"][binary.BigEndian.Uint32(t["loca"][4*int(g):]):binary.BigEndian.Uint32(
				t["loca"][4*int(g)+4:])]
		}
		return t["glyf"][2*int(binary.BigEndian.Uint16(t["loca"][2*int(g):])) : 2*int(
			binary.BigEndian.Uint16(t["loca"][2*int(g)+2:]))]
	}
	for more := slices.Collect(maps.Keys(keep)); len(more) > 0; {
		g := more[0]
		more = more[1:]
		for _, part := range partsOf(outline(g)) {
			if !keep[part] {
				keep[part] = true
				more = append(more, part)
			}
		}
	}
	n := int(slices.Max(slices.Collect(maps.Keys(keep)))) + 1
	var glyf, loca []byte
	for g := range n {
		loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
		if keep[uint16(g)] {
			glyf = append(glyf, unhinted(outline(uint16(g)))...)
			for len(glyf)%4 != 0 {
				glyf = append(glyf, 0)
			}
		}
	}
	loca = binary.BigEndian.AppendUint32(loca, uint32(len(glyf)))
	head, maxp, hhea, post := slices.Clone(t["head"]), slices.Clone(t["maxp"]), slices.Clone(t["hhea"]),
		slices.Clone(t["post"][:32])
	binary.BigEndian.PutUint16(head[50:], 1) // long offsets
	binary.BigEndian.PutUint16(maxp[4:], uint16(n))
	binary.BigEndian.PutUint32(post, 0x00030000) // no names of glyphs
	wide := min(n, int(binary.BigEndian.Uint16(hhea[34:])))
	binary.BigEndian.PutUint16(hhea[34:], uint16(wide))
	return assembled(map[string][]byte{"OS/2": t["OS/2"], "cmap": cmapOf(glyphs), "glyf": glyf, "head": head,
		"hhea": hhea,
		"hmtx": t["hmtx"][:4*wide+2*(n-wide)], "loca": loca, "maxp": maxp, "name": t["name"], "post": post}), nil
}

// tablesOf finds the needed tables.
func tablesOf(ttf []byte) (map[string][]byte, error) {
	out := map[string][]byte{}
	for i := range int(binary.BigEndian.Uint16(ttf[4:])) {
		r := ttf[12+16*i:]
		from := binary.BigEndian.Uint32(r[8:])
		out[string(r[:4])] = ttf[from : from+binary.BigEndian.Uint32(r[12:])]
	}
	for _, name := range neededTables {
		if len(out[name]) == 0 {
			return nil, fmt.Errorf("%w: it has no table %q", errFont, name)
		}
	}
	return out, nil
}

// Flags of a glyph that is put together of others.
const (
	wordArguments  = 1 << 0
	oneScale       = 1 << 3
	moreParts      = 1 << 5
	twoScales      = 1 << 6
	fourScales     = 1 << 7
	hasHints       = 1 << 8
	compositeParts = -1 // contours of such a glyph
)

// eachPart goes through the parts of a glyph that is put together: where each stands
// in it, and where the last one ends. For any other it does nothing.
func eachPart(glyph []byte, do func(at int)) (end int) {
	if len(glyph) == 0 || int16(binary.BigEndian.Uint16(glyph)) != compositeParts {
		return 0
	}
	for at := 10; ; {
		do(at)
		flags := binary.BigEndian.Uint16(glyph[at:])
		at += 6
		if flags&wordArguments != 0 {
			at += 2
		}
		switch {
		case flags&oneScale != 0:
			at += 2
		case flags&twoScales != 0:
			at += 4
		case flags&fourScales != 0:
			at += 8
		}
		if flags&moreParts == 0 {
			return at
		}
	}
}

func partsOf(glyph []byte) (out []uint16) {
	eachPart(glyph, func(at int) { out = append(out, binary.BigEndian.Uint16(glyph[at+2:])) })
	return out
}

// unhinted gives a glyph without its hints, whose program isn't there any more.
func unhinted(glyph []byte) []byte {
	if len(glyph) == 0 {
		return nil
	}
	out := slices.Clone(glyph)
	if end := eachPart(glyph, func(at int) {
		binary.BigEndian.PutUint16(out[at:], binary.BigEndian.Uint16(out[at:])&^hasHints)
	}); end > 0 {
		return out[:end]
	}
	at := 10 + 2*int(binary.BigEndian.Uint16(glyph))
	hints := int(binary.BigEndian.Uint16(glyph[at:]))
	binary.BigEndian.PutUint16(out[at:], 0)
	return append(out[:at+2], glyph[at+2+hints:]...)
}

// cmapOf maps letters to glyphs: one table of format 4, letters of the basic plane.
func cmapOf(glyphs map[rune]uint16) []byte {
	type segment struct{ from, to, delta uint16 }
	var letters []rune
	for r := range glyphs {
		if r < 0xffff {
			letters = append(letters, r)
		}
	}
	slices.Sort(letters)
	var segs []segment
	for _, r := range letters {
		c, delta := uint16(r), glyphs[r]-uint16(r)
		if n := len(segs); n > 0 && segs[n-1].to+1 == c && segs[n-1].delta == delta {
			segs[n-1].to = c
			continue
		}
		segs = append(segs, segment{c, c, delta})
	}
	segs = append(segs, segment{0xffff, 0xffff, 1})
	n := len(segs)
	power, log := 1, 0
	for 2*power <= n {
		power, log = 2*power, log+1
	}
	put := binary.BigEndian.AppendUint16
	b := put(nil, 0)                           // version
	b = put(b, 1)                              // tables
	b = put(put(b, 3), 1)                      // Windows, Unicode
	b = binary.BigEndian.AppendUint32(b, 12)   // where it begins
	b = put(put(put(b, 4), uint16(16+8*n)), 0) // format, length, language
	b = put(put(put(put(b, uint16(2*n)), uint16(2*power)), uint16(log)), uint16(2*(n-power)))
	for _, s := range segs {
		b = put(b, s.to)
	}
	b = put(b, 0)
	for _, s := range segs {
		b = put(b, s.from)
	}
	for _, s := range segs {
		b = put(b, s.delta)
	}
	for range segs {
		b = put(b, 0)
	}
	return b
}

// assembled puts tables into a file, with their sums.
func assembled(t map[string][]byte) []byte {
	n := len(neededTables)
	power, log := 1, 0
	for 2*power <= n {
		power, log = 2*power, log+1
	}
	out := binary.BigEndian.AppendUint32(nil, 0x00010000)
	for _, x := range []int{n, 16 * power, log, 16 * (n - power)} {
		out = binary.BigEndian.AppendUint16(out, uint16(x))
	}
	binary.BigEndian.PutUint32(t["head"][8:], 0)
	at := 12 + 16*n
	for _, name := range neededTables {
		out = append(out, name...)
		for _, x := range []uint32{sumOf(t[name]), uint32(at), uint32(len(t[name]))} {
			out = binary.BigEndian.AppendUint32(out, x)
		}
		at += (len(t[name]) + 3) &^ 3
	}
	head := 0
	for _, name := range neededTables {
		if name == "head" {
			head = len(out)
		}
		out = append(out, t[name]...)
		for len(out)%4 != 0 {
			out = append(out, 0)
		}
	}
	binary.BigEndian.PutUint32(out[head+8:], 0xb1b0afba-sumOf(out))
	return out
}

// sumOf is the sum of a table's words.
func sumOf(b []byte) (sum uint32) {
	for i := 0; i < len(b); i += 4 {
		var word [4]byte
		copy(word[:], b[i:])
		sum += binary.BigEndian.Uint32(word[:])
	}
	return sum
}
