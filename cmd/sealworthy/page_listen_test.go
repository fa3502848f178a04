package main

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/png"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"sealworthy/cmd/sealworthy/page"
)

// inNetwork is a computer with these addresses, of which one leads out.
func inNetwork(leads string, all ...string) network {
	return network{
		addresses: func() ([]net.Addr, error) {
			out := []net.Addr{&net.IPNet{IP: net.IPv4(127, 0, 0, 1)}, &net.IPNet{IP: net.ParseIP("fe80::1")}}
			for _, a := range all {
				out = append(out, &net.IPNet{IP: net.ParseIP(a)})
			}
			return out, nil
		},
		outward: func() net.IP { return net.ParseIP(leads) },
		name:    func() (string, error) { return "WorkBench.lan", nil },
	}
}

// Where the page is served: at the address of a private network by which the computer
// goes out, or what the maker names; never at a public one that nobody named.
func TestWhereToListen(t *testing.T) {
	const out, tunnel, six, public = "192.168.7.20", "10.8.0.2", "fd00::20", "203.0.113.9"
	all := []string{public, six, tunnel, out}
	for _, c := range []struct {
		at, leads string
		all       []string
		bind      string
		port      int
		hosts     []string
		fails     string
	}{
		{"", out, all, out, 0, []string{out, "workbench", "workbench.local"}, ""},
		{"", public, all, tunnel, 0, []string{tunnel, "workbench", "workbench.local"}, ""},
		{"", "", []string{six}, six, 0, []string{six, "workbench", "workbench.local"}, ""},
		{"", public, []string{public}, "", 0, nil, "no address in a network of its own"},
		{"", "", nil, "", 0, nil, "no address in a network of its own"},
		{public, out, all, public, 0, []string{public, "workbench", "workbench.local"}, ""},
		{out + ":8443", out, all, out, 8443, []string{out, "workbench", "workbench.local"}, ""},
		{"[" + six + "]:8443", out, all, six, 8443, []string{six, "workbench", "workbench.local"}, ""},
		{":8443", out, all, out, 8443, []string{out, "workbench", "workbench.local"}, ""},
		{"127.0.0.1", out, all, "127.0.0.1", 0, []string{"127.0.0.1", "workbench", "workbench.local"}, ""},
		{"0.0.0.0", out, all, "0.0.0.0", 0, []string{out, tunnel, six, public, "workbench", "workbench.local"}, ""},
		{"192.168.7.21", out, all, "", 0, nil, "no address of this computer"},
		{"bench.example", out, all, "", 0, nil, "no address of this computer, as"},
		{out + ":0", out, all, "", 0, nil, "no port"}, {out + ":70000", out, all, "", 0, nil, "no port"},
		{out + ":x", out, all, "", 0, nil, "no port"},
	} {
		got, err := listenFlag{true, c.at}.reach(inNetwork(c.leads, c.all...))
		if c.fails != "" {
			if err == nil || !strings.Contains(err.Error(), c.fails) {
				t.Errorf("%q, out by %q: %v, want %q", c.at, c.leads, err, c.fails)
			}
			continue
		}
		if err != nil || got.bind != c.bind || got.port != c.port || !slices.Equal(got.hosts, c.hosts) {
			t.Errorf("%q, out by %q: %+v %v", c.at, c.leads, got, err)
		}
	}
	names := map[string]int{"localhost": 0, "": 0, "a b": 0, "büro": 0, "a_b": 0, "LOCALHOST.x": 0, "pi-4": 2}
	for name, want := range names {
		if got := calledAs(name); len(got) != want {
			t.Errorf("%q: %v", name, got)
		}
	}
}

