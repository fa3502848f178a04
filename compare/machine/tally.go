package machine

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"os"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"
)

// Tally pools what many sequences came to. Kept in a file it can be gone on with.
type Tally struct {
	Next        uint64         `json:"next"`              // the seed that comes next
	Seeds       []uint64       `json:"seeds"`             // where each run began
	Sequences   int            `json:"sequences"`         // that were played
	Events      map[Verb]int   `json:"events"`            // how many of each
	Ready       int            `json:"ready"`             // closures called ready, over all events
	Unearned    map[string]int `json:"unearned"`          // how often each rule of the oracle was broken
	Scripts     []string       `json:"scripts,omitempty"` // shrunk, of the first that failed
	Healthy     int            `json:"healthy"`           // healthy at the end
	Reached     int            `json:"reached"`           // of Healthy: ended in ready
	Inside      int            `json:"inside"`            // of them: each deviation inside what passes by current
	InsideReach int            `json:"inside_reached"`    // of Inside: ended in ready
	Whys        map[string]int `json:"whys,omitempty"`    // why a healthy one didn't get there
	Near        []NearBin      `json:"near"`              // by size, rising
	Cried       int            `json:"cried"`             // damage was named where there was none
}

// NearBin counts faults by how large they are, d' from Low to High: how many were
// read, passed by current alone, and called ready. Lets is how many of those that
// were read the rule lets by, each by its own size.
type NearBin struct {
	Low    float64 `json:"low"`    // d'
	High   float64 `json:"high"`   // d'
	Read   int     `json:"read"`   // how many were measured
	Passed int     `json:"passed"` // by current alone
	Lets   float64 `json:"lets"`
	Ready  int     `json:"ready"` // called so
}

// NewTally begins one at a seed.
func NewTally(seed uint64) *Tally {
	return &Tally{Next: seed, Events: map[Verb]int{}, Unearned: map[string]int{}, Whys: map[string]int{},
		Near: []NearBin{{Low: ruleK, High: 4}, {Low: 4, High: 5}, {Low: 5, High: 6}, {Low: 6, High: math.MaxFloat64}}}
}

// LoadTally reads a file that Save wrote; one that isn't there is a new tally.
func LoadTally(path string, seed uint64) (*Tally, error) {
	t := NewTally(seed)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return t, nil
	}
	if err != nil {
		return nil, err
	}
	return t, json.Unmarshal(b, t)
}

// Save writes the tally, whole or not at all.
func (t *Tally) Save(path string) error {
	b, err := json.MarshalIndent(t, "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(path+".new", b, 0o644); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// Count adds what one sequence came to.
func (t *Tally) Count(s Script, o Outcome) {
	t.Sequences++
	for _, e := range s.Events[:o.Events] {
		t.Events[e.Verb]++
	}
	t.Ready += o.Ready
	t.Cried += o.Cried
	for i, n := range o.Near {
		t.Near[i].Read += n.Read
		t.Near[i].Passed += n.Passed
		t.Near[i].Ready += n.Ready
		t.Near[i].Lets += n.Lets
	}
	if len(o.Breaches) > 0 {
		t.Unearned[o.Breaches[0].Rule]++
		return
	}
	if !o.Healthy {
		return
	}
	t.Healthy++
	if o.Inside {
		t.Inside++
	}
	switch {
	case o.Reached && o.Inside:
		t.Reached, t.InsideReach = t.Reached+1, t.InsideReach+1
	case o.Reached:
		t.Reached++
	default:
		if len(t.Whys) < 40 || t.Whys[o.Why] > 0 {
			t.Whys[o.Why]++
		}
	}
}

// TooMany tells that more faults were passed by current than chance makes of what
// the rule lets by: three standard deviations and two.
func (t *Tally) TooMany() (b NearBin, ok bool) {
	for _, b := range t.Near {
		if float64(b.Passed) > b.Lets+3*math.Sqrt(b.Lets)+2 {
			return b, true
		}
	}
	return b, false
}

// wantedShare of healthy builds inside the pass region must end in ready by doing
// what is asked: else a program that never says ready would pass.
const wantedShare = 0.97

// TooFew tells that fewer do, by more than chance.
func (t *Tally) TooFew() bool { return t.Inside > 0 && upper(t.InsideReach, t.Inside) < wantedShare }

// Failed is how many sequences ended in a word that wasn't earned.
func (t *Tally) Failed() int {
	n := 0
	for _, x := range t.Unearned {
		n += x
	}
	return n
}

// upper is the upper 95 % bound of a rate of which n of total were seen (Clopper
// and Pearson, Biometrika 26, 1934); lower the lower one.
func upper(n, total int) float64 {
	if total == 0 || n >= total {
		return 1
	}
	return distuv.Beta{Alpha: float64(n + 1), Beta: float64(total - n)}.Quantile(0.95)
}

func lower(n, total int) float64 {
	if total == 0 || n == 0 {
		return 0
	}
	return distuv.Beta{Alpha: float64(n), Beta: float64(total - n + 1)}.Quantile(0.05)
}

// String prints all of it, a zero as its bound.
func (t *Tally) String() string {
	var s strings.Builder
	all := 0
	for _, n := range t.Events {
		all += n
	}
	fmt.Fprintf(&s, "%d sequences, %d events, begun at seeds %v; closures called ready %d\n", t.Sequences, all,
		t.Seeds, t.Ready)
	for _, v := range slices.Sorted(maps.Keys(t.Events)) {
		fmt.Fprintf(&s, "  %s %d", v, t.Events[v])
	}
	fmt.Fprintf(&s, "\nready without having earned it: %d sequences (upper 95 %% bound %.2g)", t.Failed(),
		upper(t.Failed(), t.Sequences))
	for _, r := range slices.Sorted(maps.Keys(t.Unearned)) {
		fmt.Fprintf(&s, "; %s %d", r, t.Unearned[r])
	}
	fmt.Fprintf(&s, "\nhealthy at the end %d, of them ready by doing what is asked %d (%.2f %%, at least %.2f %%)",
		t.Healthy, t.Reached,
		100*float64(t.Reached)/math.Max(1, float64(t.Healthy)), 100*lower(t.Reached, t.Healthy))
	fmt.Fprintf(&s, "\n  inside the pass region %d, ready %d (%.2f %%, at least %.2f %%)", t.Inside, t.InsideReach,
		100*float64(t.InsideReach)/math.Max(1, float64(t.Inside)), 100*lower(t.InsideReach, t.Inside))
	for _, b := range t.Near {
		high := fmt.Sprintf("to %.2f", b.High)
		if b.High == math.MaxFloat64 {
			high = "and more"
		}
		fmt.Fprintf(&s, "\nfaults of d' %.2f %s: read %d, passed by current %d (95 %% of the time %.2g to %.2g of "+
			"them; the rule lets %.2f by), ready after a look %d", b.Low, high,
			b.Read, b.Passed, lower(b.Passed, b.Read), upper(b.Passed, b.Read), b.Lets, b.Ready)
	}
	fmt.Fprintf(&s, "\ndamage named where there was none: %d", t.Cried)
	for _, w := range slices.Sorted(maps.Keys(t.Whys)) {
		fmt.Fprintf(&s, "\n  not ready, %d: %.300s", t.Whys[w], w)
	}
	return s.String()
}
