package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record/out"
)

// sentFile in a build's folder says how far it was sent. It may be thrown away.
const sentFile = "sent.json"

const sendHelp = `sealworthy send BUILD --to URL --database NAME
sealworthy send BUILD --to URL --org NAME --bucket NAME

Sends the readings of a build to a server that takes InfluxDB line protocol over
HTTP: into a database (/write), or a bucket (/api/v2/write). It goes on where it
stopped. Sending twice changes nothing there: build, bench and sitting are tags,
and no two readings of a sitting have the same time.

How a shop with several benches runs it:
  influx -execute 'CREATE DATABASE shop'       once, on the server
  sealworthy send BUILD --to https://server:8086 --database shop
                                               after a test, from each bench
A reel's drift, GROUPS being those that the plans give the reel and that don't
blink: what each drew at last, settled, in amperes, build by build with its time
  SELECT last("value"),"name","settled_volts" FROM "reading" WHERE
  "settled_volts">0 AND "instrument"='meter' AND "quantity"='current' AND
  "stage"='fitted' AND "group"=~/^(GROUPS)$/ GROUP BY "group","build"

A token is read from SEALWORTHY_TOKEN or a file, never from the command line;
for a database with users it is USER:PASSWORD. The server's certificate must be
good. What a simulated bench read stays here unless you say --simulated.

Exit status: 0 all is there, 4 something was left out, 1 failure, 2 usage.`

func runSend(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "send", sendHelp)
	s := out.Sender{Client: out.NewClient()}
	f.StringVar(&s.Target.URL, "to", "", "`address` of the server")
	f.StringVar(&s.Target.Database, "database", "", "`name` of the database")
	f.StringVar(&s.Target.Org, "org", "", "`name` of the organisation")
	f.StringVar(&s.Target.Bucket, "bucket", "", "`name` of its bucket")
	tokenFile := f.String("token-file", "", "`file` with the token")
	f.BoolVar(&s.Simulated, "simulated", false, "send what a simulated bench read, too")
	f.DurationVar(&s.Patience, "patience", 5*time.Minute, "how `long` to try while the server doesn't answer")
	f.IntVar(&s.Lines, "lines", 5000, "how `many` lines go at once")
	asJSON := f.Bool("json", false, "print what was sent as JSON")
	dir, err := parseBuild(f, args)
	if err != nil {
		return exitUsage, err
	}
	if s.Target.URL == "" {
		return exitUsage, misuse("send", "--to is missing: the address of the server")
	}
	if s.Token, err = tokenOf(e, *tokenFile); err != nil {
		return exitFailure, err
	}
	if err := s.Target.Check(s.Token); err != nil {
		return exitUsage, misuse("send", "%v", err)
	}
	if dir, err = folderOf(dir); err != nil {
		return exitFailure, err
	}
	s.Told = func(err error, wait time.Duration) {
		wrap(e.stderr, "note: ", "  ", fmt.Sprintf("%v; once more in %s", err, wait.Round(time.Millisecond)))
	}
	ctx, stop := signal.NotifyContext(ctx, capture.Signals()...)
	defer stop()
	places := placesOf(dir)
	sent, err := s.Send(ctx, os.DirFS(dir), places.of(s.Target), func(p out.Places) error {
		return places.keep(dir, s.Target, p)
	})
	if err != nil {
		return exitFailure, withHint(err, "the same command goes on where it stopped")
	}
	status := sayLeftOut(e, sent.Walked)
	if *asJSON {
		return status, writeJSON(e.stdout, sent)
	}
	line := fmt.Sprintf("%s sent to %s", countOf(sent.Lines, "line"), s.Target.URL)
	if sent.Already > 0 {
		line += fmt.Sprintf(", %d were there", sent.Already)
	}
	wrap(e.stdout, "", "  ", line)
	if sent.Simulated > 0 {
		wrap(e.stdout, "left out: ", "  ", fmt.Sprintf("%s of a simulated bench (--simulated sends them)",
			countOf(sent.Simulated, "line")))
	}
	return status, nil
}

// mostToken is the longest token that is read, bytes.
const mostToken = 8 << 10

// tokenOf reads the token: from a file, else from the environment.
func tokenOf(e env, file string) (string, error) {
	if file == "" {
		return strings.TrimSpace(e.getenv("SEALWORTHY_TOKEN")), nil
	}
	b, err := readFile(file, mostToken)
	if err != nil {
		return "", fmt.Errorf("the token: %w", err)
	}
	if t := strings.TrimSpace(string(b)); t != "" {
		return t, nil
	}
	return "", fmt.Errorf("the token: %s is empty", file)
}

// sentVersion goes up with what a line has on a server: then all go out again, each in its
// own place.
const sentVersion = 2

// sentPlaces says of each server how far a build was sent.
type sentPlaces struct {
	Version int                   `json:"version"`
	Servers map[string]out.Places `json:"servers"`
}

// placesOf reads what was sent of a build. Where that can't be read it is nothing:
// sending again harms nothing.
func placesOf(dir string) sentPlaces {
	var p sentPlaces
	b, err := readFile(filepath.Join(dir, sentFile), mostOwnBytes)
	if err != nil || json.Unmarshal(b, &p) != nil || p.Version != sentVersion || p.Servers == nil {
		return sentPlaces{Version: sentVersion, Servers: map[string]out.Places{}}
	}
	return p
}

func (p sentPlaces) of(t out.Target) out.Places { return p.Servers[t.Key()] }

func (p sentPlaces) keep(dir string, t out.Target, now out.Places) error {
	p.Servers[t.Key()] = now
	b, err := json.MarshalIndent(p, "", "  ")
	if err != nil {
		return err
	}
	path := filepath.Join(dir, sentFile)
	old, err := lookAt(path)
	switch {
	case err != nil:
		return err
	case old == nil:
		if err = create(path, append(b, '\n')); !errors.Is(err, fs.ErrExist) {
			return err
		}
		return nil // another sending of the same build; nothing is lost
	}
	return replace(path, old, append(b, '\n'))
}
