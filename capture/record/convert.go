package record

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// BeforeSuffix is added to the name of a file that was converted.
const BeforeSuffix = ".before"

// newSuffix is that of a file that isn't in its place yet.
const newSuffix = ".new"

// Conversion is what became of one file of before the chain.
type Conversion struct {
	From string `json:"from"`           // relative to the build's folder, with slashes
	Into string `json:"into,omitempty"` // empty: it was left as it is
	Kept string `json:"kept,omitempty"` // what the old file is called now
	Why  string `json:"why,omitempty"`  // it was left
}

// Convert writes each file of before the chain anew as a chained sitting, beside
// itself, and gives the old one another name; nothing is overwritten. A damaged
// file is left as it is. o needs Dir, Program, Random and Stage.
func Convert(fsys FS, o Opening) (done []Conversion, warn []Warning, err error) {
	unlock, err := fsys.Lock(o.Dir)
	if err != nil {
		return nil, nil, err
	}
	defer func() { err = errJoin(err, unlock()) }()
	p, err := prepare(fsys, o)
	if err != nil {
		return nil, nil, err
	}
	if len(p.found) > 0 {
		return nil, p.warn, fmt.Errorf("%s: it is answered first (sealworthy check)", p.found[0])
	}
	for i := range p.head.Before {
		b := &p.head.Before[i]
		if b.Converted {
			if err := p.settle(*b); err != nil {
				return done, p.warn, err
			}
			continue
		}
		c, err := p.convert(o, b)
		if err != nil {
			return done, p.warn, err
		}
		done = append(done, c)
	}
	return done, p.warn, nil
}

// convert converts one file. The new one is written first under a name that
// nobody reads, then the head names it in the old one's stead, then both get
// their names: wherever the program dies, one of the two is read.
func (p *prepared) convert(o Opening, b *HeadBefore) (Conversion, error) {
	c := Conversion{From: FilesDir + "/" + b.File}
	n, ok := ParseName(b.File)
	if !ok {
		c.Why = "its name doesn't tell its stage"
		return c, nil
	}
	r := &Recorder{number: b.Number, o: o, head: p.head, sums: newSummer(), check: seedOf(p.head.Build, b.Number),
		is: map[string]string{}}
	why, err := p.rewrite(r, *b, n.Stage)
	if c.Why = why; err != nil || why != "" {
		return c, err
	}
	name, err := NumberedName(n.At, n.Stage, b.Number)
	for more := 1; err == nil && p.taken(name); more++ {
		name, err = NumberedName(n.At.Add(time.Duration(more)*time.Second), n.Stage, b.Number)
	}
	if err != nil {
		return c, err
	}
	if err := p.fs.Replace(filepath.Join(p.dir, FilesDir, name+newSuffix), r.queue); err != nil {
		return c, err
	}
	b.Converted = true
	p.head.Sittings = append(p.head.Sittings, HeadSitting{Number: b.Number, File: name, Lines: int(r.seq),
		Check: r.check, Until: r.last, Whole: true})
	slices.SortFunc(p.head.Sittings, func(a, b HeadSitting) int { return a.Number - b.Number })
	if err := writeHead(p.fs, p.dir, p.head); err != nil {
		return c, err
	}
	c.Into, c.Kept = FilesDir+"/"+name, c.From+BeforeSuffix
	return c, p.settle(*b)
}

// settle gives the files of a conversion their names, where they haven't got them.
func (p *prepared) settle(b HeadBefore) error {
	s := p.head.number(b.Number)
	if s == nil {
		return nil
	}
	for _, x := range [][2]string{{s.File + newSuffix, s.File}, {b.File, b.File + BeforeSuffix}} {
		if !p.exists(FilesDir + "/" + x[0]) {
			continue
		}
		if err := p.fs.Rename(filepath.Join(p.dir, FilesDir, x[0]), filepath.Join(p.dir, FilesDir, x[1])); err != nil {
			return err
		}
	}
	return p.fs.SyncFolder(filepath.Join(p.dir, FilesDir, s.File))
}

// rewrite queues the lines of an old file as those of a sitting. why tells what
// speaks against it.
func (p *prepared) rewrite(r *Recorder, b HeadBefore, stage string) (why string, err error) {
	var all []Record
	scan := oldScan{rel: FilesDir + "/" + b.File, sitting: b.Number, last: map[string]time.Time{},
		each:   func(r Record) { all = append(all, r) },
		damage: func(d Damage) { why = fmt.Sprintf("%d: %s", d.Line, d.What) },
		warn:   func(int, string) {}}
	file, err := p.tree.Open(scan.rel)
	if errors.Is(err, fs.ErrNotExist) {
		return "it is missing", nil
	}
	if err != nil {
		return "", err
	}
	sum := newPrefixSum(b.Bytes)
	if err := errJoin(scan.read(io.TeeReader(file, sum)), file.Close()); err != nil {
		return "", &fs.PathError{Op: "read", Path: scan.rel, Err: err}
	}
	switch {
	case why != "":
		return "it is damaged, line " + why, nil
	case sum.more > 0 || sum.left > 0 || hex.EncodeToString(sum.h.Sum(nil)) != b.SHA256:
		return "it was changed since the chain began", nil
	case len(all) == 0:
		return "nothing is in it", nil
	}
	for _, x := range all {
		r.o.Simulated = r.o.Simulated || x.Mark != nil && x.Mark.Simulated
	}
	r.o.Now, r.o.Stage = all[0].At(), stage
	err = r.put(
		Record{Sitting: &SittingLine{At: r.o.Now, Stage: stage, What: ForTest, Name: all[0].Build,
			Program: r.o.Program,
			From:    b.File + " " + strings.ToLower(b.SHA256)}})
	for _, x := range all {
		x.Build, x.Order = "", 0
		err = errJoin(err, r.before(x))
		err = errJoin(err, r.put(x))
	}
	return "", errJoin(err, r.put(Record{Sitting: &SittingLine{At: r.last, End: true, Stage: stage}}))
}
