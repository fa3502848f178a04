package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync"
	"time"

	"sealworthy/cmd/sealworthy/page"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/scene"
	"sealworthy/compare/wiring"
	"sealworthy/instruments/driver"
	"sealworthy/instruments/wire"
	"sealworthy/plots"
)

// pageWork is what the bench page can have done: the verbs, on builds of a folder.
type pageWork struct {
	e     env
	w     world
	dir   string // whose folders are the builds
	only  string // the one build; "": all of dir
	flags benchFlags
	seed  func() uint64                 // of a simulated bench
	warm  time.Duration                 // how long the whole model is on before it's read
	trace time.Duration                 // of the whole model; 0: as it needs
	ports func() ([]wire.Listed, error) // lists those that are plugged in; nil: as the system does

	held  heldFindings
	looks looks

	mu      sync.Mutex
	sims    map[string]*simulatedBuild // by ID
	besides map[string]*session.Beside // of the build under test, by ID
}

// simulatedBuild is a build whose bench is simulated.
type simulatedBuild struct {
	dir    string
	faults []fault.Fault
	seed   uint64

	mu    sync.Mutex
	bench *atRig // the latest that was put up
}

// buildID names a build for a browser; it tells no path.
func buildID(dir string) string {
	d := sha256.Sum256([]byte(dir))
	return hex.EncodeToString(d[:6])
}

// mostBuilds of a folder are listed.
const mostBuilds = 500

