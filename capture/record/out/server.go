package out

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/cenkalti/backoff/v5"
)

// Target is a server that takes line protocol over HTTP, and where it keeps what it
// gets: a database (/write), or a bucket of an organisation (/api/v2/write).
type Target struct {
	URL         string // http or https, with what stands before /write in its path
	Database    string // empty: a bucket takes it
	Org, Bucket string // empty with a database
}

// Key names the target where it is remembered how far was sent.
func (t Target) Key() string { return strings.Join([]string{t.URL, t.Database, t.Org, t.Bucket}, " ") }

// Check says what is wrong with a target. A token goes to another machine only where
// nobody else can read it on the way.
func (t Target) Check(token string) error {
	u, err := url.Parse(t.URL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || u.RawQuery != "" ||
		u.Fragment != "" {
		return fmt.Errorf("%q is no address of a server: it begins with https:// or http:// and a name, "+
			"as https://server:8086", t.URL)
	}
	switch {
	case u.User != nil:
		return errors.New("a password doesn't belong into an address, which everybody sees: " +
			"put it into SEALWORTHY_TOKEN or a file, as USER:PASSWORD")
	case (t.Database == "") == (t.Bucket == ""):
		return errors.New("say either the database, or the organisation and its bucket")
	case t.Bucket != "" && t.Org == "":
		return errors.New("a bucket is one of an organisation: say that, too")
	case token != "" && u.Scheme == "http" && !loopback(u.Hostname()):
		return fmt.Errorf("the token would go to %s where everybody on the way can read it: use https://",
			u.Hostname())
	case strings.ContainsAny(token, "\r\n"):
		return errors.New("a token is one line")
	}
	return nil
}

func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// endpoint is where lines go.
func (t Target) endpoint() string {
	q := url.Values{}
	path := "/write"
	if t.Bucket != "" {
		path = "/api/v2/write"
		q.Set("org", t.Org)
		q.Set("bucket", t.Bucket)
	} else {
		q.Set("db", t.Database)
	}
	q.Set("precision", "ns")
	return strings.TrimRight(t.URL, "/") + path + "?" + q.Encode()
}

// refused is an answer of the server that doesn't change by asking again.
type refused struct {
	status int
	says   string
}

func (e *refused) Error() string {
	what := "it refuses"
	switch e.status {
	case http.StatusUnauthorized, http.StatusForbidden:
		what = "it doesn't know the token, or that one may not write there"
	case http.StatusNotFound:
		what = "it has no such database, bucket or address"
	case http.StatusBadRequest, http.StatusUnprocessableEntity:
		what = "it doesn't take the lines, or not all of them"
	}
	s := fmt.Sprintf("%s (status %d)", what, e.status)
	if e.says != "" {
		s += ": " + e.says
	}
	return s
}

// mostAnswer is how much of a server's answer is read.
const mostAnswer = 4 << 10

// post sends one batch, and again while that may help. A batch that is too large is
// halved.
func (s *Sender) post(ctx context.Context, b *batch) error {
	body, err := zipped(b.text)
	if err != nil {
		return err
	}
	_, err = backoff.Retry(ctx, func() (struct{}, error) { return struct{}{}, s.once(ctx, body) },
		backoff.WithBackOff(s.wait()), backoff.WithMaxElapsedTime(s.Patience), backoff.WithNotify(s.told))
	var no *refused
	if errors.As(err, &no) && no.status == http.StatusRequestEntityTooLarge && len(b.ends) > 1 {
		first, second := b.halves()
		if err := s.post(ctx, first); err != nil {
			return err
		}
		return s.post(ctx, second)
	}
	return err
}

func zipped(text []byte) ([]byte, error) {
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(text); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil { // what is left comes out of it only now
		return nil, err
	}
	return b.Bytes(), nil
}

// once sends a batch once.
func (s *Sender) once(ctx context.Context, body []byte) error {
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, s.Target.endpoint(), bytes.NewReader(body))
	if err != nil {
		return backoff.Permanent(err)
	}
	r.Header.Set("Content-Type", "text/plain; charset=utf-8")
	r.Header.Set("Content-Encoding", "gzip")
	if s.Token != "" {
		r.Header.Set("Authorization", "Token "+s.Token)
	}
	answer, err := s.Client.Do(r)
	if err != nil {
		if ctx.Err() != nil || untrusted(err) {
			return backoff.Permanent(err)
		}
		return err
	}
	says, _ := io.ReadAll(io.LimitReader(answer.Body, mostAnswer)) // what came of it is shown
	_ = answer.Body.Close()                                        // read only: nothing to lose
	status := answer.StatusCode
	switch {
	case status/100 == 2:
		return nil
	case status == http.StatusTooManyRequests || status == http.StatusServiceUnavailable:
		if after, err := strconv.Atoi(answer.Header.Get("Retry-After")); err == nil && after > 0 {
			return backoff.RetryAfter(min(after, longestWait))
		}
		return &refused{status, oneLine(says)}
	case status/100 == 5 || status == http.StatusRequestTimeout:
		return &refused{status, oneLine(says)}
	}
	return backoff.Permanent(&refused{status, oneLine(says)})
}

// longestWait is how many seconds a server can ask to be left alone.
const longestWait = 120

// untrusted: the server's certificate isn't good; asking again won't make it so.
func untrusted(err error) bool {
	return strings.Contains(err.Error(), "x509:") || strings.Contains(err.Error(), "certificate")
}

func oneLine(b []byte) string { return strings.Join(strings.Fields(string(b)), " ") }