// The certificate is made once, for its owner's eyes only, and anew where it lapses, the
// address is another one, others could read its key or it's damaged; each time it's said.
func TestBenchIdentity(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "own")
	var said bytes.Buffer
	e := env{stdout: outletOf(&said), stderr: outletOf(&said), getenv: func(string) string { return dir }}
	now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	at := reach{hosts: []string{"192.168.7.20"}, all: []string{"192.168.7.20", "10.8.0.2"}}
	file := filepath.Join(dir, identityFile)
	last := ""
	for _, c := range []struct {
		what string
		does func()
		says string // "": it stays
	}{
		{"the first time", func() {}, "there was none yet"},
		{"once more", func() {}, ""},
		{"at another of its addresses", func() { at.hosts = []string{"10.8.0.2"} }, ""},
		{"at a new address", func() { at = reach{hosts: []string{"10.8.0.3"}, all: []string{"10.8.0.3"}} },
			"reached under 10.8.0.3 now"},
		{"eleven months later", func() { now = now.AddDate(0, 11, 5) }, "it lapses within a month"},
		{"others may read it", func() { must(t, os.Chmod(file, 0o644)) }, "others could read the key"},
		{"damaged", func() { must(t, os.WriteFile(file, []byte("x"), 0o600)) }, "holds no certificate with its key"},
		{"once more after all that", func() {}, ""},
	} {
		if c.what == "others may read it" && runtime.GOOS == "windows" {
			continue // the folder's rights say that there
		}
		c.does()
		said.Reset()
		id, err := benchIdentity(e, at, now)
		if err != nil {
			t.Fatalf("%s: %v", c.what, err)
		}
		told := strings.Join(strings.Fields(said.String()), " ")
		if (c.says == "") != (id.Print() == last) || !strings.Contains(told, c.says) ||
			(c.says == "") != (told == "") {
			t.Errorf("%s: it says %q", c.what, told)
		}
		last = id.Print()
		info, err := os.Stat(file)
		if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v %v", c.what, info.Mode(), err)
		}
		if strings.Contains(told, "PRIVATE") {
			t.Errorf("%s: it tells the key", c.what)
		}
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("beside it lies %v %v", left, err)
	}
	must(t, os.Remove(file))
	must(t, os.Mkdir(file, 0o700))
	if _, err := benchIdentity(e, at, now); err == nil {
		t.Error("a folder is taken for it")
	}
}

// A port that another page has is no obstacle, unless the maker named it.
func TestListenPortTaken(t *testing.T) {
	one, err := reach{bind: "127.0.0.1"}.listen()
	must(t, err)
	defer one.Close()
	two, err := reach{bind: "127.0.0.1"}.listen()
	must(t, err)
	defer two.Close()
	if one.Addr().String() == two.Addr().String() {
		t.Error("two have one port")
	}
	port := two.Addr().(*net.TCPAddr).Port
	if l, err := (reach{bind: "127.0.0.1", port: port}).listen(); err == nil {
		l.Close()
		t.Error("a port that is taken was given once more")
	} else if h := new(hinted); !errors.As(err, &h) {
		t.Errorf("%v says nothing to do", err)
	}
}

// In another network the page says that nobody reaches it any more.
func TestMoved(t *testing.T) {
	var said bytes.Buffer
	e := env{stderr: outletOf(&said)}
	b := &page.Beyond{Hosts: []string{"192.168.7.20:58443", "workbench:58443"}, Address: "https://192.168.7.20:58443"}
	for _, c := range []struct {
		all  []string
		want bool
	}{{[]string{"10.8.0.2", "192.168.7.20"}, false}, {[]string{"10.8.0.2"}, true}, {nil, true}} {
		if got := moved(inNetwork("", c.all...), b); got != c.want {
			t.Errorf("%v: %v", c.all, got)
		}
	}
	failing := inNetwork("")
	failing.addresses = func() ([]net.Addr, error) { return nil, errors.New("no") }
	if moved(failing, b) {
		t.Error("it's said where nothing is known")
	}
	sayMoved(t.Context(), e, inNetwork("", "10.8.0.2"), b)
	if !strings.Contains(said.String(), "https://192.168.7.20:58443 isn't an address of this computer any more") {
		t.Errorf("it says %q", &said)
	}
}

