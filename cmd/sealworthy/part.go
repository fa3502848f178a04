package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/compare/plan"
	"sealworthy/compare/sample"
	"sealworthy/compare/words"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/wire"
)

func runPart(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "part", `sealworthy part [NAME] [--like PART] [--pieces N] [--ohms R]

Without a NAME it lists the parts that a plan can name, your own first.

Measures a few loose pieces (1 to 20) of a reel or bag over a short sweep and
writes NAME into your part book with the spread that was seen. --like names the
built-in part that it is one of; left out, NAME is a built-in part and its
spread is narrowed. A bare LED needs a resistor in series: say its --ohms.

--from BUILD takes no pieces: what the healthy groups of a build taught of their
reels becomes entries of the part book.`)
	from := f.String("from", "", "a `build` whose reels go into the part book")
	like := f.String("like", "", "the built-in `part` that it is one of")
	pieces := f.Int("pieces", 3, "how `many` pieces, 1 to 20")
	ohms := f.Float64("ohms", 0, "resistor, `ohm`, in series with a bare LED")
	half := f.Float64("ohms-half-width", 0, "limit of error of that resistor, `ohm`; 0: 1 %")
	volts := f.Float64("volts", 0, "highest `voltage`; 0: the part's own")
	benchPath := f.String("bench", "", "a bench.toml `file`, or the build it lies in")
	var over bench.Overrides
	f.StringVar(&over.SupplyPort, "supply", "", "`port` of the supply")
	f.StringVar(&over.MeterPort, "meter", "", "`port` of the meter")
	byHand := f.Bool("supply-by-hand", false, "you set the supply")
	typed := f.Bool("typed-meter", false, "you type what the meter shows")
	asJSON := f.Bool("json", false, "print what was learned as JSON")
	rest, err := parse(f, args, -1)
	if err != nil {
		return exitUsage, err
	}
	if *from != "" {
		if len(rest) > 0 {
			return exitUsage, misuse("part", "--from takes no name: the entries are called after part and build")
		}
		return partsFrom(e, *from)
	}
	if len(rest) == 0 && (f.NFlag() == 0 || f.NFlag() == 1 && *asJSON) {
		return listParts(e, *asJSON)
	}
	if len(rest) != 1 {
		return exitUsage, misuse("part", "takes the name of one part, got %d", len(rest))
	}
	s, err := sampling(e, rest[0], *like, *pieces)
	if err != nil {
		return exitUsage, err
	}
	s.Bench.SeriesOhm, s.Bench.SeriesHalf, s.Bench.Volts = *ohms, *half, *volts
	if s.Bench.SeriesHalf == 0 {
		s.Bench.SeriesHalf = onePercent(*ohms)
	}
	if !isTerminal(e.stdin) {
		return exitFailure, withHint(errors.New("nobody to ask: the input is no terminal"), "loose pieces are clipped by hand, one after another")
	}
	b := build{dir: *benchPath}
	if filepath.Ext(*benchPath) == ".toml" {
		b.dir = filepath.Dir(*benchPath)
	}
	cfg, err := b.readBench()
	if err != nil {
		return exitFailure, err
	}
	cfg.Relays, over.RelaysPort = bench.Relays{}, ""
	if *byHand {
		cfg.Supply = bench.Supply{ByHand: true}
	}
	if *typed {
		cfg.Meter = bench.Meter{Typed: true}
	}
	if dir, err := configDir(e); err == nil {
		over.ProfileFolder = profileFolder(dir)
	}
	c := clock.Wall{}
	guard := capture.NewGuard(c)
	face := newFace(e, true, guard.Go)
	defer watchSignals(e, guard)()
	bs, err := openAwake(ctx, c, wire.Serial(c, nil, nil), b, cfg, over, face, guard)
	if err != nil {
		return exitFailure, err
	}
	defer bs.Close()
	got, err := samplePart(ctx, e, bs, face, guard, s, rest[0])
	if err != nil {
		return exitFailure, err
	}
	got.Part.Source = sourceOf(got.Part.Source, bs.simulated())
	file, err := keepPart(e, got.Part)
	if err != nil {
		return exitFailure, err
	}
	if *asJSON {
		return exitReady, writeJSON(e.stdout, got)
	}
	sayLearned(e, got, file)
	return exitReady, nil
}

// sampling finds the part to start from.
func sampling(e env, name, like string, pieces int) (sample.Sampling, error) {
	book, err := partBook(e)
	if err != nil {
		return sample.Sampling{}, err
	}
	find := plan.Find
	if book != nil {
		find = book.Find
		if _, err := book.Find(name); err == nil && like != "" {
			return sample.Sampling{}, misuse("part", "%q is in your part book, or built in, already: give it another name", name)
		}
	}
	p, err := find(or(like, name))
	if err != nil {
		return sample.Sampling{}, withHint(misuse("part", "%v", err), "--like names the built-in part that it is one of", "sealworthy part lists them all")
	}
	return sample.Sampling{Part: p, Pieces: pieces}, nil
}

