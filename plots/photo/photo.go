// Package photo makes a photo that came from outside into one of the program's own: it
// is decoded and written anew, so that nothing stays of it but what is to be seen. Where
// it was taken, by whose camera, its thumbnail and what hides behind its end are gone.
//
// Start at Clean. It takes JPEG alone, bounded in bytes, pixels and passes before any
// pixel is decoded.
package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"

	"golang.org/x/image/draw"
)

// Bounds (our own choice). Decoding takes up to 12 bytes a pixel where the picture comes
// in passes (image/jpeg holds a coefficient in four bytes), and each pass goes over all
// of it; common encoders make ten, the thriftiest some twenty.
const (
	MostBytes  = 16 << 20
	mostPixels = 25_000_000
	mostPasses = 40
	mostEdge   = 2000 // of what is written, pixels: 250 a centimetre on a sheet of paper
	quality    = 85
)

// Why a photo isn't taken.
var (
	ErrTooLarge = errors.New("the photo is too large")
	ErrNone     = errors.New("that is no photo as JPEG")
)

// Clean gives a photo anew, upright as its camera says it was held, its longer edge 2000
// pixels at most.
func Clean(src []byte) ([]byte, error) {
	if len(src) > MostBytes {
		return nil, fmt.Errorf("%w: %d MB, at most %d are taken", ErrTooLarge, len(src)>>20, MostBytes>>20)
	}
	c, err := jpeg.DecodeConfig(bytes.NewReader(src))
	if err != nil { // what the decoder misses says nothing to whoever chose the wrong file
		return nil, ErrNone
	}
	if c.Width <= 0 || c.Height <= 0 || c.Width > mostPixels/c.Height {
		return nil, fmt.Errorf("%w: %d by %d pixels, at most %d million are taken", ErrTooLarge, c.Width, c.Height,
			mostPixels/1_000_000)
	}
	held, passes := looked(src)
	if passes > mostPasses {
		return nil, fmt.Errorf("%w: it comes in %d passes", ErrTooLarge, passes)
	}
	picture, err := jpeg.Decode(bytes.NewReader(src))
	if err != nil {
		return nil, fmt.Errorf("%w: %w", ErrNone, err)
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, upright(scaled(picture), held), &jpeg.Options{Quality: quality}); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

// scaled makes a picture small enough.
func scaled(p image.Image) *image.RGBA {
	b := p.Bounds()
	wide, high := b.Dx(), b.Dy()
	if long := max(wide, high); long > mostEdge {
		wide, high = max(1, wide*mostEdge/long), max(1, high*mostEdge/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, wide, high))
	if wide == b.Dx() && high == b.Dy() {
		draw.Draw(out, out.Bounds(), p, b.Min, draw.Src)
		return out
	}
	draw.CatmullRom.Scale(out, out.Bounds(), p, b, draw.Src, nil)
	return out
}

// upright turns a picture the way that its camera was held.
func upright(p *image.RGBA, h held) *image.RGBA {
	if h == asTaken {
		return p
	}
	wide, high := p.Rect.Dx(), p.Rect.Dy()
	size := image.Rect(0, 0, wide, high)
	if h.turned() {
		size = image.Rect(0, 0, high, wide)
	}
	out := image.NewRGBA(size)
	for y := range size.Dy() {
		for x := range size.Dx() {
			fx, fy := h.from(x, y, wide, high)
			copy(out.Pix[out.PixOffset(x, y):][:4], p.Pix[p.PixOffset(fx, fy):][:4])
		}
	}
	return out
}
