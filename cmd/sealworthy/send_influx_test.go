//go:build unix

package main

import (
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	mrand "math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/load"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/hold"
)

// influx is Debian's server of time series on loopback, to be killed and started again.
type influx struct {
	t    *testing.T
	conf string
	url  string
	cmd  *exec.Cmd
}

// freePort is a port of this machine that nobody listens on.
func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

func newInflux(t *testing.T) *influx {
	t.Helper()
	if _, err := exec.LookPath("influxd"); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("influxd is missing (Debian's influxdb)")
		}
		t.Skip("influxd isn't there (Debian's influxdb)")
	}
	if testing.Short() {
		t.Skip("real time between processes: runs without -short")
	}
	dir, port := t.TempDir(), freePort(t)
	x := &influx{t: t, conf: filepath.Join(dir, "influxdb.conf"), url: fmt.Sprintf("http://127.0.0.1:%d", port)}
	conf := fmt.Sprintf("reporting-disabled = true\nbind-address = \"127.0.0.1:%d\"\n[meta]\ndir = %q\n[data]\ndir "+
		"= %q\nwal-dir = %q\n"+
		"[http]\nbind-address = \"127.0.0.1:%d\"\nlog-enabled = false\n[monitor]\nstore-enabled = false\n",
		freePort(t), filepath.Join(dir, "meta"), filepath.Join(dir, "data"), filepath.Join(dir, "wal"), port)
	if err := os.WriteFile(x.conf, []byte(conf), 0o600); err != nil {
		t.Fatal(err)
	}
	x.start()
	t.Cleanup(x.kill)
	x.ask("CREATE DATABASE shop")
	return x
}

// start starts it and waits until it answers.
func (x *influx) start() {
	x.t.Helper()
	x.cmd = exec.Command("influxd", "-config", x.conf)
	if err := x.cmd.Start(); err != nil {
		x.t.Fatal(err)
	}
	for end := time.Now().Add(patience); ; time.Sleep(50 * time.Millisecond) {
		r, err := http.Get(x.url + "/ping")
		if err == nil {
			r.Body.Close()
			return
		}
		if time.Now().After(end) {
			x.t.Fatal("influxd doesn't answer:", err)
		}
	}
}

func (x *influx) kill() {
	_ = x.cmd.Process.Kill() // SIGKILL; an error is that it has ended
	_ = x.cmd.Wait()
}

// answered is one series of an answer.
type answered struct {
	Tags    map[string]string
	Columns []string
	Values  [][]any
}

// query asks it in its own language.
func (x *influx) query(query string) []answered {
	x.t.Helper()
	r, err := http.PostForm(x.url+"/query", url.Values{"db": {"shop"}, "q": {query}})
	if err != nil {
		x.t.Fatal(err)
	}
	defer r.Body.Close()
	var a struct {
		Results []struct {
			Error  string
			Series []answered
		}
	}
	if err := json.NewDecoder(r.Body).Decode(&a); err != nil || len(a.Results) == 0 || a.Results[0].Error != "" {
		x.t.Fatalf("%s: %+v, %v", query, a, err)
	}
	return a.Results[0].Series
}

// ask gives the first row of an answer.
func (x *influx) ask(query string) []any {
	x.t.Helper()
	if s := x.query(query); len(s) > 0 {
		return s[0].Values[0]
	}
	return nil
}

// longBuild makes a build's record, not simulated, of so many sittings and readings in
// each, whose values add up exactly. Invented data.
func longBuild(t *testing.T, dir string, sittings, readings int) (n int, sum float64) {
	t.Helper()
	files := record.OS{Locks: hold.Folder{Path: t.TempDir(), Who: "a test"}}
	at := time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)
	for range sittings {
		at = at.Add(time.Hour)
		r, _, err := record.Begin(files,
			record.Opening{Dir: dir, Build: "Brackwater", Stage: "fitted", What: record.ForTest, Program: "a test",
				Bench: "bench 2", Now: at, Random: rand.Reader})
		if err != nil {
			t.Fatal(err)
		}
		for i := range readings {
			v := float64(i%512) / 4096
			x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A",
				Status: instruments.OK, Value: &v,
				HalfWidth: 2e-4, At: at.Add(time.Duration(i) * 100 * time.Millisecond), Raw: "+3.81E-02\r\n",
				Range: "200 mA"}
			if _, err := r.Append(record.Record{Reading: &x, Step: capture.StepRef{StepID: "hull/cabin windows",
				Closure: "hull", Feed: "cabin windows", Stage: "fitted"}}); err != nil {
				t.Fatal(err)
			}
			n, sum = n+1, sum+v
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return n, sum
}