// folders are those of the builds that can be opened.
func (p *pageWork) folders() ([]string, error) {
	var out []string
	if p.only != "" {
		out = append(out, p.only)
	} else {
		entries, err := inFolder(p.dir)
		if err != nil {
			return nil, err
		}
		for _, x := range append([]string{""}, foldersIn(entries)...) {
			dir := filepath.Join(p.dir, x)
			if info, err := os.Stat(filepath.Join(dir, planFile)); err == nil && info.Mode().IsRegular() &&
				len(out) < mostBuilds {
				out = append(out, dir)
			}
		}
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range p.sims {
		if s.dir != p.only {
			out = append(out, s.dir)
		}
	}
	return out, nil
}

// foldersIn names the folders among entries.
func foldersIn(entries []fs.DirEntry) (out []string) {
	for _, x := range entries {
		if x.IsDir() {
			out = append(out, x.Name())
		}
	}
	return out
}

// quiet is env for what nobody reads: the page shows it otherwise.
func (p *pageWork) quiet() env {
	e := p.e
	e.stdout, e.stderr = outletOf(io.Discard), outletOf(io.Discard)
	return e
}

func (p *pageWork) simulated(id string) *simulatedBuild {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.sims[id]
}

// Builds lists the builds of the folder.
func (p *pageWork) Builds(context.Context) ([]page.Build, error) {
	dirs, err := p.folders()
	if err != nil {
		return nil, err
	}
	p.ahead(dirs)
	var out []page.Build
	for _, dir := range dirs {
		id := buildID(dir)
		x := page.Build{ID: id, Name: filepath.Base(dir), Where: dir, Simulated: p.simulated(id) != nil}
		if b, err := openBuild(p.quiet(), dir); err != nil {
			x.Problem = onPage(err).Error()
		} else {
			x.Name = b.plan.Build
		}
		out = append(out, x)
	}
	return out, nil
}

// open opens a build by its ID.
func (p *pageWork) open(id string) (build, error) {
	dir, err := p.dirOf(id)
	if err != nil {
		return build{}, err
	}
	b, err := openBuild(p.quiet(), dir)
	return b, onPage(err)
}

// dirOf is the folder of a build.
func (p *pageWork) dirOf(id string) (string, error) {
	dirs, err := p.folders()
	if err != nil {
		return "", err
	}
	for _, dir := range dirs {
		if buildID(dir) == id {
			return dir, nil
		}
	}
	return "", fmt.Errorf("there is no such build in this folder: %w", fs.ErrNotExist)
}

// onPage is an error with what a page lays out of it.
func onPage(err error) error {
	if wrong := (*wrongPlanError)(nil); errors.As(err, &wrong) {
		return &page.PlanError{Where: wrong.file, Problems: wrong.problems}
	}
	return err
}

// Overview tells what is known of a build.
func (p *pageWork) Overview(_ context.Context, id string) (page.Overview, error) {
	b, err := p.open(id)
	if err != nil {
		return page.Overview{}, err
	}
	sim := p.simulated(id) != nil
	o := page.Overview{Build: page.Build{ID: id, Name: b.plan.Build, Where: b.dir, Simulated: sim},
		Cautions: cautions(b.plan), Places: compare.Places(b.plan)}
	cfg, err := b.readBench()
	if err != nil {
		return o, err
	}
	over, err := benchOf(p.quiet(), b.dir, p.flags.over)
	if err != nil {
		return o, err
	}
	if !sim {
		o.Bench = p.stands(over)
	}
	o.ByHand = over.Supply.ByHand || p.flags.supplyByHand
	o.Ports = sim || o.ByHand || cmp.Or(p.flags.over.SupplyPort, over.Supply.Port) != ""
	o.Relays = sim || cmp.Or(p.flags.over.RelaysPort, over.Relays.Port) != ""
	if s, err := b.signature(); err == nil {
		o.Kept = s != nil
	}
	for _, t := range wiring.Terminals(b.plan) {
		o.Feeds = append(o.Feeds, t.Name)
	}
	for _, x := range b.plan.Boards {
		if x.Button {
			o.Buttons = append(o.Buttons, x.Name)
		}
	}
	for _, g := range b.plan.Groups {
		o.Groups = append(o.Groups, g.Name)
	}
	for _, c := range b.plan.Closures {
		o.Parts = append(o.Parts, c.Name)
	}
	o.BenchSimulated = driver.IsSimulated(over.Supply.Identity) || driver.IsSimulated(over.Meter.Identity)
	if j := b.plan.Jacks[0]; j.Source == "adapter" && centreOf(j) == "" {
		o.NoCentre = j.Name
	}
	r, err := p.evidence(b, session.LeadsOf(cfg))
	if err != nil {
		return o, err
	}
	o.Files = r.files
	o.Findings, o.Past, o.Said = p.held.known(r), pastOf(r.record), takeableOf(r.record)
	if err := later(&o, b, r.record); err != nil {
		return o, err
	}
	o.Pictures = []page.Picture{
		{Name: treePicture, Says: "The feed tree: what each joint carries and what drops there"},
		{Name: bandsPicture, Says: "What each group should draw, with its band"},
	}
	return o, nil
}

// Picture draws a picture of a build.
func (p *pageWork) Picture(_ context.Context, id, name string, w io.Writer) error {
	b, err := p.open(id)
	if err != nil {
		return err
	}
	leads, err := b.leads()
	if err != nil {
		return err
	}
	bud, err := compare.NewExpected(b.plan).At(scene.Scene{LeadsOhm: leads.Ohm, LeadsHalfOhm: leads.HalfOhm})
	if err != nil {
		return err
	}
	switch name {
	case treePicture:
		return plots.FeedTree(w, plots.SVG, plots.DefaultStyle(), plots.FeedTreeOf(bud, nil))
	case bandsPicture:
		return plots.Bands(w, plots.SVG, plots.DefaultStyle(), plots.BandsOf(bud))
	}
	if name == trendPicture {
		f, err := b.history(p.quiet())
		if err != nil {
			return err
		}
		_, d, err := b.overStages(p.quiet(), compare.NewExpected(b.plan), f.Kept(), leads)
		if err != nil {
			return err
		}
		return plots.Trend(w, plots.SVG, plots.DefaultStyle(), d)
	}
	return fmt.Errorf("there is no picture %q: %w", name, fs.ErrNotExist)
}

// Tell keeps what was told.
func (p *pageWork) Tell(_ context.Context, id string, t page.Told) error {
	b, err := p.open(id)
	if err != nil {
		return err
	}
	switch t.Kind {
	case page.ToldClients:
		return b.tickPhotos(p.quiet(), t.Names, p.besideOf(id))
	case page.ToldGlued:
		if err := p.mayBeGlued(b, t.Names); err != nil {
			return err
		}
		return b.glued(p.quiet(), t.Names, p.besideOf(id))
	}
	if t.Kind == page.ToldBack {
		return b.takeBack(p.quiet(), t.Names, p.besideOf(id))
	}
	m := measureFlags{closure: t.Closure, reason: t.Reason, beside: p.besideOf(id)}
	m.stage = compare.Fitted
	if t.Kind != page.ToldTouched && t.Kind != page.ToldTicked && t.Reason == "" {
		return errors.New("it needs a reason, in a few words")
	}
	switch t.Kind {
	case page.ToldTouched:
		m.touched = t.Names
		if len(t.Names) == 0 {
			m.touched = []string{touchedNothing}
		}
	case page.ToldAccepted:
		m.accept = t.Names
	case page.ToldTicked:
		m.tick = t.Names
	case page.ToldAllowed:
		m.allow = t.Names
	default:
		return fmt.Errorf("nothing of the kind %q can be told", t.Kind)
	}
	return m.tell(p.quiet(), b)
}

// New begins a build beside the others.
func (p *pageWork) New(ctx context.Context, name string) (string, error) {
	dir, err := p.newFolder(name)
	if err != nil {
		return "", err
	}
	if _, err := os.Stat(filepath.Join(dir, planFile)); err == nil {
		return "", &page.NameError{Name: name, Why: "is that of a build already", Better: p.free(name)}
	}
	_, err = runNew(ctx, p.quiet(), []string{dir, "--name", name})
	return buildID(dir), err
}

// Folder is where new builds are made.
func (p *pageWork) Folder() string {
	if p.only != "" {
		return ""
	}
	return p.dir
}
