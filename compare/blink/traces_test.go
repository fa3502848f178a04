package blink

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"
)

// described is one trace of truth.json.
type described struct {
	File  string
	Kind  string
	Given struct {
		WindowS    float64         `json:"window_s"`
		StampS     float64         `json:"stamp_jitter_s"`
		NoiseMA    float64         `json:"noise_mA"`
		MinHz      float64         `json:"f_min_Hz"`
		MaxHz      float64         `json:"f_max_Hz"`
		BaseMA     float64         `json:"base_mA_asbuilt"`
		BaseRel    float64         `json:"base_rel_unc"`
		PeriodRel  float64         `json:"period_tolerance"`
		BlinkerRaw json.RawMessage `json:"blinkers"`
	}
	Truth struct {
		PeriodS  float64         `json:"period_s"`
		Duty     float64         `json:"duty"`
		OnMA     float64         `json:"on_mA"`
		LevelMA  float64         `json:"level_mA"`
		BaseMA   float64         `json:"base_mA"`
		Blinkers json.RawMessage `json:"blinkers"`
	}
	Accept map[string]json.RawMessage
}

func number(t *testing.T, raw json.RawMessage) float64 {
	t.Helper()
	var v float64
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatalf("a limit in truth.json: %v", err)
	}
	return v
}

func readTrace(file string) ([]Sample, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		return nil, err
	}
	at, amps := -1, -1
	for i, name := range rows[0] {
		switch strings.TrimSpace(name) {
		case "t_s":
			at = i
		case "i_mA":
			amps = i
		}
	}
	if at < 0 || amps < 0 {
		return nil, fmt.Errorf("%s: no columns t_s and i_mA", file)
	}
	var out []Sample
	for _, r := range rows[1:] {
		t, err1 := strconv.ParseFloat(r[at], 64)
		i, err2 := strconv.ParseFloat(r[amps], 64)
		if err1 != nil || err2 != nil {
			return nil, fmt.Errorf("%s: %v %v", file, err1, err2)
		}
		out = append(out, Sample{t, i / 1000})
	}
	return out, nil
}

