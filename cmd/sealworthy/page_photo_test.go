//go:build unix

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"sealworthy/capture/record"
)

// fakeCamera is chromium's own picture in place of a camera's, without a question.
var fakeCamera = []chromedp.ExecAllocatorOption{
	chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true),
}

// until answers questions until one of a kind is open.
func (b *browser) until(kind string) {
	b.t.Helper()
	last, nth := "", map[string]int{}
	if !b.within(2*patience, func() bool {
		is, number := b.kind()
		if is == kind {
			return true
		}
		if is != "" && number != last {
			last = number
			nth[is]++
			b.answers(is, nth[is])
		}
		return false
	}) {
		b.t.Fatalf("%s is never asked:\n%s", kind, b.text("main"))
	}
}

// asked waits until a question of a kind is open.
func (b *browser) asked(kind string) {
	b.t.Helper()
	if !b.within(2*patience, func() bool { is, _ := b.kind(); return is == kind }) {
		b.t.Fatalf("%s is never asked:\n%s", kind, b.text("main"))
	}
}

// staysLit asks for more light at a look, with something chosen already: that stays, and the
// countdown begins anew. That who looks can't judge colours is one touch.
func (b *browser) staysLit(t *testing.T) {
	t.Helper()
	_, asked := b.kind()
	left := func() (minutes, seconds int) {
		_, _ = fmt.Sscanf(b.text(".lit"), "Lit for %d:%d more", &minutes, &seconds)
		return minutes, seconds
	}
	if !b.within(patience, func() bool { m, s := left(); return m == 1 && s < 58 }) {
		t.Fatalf("it counts no seconds: %q", b.text(".lit"))
	}
	b.do(chromedp.Evaluate[chromedp.Void](
		`document.querySelectorAll('.ask details').forEach((d) => { d.open = true; })`))
	b.tap(`.ask .light input[value=dim]`)
	b.tap("button.light")
	b.await("[data-region=log]", "Two minutes more")
	if _, now := b.kind(); now != asked || !evaluated[bool](b,
		`document.querySelector('.ask input[value=dim]').checked`) {
		t.Errorf("the look was question %s, it is %s now, and what was chosen is lost", asked, now)
	}
	if n := evaluated[int64](b, `document.querySelectorAll('.ask .light input[value="wrong colour"]').length`); n == 0 {
		t.Error("a wrong colour can't be told")
	}
	b.tap(`.ask button[data-choice="no colours"]`)
	b.await(".ask", "Colours aside")
	if n := evaluated[int64](b, `document.querySelectorAll('.ask .light input[value="wrong colour"]').length`); n != 0 {
		t.Error("who can't judge colours is asked for them")
	}
}

// A photo is taken inside the page while it's lit: the output stays on, the question open.
// It lies beside the record, which names it, stands on the maker's sheet, on the client's
// page once it's ticked, and is shown as a picture alone.
func TestPagePhoto(t *testing.T) {
	t.Parallel()
	b := newBrowser(t, fakeCamera...)
	p := servedPage(t, "tender")
	build := "http://" + p.at + "/build/" + buildID(p.dir)
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible(".orders"))
	b.tap(".orders button.first")
	b.until("look")
	b.shots(t, "look")
	b.await("#output", "OUTPUT ON")
	b.staysLit(t)
	_, asked := b.kind()
	b.tap("[data-do=open]")
	b.do(chromedp.WaitVisible("[data-camera] video"))
	if !b.within(patience, func() bool {
		return evaluated[int64](b,
			`document.querySelector('video').videoWidth`) > 0
	}) {
		t.Fatal("the camera shows nothing")
	}
	b.shots(t, "camera")
	b.tap("[data-do=take]")
	b.await(".said", "Kept beside the record")
	b.await("#output", "OUTPUT ON")
	if _, now := b.kind(); now != asked {
		t.Errorf("the look was question %s, it is %s now", asked, now)
	}
	f := mustBeWhole(t, p.dir)
	if len(f.Files) != 1 || !strings.HasPrefix(f.Files[0].Name, "photos/") ||
		f.Files[0].Order.Sitting() != len(f.Sittings) {
		t.Fatalf("the record names %+v, of %d sittings", f.Files, len(f.Sittings))
	}
	b.tap("#stop")
	b.await("#stopped", "off (read back)")

	b.do(chromedp.Navigate(build), chromedp.WaitVisible("#photos img"))
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('#photos').scrollIntoView()`))
	if !b.within(patience, func() bool {
		return evaluated[int64](b,
			`document.querySelector('#photos img').naturalWidth`) > 0
	}) {
		t.Error("the photo isn't shown")
	}
	b.shots(t, "photos")
	pictures := func(form string) int64 {
		b.do(chromedp.Navigate(build + "/sheet/" + form))
		return evaluated[int64](b, `[...document.images].filter((x) => x.naturalWidth > 0).length`)
	}
	if n := pictures("test"); n != 1 {
		t.Errorf("%d photos on the maker's sheet", n)
	}
	if n := pictures("delivery"); n != 0 {
		t.Errorf("%d photos on the client's page, none was ticked", n)
	}
	for _, want := range []int64{1, 0} {
		b.do(chromedp.Navigate(build), chromedp.WaitVisible("#photos .chip input"))
		if !b.within(patience, func() bool { // what comes above the photos once it's worked out moves them
			return evaluated[bool](b, `!document.querySelector('[data-awaits]')`)
		}) {
			t.Fatal("what the readings say never comes")
		}
		b.tap("#photos .chip input")
		b.tap(`#for-client button`)
		if !b.within(patience, func() bool { // the page came anew
			return evaluated[bool](b, `document.querySelector('#photos .chip input').defaultChecked`) == (want == 1)
		}) {
			t.Fatal("the tick isn't kept")
		}
		if n := pictures("delivery"); n != want {
			t.Errorf("%d photos on the client's page, want %d", n, want)
		}
	}
	mustBeWhole(t, p.dir)

	// One that was changed since isn't shown any more, and is said to be.
	must(t, os.WriteFile(filepath.Join(p.dir, filepath.FromSlash(f.Files[0].Name)),
		[]byte("<script>alert(1)</script>"), 0o644))
	b.do(chromedp.Navigate(build), chromedp.WaitVisible("#photos"))
	b.await("#photos", "is changed")
	if n := pictures("test"); n != 0 {
		t.Errorf("%d photos on the sheet after it was changed", n)
	}
}

