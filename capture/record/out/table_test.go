package out

import (
	"bytes"
	"crypto/rand"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"sealworthy/capture"
	"sealworthy/capture/record"
	"sealworthy/capture/record/recordtest"
	"sealworthy/instruments"
)

var start = time.Date(2026, 11, 25, 6, 45, 0, 0, time.UTC)

const ship = "ship"

// Invented data: the lightship Brackwater, with names that a spreadsheet would compute.
func recorded(t testing.TB, m *recordtest.Memory, simulated bool, at time.Time, values ...float64) {
	t.Helper()
	r, _, err := record.Begin(m,
		record.Opening{Dir: ship, Build: "=1+1", Stage: "fitted", What: record.ForTest, Program: "a test",
			Bench: "bench 2, by the window",
			Now:   at, Random: rand.Reader, Simulated: simulated})
	if err != nil {
		t.Fatal(err)
	}
	put := func(x record.Record) {
		if _, err := r.Append(x); err != nil {
			t.Fatal(err)
		}
	}
	step := capture.Step{ID: "hull/@SUM(A1)", Feed: "-cabin", Kind: capture.Power}
	of := capture.StepRef{StepID: step.ID, Closure: "hull, \"aft\"", Feed: step.Feed, Stage: "fitted"}
	put(record.Record{Mark: &capture.Mark{Kind: capture.MarkBegin, Step: &step, At: at, Stage: "fitted",
		StepID: step.ID}})
	for i, v := range values {
		at = at.Add(100 * time.Millisecond)
		x := instruments.Reading{Instrument: "meter", Quantity: instruments.Current, Unit: "A", Status: instruments.OK,
			Value:     &v,
			HalfWidth: 2e-4, At: at, Window: 20 * time.Millisecond, Latency: 3 * time.Millisecond,
			Raw: "+3.81E-02\r\n"}
		if i == 1 {
			x.Status, x.Value = instruments.Overload, nil
		}
		put(record.Record{Reading: &x, Step: of})
	}
	put(record.Record{Mark: &capture.Mark{Kind: capture.MarkEnd, Outcome: capture.Measured, At: at, Stage: "fitted",
		StepID: step.ID}})
	if err := r.Close(); err != nil {
		t.Fatal(err)
	}
}

func written(t *testing.T, m *recordtest.Memory, f Format) (string, Written) {
	t.Helper()
	var b bytes.Buffer
	x, err := Write(&b, m.Tree(ship), f)
	if err != nil {
		t.Fatal(err)
	}
	return b.String(), x
}