// TestSendKilled: a server of time series holds the record once, by count and by sum,
// however often it and the program that sends are killed in between.
func TestSendKilled(t *testing.T) {
	x := newInflux(t)
	dir := filepath.Join(t.TempDir(), "brackwater")
	kills, readings := 4, 6000
	if os.Getenv("SEALWORTHY_LONG") == "1" {
		kills, readings = 100, 60000
	}
	n, sum := longBuild(t, dir, 3, readings)
	send := []string{"send", dir, "--to", x.url, "--database", "shop", "--lines", "200", "--patience", "2m"}
	random := mrand.New(mrand.NewPCG(uint64(time.Now().UnixNano()), 0))
	took := time.Second
	killed := [2]int{}
	for killed[0]+killed[1] < kills {
		p := start(t, send...)
		select {
		case <-p.done: // it was through before it was killed: from the start once more
			if err := os.Remove(filepath.Join(dir, sentFile)); err != nil {
				t.Fatal(err)
			}
			took /= 2
			continue
		case <-time.After(time.Duration(random.Int64N(int64(took)))):
		}
		if random.IntN(2) == 0 {
			_ = p.cmd.Process.Kill()
			<-p.done
			killed[0]++
			continue
		}
		x.kill()
		killed[1]++
		x.start()
		_ = p.cmd.Process.Kill()
		<-p.done
	}
	p := start(t, send...)
	if code := p.status(); code != 0 {
		t.Fatalf("status %d: %s", code, p.err.plain())
	}
	got := x.ask(`SELECT count("value"), sum("value") FROM "reading" WHERE "status"='ok'`)
	if len(got) != 3 || got[1].(float64) != float64(n) || got[2].(float64) != sum {
		t.Fatalf("after %v kills the server holds %v, the record %d readings that add up to %v", killed, got, n, sum)
	}
	if !strings.Contains(p.out.plain(), "sent to http://127.0.0.1") {
		t.Error(p.out.plain())
	}
	t.Logf("killed: the sender %d times, the server %d times; %d readings", killed[0], killed[1], n)
	t.Run("the query of the help", func(t *testing.T) { reelsDrift(t, x) })
}

// reelsDrift: the query that the help names gives what each group of a reel drew at last,
// settled, build by build and by its name, as the record has it: of two builds of one name.
func reelsDrift(t *testing.T, x *influx) {
	_, query, ok := strings.Cut(sendHelp, "SELECT ")
	if query, _, _ = strings.Cut(query, "\n\n"); !ok {
		t.Fatal("the help has no query")
	}
	query = strings.ReplaceAll("SELECT "+query, "GROUPS", "bow lamps|locker lamp")
	want := map[string]float64{} // by build and group
	e := env{stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }}
	for i, faults := range [][]string{{"bow lamps=open branch"}, nil} {
		dir := filepath.Join(t.TempDir(), fmt.Sprint("gig ", i))
		must(t, os.CopyFS(dir, os.DirFS("testdata/plans/gig")))
		b, err := openBuild(e, dir)
		must(t, err)
		seeded, err := parseFaults(b.plan, faults, 1)
		must(t, err)
		cfg, err := b.readBench()
		must(t, err)
		c := clock.NewSimulated(time.Now())
		r, err := putUp(t.Context(), c, b.plan, cfg, seeded, 1, load.Options{}, true)
		must(t, err)
		must(t, onRig(t.Context(), e, b, cfg, c, r, bench.Overrides{}, func(u *session.Session) error {
			_, err := u.Run(t.Context(), session.Sitting{Stage: compare.Fitted, Seed: 1, Sweep: true})
			return err
		}))
		f, err := record.ReadDir(dir)
		must(t, err)
		for _, r := range f.Kept() {
			if trace := r.Trace("meter", instruments.Current); len(trace) > 0 &&
				strings.Contains("bow lamps|locker lamp", r.Step.Feed) {
				want[f.BuildID+" "+r.Step.Feed] = *trace[len(trace)-1].Value
			}
		}
		if s := run(t.Context(), []string{"send", dir, "--to", x.url, "--database", "shop", "--simulated"},
			silent()); s != exitReady {
			t.Fatalf("status %d", s)
		}
	}
	got := x.query(query)
	if len(got) != 4 || len(want) != 4 {
		t.Fatalf("%d series of %d: %v", len(got), len(want), got)
	}
	for _, s := range got {
		at := s.Tags["build"] + " " + s.Tags["group"]
		if row := s.Values[0]; len(s.Values) != 1 || row[1] != want[at] || row[2] != "Gig" || row[3] != 12.0 ||
			!strings.HasPrefix(row[0].(string), "20") || strings.HasPrefix(row[0].(string), "1970") {
			t.Errorf("%s: %v, the record has %v A", at, s.Values, want[at])
		}
	}
}