// A file that is given stands upright; what is no photo, or too much, is refused in words.
func TestPagePhotoFile(t *testing.T) {
	t.Parallel()
	b := newBrowser(t) // no camera
	p := servedPage(t, "tender")
	b.do(chromedp.Navigate(p.address()), chromedp.WaitVisible("#photos"))
	b.tap("[data-do=open]")
	b.do(chromedp.WaitVisible("[data-part=file]"))
	b.shots(t, "nocamera")
	file := filepath.Join(t.TempDir(), "x.jpg")
	must(t, os.WriteFile(file, []byte("<!DOCTYPE html><script>alert(1)</script>"), 0o644))
	b.do(chromedp.SetUploadFiles("[data-part=file] input", []string{file}))
	b.await(".said", "that is no photo as JPEG")
	// Held turned to the right (6, CIPA DC-008 4.6.4): taken 64 wide and 32 high, it stands 32 by 64.
	must(t, os.WriteFile(file, turned(t), 0o644))
	b.do(chromedp.SetUploadFiles("[data-part=file] input", []string{file}), chromedp.WaitVisible("#photos img"))
	f := mustBeWhole(t, p.dir)
	if len(f.Files) != 1 {
		t.Fatalf("%+v", f.Files)
	}
	src, err := os.ReadFile(filepath.Join(p.dir, filepath.FromSlash(f.Files[0].Name)))
	must(t, err)
	c, err := jpeg.DecodeConfig(bytes.NewReader(src))
	must(t, err)
	if c.Width != 32 || c.Height != 64 || bytes.Contains(src, []byte("Exif")) {
		t.Errorf("it is kept %d by %d", c.Width, c.Height)
	}
}

