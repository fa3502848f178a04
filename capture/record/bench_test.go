package record

import (
	"bytes"
	"os"
	"runtime"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"sealworthy/capture"
)

// longStep is a build with one step of n readings, as it lies on a disk.
func longStep(tb testing.TB, n int) (tree fstest.MapFS, bytes int64) {
	m := newMemory()
	rs := []Record{mark(capture.MarkBegin, ref.StepID, 0, nil)}
	for i := range n {
		rs = append(rs, nth(i))
	}
	recorded(tb, m, append(rs, mark(capture.MarkEnd, ref.StepID, float64(n), nil)))
	tree = m.Tree(ship).(fstest.MapFS)
	return tree, int64(len(m.Content(first)))
}

// raw drains a file with the library's decoder on all cores and keeps nothing: how
// fast line protocol can be read at all.
func raw(tb testing.TB, file []byte) {
	var wg sync.WaitGroup
	n := runtime.GOMAXPROCS(0)
	for i := range n {
		size := len(file) / (n - i)
		end := size + bytes.IndexByte(file[size-1:], '\n')
		part := file[:end]
		file = file[end:]
		wg.Go(func() { drain(tb, part) })
	}
	wg.Wait()
}

func drain(tb testing.TB, file []byte) {
	d := lineprotocol.NewDecoderWithBytes(file)
	for d.Next() {
		if _, err := d.Measurement(); err != nil {
			tb.Error(err)
			return
		}
		for {
			if k, _, err := d.NextTag(); err != nil || k == nil {
				break
			}
		}
		for {
			if k, _, err := d.NextField(); err != nil || k == nil {
				break
			}
		}
		if _, err := d.Time(lineprotocol.Nanosecond, time.Time{}); err != nil {
			tb.Error(err)
			return
		}
	}
}

// BenchmarkRead tells the speed of the way back: verified, decoded and folded; and
// what part of the bare decoder's that is, over the same bytes on as many cores.
func BenchmarkRead(b *testing.B) {
	const n = 100000
	tree, size := longStep(b, n)
	file := tree[FilesDir+"/20261125T064500Z-loose.lp"].Data
	b.SetBytes(size)
	var bare time.Duration
	for b.Loop() {
		f, err := ReadFS(tree)
		if err != nil || f.Damage != nil || f.Steps[0].Kept.Len() != n {
			b.Fatal(f.Damage, err)
		}
		b.StopTimer()
		begun := time.Now()
		raw(b, file)
		bare += time.Since(begun)
		b.StartTimer()
	}
	b.ReportMetric(bare.Seconds()/b.Elapsed().Seconds(), "of-the-bare-decoder")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/n, "ns/reading")
}

// BenchmarkThousandSittings tells how long a build with a thousand sittings takes to read.
func BenchmarkThousandSittings(b *testing.B) {
	m := newMemory()
	for i := range 1000 {
		rs := []Record{mark(capture.MarkBegin, ref.StepID, 0, nil)}
		for j := range 50 {
			rs = append(rs, nth(j))
		}
		recorded(b, m, append(rs, mark(capture.MarkEnd, ref.StepID, 60, nil)), startAt(time.Duration(i)*time.Hour))
	}
	dir := b.TempDir()
	if err := os.CopyFS(dir, m.Tree(ship)); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		f, err := ReadDir(dir)
		if err != nil || f.Damage != nil || len(f.Sittings) != 1000 {
			b.Fatal(f.Damage, err)
		}
	}
}
