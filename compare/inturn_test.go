package compare_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/compare"
	"sealworthy/compare/fault"
	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
)

// twoReds is a board with two like LEDs in turn, lit for a duty each. Invented.
func twoReds(duty string) string {
	return `
build = "Two reds"
[jack.main]
volts = 12.0
volts_range = [11.9, 12.1]
[closure.deckhouse]
[board.beacon]
joint = "main"
closure = "deckhouse"
standing_mA = 3.2
tolerance = 0.1
lowest_volts = 7
highest_volts = 15
outputs = [ { max_mA = 25, ohms = 10 }, { max_mA = 25, ohms = 10 } ]
outputs_run = "alternate"
paces = [ { name = "blink", period_s = 1.6, duty = ` + duty + ` } ]
[[group]]
name = "port beacon"
board = "beacon"
output = 1
lights = [ { part = "red 1.8 mm", ohms = 680, ohms_tolerance = 0.01 } ]
[[group]]
name = "starboard beacon"
board = "beacon"
output = 2
lights = [ { part = "red 1.8 mm", ohms = 680, ohms_tolerance = 0.01 } ]
`
}

func rowsOf(t *testing.T, src string, seed uint64, f *fault.Fault, says int) []compare.Finding {
	t.Helper()
	m, err := measured(context.Background(), seed, src, f, how{})
	if err != nil {
		t.Fatal(err)
	}
	if m, err = m.judged(says); err != nil {
		t.Fatal(err)
	}
	return m.closures[0].Groups
}

// Of two like outputs one is overloaded: that is said, and that a look tells which.
func TestOneOfTwoLikeOutputsOverloaded(t *testing.T) {
	for _, duty := range []string{"0.3", "0.4", "0.5"} {
		for seed := range uint64(4) {
			f := fault.Fault{Kind: fault.Overloaded, Group: []string{"port beacon", "starboard beacon"}[seed%2]}
			for _, x := range rowsOf(t, twoReds(duty), seed+1, &f, 2) {
				if x.Verdict != compare.StuckLit || len(x.Causes) == 0 ||
					x.Causes[0].Name != string(fault.Overloaded) || !strings.Contains(x.Causes[0].Text, "look which") {
					t.Errorf("duty %s, seed %d: %s", duty, seed+1, inWords(x))
				}
			}
		}
	}
}

// So it is where the outputs are lit at once: what blinks is less then, yet it isn't low, for
// what is missing flows in the dark time.
func TestOneOfOutputsLitTogetherIsOverloaded(t *testing.T) {
	src := strings.Replace(twoReds("0.4"), `"alternate"`, `"together"`, 1)
	for seed := range uint64(4) {
		f := fault.Fault{Kind: fault.Overloaded, Group: []string{"port beacon", "starboard beacon"}[seed%2]}
		for _, x := range rowsOf(t, src, seed+1, &f, 2) {
			if x.Verdict != compare.StuckLit || len(x.Causes) == 0 || x.Causes[0].Name != string(fault.Overloaded) ||
				!strings.Contains(x.Causes[0].Text, "look which") || x.MeasuredA < x.Band.HighA {
				t.Errorf("seed %d: %s", seed+1, inWords(x))
			}
		}
	}
}

// What may be in either of two groups that are read together isn't settled: a look tells which.
func TestWhichOfTwoGroupsIsAsked(t *testing.T) {
	src := strings.Replace(twoReds("0.4"), `"alternate"`, `"together"`, 1)
	f := fault.Fault{Kind: fault.OpenBranch, Group: "port beacon"}
	m, err := measured(context.Background(), 3, src, &f, how{})
	if err != nil {
		t.Fatal(err)
	}
	doubts, err := m.judge.Next(compare.History{Steps: m.records}, "", "")
	if err != nil || len(doubts) != 2 {
		t.Fatal(err, doubts)
	}
	for _, d := range doubts {
		looks := slices.ContainsFunc(d.Next, func(n compare.Measurement) bool { return n.Look })
		if d.Verdict != compare.Low || d.Settled || !looks || !strings.Contains(d.Causes[0].Text, "look which") {
			t.Errorf("%s: settled %v, %+v, %+v", d.Group, d.Settled, d.Causes, d.Next)
		}
	}
}