// samplesDir holds the record of loose pieces, in the maker's folder: they belong
// to no build.
const samplesDir = "samples"

// samplePart measures pieces and keeps what was read, and what it taught, in a
// record beside the part book.
func samplePart(ctx context.Context, e env, bs *benchSet, face capture.Face, guard *capture.Guard, s sample.Sampling, name string) (got sample.Learned, err error) {
	dir, err := configDir(e)
	if err != nil {
		return got, err
	}
	rec, err := beginIn(e, record.Opening{Dir: filepath.Join(dir, samplesDir), Build: "part book", Stage: compare.Loose, What: record.ForSample,
		Bench: bs.who(), Now: bs.Clock.Now(), Simulated: bs.simulated(), Go: runner(guard)})
	if err != nil {
		return got, err
	}
	defer func() { err = errors.Join(err, rec.Close()) }()
	keeper := record.Keep(rec)
	if got, err = learnPart(ctx, bs, face, guard, keeper, s, name); err != nil {
		return got, err
	}
	told, err := json.Marshal(got)
	if err != nil {
		return got, err
	}
	return got, errors.Join(keeper.Note("sample", string(told), compare.Loose, bs.Clock.Now()), keeper.Sync())
}

// learnPart measures the pieces and learns from them.
func learnPart(ctx context.Context, bs *benchSet, face capture.Face, guard *capture.Guard, keeper capture.Record, s sample.Sampling, name string) (sample.Learned, error) {
	s.Bench.LeadsOhm, s.Bench.Window = bs.leads.Ohm, bs.window
	steps, err := sample.Steps(s)
	if err != nil {
		return sample.Learned{}, err
	}
	recs, err := capture.Run(ctx, bs.Bench, pieceGuide{steps}, face, keeper, capture.Options{
		Stage: compare.Loose, Total: len(steps), Rand: rand.New(rand.NewPCG(uint64(len(steps)), 1)), Guard: guard,
	})
	if err != nil {
		return sample.Learned{}, err
	}
	return sample.Learn(s, name, recs, compare.MeterName)
}

// pieceGuide walks the pieces; there is nothing to judge them by yet.
type pieceGuide struct{ steps []capture.Step }

func (g pieceGuide) Next(done []capture.StepRecord) (capture.Step, bool) {
	for _, s := range g.steps {
		if !slices.ContainsFunc(done, func(r capture.StepRecord) bool { return r.Step.ID == s.ID }) {
			return s, true
		}
	}
	return capture.Step{}, false
}

func (g pieceGuide) Recognise(float64, float64, float64) []string { return nil }
func (g pieceGuide) Judge(capture.StepRecord) []capture.Said      { return nil }
func (g pieceGuide) Remaining(done []capture.StepRecord) time.Duration {
	var d time.Duration
	for _, s := range g.steps[min(len(done), len(g.steps)):] {
		d += compare.Lasts(s)
	}
	return d
}

// keepPart appends a part to the maker's part book.
func keepPart(e env, p plan.Part) (string, error) {
	dir, err := configDir(e)
	if err != nil {
		return "", err
	}
	if err := makeFolder(dir); err != nil {
		return "", err
	}
	file := filepath.Join(dir, partsFile)
	text, err := plan.EncodePart(p)
	if err != nil {
		return "", err
	}
	old, err := readFile(file, mostBytes)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return "", err
	}
	src := bytes.TrimSpace(bytes.Join([][]byte{bytes.TrimRight(old, "\n"), text}, []byte("\n\n")))
	if _, problems := plan.ParseBook(file, src); len(problems) > 0 {
		return "", withHint(planError(file, problems), "nothing was written; if the part is in the book already, give the new sample another name")
	}
	src = append(src, '\n')
	if errors.Is(err, os.ErrNotExist) {
		return file, writeNew(file, src)
	}
	return file, writeEdited(file, old, src)
}

func sayLearned(e env, got sample.Learned, file string) {
	p := got.Part
	switch got.Unit {
	case "A":
		fmt.Fprintf(e.stdout, "%s: %s at %g V, give or take %.0f %%\n", p.Name, words.Milliamps(p.Amps, got.Spread.U), p.RatedVolts, percentOf(p.Tolerance))
	default:
		for _, x := range p.Points {
			fmt.Fprintf(e.stdout, "%s: %s V at %s\n", p.Name, words.Number(x.Volts, got.Spread.U), words.Milliamps(x.Amps, 0))
		}
		fmt.Fprintf(e.stdout, "spread: give or take %s V\n", words.Number(p.SpreadVolts, p.SpreadVolts))
	}
	fmt.Fprintf(e.stdout, "%s. Kept in %s\n", p.Source, file)
	for _, x := range got.Left {
		wrap(e.stdout, "left out: ", "  ", x)
	}
	fmt.Fprintf(e.stdout, "In a plan: part = %q\n", p.Name)
}
