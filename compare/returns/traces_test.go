package returns

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sealworthy/compare/blink"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
)

// One trace of a folder of traces: truth.json says what may be known (given),
// what is true and what must be met. The files in testdata/traces are synthetic.
type givenTrace struct {
	File    string `json:"file"`
	AsBuilt string `json:"asbuilt"`
	Kind    string `json:"kind"`
	Given   struct {
		WindowS     float64 `json:"window_s"`
		StampStdS   float64 `json:"stamp_jitter_s"`
		NoiseMA     float64 `json:"noise_mA"`
		BaseMA      float64 `json:"base_mA_asbuilt"`
		BaseRelU    float64 `json:"base_rel_unc"`
		PeriodTol   float64 `json:"period_tolerance"`
		Meter       string  `json:"meter"`
		Temperature string  `json:"temperature_C"`
		Reading     string  `json:"reading"`
		Groups      []struct {
			Name     string  `json:"name"`
			Branches int     `json:"branches"`
			LEDs     int     `json:"leds_in_series"`
			Vf       float64 `json:"vf_per_led"`
			Ohm      float64 `json:"r_ohm"`
			Tol      float64 `json:"tol"`
		} `json:"groups"`
		Blinkers []struct {
			Name      string  `json:"name"`
			PeriodS   float64 `json:"period_s"`
			Duty      float64 `json:"duty"`
			Quiescent string  `json:"quiescent_mA"`
			BuiltS    float64 `json:"asbuilt_period_s"`
			BuiltDuty float64 `json:"asbuilt_duty"`
			BuiltMA   float64 `json:"asbuilt_step_mA"`
		} `json:"blinkers"`
	} `json:"given"`
	Truth struct {
		Blinkers []string `json:"blinkers"`
		BaseMA   float64  `json:"base_mA"`
		Group    string   `json:"group"`
		Fault    string   `json:"fault"`
	} `json:"truth"`
	Accept struct {
		State   string  `json:"blinker_state"`
		StepRel float64 `json:"step_rel"`
		BaseAbs float64 `json:"base_mA_abs"`
		Rank    int     `json:"group_rank_at_most"`
	} `json:"accept"`
}

func readTraces(t *testing.T, dir string) map[string]givenTrace {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Traces map[string]givenTrace `json:"traces"`
	}
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	return all.Traces
}

func readColumns(t *testing.T, file string) map[string][]float64 {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%s: %d rows, %v", file, len(rows), err)
	}
	out := map[string][]float64{}
	for _, row := range rows[1:] {
		for i, x := range row {
			v, err := strconv.ParseFloat(x, 64)
			if err != nil {
				t.Fatalf("%s: %v", file, err)
			}
			out[rows[0][i]] = append(out[rows[0][i]], v)
		}
	}
	return out
}

// TestTraces checks this package's kinds of trace: sweeps and whole-model
// traces. SEALWORTHY_TRACES names another folder in the same form.
func TestTraces(t *testing.T) {
	dirs := []string{filepath.Join("testdata", "traces")}
	if d := os.Getenv("SEALWORTHY_TRACES"); d != "" {
		dirs = append(dirs, d)
	}
	for _, dir := range dirs {
		used, met, others := 0, 0, 0
		traces := readTraces(t, dir)
		var names []string
		for n := range traces {
			names = append(names, n)
		}
		slices.Sort(names)
		for _, name := range names {
			var why string
			switch x := traces[name]; x.Kind {
			case "sweep":
				why = checkSweep(t, dir, x)
			case "model-trace":
				why = checkWholeTrace(t, dir, x)
			default:
				others++
				continue
			}
			used++
			if why == "" {
				met++
			} else {
				t.Errorf("%s: %s", name, why)
			}
		}
		t.Logf("%s: %d of %d sweeps and whole-model traces met their accept; %d of other kinds are not for this "+
			"package", dir, met, used, others)
		if used == 0 {
			t.Errorf("%s holds no trace that this package can use", dir)
		}
	}
}

var twoCurrents = regexp.MustCompile(`([\d.]+) above ([\d.]+) V, ([\d.]+) below`)

