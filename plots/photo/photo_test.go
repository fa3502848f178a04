package photo_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"slices"
	"strings"
	"testing"

	"sealworthy/plots/photo"
)

// The corners of the scene, upright: each has a colour of its own.
var corners = map[string]color.RGBA{
	"top left": {200, 20, 20, 255}, "top right": {20, 200, 20, 255}, "bottom left": {20, 20, 200, 255},
	"bottom right": {220, 220, 20, 255},
}

// scene is a picture with four quarters, the first row and column at the corners named.
func scene(wide, high int, topLeft, topRight, bottomLeft, bottomRight string) image.Image {
	p := image.NewRGBA(image.Rect(0, 0, wide, high))
	for y := range high {
		for x := range wide {
			name := topLeft
			switch left, top := x < wide/2, y < high/2; {
			case left && !top:
				name = bottomLeft
			case !left && top:
				name = topRight
			case !left:
				name = bottomRight
			}
			p.Set(x, y, corners[name])
		}
	}
	return p
}

func encoded(t testing.TB, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, p, &jpeg.Options{Quality: 90}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// exif is a segment that says how the camera was held, and where it stood.
func exif(order binary.AppendByteOrder, held uint16) []byte {
	mark := "MM\x00\x2a"
	if order == binary.AppendByteOrder(binary.LittleEndian) {
		mark = "II\x2a\x00"
	}
	b := []byte("Exif\x00\x00" + mark)
	b = order.AppendUint32(b, 8)
	b = order.AppendUint16(b, 2)
	for _, e := range []struct{ tag, kind, n, v uint16 }{{0x010f, 2, 4, 0}, {0x0112, 3, 1, held}} {
		b = order.AppendUint16(order.AppendUint16(b, e.tag), e.kind)
		b = order.AppendUint32(b, uint32(e.n))
		b = order.AppendUint16(order.AppendUint16(b, e.v), 0)
	}
	b = append(b, 0, 0, 0, 0)
	b = append(b, "GPS of the harbour"...)
	return segment(0xe1, b)
}

func segment(mark byte, b []byte) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, mark}, uint16(len(b)+2)), b...)
}

// with puts segments behind the start of a file.
func with(src []byte, segments ...[]byte) []byte {
	return slices.Concat(src[:2], slices.Concat(segments...), src[2:])
}

// Where the first row and the first column are, by the value of the tag (CIPA DC-008, 4.6.4,
// the table of values): the corners of the picture as it was taken, row by row.
var takenAs = [][4]string{
	1: {"top left", "top right", "bottom left", "bottom right"},
	2: {"top right", "top left", "bottom right", "bottom left"},
	3: {"bottom right", "bottom left", "top right", "top left"},
	4: {"bottom left", "bottom right", "top left", "top right"},
	5: {"top left", "bottom left", "top right", "bottom right"},
	6: {"top right", "bottom right", "top left", "bottom left"},
	7: {"bottom right", "top right", "bottom left", "top left"},
	8: {"bottom left", "top left", "bottom right", "top right"},
}

// However the camera was held, the photo stands upright, and nothing is in it but what is seen.
func TestUprightWithoutWords(t *testing.T) {
	for held := 1; held <= 8; held++ {
		for name, order := range map[string]binary.AppendByteOrder{"big": binary.BigEndian,
			"little": binary.LittleEndian} {
			t.Run(fmt.Sprintf("%d %s", held, name), func(t *testing.T) {
				c := takenAs[held]
				wide, high := 96, 64
				if held >= 5 {
					wide, high = high, wide
				}
				src := with(encoded(t, scene(wide, high, c[0], c[1], c[2], c[3])), exif(order, uint16(held)),
					segment(0xfe, []byte("a comment")), segment(0xed, []byte("who took it")))
				src = append(src, "PK behind its end"...)
				out, err := photo.Clean(src)
				if err != nil {
					t.Fatal(err)
				}
				p, err := jpeg.Decode(bytes.NewReader(out))
				if err != nil {
					t.Fatal(err)
				}
				if b := p.Bounds(); b.Dx() != 96 || b.Dy() != 64 {
					t.Fatalf("%d by %d", b.Dx(), b.Dy())
				}
				for where, at := range map[string]image.Point{"top left": {8, 8}, "top right": {88, 8},
					"bottom left": {8, 56}, "bottom right": {88, 56}} {
					if got := nearest(p.At(at.X, at.Y)); got != where {
						t.Errorf("%s of the scene is at the %s", got, where)
					}
				}
				bare(t, out)
			})
		}
	}
}