// The flag stands alone or has an address.
func TestListenFlag(t *testing.T) {
	for _, c := range []struct {
		args []string
		want listenFlag
		rest int
	}{
		{nil, listenFlag{}, 0}, {[]string{"--listen"}, listenFlag{true, ""}, 0},
		{[]string{"--listen", "brackwater"}, listenFlag{true, ""}, 1},
		{[]string{"--listen=192.0.2.7:8443", "brackwater"}, listenFlag{true, "192.0.2.7:8443"}, 1},
		{[]string{"--listen=false"}, listenFlag{}, 0},
	} {
		var l listenFlag
		f := newFlags(env{}, "page", "")
		f.Var(&l, "listen", "")
		rest, err := parse(f, c.args, -1)
		if err != nil || l != c.want || len(rest) != c.rest {
			t.Errorf("%v: %+v %v %v", c.args, l, rest, err)
		}
	}
	var out bytes.Buffer
	e := env{stdin: strings.NewReader(""), stdout: &out, stderr: &out, getenv: func(string) string { return "" }}
	if s := run(t.Context(), []string{"page", "brackwater", "--listen", "192.0.2.7"}, e); s != exitUsage ||
		!strings.Contains(out.String(), "--listen=192.0.2.7") {
		t.Errorf("%d: %s", s, &out)
	}
}

// A camera reads the code of a terminal, with colours and without: the picture is made of
// what is written, and zbarimg, another program, reads it.
func TestTerminalQR(t *testing.T) {
	const text = "https://192.168.7.20:58443/enter?code=ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	for _, bright := range []bool{false, true} {
		lines, err := page.QRLines(text, bright)
		must(t, err)
		if got := readLines(t, lines, bright); got != text {
			t.Errorf("bright %v: it reads %q", bright, got)
		}
	}
}

// readLines is what a camera reads in lines of half blocks.
func readLines(t *testing.T, lines []string, bright bool) string {
	t.Helper()
	const scale = 6
	wide := len([]rune(lines[0]))
	img := image.NewGray(image.Rect(0, 0, wide*scale, 2*len(lines)*scale))
	for y, l := range lines {
		for x, r := range []rune(l) {
			inked := [2]bool{r == '█' || r == '▀', r == '█' || r == '▄'}
			for i := range 2 * scale * scale {
				dx, dy := i%scale, i/scale
				if light := inked[dy/scale] == bright; light {
					img.SetGray(x*scale+dx, 2*y*scale+dy, color.Gray{255})
				}
			}
		}
	}
	var b bytes.Buffer
	must(t, png.Encode(&b, img))
	return readQR(t, b.Bytes())
}

// Whoever clicks finds the builds that lie where the program was started, else a folder
// among the documents, which the desktop may have named in another language.
func TestWhereBuildsLie(t *testing.T) {
	home := t.TempDir()
	t.Setenv("HOME", home)
	e := env{getenv: func(string) string { return "" }}
	plans, err := filepath.Abs("testdata/plans/tender")
	must(t, err)
	t.Chdir(t.TempDir())
	if runtime.GOOS == "linux" {
		must(t, os.MkdirAll(filepath.Join(home, ".config"), 0o755))
		must(t, os.WriteFile(filepath.Join(home, ".config", "user-dirs.dirs"),
			[]byte("# a comment\nXDG_DESKTOP_DIR=\"$HOME/Tisch\"\nXDG_DOCUMENTS_DIR=\"$HOME/Schriften\"\n"), 0o644))
		got, err := whereBuildsLie(e)
		if want := filepath.Join(home, "Schriften", clickedFolder); err != nil || got != want {
			t.Errorf("%s %v, want %s", got, err, want)
		}
		if info, err := os.Stat(got); err != nil || !info.IsDir() {
			t.Errorf("it isn't there: %v", err)
		}
	}
	here, err := os.Getwd()
	must(t, err)
	must(t, os.CopyFS(filepath.Join(here, "tender"), os.DirFS(plans)))
	if got, err := whereBuildsLie(e); err != nil || got != here {
		t.Errorf("beside a build: %s %v, want %s", got, err, here)
	}
}

// readQR is what another program reads in a picture: zbarimg, of zbar-tools.
func readQR(t *testing.T, png []byte) string {
	t.Helper()
	program, err := exec.LookPath("zbarimg")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("zbarimg is missing")
		}
		t.Skip("zbarimg is missing")
	}
	file := filepath.Join(t.TempDir(), "code.png")
	must(t, os.WriteFile(file, png, 0o600))
	out, err := exec.Command(program, "--quiet", "--raw", file).Output()
	if err != nil {
		t.Fatalf("no code is read: %v", err)
	}
	return strings.TrimSpace(string(out))
}
