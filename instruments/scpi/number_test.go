package scpi

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"sealworthy/instruments/driver"
)

type cases struct {
	Accept []struct {
		Text   string
		Value  float64
		Values []float64
	}
	SpecialAccept []struct{ Text, Means string } `json:"special_accept"`
	Reject        []struct{ Text string }
	ErrorQueue    []struct {
		Text   string
		Code   int
		Msg    string
		Detail string
	} `json:"error_queue"`
}

func published(t testing.TB) cases {
	t.Helper()
	src, err := os.ReadFile("testdata/number_cases.json")
	if err != nil {
		t.Fatal(err)
	}
	var c cases
	if err := json.Unmarshal(src, &c); err != nil {
		t.Fatal(err)
	}
	if len(c.Accept) < 20 || len(c.Reject) < 8 || len(c.SpecialAccept) < 8 || len(c.ErrorQueue) < 6 {
		t.Fatal("cases are missing")
	}
	return c
}

// The cases are of IEEE 488.2 and SCPI-1999; see testdata/README.md.
func TestPublishedNumbers(t *testing.T) {
	c := published(t)
	for _, x := range c.Accept {
		want := x.Values
		if want == nil {
			want = []float64{x.Value}
		}
		list, err := ParseList(x.Text)
		if err != nil || len(list) != len(want) {
			t.Errorf("%q: %v, %v", x.Text, list, err)
			continue
		}
		for i, n := range list {
			if n.Mark != driver.Finite || math.Abs(n.Value-want[i]) > 1e-12*math.Abs(want[i]) {
				t.Errorf("%q: %+v, want %v", x.Text, n, want[i])
			}
		}
	}
	for _, x := range c.SpecialAccept {
		n, err := ParseNumber(x.Text)
		ok := err == nil && (x.Means == "nan" && n.Mark == driver.NaN ||
			x.Means == "+inf" && n.Mark == driver.Over && n.Value > 0 || x.Means == "-inf" && n.Mark == driver.Over &&
			n.Value < 0)
		if !ok {
			t.Errorf("%q is %+v, %v; it means %s", x.Text, n, err, x.Means)
		}
	}
	for _, x := range c.Reject {
		text := strings.TrimSuffix(x.Text, " as one number")
		if n, err := ParseNumber(text); err == nil {
			t.Errorf("%q became %+v", text, n)
		}
	}
}

func TestStrictNumbers(t *testing.T) {
	for _, s := range []string{" 1", "1 ", "1V", "0x1p4", "1_000", "Inf", "NaN", "1e", "1E+", "+", ".", "-.", "1e400",
		"1E99999", "9.95E37", "1e38", "#", "#H", "#X12", "#H+2", "#B2", "#Q8", "#HFFFFFFFFFFFFFFFF",
		strings.Repeat("1", 256), "１"} {
		if n, err := ParseNumber(s); err == nil {
			t.Errorf("%q became %+v", s, n)
		}
	}
}

func TestQuantities(t *testing.T) {
	for s, want := range map[string]float64{"12.3 mV": 0.0123, "12.3V": 12.3, "1.5E-2A": 0.015, "250 uA": 250e-6,
		"4.7 kOhm": 4700, " 12 ": 12} {
		n, err := ParseQuantity(s)
		if err != nil || math.Abs(n.Value-want) > 1e-12*want {
			t.Errorf("%q: %+v, %v", s, n, err)
		}
	}
	for _, s := range []string{"12 W", "V", "12 m V", "1 E3", "12 mVV", ""} {
		if n, err := ParseQuantity(s); err == nil {
			t.Errorf("%q became %+v", s, n)
		}
	}
	// The mark of infinity is one with a unit too.
	if n, err := ParseQuantity("9.9E37 A"); err != nil || n.Mark != driver.Over {
		t.Errorf("%+v, %v", n, err)
	}
}

