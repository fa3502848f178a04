package identity

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

var morning = time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)

func made(t *testing.T, hosts ...string) (Identity, []byte) {
	t.Helper()
	id, kept, err := New(morning, hosts)
	if err != nil {
		t.Fatal(err)
	}
	return id, kept
}

// What is made is taken back the same, and is what it says: its names, a key on P-256,
// no power over other certificates.
func TestMade(t *testing.T) {
	id, kept := made(t, "192.0.2.7", "2001:db8::7", "workbench")
	again, err := Read(kept)
	if err != nil || !slices.Equal(again.Words(), id.Words()) || again.Print() != id.Print() {
		t.Fatalf("read back: %v", err)
	}
	c := id.Leaf()
	for _, h := range []string{"192.0.2.7", "2001:db8::7", "workbench"} {
		if err := c.VerifyHostname(h); err != nil {
			t.Error(err)
		}
	}
	for _, h := range []string{"192.0.2.8", "evil.example", ""} {
		if c.VerifyHostname(h) == nil {
			t.Errorf("it's good for %q", h)
		}
	}
	if k, ok := c.PublicKey.(*ecdsa.PublicKey); !ok || k.Curve != elliptic.P256() {
		t.Errorf("its key: %T", c.PublicKey)
	}
	serves := slices.Equal(c.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth})
	if c.IsCA || !c.BasicConstraintsValid || c.KeyUsage&x509.KeyUsageCertSign != 0 || !serves {
		t.Error("it may do more than serve")
	}
	if other, _ := made(t, "192.0.2.7"); other.Print() == id.Print() {
		t.Error("two are one")
	}
	if _, _, err := New(morning, nil); err == nil {
		t.Error("one for nobody")
	}
}

// Another one is needed before this one lapses, where the clock is wrong, and under
// another address; not before.
func TestStale(t *testing.T) {
	id, _ := made(t, "192.0.2.7", "workbench")
	for _, c := range []struct {
		after time.Duration
		hosts []string
		says  string
	}{
		{0, []string{"192.0.2.7"}, ""}, {0, []string{"workbench"}, ""},
		{lasts - renewed - time.Hour, []string{"192.0.2.7"}, ""},
		{lasts - renewed + time.Hour, []string{"192.0.2.7"}, "it lapses within a month"},
		{lasts + time.Hour, nil, "it has lapsed"}, {-early - time.Hour, nil, "the clock stands before its first day"},
		{0, []string{"192.0.2.7", "192.0.2.8"}, "this computer is reached under 192.0.2.8 now"},
	} {
		if got := id.Stale(morning.Add(c.after), c.hosts); got != c.says {
			t.Errorf("%v, %v: %q, want %q", c.after, c.hosts, got, c.says)
		}
	}
}

// 2048 words, plain, in order, none one letter from another; six of them are the first
// 66 bits of the print.
func TestWords(t *testing.T) {
	all := strings.Fields(wordList)
	if len(all) != 1<<wordBits || !slices.IsSorted(all) || len(slices.Compact(slices.Clone(all))) != len(all) {
		t.Fatalf("%d words", len(all))
	}
	plain := regexp.MustCompile(`^[a-z]{4,9}$`)
	one := map[string]string{} // a word with any letter in one place
	for _, w := range all {
		if !plain.MatchString(w) {
			t.Errorf("%q", w)
		}
		for i := range w {
			if _, shorter := slices.BinarySearch(all, w[:i]+w[i+1:]); shorter {
				t.Errorf("%s has one letter more than another", w)
			}
			any := w[:i] + "_" + w[i+1:]
			if one[any] != "" {
				t.Errorf("%s and %s differ by a letter", w, one[any])
			}
			one[any] = w
		}
	}
	id, _ := made(t, "192.0.2.7")
	var bits strings.Builder
	for _, hex := range strings.Split(id.Print(), ":") {
		for _, r := range hex {
			n := strings.IndexRune("0123456789ABCDEF", r)
			for i := 3; i >= 0; i-- {
				bits.WriteByte('0' + byte(n>>i&1))
			}
		}
	}
	for i, w := range id.Words() {
		at := 0
		for _, b := range bits.String()[11*i : 11*i+11] {
			at = 2*at + int(b-'0')
		}
		if all[at] != w {
			t.Errorf("word %d: %s, the print says %s", i, w, all[at])
		}
	}
	if n := len(id.Words()); n != 6 {
		t.Errorf("%d words", n)
	}
}

// openssl, from outside the project, reads the certificate, takes the key for its own,
// and prints the same SHA-256.
func TestOutside(t *testing.T) {
	program, err := exec.LookPath("openssl")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("openssl is missing")
		}
		t.Skip("openssl is missing")
	}
	id, kept := made(t, "192.0.2.7", "workbench")
	file := filepath.Join(t.TempDir(), "page.pem")
	if err := os.WriteFile(file, kept, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(program, "x509", "-in", file, "-noout", "-fingerprint", "-sha256",
		"-text").CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	for _, says := range []string{"=" + id.Print(), "IP Address:192.0.2.7", "DNS:workbench", "CA:FALSE",
		"TLS Web Server Authentication", "prime256v1"} {
		if !strings.Contains(string(out), says) {
			t.Errorf("it doesn't say %s:\n%s", says, out)
		}
	}
	one, err1 := exec.Command(program, "x509", "-in", file, "-noout", "-pubkey").Output()
	two, err2 := exec.Command(program, "pkey", "-in", file, "-pubout").Output()
	if err := errors.Join(err1, err2); err != nil || string(one) != string(two) {
		t.Errorf("the key is another's: %v", err)
	}
}

// Whatever stands in the file, it's read or refused.
func FuzzRead(f *testing.F) {
	_, kept, err := New(morning, []string{"192.0.2.7"})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(kept)
	f.Add(kept[:len(kept)/2])
	_, cert := pem.Decode(kept)
	f.Add(cert)
	f.Add([]byte("-----BEGIN CERTIFICATE-----\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		if id, err := Read(src); err == nil && (len(id.Words()) != HowMany || id.Print() == "") {
			t.Error("read, and has no words")
		}
	})
}
