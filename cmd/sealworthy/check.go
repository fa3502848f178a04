package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"sealworthy/capture/record"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/compare"
)

const checkHelp = `sealworthy check BUILD [--answer NAME --say TEXT] [--repair]
sealworthy check BUILD --convert
sealworthy check --format

Looks through the whole record of a build: is every line there, as it was
written? What is damaged is named with its file and line; until you answer it no
closure of the build is better than not settled.

  --say retest   nothing that was recorded before your answer counts any more:
                 what is measured and looked at after it does
  --say "WORDS"  what it was; the rest is taken as it stands, and a closure is
                 at best closed by choice

Your answer is kept; the damage stays. --answer all answers all of it at once.
--repair copies what is sound in a damaged file to NAME.lp.repaired beside it,
for other programs, with a remark where something is left out. The copy is no
record: the damaged file stays as it is, and so does what is said of the build.
--convert chains a record of before: it is written anew beside itself, and the
old file is kept under another name. --format prints what stands in the files.

Exit status: 0 whole, or all answered; 4 damage that isn't; 1 failure, 2 usage.`

// checked is what the verb found, as --json prints it.
type checked struct {
	Build     string                `json:"build_id,omitempty"`
	Names     []string              `json:"names"`
	Whole     bool                  `json:"whole"` // nothing is damaged
	Open      int                   `json:"open"`  // damage that isn't answered
	Sittings  []record.SittingState `json:"sittings"`
	Damage    []record.Damage       `json:"damage"`
	Files     []besideFile          `json:"files,omitempty"` // beside the chain
	Warnings  []record.Warning      `json:"warnings,omitempty"`
	Converted []record.Conversion   `json:"converted,omitempty"`
	Repaired  []record.Repaired     `json:"repaired,omitempty"`
}

// besideFile is a file that lies beside the chain.
type besideFile struct {
	record.Attached
	State record.FileState `json:"state"`
}

func runCheck(_ context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "check", checkHelp)
	var answer names
	f.Var(&answer, "answer", "answer the damage of this `name`, or all; may be given again")
	say := f.String("say", "", "the `text` of your answer: retest, or what it was")
	convert := f.Bool("convert", false, "chain the files of before the chain")
	repair := f.Bool("repair", false, "copy what is sound in damaged files, beside them")
	format := f.Bool("format", false, "print what stands in a record, on one page")
	asJSON := f.Bool("json", false, "print what was found as JSON")
	rest, err := parse(f, args, -1)
	switch {
	case err != nil:
		return exitUsage, err
	case *format && len(rest) == 0:
		_, err := io.WriteString(e.stdout, record.Page())
		return exitReady, err
	case len(answer) > 0 && strings.TrimSpace(*say) == "":
		return exitUsage, misuse("check", "--answer needs what you say of it: --say TEXT")
	case len(answer) == 0 && *say != "":
		return exitUsage, misuse("check", "--say needs what it is about: --answer NAME")
	}
	named, err := oneBuild(f, rest)
	if err != nil {
		return exitUsage, err
	}
	dir, err := folderOf(named)
	if err != nil {
		return exitFailure, err
	}
	var done []record.Conversion
	if *convert {
		if done, err = convertRecord(e, dir); err != nil {
			return exitFailure, err
		}
	}
	if len(answer) > 0 {
		if err := answerDamage(e, dir, answer, strings.TrimSpace(*say)); err != nil {
			return exitFailure, err
		}
	}
	var copies []record.Repaired
	if *repair {
		if copies, err = record.Repair(e.files(), dir, session.Program(), time.Now()); err != nil {
			return exitFailure, err
		}
	}
	c, err := checkRecord(e, dir)
	if err != nil {
		return exitFailure, err
	}
	c.Converted, c.Repaired = done, copies
	status := exitReady
	if c.Open > 0 {
		status = exitNotReady
	}
	if *asJSON {
		return status, writeJSON(e.stdout, c)
	}
	sayChecked(e.stdout, colour(e), c, rest[0], e.here())
	return status, nil
}

// folderOf takes a build's folder, or the path of the plan in it. The plan needn't
// be right: the record can be looked through all the same.
func folderOf(path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", noBuild(path, err)
	}
	if !info.IsDir() {
		return filepath.Dir(path), nil
	}
	return path, nil
}

// readExpecting reads a record; where the plan beside it can be read it must be of
// the build that this is of.
func readExpecting(e env, dir string) (record.Folded, error) {
	f, err := record.ReadDir(dir)
	if err != nil {
		return f, err
	}
	e.stderr = io.Discard // what is to be said of the plan isn't this verb's
	if b, err := openBuild(e, dir); err == nil {
		f.ExpectBuild(b.plan.Build)
	}
	return f, nil
}

