package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"sealworthy/cmd/sealworthy/identity"
	"sealworthy/cmd/sealworthy/page"
)

// identityFile is the bench's certificate with its key, among the maker's own files.
const identityFile = "page.pem"

// listenPort is the page's beyond this computer: always the same, so that a browser
// which was told to trust it finds what it trusts. It is one of those that nobody is
// given (RFC 6335, section 6).
const listenPort = 58443

// listenFlag says whether and where the page is served beyond this computer.
type listenFlag struct {
	on bool
	at string // "": where this computer is reached in its own network
}

func (l *listenFlag) String() string {
	if l == nil || !l.on {
		return ""
	}
	return l.at
}

// IsBoolFlag: it stands alone, too.
func (l *listenFlag) IsBoolFlag() bool { return true }

func (l *listenFlag) Set(s string) error {
	switch s {
	case "true":
		*l = listenFlag{on: true}
	case "false":
		*l = listenFlag{}
	default:
		*l = listenFlag{true, s}
	}
	return nil
}

// reach is where the page is served beyond this computer.
type reach struct {
	bind  string   // an address, or all of them
	port  int      // 0: the usual one, or one that is free
	hosts []string // addresses and names under which it's reached, the best first
	all   []string // that this computer has, and those
}

// network is what is asked of the system about its place in a network.
type network struct {
	addresses func() ([]net.Addr, error)
	outward   func() net.IP // the address that leads out; nil: none does
	name      func() (string, error)
}

func machineNetwork() network {
	return network{net.InterfaceAddrs, func() net.IP {
		// Nothing is sent: the system only says from where it would be. The address is
		// one that is kept for examples (RFC 5737).
		c, err := net.Dial("udp", "192.0.2.1:9")
		if err != nil {
			return nil
		}
		defer c.Close()
		a, _ := c.LocalAddr().(*net.UDPAddr)
		return a.IP
	}, os.Hostname}
}

// reach finds where to serve: at what the maker named, else at the address by which this
// computer goes out, if that is one of a network of its own (RFC 1918, RFC 4193).
func (l listenFlag) reach(n network) (p reach, err error) {
	host, port := l.at, ""
	if h, ps, err := net.SplitHostPort(l.at); err == nil {
		host, port = h, ps
	}
	if port != "" {
		if p.port, err = strconv.Atoi(port); err != nil || p.port < 1 || p.port > 65535 {
			return p, misuse("page", "--listen: %q is no port", port)
		}
	}
	own, err := privateFirst(n)
	if err != nil {
		return p, err
	}
	switch ip := net.ParseIP(host); {
	case host == "":
		if len(own) == 0 || !own[0].IsPrivate() {
			return p, withHint(errors.New("this computer has no address in a network of its own"),
				"is it in the Wi-Fi that the tablet is in? --listen=ADDRESS names one of its addresses")
		}
		p.bind, p.hosts = own[0].String(), []string{own[0].String()}
	case ip == nil:
		return p, misuse("page", "--listen: %q is no address of this computer, as 192.0.2.7 or 192.0.2.7:8443", host)
	case ip.IsUnspecified():
		p.bind = host
		for _, a := range own {
			p.hosts = append(p.hosts, a.String())
		}
	case !slices.ContainsFunc(own, ip.Equal) && !ip.IsLoopback():
		return p, withHint(fmt.Errorf("%s is no address of this computer", host), "it has "+addressList(own))
	default:
		p.bind, p.hosts = ip.String(), []string{ip.String()}
	}
	if len(p.hosts) == 0 {
		return p, errors.New("this computer is in no network")
	}
	if name, err := n.name(); err == nil {
		p.hosts = append(p.hosts, calledAs(name)...)
	}
	p.all = slices.Clone(p.hosts)
	for _, ip := range own {
		if s := ip.String(); !slices.Contains(p.all, s) {
			p.all = append(p.all, s)
		}
	}
	return p, nil
}

// privateFirst are this computer's addresses: the one that leads out first, then those
// of networks of their own.
func privateFirst(n network) ([]net.IP, error) {
	all, err := n.addresses()
	if err != nil {
		return nil, fmt.Errorf("this computer's addresses can't be read: %w", err)
	}
	var out []net.IP
	for _, a := range all {
		if x, ok := a.(*net.IPNet); ok && x.IP.IsGlobalUnicast() {
			out = append(out, x.IP)
		}
	}
	leads := n.outward()
	rank := func(ip net.IP) int {
		switch {
		case ip.IsPrivate() && ip.Equal(leads):
			return 0
		case ip.IsPrivate() && ip.To4() != nil:
			return 1
		case ip.IsPrivate():
			return 2
		}
		return 3
	}
	slices.SortStableFunc(out, func(a, b net.IP) int { return rank(a) - rank(b) })
	return out, nil
}

func addressList(ips []net.IP) string {
	var out []string
	for _, ip := range ips {
		out = append(out, ip.String())
	}
	return cmp.Or(strings.Join(out, ", "), "none")
}

