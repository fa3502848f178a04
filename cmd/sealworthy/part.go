package main

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare/plan"
	"sealworthy/compare/sample"
	"sealworthy/compare/words"
	"sealworthy/instruments/bench"
)

func runPart(ctx context.Context, e env, args []string) (int, error) {
	return partIn(ctx, e, machine(), args)
}

func partIn(ctx context.Context, e env, w world, args []string) (int, error) {
	f := newFlags(e, "part", `sealworthy part [NAME] [--like PART] [--pieces N] [--ohms R]

Without a NAME it lists the parts that a plan can name, your own first.

Measures a few loose pieces (1 to 20) of a reel or bag over a short sweep and
writes NAME into your part book with the spread that was seen. --like names the
built-in part that it is one of; left out, NAME is a built-in part and its
spread is narrowed. A bare LED needs a resistor in series: say its --ohms. Each
piece costs one prompt; q stops, and --resume goes on.

--from BUILD takes no pieces: what the healthy groups of a build taught of their
reels becomes entries of the part book.`)
	from := f.String("from", "", "a `build` whose reels go into the part book")
	like := f.String("like", "", "the built-in `part` that it is one of")
	pieces := f.Int("pieces", 3, "how `many` pieces, 1 to 20")
	ohms := f.Float64("ohms", 0, "resistor, `ohm`, in series with a bare LED")
	half := f.Float64("ohms-half-width", 0, "limit of error of that resistor, `ohm`; 0: 1 %")
	volts := f.Float64("volts", 0, "highest `voltage`; 0: the part's own")
	benchPath := f.String("bench", "", "a bench.toml `file`, or the build it lies in")
	x := benchFlags{alone: "loose pieces are clipped by hand, one after another"}
	x.declarePorts(f)
	x.declareHands(f)
	f.BoolVar(&x.events, "events", false, eventsUsage)
	f.BoolVar(&x.resume, "resume", false, "go on with the pieces of this part that were broken off")
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
	dir := *benchPath
	if filepath.Ext(dir) == ".toml" {
		dir = filepath.Dir(dir)
	}
	return x.spoken(e, w, func(e env) (int, error) {
		return x.part(ctx, e, w, dir, s, rest[0], *asJSON || x.events, args)
	})
}

// part measures pieces and writes down what they taught under a name.
func (x *benchFlags) part(ctx context.Context, e env, w world, dir string, s sample.Sampling, name string,
	asJSON bool, args []string) (int, error) {
	got, simulated, err := x.sample(ctx, e, w, dir, s, name)
	goOn := "To go on:\n" + folded(resumeCommand("part", args))
	switch {
	case stopped(err):
		fmt.Fprintf(e.stderr, "Stopped; what was read is kept. %s\n", goOn)
		return exitNotReady, nil
	case errors.As(err, new(*capture.SignalError)) && !record.NotKept(err):
		return exitFailure, withHint(broken(err, "", "part", nil), "what was read is kept. "+goOn)
	case errors.As(err, new(*session.NoSampleError)):
		return exitFailure, withHint(err, "leave out --resume to begin one")
	case err != nil:
		return exitFailure, err
	}
	got.Part.Source = sourceOf(got.Part.Source, simulated)
	file, err := keepPart(e, got.Part)
	if err != nil {
		return exitFailure, err
	}
	if asJSON {
		return exitReady, e.found(got)
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
			return sample.Sampling{}, misuse("part",
				"%q is in your part book, or built in, already: give it another name", name)
		}
	}
	p, err := find(cmp.Or(like, name))
	if err != nil {
		return sample.Sampling{}, withHint(misuse("part", "%v", err),
			"--like names the built-in part that it is one of", "sealworthy part lists them all")
	}
	return sample.Sampling{Part: p, Pieces: pieces}, nil
}

// samplesDir holds the record of loose pieces, in the maker's folder: they belong
// to no build.
const samplesDir = "samples"

// sample measures pieces on the bench of a folder and keeps what was read, and
// what it taught, in a record beside the part book.
func (x *benchFlags) sample(ctx context.Context, e env, w world, dir string, s sample.Sampling,
	name string) (got sample.Learned, simulated bool, err error) {
	cfg, err := x.config(e, w, dir)
	if err != nil {
		return got, false, err
	}
	cfg.Relays = bench.Relays{}
	home, err := configDir(e)
	if err != nil {
		return got, false, err
	}
	at, leave := sitDown(e, w, true)
	defer leave()
	u := session.Session{World: w.World, Record: recordIn(e, filepath.Join(home, samplesDir)), Guard: at.guard,
		Desk: at.desk}
	if err := u.OpenBench(ctx, cfg, x.over); err != nil {
		return got, false, err
	}
	defer u.Bench.Close()
	got, err = u.Sample(ctx, s, name, x.sitting(""))
	return got, u.Bench.Simulated(), err
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
		return "", withHint(planError(file, problems),
			"nothing was written; if the part is in the book already, give the new sample another name")
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
		fmt.Fprintf(e.stdout, "%s: %s at %g V, give or take %.0f %%\n", p.Name, words.Milliamps(p.Amps, got.Spread.U),
			p.RatedVolts, percentOf(p.Tolerance))
	default:
		for _, x := range p.Points {
			fmt.Fprintf(e.stdout, "%s: %s V at %s\n", p.Name, words.Number(x.Volts, got.Spread.U),
				words.Milliamps(x.Amps, 0))
		}
		fmt.Fprintf(e.stdout, "spread: give or take %s V\n", words.Number(p.SpreadVolts, p.SpreadVolts))
	}
	fmt.Fprintf(e.stdout, "%s. Kept in %s\n", p.Source, file)
	for _, x := range got.Left {
		wrap(e.stdout, "left out: ", "  ", x)
	}
	fmt.Fprintf(e.stdout, "In a plan: part = %q\n", p.Name)
}
