package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sealworthy/cmd/sealworthy/wording"
	"sealworthy/compare"
	"sealworthy/compare/returns"
	"sealworthy/compare/words"
	"sealworthy/plots"
)

const buildsHelp = `sealworthy builds [FOLDER] [--picture FILE]

Every build in a folder on one screen: how many of its closures are ready or
closed by choice, what is left, when it left the bench, its serial number. A
serial number is kept with sealworthy note BUILD --serial TEXT.

Exit status: 0 every build could be read, 4 one couldn't, 1 failure, 2 usage.`

// shopBuild is a build as the list of them shows it.
type shopBuild struct {
	Folder string `json:"folder"`
	Build  string `json:"build"`
	Serial string `json:"serial,omitempty"`
	// Verdict is that of its gravest closure; empty where it has none.
	Verdict   compare.ClosureVerdict `json:"verdict,omitempty"`
	Closures  int                    `json:"closures"`
	Closed    int                    `json:"closed"`  // ready to close, or closed by choice
	Open      []string               `json:"open"`    // the others, in the order of a test, with what is said of them
	LeftAt    *time.Time             `json:"left_at"` // when the latest signature was kept; null: it's here
	Verdicts  map[string]int         `json:"verdicts"`
	Simulated bool                   `json:"simulated"`
	Problem   string                 `json:"problem,omitempty"` // why it couldn't be read
	each      []compare.ClosureVerdict
}

func runBuilds(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "builds", buildsHelp)
	picture := f.String("picture", "", drawnToo)
	asJSON := f.Bool("json", false, "print it as JSON")
	rest, err := parse(f, args, -1)
	switch {
	case err != nil:
		return exitUsage, err
	case len(rest) > 1:
		return exitUsage, misuse("builds", "takes one folder, got %d", len(rest))
	case len(rest) == 0:
		rest = []string{"."}
	}
	if err := pictureNamed("builds", *picture); err != nil {
		return exitUsage, err
	}
	dirs, err := buildsIn(rest[0])
	if err != nil {
		return exitFailure, err
	}
	status, all := exitReady, []shopBuild{}
	for _, dir := range dirs {
		x := oneOf(quietly(e), dir)
		if x.Problem != "" {
			status = exitNotReady
		}
		all = append(all, x)
	}
	if *asJSON {
		if err := writeJSON(e.stdout, whatIsBuilt{all}); err != nil {
			return exitFailure, err
		}
	}
	d := plots.ShopData{Title: fmt.Sprintf("%s: %s", folderName(rest[0]), countOf(len(all), "build"))}
	for _, x := range all {
		if !*asJSON {
			x.say(e.stdout, colour(e), e.here())
		}
		d.Rows = append(d.Rows, x.row(e.here()))
	}
	if *picture == "" {
		return status, nil
	}
	return status, drawInto(*picture, func(w io.Writer, f plots.Format) error {
		return plots.Shop(w, f, plots.DefaultStyle(), d)
	})
}

// folderName is what a folder is called, the one where somebody stands, too.
func folderName(folder string) string {
	if abs, err := filepath.Abs(folder); err == nil {
		folder = abs
	}
	return filepath.Base(folder)
}

// row is a build in the picture of them.
func (x shopBuild) row(where *time.Location) plots.ShopRow {
	r := plots.ShopRow{Build: x.Build, Verdict: x.Verdict, Closures: x.each, Left: x.Open, Serial: x.Serial,
		Problem: x.Problem, Simulated: x.Simulated}
	if x.LeftAt != nil {
		r.LeftAt = words.There(*x.LeftAt, where)
	}
	return r
}

// buildsIn lists the folders that hold a plan: of the folder itself and those in it.
func buildsIn(folder string) ([]string, error) {
	entries, err := inFolder(folder)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, dir := range append([]string{""}, namesOf(entries)...) {
		if info, err := os.Stat(filepath.Join(folder, dir, planFile)); err == nil && info.Mode().IsRegular() {
			out = append(out, filepath.Join(folder, dir))
		}
	}
	if len(out) == 0 {
		return nil, withHint(fmt.Errorf("%s holds no build: %w", folder, fs.ErrNotExist),
			"give the folder in which the builds' folders lie")
	}
	return out, nil
}

func namesOf(entries []fs.DirEntry) (out []string) {
	for _, x := range entries {
		if x.IsDir() && !strings.HasPrefix(x.Name(), ".") {
			out = append(out, x.Name())
		}
	}
	return out
}

// quietly is where notes about single builds would bury the list.
func quietly(e env) env {
	e.stderr = io.Discard
	return e
}

// oneOf looks at one build. What is wrong with it stands in its place in the list.
func oneOf(e env, dir string) shopBuild {
	x := shopBuild{Folder: dir, Build: folderName(dir), Open: []string{}, Verdicts: map[string]int{}}
	if err := x.fill(e); err != nil {
		x.Problem = inOneLine(err)
	}
	return x
}

// inOneLine is the first line of an error that says what is wrong: one that ends in a colon
// only leads to it.
func inOneLine(err error) string {
	for line := range strings.Lines(err.Error()) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasSuffix(line, ":") {
			return line
		}
	}
	return err.Error()
}

func (x *shopBuild) fill(e env) error {
	b, err := openBuild(e, x.Folder)
	if err != nil {
		return err
	}
	x.Build = b.plan.Build
	leads, err := b.leads()
	if err != nil {
		return err
	}
	cs, h, err := b.findings(e, "", leads)
	if err != nil {
		return err
	}
	x.Closures = len(cs)
	for _, c := range cs {
		x.Verdicts[string(c.Verdict)]++
		x.each = append(x.each, c.Verdict)
		if c.Verdict == compare.ReadyToClose || c.Verdict == compare.ClosedByChoice {
			x.Closed++
			continue
		}
		x.Open = append(x.Open, c.Closure+": "+string(c.Verdict))
	}
	if len(cs) > 0 {
		x.Verdict = wording.Gravest(cs)[0].Verdict
	}
	for _, s := range h.Sittings {
		x.Simulated = x.Simulated || s.Simulated
	}
	x.Serial = serialOf(h.Notes)
	s, _, err := returns.Latest(filepath.Join(b.dir, signatureDir))
	switch {
	case err == nil:
		x.LeftAt = &s.TakenAt
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	return nil
}

func (x shopBuild) say(w io.Writer, k ink, where *time.Location) {
	state := k.closure(x.Verdict)
	switch {
	case x.Problem != "":
		state = k.bad("! NOT READ")
	case x.Verdict == "":
		state = k.open("? NO CLOSURE")
	}
	line := fmt.Sprintf("%-22s %s%s", cut(x.Build, 22), state, strings.Repeat(" ", max(1, 19-columns(state))))
	line += fmt.Sprintf("%d of %d closures", x.Closed, x.Closures)
	if x.LeftAt != nil {
		line += ", left " + words.Day(*x.LeftAt, where)
	}
	fmt.Fprintln(w, line)
	var more []string
	if x.Serial != "" {
		more = append(more, "serial "+x.Serial)
	}
	if folderName(x.Folder) != x.Build && x.Folder != "." {
		more = append(more, "in "+x.Folder)
	}
	if x.Simulated {
		more = append(more, "simulated")
	}
	if len(more) > 0 {
		wrap(w, "  ", "  ", strings.Join(more, ", "))
	}
	if x.Problem != "" {
		wrap(w, "  - ", "    ", x.Problem)
	}
	if len(x.Open) > 0 {
		wrap(w, "  - ", "    ", strings.Join(x.Open, "; "))
	}
}
