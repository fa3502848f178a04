package page

import (
	"crypto/tls"
	"fmt"
	"net"
	"net/http"
	"strings"

	"rsc.io/qr"
)

// Beyond is how the page is served beyond its own computer: over TLS alone, with a
// certificate that browsers don't know.
type Beyond struct {
	Listener net.Listener
	TLS      *tls.Config
	Hosts    []string // the names that it's served under there, with their port
	Address  string   // "https://192.0.2.7:58443"
	Words    []string // of the certificate, to compare
	Print    string   // its SHA-256, as browsers show it
	// Moved tells whether this computer has lost that address; nil: nobody knows.
	Moved func() bool
}

func (b Beyond) names() names { return names{hosts: b.Hosts, secure: true, beyond: true} }

// devices is the page of other devices.
type devices struct {
	*Beyond
	For  Role // whom the code is for; "": none was asked for
	Code *qrCode
	// May: it can be begun, or ended, from the page that asks.
	May   bool
	Ended string // it ended by itself, and why
}

// Lost: this computer isn't reached any more where it says.
func (d devices) Lost() bool { return d.Beyond != nil && d.Moved != nil && d.Moved() }

// devicesOf is that page for whoever asks.
func (s *Server) devicesOf(r *http.Request) devices {
	return devices{Beyond: s.listening.at(), May: s.o.Listen != nil && mayListen(r), Ended: s.listening.whyNot()}
}

// devicesPage tells how another device gets the page.
func (s *Server) devicesPage(w http.ResponseWriter, r *http.Request) {
	s.show(w, http.StatusOK, "devices", s.frame("Another device", s.devicesOf(r)))
}

// newDevice makes a code for one.
func (s *Server) newDevice(w http.ResponseWriter, r *http.Request) {
	if !s.form(w, r) {
		return
	}
	d := s.devicesOf(r)
	d.For = Role(r.PostForm.Get("for"))
	if d.Beyond == nil || d.For != Maker && d.For != Helper {
		s.refuse(w, http.StatusUnprocessableEntity, "No code was made.", "")
		return
	}
	var err error
	if d.Code, err = newQR(d.Address + Entry(s.keys.codeBeyond(d.For))); err != nil {
		s.failed(w, err)
		return
	}
	s.show(w, http.StatusOK, "devices", s.frame("Another device", d))
}

// Address gives an address for another device, good once; "": the page isn't served
// beyond this computer.
func (s *Server) Address(role Role) string {
	b := s.listening.at()
	if b == nil {
		return ""
	}
	return b.Address + Entry(s.keys.codeBeyond(role))
}

// quiet is how many modules around a code stay light (ISO/IEC 18004, 5.3.8).
const quiet = 4

// qrCode is an address as a QR code.
type qrCode struct {
	Text string
	Size int    // of its side, with what stays light around it
	Path string // its dark modules, of an SVG
	code *qr.Code
}

// newQR makes one that survives a smudge on 7 % of it: on a screen there is none, and
// the smaller one is read from farther away.
func newQR(text string) (*qrCode, error) {
	c, err := qr.Encode(text, qr.L)
	if err != nil {
		return nil, fmt.Errorf("that address can't be made a QR code: %w", err)
	}
	q := &qrCode{Text: text, Size: c.Size + 2*quiet, code: c}
	var b strings.Builder
	for y := range c.Size {
		for x := range c.Size {
			if c.Black(x, y) {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x+quiet, y+quiet)
			}
		}
	}
	q.Path = b.String()
	return q, nil
}

// QRLines draws a text as a QR code for a terminal, two rows of modules to a line.
// bright: what is written is light on a dark ground, so the light modules are.
func QRLines(text string, bright bool) ([]string, error) {
	q, err := newQR(text)
	if err != nil {
		return nil, err
	}
	ink := func(x, y int) bool { return q.code.Black(x-quiet, y-quiet) != bright } // outside of it all is light
	var out []string
	for y := 0; y < q.Size; y += 2 {
		var b strings.Builder
		for x := range q.Size {
			b.WriteString(half(ink(x, y), ink(x, y+1)))
		}
		out = append(out, b.String())
	}
	return out, nil
}

func half(above, below bool) string {
	switch {
	case above && below:
		return "█"
	case above:
		return "▀"
	case below:
		return "▄"
	}
	return " "
}
