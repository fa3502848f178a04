// Package identity is what a bench shows of itself to browsers beyond its own
// computer: a certificate that this program made, once, and six words for it.
//
// Start at New, which makes one, and Read, which takes it from what was kept. Stale
// says why another is needed.
//
// Nobody vouches for the certificate, so a browser warns of it. Whoever goes on has two
// ways to see that it's the right bench:
//   - Words: six of 2048, so the first 66 bits of the certificate's SHA-256. The page
//     shows them, so they tell this bench from another one. They are no proof against
//     somebody who sits between the two and hands the page on: he hands them on, too.
//   - Print: the SHA-256 itself, as the browser's own view of the certificate shows it.
//     No page can change what stands there.
//
// The key is ECDSA on P-256 (FIPS 186-5, RFC 5480), which browsers of the last ten years
// take. The certificate can't vouch for another one, so that a device that was made to
// trust it trusts nothing else. It lasts less than the 825 days after which some systems
// refuse one (from memory, no source).
package identity

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	_ "embed"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"strings"
	"time"
)

// How long a certificate lasts, and how long before its end another is made (our own
// choice). It begins a day early: a tablet's clock may be slow.
const (
	lasts   = 365 * 24 * time.Hour
	renewed = 30 * 24 * time.Hour
	early   = 24 * time.Hour
)

// Identity is a certificate with its key.
type Identity struct {
	cert tls.Certificate
	leaf *x509.Certificate
}

// New makes one for the names and addresses of a computer. The PEM is what is to be
// kept, where nobody else reads it: it holds the key.
func New(now time.Time, hosts []string) (id Identity, keep []byte, err error) {
	if len(hosts) == 0 {
		return id, nil, errors.New("a certificate needs a name or an address")
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return id, nil, err
	}
	serial, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return id, nil, err
	}
	c := x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "a Sealworthy bench"},
		NotBefore: now.Add(-early), NotAfter: now.Add(lasts),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			c.IPAddresses = append(c.IPAddresses, ip)
		} else {
			c.DNSNames = append(c.DNSNames, h)
		}
	}
	der, err := x509.CreateCertificate(rand.Reader, &c, &c, key.Public(), key)
	if err != nil {
		return id, nil, err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return id, nil, err
	}
	var b bytes.Buffer
	err = errors.Join(pem.Encode(&b, &pem.Block{Type: "PRIVATE KEY", Bytes: secret}),
		pem.Encode(&b, &pem.Block{Type: "CERTIFICATE", Bytes: der}))
	if err != nil {
		return id, nil, err
	}
	id, err = Read(b.Bytes())
	return id, b.Bytes(), err
}

// Read takes one from its PEM.
func Read(kept []byte) (Identity, error) {
	c, err := tls.X509KeyPair(kept, kept)
	if err != nil {
		return Identity{}, fmt.Errorf("no certificate with its key: %w", err)
	}
	return Identity{c, c.Leaf}, nil
}

// Stale says why another certificate is needed, as the end of "because"; "": it isn't.
func (id Identity) Stale(now time.Time, hosts []string) string {
	switch {
	case now.Before(id.leaf.NotBefore):
		return "the clock stands before its first day"
	case now.After(id.leaf.NotAfter):
		return "it has lapsed"
	case now.After(id.leaf.NotAfter.Add(-renewed)):
		return "it lapses within a month"
	}
	for _, h := range hosts {
		if id.leaf.VerifyHostname(h) != nil {
			return "this computer is reached under " + h + " now"
		}
	}
	return ""
}

// TLS is what a server speaks with it: TLS 1.2 or 1.3, as tablets of the last ten years do.
func (id Identity) TLS() *tls.Config {
	return &tls.Config{Certificates: []tls.Certificate{id.cert}, MinVersion: tls.VersionTLS12}
}

// Leaf is the certificate itself.
func (id Identity) Leaf() *x509.Certificate { return id.leaf }

// Print is the certificate's SHA-256 as browsers show it: bytes in hexadecimal.
func (id Identity) Print() string {
	d := sha256.Sum256(id.leaf.Raw)
	return strings.ReplaceAll(fmt.Sprintf("% X", d), " ", ":")
}

// wordList is our own: 2048 plain words, none of which sounds like another or is one
// letter away from it.
//
//go:embed words.txt
var wordList string

// How many words there are, and the bits that each tells.
const (
	HowMany  = 6
	wordBits = 11
)

// Word is one of the list, 0 to 2047.
func Word(n int) string { return strings.Fields(wordList)[n&(1<<wordBits-1)] }

// Words are six words for the certificate: the first 66 bits of its SHA-256, eleven at
// a time.
func (id Identity) Words() []string {
	d := sha256.Sum256(id.leaf.Raw)
	bits := new(big.Int).SetBytes(d[:])
	var out []string
	for i := range HowMany {
		at := new(big.Int).Rsh(bits, uint(8*len(d)-wordBits*(i+1)))
		out = append(out, Word(int(at.Uint64()&(1<<wordBits-1))))
	}
	return out
}