// TestTable: RFC 4180 with CRLF, every row as long as the header, nothing that a
// spreadsheet would compute, and numbers that read as they were.
func TestTable(t *testing.T) {
	m := recordtest.NewMemory()
	recorded(t, m, false, start, 0.0381, 0, -2.5e-05)
	all, x := written(t, m, CSV)
	if x.Lines != 3 || x.Damage != nil || strings.Count(all, "\r\n") != 4 || strings.Count(all, "\n") != 4 {
		t.Fatalf("%d rows, %v\n%s", x.Lines, x.Damage, all)
	}
	rows, err := csv.NewReader(strings.NewReader(all)).ReadAll()
	if err != nil || len(rows) != 4 {
		t.Fatal(len(rows), err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	for column, want := range map[string]string{"build": "'=1+1", "bench": "bench 2, by the window", "sitting": "1",
		"seq": "3", "closure": `hull, "aft"`,
		"feed": "'-cabin", "step": "hull/@SUM(A1)", "time_utc": "2026-11-25T06:45:00.1Z", "value": "0.0381",
		"unit": "A", "half_width": "0.0002", "window_s": "0.02",
		"latency_s": "0.003", "simulated": "false", "raw": `'+3.81E-02\r\n`, "status": "ok", "quantity": "current"} {
		if got := rows[1][at[column]]; got != want {
			t.Errorf("%s is %q, not %q", column, got, want)
		}
	}
	if rows[2][at["value"]] != "" || rows[2][at["status"]] != "overload" || rows[3][at["value"]] != "-2.5e-05" {
		t.Errorf("%q, %q", rows[2], rows[3])
	}
	for _, row := range rows[1:] {
		for i, cell := range row {
			if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r") && rows[0][i] != "value" {
				t.Errorf("%s of a row is %q, which a spreadsheet computes", rows[0][i], cell)
			}
		}
	}
}

// TestText: what is harmless stays as it is; what some spreadsheet would compute, whatever
// it takes for the end of a cell, has an apostrophe before it.
func TestText(t *testing.T) {
	for in, want := range map[string]string{
		"":                  "",
		"hull; aft":         "hull; aft",
		"bow, 12 V (+5 %)":  "bow, 12 V (+5 %)",
		"-cabin":            "'-cabin",
		"1;=1+1":            "1;'=1+1",
		"1; \u00a0@SUM(A1)": "1;' \u00a0@SUM(A1)",
		"a\t=1;b;-2":        "a\t'=1;b;'-2",
		"a;\t=1":            "a;'\t'=1",
		"+1.2E-3,+3.4E-3":   "'+1.2E-3,'+3.4E-3",
		`a;"=1+1"`:          `a;'"=1+1"`,
		"a;\ufeff=1":        "a;'\ufeff=1",
		"a\n=1":             "a\n'=1",
	} {
		if got := text(in); got != want {
			t.Errorf("%q becomes %q, not %q", in, got, want)
		}
	}
}

// FuzzRow: no cell begins with what a spreadsheet computes, after whatever blanks and
// quotes: neither for who reads a row as RFC 4180 has it, nor for who knows no quotes and
// takes commas, semicolons, tabs and ends of lines alike for the end of a cell. Nothing
// but apostrophes is put in.
func FuzzRow(f *testing.F) {
	for _, s := range []string{"1;=1+1", "=1", "a\t\t+1", "a, -b", `x";"=1`, "; ;@", "a\r\n=1", "\ufeff\u200b=1",
		"it's;=", "100 mA", ";|cmd"} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		row := Reading{Build: a, Bench: b, Closure: a + b, Feed: b, Range: b, Raw: a}.row()
		var out bytes.Buffer
		w := csv.NewWriter(&out)
		w.UseCRLF = true
		if err := w.Write(row); err != nil {
			t.Fatal(err)
		}
		w.Flush()
		cells, err := csv.NewReader(bytes.NewReader(out.Bytes())).Read()
		if err != nil || len(cells) != len(columns) {
			t.Fatalf("%d cells, %v", len(cells), err)
		}
		cells = append(cells, strings.FieldsFunc(out.String(),
			func(r rune) bool { return strings.ContainsRune(",;\t\r\n", r) })...)
		for _, c := range cells {
			if c = strings.TrimLeft(c, " \u00a0\u200b\ufeff\""); c != "" &&
				strings.ContainsRune("=+-@\t\r\n|%", rune(c[0])) {
				t.Fatalf("%q and %q: the cell %q of %q is computed", a, b, c, out.String())
			}
		}
		if bare := strings.NewReplacer("'", ""); bare.Replace(text(a)) != bare.Replace(a) {
			t.Fatalf("%q becomes %q", a, text(a))
		}
	})
}

// TestJSONLines: each line is one object, a reply without a value has null.
func TestJSONLines(t *testing.T) {
	m := recordtest.NewMemory()
	recorded(t, m, true, start, 0.0381, 0)
	all, _ := written(t, m, JSON)
	lines := strings.Split(strings.TrimSpace(all), "\n")
	if len(lines) != 2 || !strings.Contains(lines[1], `"value":null`) {
		t.Fatal(all)
	}
	var x Reading
	if err := json.Unmarshal([]byte(lines[0]), &x); err != nil || *x.Value != 0.0381 || !x.Simulated ||
		x.Build != "=1+1" || !x.Time.Equal(start.Add(100*time.Millisecond)) {
		t.Errorf("%+v, %v", x, err)
	}
}

// TestLines: as they stand in the file, and what is damaged is left out and named.
func TestLines(t *testing.T) {
	m := recordtest.NewMemory()
	recorded(t, m, false, start, 0.0381, 0, 0.04)
	name := ship + "/readings/20261125T064500Z-fitted.lp"
	all, x := written(t, m, Lines)
	if all != string(m.Content(name)) || x.Lines != 7 {
		t.Errorf("%d lines", x.Lines)
	}
	b := bytes.Replace(m.Content(name), []byte("value=0.04 "), []byte("value=0.05 "), 1)
	if bytes.Equal(b, m.Content(name)) {
		b = bytes.Replace(m.Content(name), []byte("value=0.04,"), []byte("value=0.05,"), 1)
	}
	m.Set(name, b)
	part, x := written(t, m, Lines)
	if len(x.Damage) != 1 || x.Lines >= 7 || strings.Contains(part, "value=0.05") {
		t.Errorf("%d lines, %v", x.Lines, x.Damage)
	}
	if _, err := Write(&bytes.Buffer{}, m.Tree(ship), "xls"); err == nil {
		t.Error("any format is written")
	}
}