// A photo is shown as a picture, whatever asks for it; no other file of the build is, and no
// other site's page gets one in.
func TestPagePhotoIsNoPage(t *testing.T) {
	t.Parallel()
	p := servedPage(t, "tender")
	id := buildID(p.dir)
	must(t, p.work.Photo(t.Context(), id, "", turned(t)))
	b, err := p.work.open(id)
	must(t, err)
	f, err := record.ReadDir(p.dir)
	must(t, err)
	all, err := b.photos(f)
	must(t, err)
	cookie := p.letIn(t)
	ask := func(method, path, body string, with func(*http.Request)) (*http.Response, string) {
		r, err := http.NewRequestWithContext(t.Context(), method, "http://"+p.at+path, strings.NewReader(body))
		must(t, err)
		r.AddCookie(cookie)
		r.Header.Set("Origin", "http://"+p.at)
		if with != nil {
			with(r)
		}
		a, err := http.DefaultClient.Do(r)
		must(t, err)
		defer a.Body.Close()
		src, err := io.ReadAll(a.Body)
		must(t, err)
		return a, string(src)
	}
	a, src := ask("GET", "/build/"+id+"/photo/"+all[0].Name, "", nil)
	if a.StatusCode != 200 || !strings.HasPrefix(src, "\xff\xd8") {
		t.Errorf("%s", a.Status)
	}
	for name, want := range map[string]string{"Content-Type": "image/jpeg", "X-Content-Type-Options": "nosniff",
		"Content-Security-Policy": "default-src 'none'; sandbox", "Content-Disposition": "attachment"} {
		if got := a.Header.Get(name); !strings.HasPrefix(got, want) {
			t.Errorf("%s: %q", name, got)
		}
	}
	for _, name := range []string{"plan.toml", "..%2fplan.toml", "..%2f..%2fplan.toml", "chain.json", "none.jpg",
		"%2e%2e"} {
		if a, src := ask("GET", "/build/"+id+"/photo/"+name, "", nil); a.StatusCode != 404 && a.StatusCode != 400 {
			t.Errorf("%s: %s\n%.80s", name, a.Status, src)
		}
	}
	for name, c := range map[string]struct {
		path, body string
		with       func(*http.Request)
		status     int
	}{
		"another site's": {"/build/" + id + "/photo", string(turned(t)),
			func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") }, 403},
		"nobody's": {"/build/" + id + "/photo", string(turned(t)), func(r *http.Request) { r.Header.Del("Cookie") },
			401},
		"a page":      {"/build/" + id + "/photo", "<script>alert(1)</script>", nil, 422},
		"too much":    {"/build/" + id + "/photo", strings.Repeat("x", 17<<20), nil, 413},
		"of no test":  {"/build/lit/photo", string(turned(t)), nil, 409},
		"of no part":  {"/build/" + id + "/photo?of=crow%27s%20nest", string(turned(t)), nil, 422},
		"of no build": {"/build/0123/photo", string(turned(t)), nil, 422},
	} {
		if a, src := ask("POST", c.path, c.body, c.with); a.StatusCode != c.status {
			t.Errorf("%s: %s, want %d\n%.200s", name, a.Status, c.status, src)
		}
	}
	if f := mustBeWhole(t, p.dir); len(f.Files) != 1 {
		t.Errorf("the record names %d photos", len(f.Files))
	}
	for _, form := range []string{"..%2fplan", "nothing"} {
		if a, _ := ask("GET", "/build/"+id+"/sheet/"+form, "", nil); a.StatusCode/100 == 2 {
			t.Errorf("a sheet of the form %s: %s", form, a.Status)
		}
	}
}

// Without the client's, a packed build holds no photo, and no page that shows one.
func TestPackWithoutPhotos(t *testing.T) {
	t.Parallel()
	p := servedPage(t, "tender")
	must(t, p.work.Photo(t.Context(), buildID(p.dir), "hull", turned(t)))
	if status := run(t.Context(), []string{"sheet", p.dir}, silent()); status != exitReady {
		t.Fatal(status)
	}
	for _, x := range []struct {
		args []string
		want bool
	}{{nil, true}, {[]string{"--without-client"}, false}} {
		into := filepath.Join(t.TempDir(), "x")
		if status := run(t.Context(), append([]string{"pack", p.dir, "--into", into + ".zip"}, x.args...),
			silent()); status != exitReady {
			t.Fatal(status)
		}
		if status := run(t.Context(), []string{"unpack", into + ".zip", "--into", into},
			silent()); status != exitReady {
			t.Fatal(status)
		}
		f := mustBeWhole(t, into)
		state, err := record.StateOf(os.DirFS(into), f.Files[0])
		must(t, err)
		if got := state == record.FileThere; got != x.want {
			t.Errorf("%v: the photo is %s", x.args, state)
		}
		if _, err := os.Stat(filepath.Join(into, sheetFile)); (err == nil) != x.want {
			t.Errorf("%v: the sheet: %v", x.args, err)
		}
	}
}

// letIn is the cookie of a browser that was let in.
func (p *pageUp) letIn(t *testing.T) *http.Cookie {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), "GET", p.address(), nil)
	must(t, err)
	a, err := http.DefaultClient.Do(r)
	must(t, err)
	defer a.Body.Close()
	if len(a.Cookies()) == 0 {
		t.Fatal(a.Status)
	}
	return a.Cookies()[0]
}

// turned is a photo of a camera that was held turned to the right.
func turned(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	must(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 64, 32)), nil))
	exif := "Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01" +
		"\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x00"
	head := fmt.Sprintf("\xff\xe1%c%c%s", 0, len(exif)+2, exif)
	return slices.Concat(b.Bytes()[:2], []byte(head), b.Bytes()[2:])
}