// Two like outputs that are right pass, whichever of them has which level.
func TestLikeOutputsPassEitherWay(t *testing.T) {
	for _, duty := range []string{"0.3", "0.4"} {
		for seed := range uint64(4) {
			for _, x := range rowsOf(t, twoReds(duty), seed+1, nil, 2) {
				if x.Verdict != compare.InBand {
					t.Errorf("duty %s, seed %d: %s", duty, seed+1, inWords(x))
				}
			}
		}
	}
}

// Where outputs can't be parted, the figures are of the whole board, both of them,
// and a look passes it only where they go together.
func TestFiguresOfTheWholeBoard(t *testing.T) {
	whole := 0
	for seed := range uint64(4) {
		for _, x := range rowsOf(t, twoReds("0.5"), seed+1, nil, 3) {
			if x.Verdict != compare.InBand || x.MeasuredA < x.Band.LowA || x.MeasuredA > x.Band.HighA ||
				(x.ExpectedA > 0.015) != (x.FiguresOf == compare.OfBoard) {
				t.Errorf("seed %d: figures of %q: %s", seed+1, x.FiguresOf, inWords(x))
			}
			if x.FiguresOf == compare.OfBoard {
				whole++
			}
		}
	}
	if whole == 0 {
		t.Error("the outputs could be parted each time: nothing was tested")
	}
}

// oneLamp is a board with one output, of which paces and button are given. Invented.
func oneLamp(paces, button string) string {
	return `
build = "One lamp"
[jack.main]
volts = 12.0
volts_range = [11.9, 12.1]
[closure.deckhouse]
[board."lamp driver"]
joint = "main"
closure = "deckhouse"
standing_mA = 4
tolerance = 0.1
lowest_volts = 7
highest_volts = 15
outputs = [ { max_mA = 60, ohms = 10 } ]
paces = [ ` + paces + ` ]
` + button + `
[[group]]
name = "lantern"
board = "lamp driver"
output = 1
lights = [ { part = "red 3 mm", ohms = 680, ohms_tolerance = 0.01, count = 2 } ]
`
}

