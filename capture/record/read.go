package record

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sealworthy/capture"
	"sealworthy/instruments"
)

// ReadDir reads the record of the build whose folder is dir. A folder without
// one gives an empty Folded. Damage is no error; a *NewerError is.
func ReadDir(dir string) (Folded, error) {
	f, err := ReadFS(os.DirFS(dir))
	for i, w := range f.Warnings {
		if w.File != "" {
			f.Warnings[i].File = filepath.Join(dir, filepath.FromSlash(w.File))
		}
	}
	return f, err
}

// ReadFS is ReadDir for any file system whose root is the build's folder. It
// takes no lock: a sitting that is written to meanwhile is read up to where it is.
func ReadFS(tree fs.FS) (Folded, error) {
	r := reading{tree: tree}
	if err := r.survey(); err != nil {
		return Folded{}, err
	}
	if err := r.files(); err != nil {
		return r.folder.Folded(), err
	}
	f := r.folder.Folded()
	f.BuildID = r.head.Build
	f.Damage = append(f.Damage, r.damage...)
	f.answer()
	return f, nil
}

// reading is one way through the record of a build.
type reading struct {
	tree    fs.FS
	head    Head
	hasHead bool
	all     []listed
	folder  Folder
	damage  []Damage
	each    func(Kept) error // takes what is read in the folder's stead; nil: the folder does
	only    func(Record)     // takes the records of one sitting in the folder's stead
}

// survey reads the head and lists the files. The head comes first: what is
// appended to a file meanwhile is longer than it, which is fine. A file that was
// begun in between, the first one of a build too, is on the next head.
func (r *reading) survey() error {
	var before []string
	for {
		var err error
		r.head, r.hasHead, err = readHead(r.tree)
		if err != nil && !errors.Is(err, ErrHeadDamaged) {
			return err
		}
		r.damage = nil
		if err != nil {
			r.damage = append(r.damage, Damage{Name: HeadFile, File: HeadFile, Kind: Changed,
				What: fmt.Sprintf("%v; what it listed isn't known", err)})
		}
		if r.all, err = list(r.tree); err != nil {
			return err
		}
		var unlisted []string
		for _, f := range r.all {
			if f.chained && r.head.find(f.name) == nil {
				unlisted = append(unlisted, f.name)
			}
		}
		if !slices.ContainsFunc(unlisted, func(f string) bool { return !slices.Contains(before, f) }) {
			break // none, or none that is new since the head was read
		}
		before = unlisted
	}
	if !r.hasHead {
		r.withoutHead()
	}
	return newer(r.all, r.head.Build)
}

// withoutHead lists what there is in the head's stead.
func (r *reading) withoutHead() {
	var latest int
	latest, r.head.Build = ownBuild(r.all)
	if latest > 0 && len(r.damage) == 0 {
		r.damage = append(r.damage, Damage{Name: HeadFile, File: HeadFile, Kind: Missing,
			What: "the head of the chain is missing; what it listed isn't known"})
	}
	n := 0
	for _, f := range r.all {
		switch {
		case f.chained && f.build == r.head.Build && r.head.number(f.sitting) == nil:
			r.head.Sittings = append(r.head.Sittings, HeadSitting{Number: f.sitting, File: f.name})
		case f.old:
			n++
			r.head.Before = append(r.head.Before, HeadBefore{Number: n, File: f.name, Bytes: -1})
		}
	}
	slices.SortFunc(r.head.Sittings, func(a, b HeadSitting) int { return a.Number - b.Number })
}

// file gives what is listed under a name.
func (r *reading) file(name string) (listed, bool) {
	i := slices.IndexFunc(r.all, func(f listed) bool { return f.name == name })
	if i < 0 {
		return listed{}, false
	}
	return r.all[i], true
}

