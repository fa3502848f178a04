package machine

import (
	"encoding/binary"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/compare"
	"sealworthy/instruments/hold"
)

// World is one build with its record on a disk, and what is true of it.
type World struct {
	shop  *Shop
	bench Bench
	build Build // as its plan stands now
	first Build // as it was built
	built built // the same, read
	kit   *kit
	truth *Truth
	o     *oracle
	dir   string // of the record
	now   time.Time
	stage string
	r     *rand.Rand // noise
	// untold is what was touched and not told of yet.
	untold []string
	// heads are those that there were after each event; rolledBack: one was put back.
	heads      [][]byte
	rolledBack bool
	// untellable: the plan was changed in what nothing tells but a draw.
	untellable bool
	// damaged: the record named damage that wasn't answered, when it was last read.
	damaged bool
	// whole are files as they were before they were hurt.
	whole map[string][]byte
	// Defect is a planted bug; the zero Defect is none.
	Defect Defect
}

// NewWorld puts up the build of a script with its record in a folder that is empty or
// not there.
func NewWorld(shop *Shop, bench Bench, s Script, dir string) (*World, error) {
	b := DrawBuild(s.Shape)
	t, err := DrawTruth(b, s.Pieces)
	if err != nil {
		return nil, err
	}
	k, err := shop.kit(b)
	if err != nil {
		return nil, err
	}
	k.judge.Leads = leadsOf(bench)
	m := directMeter
	if _, ok := bench.(Direct); !ok {
		m = portsMeter
	}
	return &World{shop: shop, whole: map[string][]byte{}, bench: bench, build: b, first: b, built: built{k.plan, k.by},
		kit: k, truth: t, o: newOracle(m), dir: dir, stage: compare.Fitted,
		now: time.Date(2026, 11, 25, 8, 0, 0, 0, time.UTC), r: rand.New(rand.NewPCG(s.Pieces, 0x4015e))}, nil
}

// Fit tells whether a build can be played with: its own plan has nothing wrong.
func Fit(shop *Shop, b Build) bool {
	k, err := shop.kit(b)
	if err != nil {
		return false
	}
	checks, err := k.binding(compare.Fitted)
	return err == nil && len(checks) == 0 && len(b.burn()) == 0
}

// Verdicts judges the record as it lies on the disk.
func (w *World) Verdicts() ([]compare.ClosureFinding, error) {
	h, err := w.history()
	if err != nil {
		return nil, err
	}
	w.damaged = slices.ContainsFunc(h.Damage, func(d record.Damage) bool { return d.Answered == "" })
	k := w.kit
	if w.Defect.Build != nil {
		if k, err = w.shop.kit(w.Defect.Build(w.build)); err != nil {
			return nil, err
		}
	}
	if w.Defect.History != nil {
		w.Defect.History(w, &h)
	}
	cs, err := k.judge.Findings(h, "")
	if w.Defect.Verdict != nil {
		for i := range cs {
			w.Defect.Verdict(&cs[i])
		}
	}
	return cs, err
}

func (w *World) history() (compare.History, error) {
	f, err := w.folded()
	if err != nil {
		return compare.History{}, err
	}
	return compare.HistoryOf(f), nil
}

func (w *World) folded() (record.Folded, error) {
	return record.ReadDir(w.folder())
}

// folder is the build's, in which the folder of the record lies.
func (w *World) folder() string { return filepath.Dir(w.dir) }

// disk is a file system for one program.
func (w *World) disk() *disk {
	return &disk{OS: record.OS{Locks: hold.Folder{Path: filepath.Join(w.folder(), "locks"), Who: "another program"}}}
}

// identity draws the build's own.
func (w *World) identity() io.Reader {
	var seed [32]byte
	binary.LittleEndian.PutUint64(seed[:], w.truth.pieces)
	return rand.NewChaCha8(seed)
}

// keeper is a record that is open to write.
type keeper struct {
	*record.Keeper
	rec *record.Recorder
	d   *disk
}

// open begins a sitting.
func (w *World) open(d *disk) (keeper, error) {
	w.now = w.now.Add(2 * time.Second)
	rec, _, err := record.Begin(d,
		record.Opening{Dir: w.folder(), Build: w.kit.plan.Build, Stage: w.stage, What: record.ForTest,
			PlanRevision: w.kit.plan.Revision, Program: "a machine that looks for more", Simulated: true, Now: w.now,
			Random: w.identity()})
	if err != nil {
		return keeper{}, err
	}
	return keeper{record.Keep(rec), rec, d}, nil
}

// tell writes marks into a sitting of their own. It gives whether they are on disk.
func (w *World) tell(marks ...capture.Mark) (bool, error) {
	k, err := w.open(w.disk())
	if err != nil {
		return false, err
	}
	for _, m := range marks {
		w.now = w.now.Add(time.Millisecond)
		m.At, m.Stage, m.Simulated = w.now, w.stage, true
		if err := k.Mark(m); err != nil {
			return false, fmt.Errorf("%s mark: %w", m.Kind, err)
		}
	}
	if err := k.Sync(); err != nil {
		return false, err
	}
	return true, k.rec.Close()
}

// files lists the files of the record, by name.
func (w *World) files() []string {
	all, _ := filepath.Glob(filepath.Join(w.dir, "*"+record.Ext))
	slices.Sort(all)
	return all
}