func nearest(c color.Color) string {
	r, g, b, _ := c.RGBA()
	best, name := 1<<30, ""
	for n, w := range corners {
		d := 0
		for _, x := range [][2]int{{int(r >> 8), int(w.R)}, {int(g >> 8), int(w.G)}, {int(b >> 8), int(w.B)}} {
			d += (x[0] - x[1]) * (x[0] - x[1])
		}
		if d < best {
			best, name = d, n
		}
	}
	return name
}

// bare: a file holds no segment but those that a decoder needs, and nothing behind its end.
func bare(t testing.TB, src []byte) {
	t.Helper()
	if !bytes.HasPrefix(src, []byte{0xff, 0xd8}) || !bytes.HasSuffix(src, []byte{0xff, 0xd9}) {
		t.Fatal("it doesn't begin or end as a JPEG file does")
	}
	for i := 2; i+3 < len(src); {
		if src[i] != 0xff {
			t.Fatalf("no marker at %d", i)
		}
		switch m := src[i+1]; m {
		case 0xda:
			return
		case 0xdb, 0xc0, 0xc4: // tables and the frame
		default:
			t.Fatalf("segment %#x", m)
		}
		i += 2 + int(binary.BigEndian.Uint16(src[i+2:]))
	}
	t.Fatal("no picture")
}

// A large photo gets smaller, in its own shape.
func TestLargeGetsSmaller(t *testing.T) {
	out, err := photo.Clean(encoded(t, scene(3000, 1500, "top left", "top right", "bottom left", "bottom right")))
	if err != nil {
		t.Fatal(err)
	}
	c, err := jpeg.DecodeConfig(bytes.NewReader(out))
	if err != nil || c.Width != 2000 || c.Height != 1000 {
		t.Errorf("%d by %d, %v", c.Width, c.Height, err)
	}
}

// What is too much is refused before a pixel is decoded; what is no photo, too.
func TestRefused(t *testing.T) {
	small := encoded(t, scene(16, 16, "top left", "top right", "bottom left", "bottom right"))
	huge := slices.Clone(small)
	at := bytes.Index(huge, []byte{0xff, 0xc0}) + 5 // height and width, T.81 B.2.2
	binary.BigEndian.PutUint16(huge[at:], 65500)
	binary.BigEndian.PutUint16(huge[at+2:], 65500)
	sos := bytes.Index(small, []byte{0xff, 0xda})
	for _, x := range []struct {
		name string
		src  []byte
		want error
	}{
		{"bytes", make([]byte, photo.MostBytes+1), photo.ErrTooLarge},
		{"pixels", huge, photo.ErrTooLarge},
		{"passes", slices.Concat(small[:sos], bytes.Repeat(small[sos:len(small)-2], 60)), photo.ErrTooLarge},
		{"a page", []byte("<!DOCTYPE html><script>alert(1)</script>"), photo.ErrNone},
		{"another kind", []byte("\x89PNG\r\n\x1a\n"), photo.ErrNone},
		{"cut off", small[:sos+20], photo.ErrNone},
		{"nothing", nil, photo.ErrNone},
	} {
		if out, err := photo.Clean(x.src); !errors.Is(err, x.want) {
			t.Errorf("%s: %v, %d bytes", x.name, err, len(out))
		}
	}
}

// Whatever comes, it becomes a bare photo of bounded size, or an error.
func FuzzClean(f *testing.F) {
	small := encoded(f, scene(16, 8, "top left", "top right", "bottom left", "bottom right"))
	f.Add(small)
	f.Add(with(small, exif(binary.BigEndian, 6)))
	f.Add(with(small, exif(binary.LittleEndian, 8), segment(0xfe, []byte("x"))))
	f.Add(with(small, segment(0xe1, []byte("Exif\x00\x00MM\x00\x2a\xff\xff\xff\xff"))))
	f.Add([]byte(strings.Repeat("\xff", 40)))
	f.Fuzz(func(t *testing.T, src []byte) {
		if c, err := jpeg.DecodeConfig(bytes.NewReader(src)); err == nil && c.Width*c.Height > 1<<20 {
			t.Skip("it would take long")
		}
		out, err := photo.Clean(src)
		if err != nil {
			return
		}
		bare(t, out)
		c, err := jpeg.DecodeConfig(bytes.NewReader(out))
		if err != nil || max(c.Width, c.Height) > 2000 {
			t.Errorf("%d by %d, %v", c.Width, c.Height, err)
		}
	})
}