// calledAs are the names of a computer in its own network: as it's called, and as it's
// found without a server of names (RFC 6762).
func calledAs(name string) []string {
	name, _, _ = strings.Cut(strings.ToLower(name), ".")
	good := func(r rune) bool { return r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' }
	bad := strings.ContainsFunc(name, func(r rune) bool { return !good(r) })
	if name == "" || bad || name == "localhost" || len(name) > 63 {
		return nil
	}
	return []string{name, name + ".local"}
}

// listen opens a place for the page.
func (p reach) listen() (net.Listener, error) {
	port := p.port
	if port == 0 {
		port = listenPort
	}
	l, err := net.Listen("tcp", net.JoinHostPort(p.bind, strconv.Itoa(port)))
	if err != nil && p.port == 0 { // another page is open: the tablet will be warned of this one again
		l, err = net.Listen("tcp", net.JoinHostPort(p.bind, "0"))
	}
	if err != nil {
		return nil, withHint(err, "--listen=ADDRESS:PORT takes another address or port")
	}
	return l, nil
}

// beyond opens the page beyond this computer.
func (l listenFlag) beyond(e env, n network, now time.Time) (*page.Beyond, error) {
	p, err := l.reach(n)
	if err != nil {
		return nil, err
	}
	id, err := benchIdentity(e, p, now)
	if err != nil {
		return nil, err
	}
	at, err := p.listen()
	if err != nil {
		return nil, err
	}
	_, port, err := net.SplitHostPort(at.Addr().String())
	if err != nil {
		return nil, errors.Join(err, at.Close())
	}
	b := &page.Beyond{Listener: at, TLS: id.TLS(), Words: id.Words(), Print: id.Print()}
	for _, h := range p.hosts {
		b.Hosts = append(b.Hosts, net.JoinHostPort(h, port))
	}
	b.Address = "https://" + b.Hosts[0]
	b.Moved = func() bool { return moved(n, b) }
	return b, nil
}

// lookEvery is how often it's looked whether this computer still has its address.
const lookEvery = 20 * time.Second

// sayMoved says it once when this computer lost the address under which the page is
// served to other devices, as it does in another network.
func sayMoved(ctx context.Context, e env, n network, b *page.Beyond) {
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for !moved(n, b) {
		select {
		case <-ctx.Done():
			return
		case <-look.C:
		}
	}
	wrap(e.stderr, "note: ", "  ",
		b.Address+" isn't an address of this computer any more, so no other device gets the "+
			"page. A test that was to be seen there pauses, its output off. End the page and start it anew.")
}

// moved: this computer hasn't the address any more.
func moved(n network, b *page.Beyond) bool {
	host, _, err := net.SplitHostPort(b.Hosts[0])
	own, err2 := n.addresses()
	if err != nil || err2 != nil {
		return false // nothing is known of it
	}
	return !slices.ContainsFunc(own, func(a net.Addr) bool {
		x, ok := a.(*net.IPNet)
		return ok && x.IP.Equal(net.ParseIP(host))
	})
}

// benchIdentity is the bench's certificate: the one that is kept, or a new one where that
// is needed, which it says. A new one is good for all addresses that this computer has,
// so that it needn't be made anew at the next one.
func benchIdentity(e env, p reach, now time.Time) (identity.Identity, error) {
	dir, err := configDir(e)
	if err != nil {
		return identity.Identity{}, withHint(err, "SEALWORTHY_HOME names a folder for what is yours")
	}
	file := filepath.Join(dir, identityFile)
	src, open, err := readSecret(file)
	why := ""
	switch {
	case errors.Is(err, fs.ErrNotExist):
		why = "there was none yet"
	case err != nil:
		return identity.Identity{}, err
	case open:
		why = "others could read the key of the old one, " + file
	default:
		id, err := identity.Read(src)
		if err == nil {
			why = id.Stale(now, p.hosts)
		} else {
			why = file + " holds " + err.Error()
		}
		if why == "" {
			return id, nil
		}
	}
	id, keep, err := identity.New(now, p.all)
	if err == nil {
		err = makeFolder(dir)
	}
	if err == nil {
		err = writeSecret(file, keep)
	}
	if err != nil {
		return id, fmt.Errorf("the bench's certificate can't be kept: %w", err)
	}
	wrap(e.stderr, "note: ", "  ", "a certificate was made for this bench: "+why+
		". A browser that was told to trust another one warns again.")
	return id, nil
}

// sayBeyond prints what another device needs, as a QR code on a terminal.
func sayBeyond(e env, s *page.Server, b *page.Beyond, role page.Role) {
	address := s.Address(role)
	who := "On a tablet that starts tests"
	if role == page.Helper {
		who = "For a helper, to look, photograph and STOP"
	}
	fmt.Fprintf(e.stdout, "%s, good once:\n%s\n", who, address)
	if isTerminal(e.stdout) {
		sayQR(e.stdout, colour(e), address)
	}
	fmt.Fprintf(e.stdout, "Its six words: %s\n", strings.Join(b.Words, "  "))
}

// sayWarning tells beforehand what the other device's browser says, and what to do.
func sayWarning(e env) {
	wrap(e.stdout, "", "", "Its browser warns that nobody vouches for this address: this program made the "+
		"certificate "+
		"itself. See that the address is the one above, and choose to go on. Then it shows six words, which must be "+
		"those above: other words, another bench. \"sealworthy help tablet\" tells more.")
}

// sayQR draws an address for a camera. Where there are colours it's dark on light, as
// cameras like it; without, the ground of a terminal is taken to be dark.
func sayQR(w io.Writer, k ink, address string) {
	lines, err := page.QRLines(address, k.on == nil)
	if err != nil {
		return // the address stands above
	}
	for _, l := range lines {
		fmt.Fprintln(w, k.paint(paperInk, l))
	}
}