// A board that was stepped once too seldom is told to step once more, whatever its
// draw looks like; a board without a button is never told of one.
func TestStepTheButtonFirst(t *testing.T) {
	const slow, fast, steady = `{ name = "slow", period_s = 2.4, duty = 0.5 }`,
		`{ name = "fast", period_s = 0.8, duty = 0.5 }`, `{ name = "steady", steady = true }`
	// The bench steps a board whose paces begin one later: each reading is one behind.
	planned, one := oneLamp(slow+", "+fast+", "+steady, "button = true"),
		oneLamp(steady+", "+slow+", "+fast, "button = true")
	for seed := range uint64(3) {
		m, err := measured(context.Background(), seed+1, one, nil, how{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := parsed(planned)
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range m.records {
			if r.Step.Kind != capture.Power {
				continue
			}
			// What the maker took for the plan's pace, was the one before it.
			next := map[string]string{"steady": "slow", "slow": "fast", "fast": "steady"}
			m.records[i].Step.Pace = next[r.Step.Pace]
		}
		m.plan = p
		if m.judge, err = compare.NewJudge(compare.NewExpected(p), rule.Default(), benchLeads); err != nil {
			t.Fatal(err)
		}
		if m, err = m.judged(2); err != nil {
			t.Fatal(err)
		}
		for _, f := range m.closures[0].Groups {
			if f.Verdict != compare.OffPace || len(f.Causes) == 0 ||
				!strings.Contains(f.Causes[0].Text, "Press its button once") {
				t.Errorf("seed %d: %s", seed+1, inWords(f))
			}
		}
	}
	m, err := measured(context.Background(), 1, oneLamp(fast, ""), nil, how{})
	if err != nil {
		t.Fatal(err)
	}
	if m.plan, err = parsed(oneLamp(strings.Replace(fast, "0.8", "1.9", 1), "")); err != nil {
		t.Fatal(err)
	}
	if m.judge, err = compare.NewJudge(compare.NewExpected(m.plan), rule.Default(), benchLeads); err != nil {
		t.Fatal(err)
	}
	if m, err = m.judged(2); err != nil {
		t.Fatal(err)
	}
	for _, f := range m.closures[0].Groups {
		if s := inWords(f); f.Verdict != compare.OffPace || strings.Contains(s, "button") {
			t.Error(s)
		}
	}
}

// For an output that is overloaded the finding says the resistor that cures it, and
// the plan with it in is one that can be read.
func TestAnOverloadedOutputIsTold(t *testing.T) {
	for seed := range uint64(3) {
		src := strings.Replace(twoReds("0.4"), "ohms = 680", "ohms = 1000", 1) // no two alike
		m, err := measured(context.Background(), seed+1, src,
			&fault.Fault{Kind: fault.Overloaded, Group: "port beacon"}, how{})
		if err != nil {
			t.Fatal(err)
		}
		m.judge.PlanSource = []byte(src)
		cs, err := m.judge.Findings(compare.History{Steps: m.records}, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range cs[0].Groups {
			if f.Group != "port beacon" {
				continue
			}
			i := slices.IndexFunc(f.Causes, func(c compare.Cause) bool { return c.Name == string(fault.Overloaded) })
			if i < 0 || !strings.Contains(f.Causes[i].Text, "Output 1 of") || !strings.Contains(f.Causes[i].Text,
				"ohm in series") || !strings.Contains(f.Causes[i].Text, "take one of") {
				t.Errorf("seed %d: %s", seed+1, inWords(f))
				continue
			}
			path, value, err := fault.ParseEdit(f.Causes[i].Edit)
			if err != nil {
				t.Errorf("seed %d: %q: %v", seed+1, f.Causes[i].Edit, err)
				continue
			}
			if _, err := plan.Edit([]byte(src), path, value); err != nil {
				t.Errorf("seed %d: %v", seed+1, err)
			}
		}
	}
}

// Of unlike outputs in turn whose levels could be given to them the other way round, too,
// the likelier way decides where the other one would take two faults at once; with a fault
// in one of them neither way passes.
func TestTheLikelierWayDecides(t *testing.T) {
	ctx, h := context.Background(), how{sweep: true}
	const seed = 226 // a build that was left open: one output's level is within the other's doubt
	m, err := measureModel(ctx, seed, h)
	if err != nil {
		t.Fatal(err)
	}
	if m, err = m.judged(2); err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, c := range m.closures {
		for _, f := range c.Groups {
			if f.Board != "board 1" || f.Pace != "pace 1" {
				continue
			}
			rows++
			if f.Verdict != compare.InBand || f.FiguresOf != "" || f.PHealthy < 0.95 {
				t.Error(inWords(f))
			}
		}
	}
	if rows != 2 {
		t.Errorf("%d rows of the board", rows)
	}
	for _, f := range []fault.Fault{{Kind: fault.OpenBranch, Group: "board 1 light 2"},
		{Kind: fault.OpenBranch, Group: "board 1 light 1"}} {
		m, err := measured(ctx, seed, randomPlan(seed), &f, h)
		if err != nil {
			t.Fatal(err)
		}
		if m, err = m.judged(2); err != nil {
			t.Fatal(err)
		}
		for _, c := range m.closures {
			for _, x := range c.Groups {
				if x.Group == f.Group && x.Pace == "pace 1" && x.Verdict == compare.InBand {
					t.Errorf("%+v: %s", f, inWords(x))
				}
			}
		}
	}
}