// TestTraces judges the reference traces, or those of SEALWORTHY_TRACES.
func TestTraces(t *testing.T) {
	folder := os.Getenv("SEALWORTHY_TRACES")
	if folder == "" {
		folder = filepath.Join("testdata", "traces")
	}
	raw, err := os.ReadFile(filepath.Join(folder, "truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	var all struct{ Traces map[string]described }
	if err := json.Unmarshal(raw, &all); err != nil {
		t.Fatal(err)
	}
	var names []string
	for name := range all.Traces {
		names = append(names, name)
	}
	sort.Strings(names)
	met, ours, elsewhere := 0, 0, 0
	for _, name := range names {
		d := all.Traces[name]
		if d.Kind == "sweep" {
			elsewhere++
			t.Logf("%s: a sweep, not for this package", name)
			continue
		}
		ours++
		s, err := readTrace(filepath.Join(folder, d.File))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		k := Known{WindowS: d.Given.WindowS, StampStdS: d.Given.StampS, NoiseA: d.Given.NoiseMA / 1000,
			MinHz: d.Given.MinHz, MaxHz: d.Given.MaxHz}
		var faults []string
		switch d.Kind {
		case "model-trace":
			faults = judgeModel(t, name, s, k, &d)
		default: // blink, steady and whatever else a single trace may be
			faults = judgeBlink(t, name, Pace(s, k), &d)
		}
		if len(faults) == 0 {
			met++
		} else {
			t.Errorf("%s: %s", name, strings.Join(faults, "; "))
		}
	}
	t.Logf("%d traces in %s: %d of %d met their accept, %d not for this package", len(names), folder, met, ours,
		elsewhere)
	if ours == 0 {
		t.Errorf("no trace for this package in %s", folder)
	}
}

func judgeBlink(t *testing.T, name string, f Fit, d *described) (faults []string) {
	t.Logf("%s: %v %s; P %.5f±%.5f s, duty %.3f±%.3f (%v), on %.3f±%.3f mA (%v), chi %.2f", name, f.Verdict, f.Why,
		f.PeriodS, f.PeriodU, f.Duty, f.DutyU, f.DutyShown, 1000*f.OnA, 1000*f.OnU, f.LevelsShown, f.Chi)
	fault := func(format string, a ...any) { faults = append(faults, fmt.Sprintf(format, a...)) }
	for key, raw := range d.Accept {
		switch key {
		case "status":
			var want []string
			if err := json.Unmarshal(raw, &want); err != nil {
				t.Fatal(err)
			}
			found := false
			for _, w := range want {
				found = found || w == f.Verdict.String()
			}
			if !found {
				fault("%v, not %v", f.Verdict, want)
			}
		case "period_rel":
			if e := math.Abs(f.PeriodS/d.Truth.PeriodS - 1); !(e <= number(t, raw)) {
				fault("period off by %.5f", e)
			}
		case "duty_abs":
			if e := math.Abs(f.Duty - d.Truth.Duty); !(e <= number(t, raw)) {
				fault("duty off by %.4f", e)
			}
		case "on_rel":
			if e := math.Abs(1000*f.OnA/d.Truth.OnMA - 1); !(e <= number(t, raw)) {
				fault("on level off by %.4f", e)
			}
		case "level_rel":
			if e := math.Abs(1000*f.MeanA/d.Truth.LevelMA - 1); !(e <= number(t, raw)) {
				fault("level off by %.4f", e)
			}
		case "must_list_Hz":
			want := []float64{}
			if raw[0] == '[' {
				if err := json.Unmarshal(raw, &want); err != nil {
					t.Fatal(err)
				}
			} else {
				want = append(want, number(t, raw))
			}
			for _, hz := range want {
				found := false
				for _, c := range f.Candidates {
					found = found || math.Abs(1/c.PeriodS/hz-1) < 0.02
				}
				if !found {
					fault("%g Hz isn't listed", hz)
				}
			}
		default:
			fault("unknown limit %s", key)
		}
	}
	return faults
}

func judgeModel(t *testing.T, name string, s []Sample, k Known, d *described) (faults []string) {
	fault := func(format string, a ...any) { faults = append(faults, fmt.Sprintf(format, a...)) }
	var given []struct {
		PeriodS float64 `json:"asbuilt_period_s"`
		Duty    float64 `json:"asbuilt_duty"`
		StepMA  float64 `json:"asbuilt_step_mA"`
	}
	var states []string
	if err := json.Unmarshal(d.Given.BlinkerRaw, &given); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if err := json.Unmarshal(d.Truth.Blinkers, &states); err != nil || len(states) != len(given) {
		t.Fatalf("%s: %v, %d states for %d blinkers", name, err, len(states), len(given))
	}
	var b []Clock
	for i, g := range given {
		c := clock(strconv.Itoa(i), g.PeriodS, g.Duty, g.StepMA/1000)
		c.PeriodRel = d.Given.PeriodRel
		b = append(b, c)
	}
	p := Joint(s, k, b)
	if !p.Usable {
		return []string{p.Why}
	}
	p.Settle(d.Given.BaseMA/1000, d.Given.BaseMA*d.Given.BaseRel/1000)
	t.Logf("%s: base %.2f±%.2f mA, chi %.2f", name, 1000*p.BaseA, 1000*p.BaseU, p.Chi)
	lit := 0.0
	for _, x := range p.Beats {
		o := x.Outputs[0]
		t.Logf("  %s: %v, step %.2f±%.2f mA, P %.4f s", x.Name, o.State, 1000*o.StepA, 1000*o.StepU, x.PeriodS)
		if o.State == StaysLit {
			lit += o.BuiltA
		}
	}
	for key, raw := range d.Accept {
		switch key {
		case "blinker_state":
			for i, want := range states {
				got, ok := p.Beats[i].Outputs[0].State, false
				switch strings.ReplaceAll(want, "-", " ") {
				case "running":
					ok = got == Running
				case "stuck on", "stuck lit":
					ok = got == StaysLit
				case "stuck off", "stuck dark", "dead":
					ok = got == StaysDark
				case "not running":
					ok = got == NotRunning || got == StaysLit || got == StaysDark
				default:
					fault("unknown state %s", want)
				}
				if !ok {
					fault("blinker %d is %v; it should be %s", i, got, want)
				}
			}
		case "step_rel":
			for i, want := range states {
				if e := math.Abs(p.Beats[i].Outputs[0].StepA/p.Beats[i].Outputs[0].BuiltA - 1); want == "running" &&
					!(e <= number(t, raw)) {
					fault("step %d off by %.3f", i, e)
				}
			}
		case "base_mA_abs":
			// A base may be stated with what is stuck lit or without it.
			with, without := math.Abs(1000*p.BaseA-d.Truth.BaseMA), math.Abs(1000*(p.BaseA-lit)-d.Truth.BaseMA)
			if !(math.Min(with, without) <= number(t, raw)) {
				fault("base off by %.2f mA", with)
			}
		default:
			fault("unknown limit %s", key)
		}
	}
	return faults
}