// files reads all files in the order of their sittings, and judges those that
// aren't listed.
func (r *reading) files() error {
	type numbered struct {
		number int
		read   func() error
	}
	var all []numbered
	for _, b := range r.head.Before {
		if !b.Converted && r.each == nil {
			all = append(all, numbered{b.Number, func() error { return r.old(b) }})
		}
	}
	renamed := map[string]bool{}
	for _, s := range r.head.Sittings {
		all = append(all, numbered{s.Number, func() error { return r.chained(s, renamed) }})
	}
	slices.SortStableFunc(all, func(a, b numbered) int { return a.number - b.number })
	for _, x := range all {
		if err := x.read(); err != nil {
			return err
		}
	}
	for _, f := range r.all {
		if r.head.find(f.name) != nil || renamed[f.name] || r.head.before(f.name) != nil {
			continue
		}
		if err := r.stranger(f); err != nil {
			return err
		}
	}
	return nil
}

// chained reads the file of a sitting, under whatever name it lies there.
func (r *reading) chained(s HeadSitting, renamed map[string]bool) error {
	f, there := r.file(s.File)
	if !there {
		f, there = r.convertedTo(s)
	}
	switch {
	case there:
	case s.Lines == 0:
		return nil // it was about to be made
	default:
		if f, there = r.otherName(s); !there {
			name := FilesDir + "/" + s.File
			r.hurt(Damage{Name: name, File: name, Kind: Missing, Sitting: s.Number,
				Order: capture.OrderAt(s.Number, 1),
				What:  fmt.Sprintf("the file of sitting %d is missing, %d lines", s.Number, s.Lines)})
			return nil
		}
		renamed[f.name] = true
		r.folder.warnIn(f.path(), 0, fmt.Sprintf("it was called %s", s.File))
	}
	return r.sitting(s, f)
}

// convertedTo finds the file of a conversion that hasn't got its name yet.
func (r *reading) convertedTo(s HeadSitting) (listed, bool) {
	if !slices.ContainsFunc(r.head.Before, func(b HeadBefore) bool { return b.Converted && b.Number == s.Number }) {
		return listed{}, false
	}
	f, err := lookInto(r.tree, s.File+newSuffix)
	return f, err == nil
}

// otherName finds the file of a sitting under another name: whole, as far as the
// head knows.
func (r *reading) otherName(s HeadSitting) (listed, bool) {
	for _, f := range r.all {
		if !f.chained || f.build != r.head.Build || f.sitting != s.Number || r.head.find(f.name) != nil {
			continue
		}
		scan := newChainScan(f.path(), r.head.Build, s.Number, int64(s.Lines))
		whole := true
		scan.use = func(int64, Line) error { return nil }
		scan.reading = func(int64, Record) {}
		scan.damage = func(Damage) { whole = false }
		file, err := r.tree.Open(f.path())
		if err != nil {
			continue
		}
		err = errJoin(scan.read(file), file.Close())
		if scan.end(int64(s.Lines), s.Check); err == nil && whole {
			return f, true
		}
	}
	return listed{}, false
}

// sitting reads one chained file.
func (r *reading) sitting(s HeadSitting, f listed) error {
	scan := newChainScan(f.path(), r.head.Build, s.Number, int64(s.Lines))
	scan.damage = func(d Damage) { r.hurt(d) }
	scan.warn = func(line int, what string) { r.folder.warnIn(f.path(), line, what) }
	state := SittingState{Number: s.Number, File: f.path(), Chained: true}
	if n, ok := ParseName(f.name); ok {
		state.At, state.Stage = n.At, n.Stage
	}
	r.folder.begin(state)
	d := decoder{chained: true, described: map[string]instruments.Description{}}
	scan.use = func(seq int64, l Line) error {
		rec, err := d.decode(l)
		at := capture.OrderAt(s.Number, int(seq))
		if err != nil {
			r.hurt(Damage{Name: fmt.Sprintf("%s:%d", f.path(), scan.n), File: f.path(), Line: scan.n, Kind: Foreign,
				Sitting: s.Number, Order: at,
				What: fmt.Sprintf("line number %d was not written by this program: %v", seq, err)})
			return nil
		}
		rec.Order = at
		if r.each != nil {
			return r.hand(Kept{Build: r.head.Build, Text: scan.text, Check: scan.good, Line: l, Record: rec})
		}
		r.add(rec)
		return nil
	}
	if r.each == nil {
		scan.reading = func(seq int64, rec Record) {
			rec.Order = capture.OrderAt(s.Number, int(seq))
			r.add(rec)
		}
	}
	file, err := r.tree.Open(f.path())
	if err != nil {
		return err
	}
	if err := errJoin(scan.read(file), file.Close()); err != nil {
		var newer *NewerError
		var taken *takenError
		if errors.As(err, &newer) || errors.As(err, &taken) {
			return err
		}
		return &fs.PathError{Op: "read", Path: f.path(), Err: err}
	}
	scan.end(int64(s.Lines), s.Check)
	r.folder.end(scan.until)
	return nil
}