func TestPublishedErrorQueueReplies(t *testing.T) {
	for _, x := range published(t).ErrorQueue {
		e, err := ParseQueueError(x.Text)
		if err != nil || e.Code != x.Code || e.Text != x.Msg || e.Detail != x.Detail {
			t.Errorf("%q: %+v, %v", x.Text, e, err)
		}
	}
	for _, s := range []string{"", "x", "1.5,\"x\"", "--1,\"x\"", "-113,Undefined \"header", "-113,\"x",
		"123456,\"x\"", "1,\"a\"b\"", "\"x\",1"} {
		if e, err := ParseQueueError(s); err == nil {
			t.Errorf("%q became %+v", s, e)
		}
	}
	for s, want := range map[string]QueueError{"0,No error": {Code: 0, Text: "No error"},
		"+0, No error ":             {Code: 0, Text: "No error"},
		"-113,Undefined header;VOL": {Code: -113, Text: "Undefined header", Detail: "VOL"}} {
		if e, err := ParseQueueError(s); err != nil || e != want {
			t.Errorf("%q: %+v, %v", s, e, err)
		}
	}
	if e, err := ParseQueueError(`-200,"say ""hi"""`); err != nil || e.Text != `say "hi"` {
		t.Errorf("%+v, %v", e, err)
	}
}

func TestChannelLists(t *testing.T) {
	for s, want := range map[string]int{"(@1,3)": 2, "(@)": 0, "": 0, "1,3,4": 3, "(@1:4,7)": 5, `"(@2)"`: 1} {
		got, err := ParseChannels(s, 1, 8)
		if err != nil || len(got) != want {
			t.Errorf("%q: %v, %v", s, got, err)
		}
	}
	for _, s := range []string{"(@1", "(@9)", "(@0)", "(@3:1)", "(@1,)", "x", "(@1,+3)", "(@1:99999)"} {
		if got, err := ParseChannels(s, 1, 8); err == nil {
			t.Errorf("%q became %v", s, got)
		}
	}
}

// What parses prints back to a number that parses to the same.
func FuzzNumber(f *testing.F) {
	c := published(f)
	for _, x := range c.Accept {
		f.Add(x.Text)
	}
	for _, x := range c.Reject {
		f.Add(x.Text)
	}
	for _, x := range c.SpecialAccept {
		f.Add(x.Text)
	}
	f.Fuzz(func(t *testing.T, s string) {
		n, err := ParseNumber(s)
		if err != nil {
			if n != (driver.Number{}) {
				t.Errorf("%q: an error and a number", s)
			}
			return
		}
		if n.Mark == driver.Finite && (math.IsNaN(n.Value) || math.IsInf(n.Value, 0) ||
			math.Abs(n.Value) >= infinity) {
			t.Errorf("%q became %v", s, n.Value)
		}
		if strings.ContainsAny(s, " \t\r\n,;") {
			t.Errorf("%q was read as one number", s)
		}
		_, _ = ParseList(s)
		_, _ = ParseQuantity(s)
	})
}

func FuzzErrorQueueReply(f *testing.F) {
	for _, x := range published(f).ErrorQueue {
		f.Add(x.Text)
	}
	f.Fuzz(func(t *testing.T, s string) {
		e, err := ParseQueueError(s)
		if err == nil && (e.Code < -32768 || e.Code > 32767) {
			t.Errorf("%q: code %d", s, e.Code)
		}
		if err != nil && e != (QueueError{}) {
			t.Errorf("%q: an error and %+v", s, e)
		}
		_, _ = ParseChannels(s, 1, 64)
	})
}

func FuzzLines(f *testing.F) {
	f.Add([]byte("1.2\n"), byte(0))
	f.Add([]byte("\xff\r\n\x00"), byte(1))
	f.Fuzz(func(t *testing.T, got []byte, which byte) {
		end := [][]byte{[]byte("\n"), []byte("\r"), []byte("\r\n")}[which%3]
		n, reply, err := SplitLines(end, 64)(got)
		switch {
		case n < 0 || n > len(got) || err != nil && n != 0:
			t.Errorf("%q: took %d, %v", got, n, err)
		case n > 0 && len(reply)+len(end) > n:
			t.Errorf("%q: took %d and made %q of it", got, n, reply)
		}
	})
}
