package photo

import "encoding/binary"

// held is how a camera was held: the value of the tag Orientation, which says where the
// picture's first row and first column are. Source: CIPA DC-008 (Exif 2.32), 4.6.4.
type held int

// asTaken: first row at the top, first column at the left. The others are mirrored (2),
// turned (3), mirrored and turned (4), and with rows for columns (5 to 8).
const (
	asTaken  held = 1
	lastHeld held = 8
)

// turned: rows stand for columns.
func (h held) turned() bool { return h >= 5 }

// from gives the place in the picture as it was taken, wide by high, of a place in the
// upright one.
func (h held) from(x, y, wide, high int) (int, int) {
	switch h {
	case 2: // its first column is at the right
		return wide - 1 - x, y
	case 3: // at the right, its first row at the bottom
		return wide - 1 - x, high - 1 - y
	case 4: // its first row is at the bottom
		return x, high - 1 - y
	case 5: // its first row is at the left, its first column at the top
		return y, x
	case 6: // its first row is at the right
		return y, high - 1 - x
	case 7: // at the right, its first column at the bottom
		return wide - 1 - y, high - 1 - x
	case 8: // its first row is at the left, its first column at the bottom
		return wide - 1 - y, x
	}
	return x, y
}

// Markers of a JPEG file (ITU-T T.81, table B.1).
const (
	markSOI  = 0xd8
	markEOI  = 0xd9
	markSOS  = 0xda
	markAPP1 = 0xe1
	markRST0 = 0xd0
	markRST7 = 0xd7
	markTEM  = 0x01
)

// looked goes through the segments of a JPEG file: how its camera was held, and in how
// many passes the picture comes. What isn't as it should be is left to the decoder.
func looked(src []byte) (held, int) {
	how, passes := asTaken, 0
	for i := 0; i+1 < len(src); {
		if src[i] != 0xff {
			i++ // the picture's own data: a marker there can't be taken for one (T.81, B.1.1.5)
			continue
		}
		switch m := src[i+1]; {
		case m == 0xff: // fill bytes
			i++
		case m == 0, m == markSOI, m == markEOI, m == markTEM, m >= markRST0 && m <= markRST7: // no segment
			i += 2
		default:
			if i+3 >= len(src) {
				return how, passes
			}
			end := i + 2 + int(binary.BigEndian.Uint16(src[i+2:]))
			if end < i+4 || end > len(src) {
				return how, passes
			}
			switch m {
			case markSOS:
				passes++
			case markAPP1:
				if h, ok := orientation(src[i+4 : end]); ok && passes == 0 {
					how = h
				}
			}
			i = end
		}
	}
	return how, passes
}

// orientation reads the tag of that name from an Exif segment. Sources: CIPA DC-008
// 4.5.4 (the header) and TIFF 6.0, section 2 (a directory of entries of 12 bytes).
func orientation(exif []byte) (held, bool) {
	const header, entry, tag, short = "Exif\x00\x00", 12, 0x0112, 3
	if len(exif) < len(header)+8 || string(exif[:len(header)]) != header {
		return 0, false
	}
	t := exif[len(header):]
	var order binary.ByteOrder = binary.BigEndian
	if t[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int(order.Uint32(t[4:]))
	if at < 8 || at > len(t)-2 {
		return 0, false
	}
	n := int(order.Uint16(t[at:]))
	for at += 2; n > 0 && at+entry <= len(t); n, at = n-1, at+entry {
		if order.Uint16(t[at:]) == tag && order.Uint16(t[at+2:]) == short {
			h := held(order.Uint16(t[at+8:]))
			return h, h >= asTaken && h <= lastHeld
		}
	}
	return 0, false
}