// checkSweep diagnoses a sweep; "" is met.
func checkSweep(t *testing.T, dir string, x givenTrace) string {
	built, now := readColumns(t, filepath.Join(dir, x.AsBuilt)), readColumns(t, filepath.Join(dir, x.File))
	volts := built["v_V"]
	milli := func(c []float64) []float64 { return scaled(1e-3, c) }
	var ls []lamp
	s := &Signature{Build: "trace", Jack: "main"}
	for _, g := range x.Given.Groups {
		tempco := -0.003
		if g.Vf < 2.4 {
			tempco = -0.0018
		}
		ls = append(ls, lamp{name: g.Name, n: g.Branches, leds: g.LEDs, vf: g.Vf, r: g.Ohm, tol: g.Tol,
			tempco: tempco})
		s.Groups = append(s.Groups, GroupCurve{Group: g.Name, Kept: KeptSweep,
			Lit: Curve{Volts: volts, Amps: milli(built[g.Name+"_mA"])}})
	}
	for _, b := range x.Given.Blinkers {
		ls = append(ls, lamp{name: b.Name, n: 1, periodS: b.PeriodS, duty: b.Duty})
		on := milli(built[b.Name+"_on_mA"])
		s.Groups = append(s.Groups, GroupCurve{Group: b.Name, Board: "board " + b.Name, Output: 1, Kept: KeptSweep,
			Lit:   Curve{Volts: volts, Amps: on},
			Paces: []Level{{Pace: "blink", PeriodS: b.PeriodS, Duty: b.Duty, OnA: on[len(on)-1]}}})
		dark := Curve{Volts: volts}
		m := twoCurrents.FindStringSubmatch(b.Quiescent)
		if m == nil {
			return fmt.Sprintf("quiescent draw %q isn't understood", b.Quiescent)
		}
		var q [3]float64
		for i := range q {
			q[i], _ = strconv.ParseFloat(m[i+1], 64)
		}
		for _, v := range volts {
			a := q[2]
			if v >= q[1] {
				a = q[0]
			}
			dark.Amps = append(dark.Amps, a/1e3)
		}
		s.Boards = append(s.Boards, BoardCurve{Board: "board " + b.Name, Dark: dark})
	}
	p := referencePlan(ls)
	n, pr := DefaultNuisances(), evenPriors()
	if strings.Contains(x.Given.Meter, "same meter") {
		n = n.SameMeter()
	}
	d, err := Diagnose(p, s, &Return{Sweep: Curve{Volts: now["v_V"], Amps: milli(now["i_mA"])}, DwellS: 4},
		Options{Priors: &pr, Nuisances: &n})
	if err != nil {
		return err.Error()
	}
	for i, c := range d.Ranked {
		if (c.Place == x.Truth.Group || c.Place == "board "+x.Truth.Group) && c.Second == "" {
			if i+1 <= max(1, x.Accept.Rank) {
				return ""
			}
			return fmt.Sprintf("true group %q has rank %d, at most %d is accepted (first: %s, %.2f)", x.Truth.Group,
				i+1, x.Accept.Rank, d.Ranked[0].Place, d.Ranked[0].P)
		}
	}
	if x.Truth.Group == "none" || x.Truth.Group == "" {
		if d.Ranked[0].Place == string(fault.Nothing) {
			return ""
		}
		return fmt.Sprintf("a healthy model is called %s", d.Ranked[0].Text)
	}
	return fmt.Sprintf("true group %q isn't among the first %d", x.Truth.Group, len(d.Ranked))
}

// checkWholeTrace takes a trace apart as a return's is; "" is met.
func checkWholeTrace(t *testing.T, dir string, x givenTrace) string {
	now := readColumns(t, filepath.Join(dir, x.File))
	p := &plan.Plan{Jacks: []plan.Jack{{Name: "main", Volts: 12}}}
	s := &Signature{}
	r := &Return{WindowS: x.Given.WindowS}
	for i, at := range now["t_s"] {
		r.Trace = append(r.Trace, blink.Sample{AtS: at, Amps: now["i_mA"][i] / 1e3})
	}
	var want []blink.Clock
	for i, b := range x.Given.Blinkers {
		name, board := fmt.Sprintf("blinker %d", i+1), fmt.Sprintf("board %d", i+1)
		p.Groups = append(p.Groups, plan.Group{Name: name, Board: board, Output: 1})
		p.Boards = append(p.Boards, plan.Board{Name: board, Outputs: []plan.Output{{Number: 1}}})
		s.Groups = append(s.Groups, GroupCurve{Group: name, Board: board,
			Paces: []Level{{Pace: "blink", PeriodS: b.BuiltS, Duty: b.BuiltDuty, OnA: b.BuiltMA / 1e3}}})
		want = append(want, blink.Clock{Name: name, PeriodS: b.BuiltS, PeriodRel: x.Given.PeriodTol, DutyAbs: 0.03,
			Outputs: []blink.Blinker{{Name: name, Spans: [][2]float64{{0, b.BuiltDuty}}, Amps: b.BuiltMA / 1e3}}})
	}
	got := readTrace(p, s, r)
	if len(got.states) != len(x.Truth.Blinkers) {
		return fmt.Sprintf("%d blinkers judged of %d: %v", len(got.states), len(x.Truth.Blinkers), got.notes)
	}
	f := blink.Joint(r.Trace, blink.Known{WindowS: r.WindowS}, want)
	f.Settle(x.Given.BaseMA/1e3, x.Given.BaseRelU*x.Given.BaseMA/1e3)
	for i, truth := range x.Truth.Blinkers {
		st := got.states[i]
		running := truth == "running"
		if (st.State == "running") != running {
			return fmt.Sprintf("blinker %d: %s, truth %s", i+1, st.State, truth)
		}
		if !running && x.Accept.State == "exact" {
			lit := strings.Contains(truth, "on") || strings.Contains(truth, "lit")
			if lit && f.Beats[i].Outputs[0].State == blink.StaysDark ||
				!lit && f.Beats[i].Outputs[0].State == blink.StaysLit {
				return fmt.Sprintf("blinker %d: %s, truth %s", i+1, f.Beats[i].Outputs[0].State, truth)
			}
		}
		if running && x.Accept.StepRel > 0 && math.Abs(st.StepA-st.BuiltA) > x.Accept.StepRel*st.BuiltA {
			return fmt.Sprintf("blinker %d: step %.2f mA, as built %.2f mA", i+1, st.StepA*1e3, st.BuiltA*1e3)
		}
	}
	if x.Accept.BaseAbs > 0 && math.Abs(f.BaseA*1e3-x.Truth.BaseMA) > x.Accept.BaseAbs {
		return fmt.Sprintf("base %.2f mA, truth %.2f mA", f.BaseA*1e3, x.Truth.BaseMA)
	}
	return ""
}