// checkRecord reads all of a record.
func checkRecord(e env, dir string) (checked, error) {
	f, err := readExpecting(e, dir)
	if err != nil {
		return checked{}, err
	}
	c := checked{Build: f.BuildID, Names: f.Builds, Whole: len(f.Damage) == 0, Sittings: f.Sittings, Damage: f.Damage,
		Warnings: f.Warnings}
	for _, d := range f.Damage {
		if d.Answered == "" {
			c.Open++
		}
	}
	last := map[string]record.Attached{}
	var order []string
	for _, a := range f.Files {
		if _, again := last[a.Name]; !again {
			order = append(order, a.Name)
		}
		last[a.Name] = a
	}
	for _, name := range order {
		state, err := record.StateOf(os.DirFS(dir), last[name])
		if err != nil {
			return c, err
		}
		c.Files = append(c.Files, besideFile{last[name], state})
	}
	return c, nil
}

// answerDamage keeps an answer to each damage of these names, in a sitting of its
// own. What is damaged is looked at once that has begun: what was wrong with the
// head is told as of then.
func answerDamage(e env, dir string, answers []string, say string) (err error) {
	if strings.EqualFold(say, compare.Retest) {
		say = compare.Retest
	}
	f, err := readExpecting(e, dir)
	if err != nil {
		return err
	}
	if _, err := openDamage(f, answers); err != nil {
		return err
	}
	o := record.Opening{Stage: compare.Fitted, What: record.ForCheck, Now: time.Now()}
	if n := len(f.Sittings); n > 0 {
		o.Build, o.Stage = f.Sittings[n-1].Name, f.Sittings[n-1].Stage
	}
	if o.Build == "" && len(f.Builds) > 0 {
		o.Build = f.Builds[len(f.Builds)-1]
	}
	rec, err := recordIn(e, dir).Begin(o)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rec.Close()) }()
	if err := rec.Flush(); err != nil {
		return err
	}
	if f, err = readExpecting(e, dir); err != nil {
		return err
	}
	ds, err := openDamage(f, answers)
	if err != nil {
		return err
	}
	k := record.Keep(rec)
	for _, d := range ds {
		m := d.Answer(say)
		m.At, m.Stage = o.Now, o.Stage
		if err := k.Mark(m); err != nil {
			return err
		}
	}
	return k.Sync()
}

// openDamage gives the damage of these names that isn't answered yet.
func openDamage(f record.Folded, answers []string) ([]record.Damage, error) {
	var out []record.Damage
	var open []string
	for _, d := range f.Damage {
		if d.Answered == "" && !slices.Contains(open, d.Name) {
			open = append(open, d.Name)
		}
	}
	for _, a := range answers {
		if a != "all" && !slices.Contains(open, a) {
			err := fmt.Errorf("no damage called %q is open", a)
			if len(open) == 0 {
				return nil, withHint(err, "nothing is: the record is whole, or all of it is answered")
			}
			return nil, withHint(err, "it is one of: "+strings.Join(open, ", "))
		}
	}
	if len(open) == 0 {
		return nil, withHint(errors.New("there is nothing to answer"),
			"the record is whole, or all of its damage is answered")
	}
	for _, d := range f.Damage {
		if d.Answered == "" && (slices.Contains(answers, "all") || slices.Contains(answers, d.Name)) {
			out = append(out, d)
		}
	}
	return out, nil
}

// convertRecord chains the files of before the chain.
func convertRecord(e env, dir string) ([]record.Conversion, error) {
	o, err := converting(dir)
	if err != nil {
		return nil, err
	}
	done, warnings, err := record.Convert(e.files(), o)
	for _, w := range warnings {
		w.File = filepath.Join(dir, filepath.FromSlash(w.File))
		wrap(e.stderr, "note: ", "  ", fmt.Sprint(w))
	}
	return done, err
}

// converting refuses a folder without a record: a conversion would leave a head there.
func converting(dir string) (record.Opening, error) {
	if _, err := os.Stat(filepath.Join(dir, record.FilesDir)); errors.Is(err, fs.ErrNotExist) {
		return record.Opening{}, fmt.Errorf("%s holds no record", dir)
	}
	return record.Opening{Dir: dir, Stage: compare.Fitted, What: record.ForCheck, Program: session.Program(),
		Now: time.Now(), Random: rand.Reader}, nil
}