func (r *reading) add(rec Record) {
	if r.only != nil {
		r.only(rec)
		return
	}
	r.folder.Add(rec)
}

// hurt keeps damage, not without end.
func (r *reading) hurt(d Damage) {
	switch n := len(r.damage); {
	case n < maxWarnings:
		r.damage = append(r.damage, d)
	case n == maxWarnings:
		r.damage = append(r.damage,
			Damage{Name: d.File, File: d.File, Kind: d.Kind, Sitting: d.Sitting, Order: d.Order,
				What: fmt.Sprintf("more than %d places are damaged; the others aren't listed", maxWarnings)})
	}
}

// stranger judges a file that isn't listed.
func (r *reading) stranger(f listed) error {
	d := Damage{Name: f.path(), File: f.path(), Kind: Foreign}
	switch {
	case f.size == 0:
		return nil
	case !f.chained && !r.hasHead && !f.old:
		d.What = "no line of it can be read; it is not used"
	case !f.chained && f.old:
		d.What = "a record of before the chain that wasn't there when the chain began; it is not used"
	case !f.chained:
		d.What = "it is not of this record: no line of it can be read"
	case f.build != r.head.Build:
		d.What = "it is of another build; it is not used"
	default:
		s := r.head.number(f.sitting)
		if s == nil {
			d.What = fmt.Sprintf("sitting %d of this build, which the head of the chain doesn't list; it is not used",
				f.sitting)
			break
		}
		same, err := r.copyOf(f, *s)
		if err != nil {
			return err
		}
		if same {
			r.folder.warnIn(f.path(), 0, fmt.Sprintf("a copy of %s, as a synchronised folder makes them; it is not "+
				"read twice", s.File))
			return nil
		}
		d.What = fmt.Sprintf("another version of sitting %d than %s, with lines of its own; it is not used", f.sitting,
			s.File)
	}
	r.hurt(d)
	return nil
}

// ExpectBuild says that this is the record of a build of that name: lines of before
// the chain have no other identity, so those that name another build are damage.
func (f *Folded) ExpectBuild(name string) {
	for _, s := range f.Sittings {
		if (!s.Chained || s.From != "") && s.Name != "" && s.Name != name {
			f.Damage = append(f.Damage,
				Damage{Name: s.File, File: s.File, Kind: Foreign, Sitting: s.Number,
					Order: capture.OrderAt(s.Number, 1),
					What: fmt.Sprintf("its lines are of a build called %q, and before the chain there is "+
						"nothing else to tell builds apart by", s.Name)})
		}
	}
	f.answer()
}

// answer tells damage what the maker said of it.
func (f *Folded) answer() {
	seen := map[string]bool{}
	f.Damage = slices.DeleteFunc(f.Damage, func(d Damage) bool {
		twice := seen[d.key()]
		seen[d.key()] = true
		return twice
	})
	for i := range f.Damage {
		for _, a := range f.Answers {
			if a.answers(f.Damage[i]) && strings.TrimSpace(a.Reason) != "" {
				f.Damage[i].Answered, f.Damage[i].AnsweredAt = a.Reason, a.Order
			}
		}
	}
}

// answers: the damage was answered by name. That the head was lost is said by the
// sitting that makes a new one; an answer about the head in that very sitting was
// given to what was seen before it, and is about the same.
func (a ByName) answers(d Damage) bool {
	found := d.Name == HeadFile && d.Kind == Missing && d.Sitting > 0
	return a.Name == d.key() || found && a.Order.Sitting() == d.Sitting && strings.HasPrefix(a.Name, HeadFile+"#")
}
