package record

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// TestLineIsLineProtocol pins the bytes of a reading, so that a change of the
// format is noticed, and decodes them as any other reader would.
func TestLineIsLineProtocol(t *testing.T) {
	x := nth(7)
	x.Step.Pace = "slow"
	l, err := x.line(placed{build: "0123456789abcdef", sitting: 3, seq: 9, simulated: true, shift: 5})
	if err != nil {
		t.Fatal(err)
	}
	b, check, err := appendChained([]byte("before"), newSummer(), "00112233445566ff", l)
	if err != nil {
		t.Fatal(err)
	}
	const want = `before` +
		`reading,build=0123456789abcdef,closure=hull,group=cabin\ ` +
		`windows,instrument=meter,pace=slow,quantity=current,sitting=3,stage=loose` +
		` check="@",seq=9i,v=1i,simulated=true,shift_ns=5i,half_width=0.0002,latency_s=0.003,range="200 mA",raw="#7 ` +
		`+3.81E-02\\r\\n",status="ok",` +
		`step_id="hull/cabin windows",unit="A",value=0.038107,window_s=0.02 1795589100800000000` + "\n"
	if strings.Replace(string(b), check, "@", 1) != want {
		t.Fatalf("got  %s\nwant %s", b, want)
	}
	// The check by its definition, from the page.
	text := "00112233445566ff" + strings.Replace(strings.TrimSuffix(strings.TrimPrefix(want, "before"), "\n"),
		`check="@",`, "", 1)
	if sum := fmt.Sprintf("%x", sha256.Sum256([]byte(text)))[:16]; sum != check {
		t.Fatalf("check %s, by hand %s", check, sum)
	}
	d := lineprotocol.NewDecoderWithBytes(b[len("before"):])
	if !d.Next() {
		t.Fatal("another decoder finds no line")
	}
	if at, err := d.Time(lineprotocol.Nanosecond, time.Time{}); err != nil || !at.Equal(x.At()) {
		t.Fatalf("time %v, %v", at, err)
	}
}

// TestCheckIsSHA256 against the digest of "abc" of FIPS 180-2, appendix B.1.
func TestCheckIsSHA256(t *testing.T) {
	if got := newSummer().of("", []byte("a"), []byte("bc")); string(got) != "ba7816bf8f01cfea" {
		t.Fatalf("%s", got)
	}
}

// TestSeed: the first line of a sitting carries on from its build and number.
func TestSeed(t *testing.T) {
	file := shipOf(t, 1).Content(first)
	line := string(file[:bytes.IndexByte(file, '\n')])
	l, ok := lookAt([]byte(line))
	if !ok || l.sitting != 1 || l.seq != 1 || l.version != Version {
		t.Fatalf("%+v", l)
	}
	text := "build=" + l.build + ",sitting=1" + strings.Replace(line, `check="`+l.check+`",`, "", 1)
	if sum := fmt.Sprintf("%x", sha256.Sum256([]byte(text)))[:16]; sum != l.check {
		t.Fatalf("check %s, by hand %s", l.check, sum)
	}
}

// TestCheckIsCRC32C of a line that stands alone, against the check value of
// CRC-32C for "123456789", 0xE3069283 (RFC 3720, B.4, and the catalogue of
// parametrised CRC algorithms).
func TestCheckIsCRC32C(t *testing.T) {
	if got := lineSum([]byte("1234"), []byte("56789")); string(got[:]) != "e3069283" {
		t.Fatalf("%s", got)
	}
	// The check leaves out its own field with its comma, and the newline.
	l, err := nth(0).content()
	if err != nil {
		t.Fatal(err)
	}
	b, err := AppendLine(nil, l)
	if err != nil {
		t.Fatal(err)
	}
	line := string(bytes.TrimSuffix(b, []byte("\n")))
	at := strings.Index(line, ` check="`) + 1
	field := line[at : at+len(`check="00000000",`)]
	rest := line[:at] + line[at+len(field):]
	if want := fmt.Sprintf(`check="%08x",`,
		crc32.Checksum([]byte(rest), crc32.MakeTable(crc32.Castagnoli))); field != want {
		t.Fatalf("field %s, want %s", field, want)
	}
}

// text is a string of the corpus: plain, or base64 where it's not UTF-8.
type text string

func (s *text) UnmarshalJSON(b []byte) error {
	var plain string
	if json.Unmarshal(b, &plain) == nil {
		*s = text(plain)
		return nil
	}
	var coded struct{ Binary string }
	if err := json.Unmarshal(b, &coded); err != nil {
		return err
	}
	raw, err := base64.StdEncoding.DecodeString(coded.Binary)
	*s = text(raw)
	return err
}

type point struct {
	Time   int64
	Name   text
	Tags   []struct{ Key, Value text }
	Fields []struct {
		Key   text
		Value map[string]json.RawMessage
	}
}

// TestDecodeCorpus: decodeLine takes a line if and only if the corpus does, and
// gives the corpus's values. Source: testdata/corpus/README.md.
func TestDecodeCorpus(t *testing.T) {
	var cases []struct {
		Input struct {
			Text        text
			About       string
			DefaultTime int64
			Precision   string
		}
		Output struct {
			Result []point
			Error  string
		}
	}
	load(t, "testdata/corpus/decode_cases.json", &cases)
	used := 0
	for _, c := range cases {
		// Ours are single lines in nanoseconds with a time of their own.
		in := string(c.Input.Text)
		if c.Input.Precision != "1ns" || strings.Contains(in, "\n") || len(c.Output.Result) > 1 ||
			c.Output.Error == "" && len(c.Output.Result) == 0 {
			continue
		}
		used++
		l, err := decodeLine([]byte(in))
		if c.Output.Error != "" {
			if err == nil {
				t.Errorf("%s: %q was taken", c.Input.About, in)
			}
			continue
		}
		want := c.Output.Result[0]
		if err != nil && want.Time == c.Input.DefaultTime {
			continue // it has no time, which is damage here
		}
		if err != nil || l.Measurement != string(want.Name) || l.At.UnixNano() != want.Time ||
			len(l.Tags) != len(want.Tags) || len(l.Fields) != len(want.Fields) {
			t.Errorf("%s: %q gave %+v, %v", c.Input.About, in, l, err)
			continue
		}
		for i, tag := range want.Tags {
			if l.Tags[i] != (Tag{string(tag.Key), string(tag.Value)}) {
				t.Errorf("%s: tag %v, want %v", c.Input.About, l.Tags[i], tag)
			}
		}
		for i, f := range want.Fields {
			if v := value(t, f.Value); l.Fields[i].Key != string(f.Key) || !l.Fields[i].Value.Equal(v) {
				t.Errorf("%s: field %v, want %s=%v", c.Input.About, l.Fields[i], f.Key, v)
			}
		}
	}
	if used < 50 {
		t.Fatalf("only %d cases used", used)
	}
}

// TestEncodeCorpus: every point of the corpus that AppendLine takes comes back
// from ParseLine as it went in.
func TestEncodeCorpus(t *testing.T) {
	var cases []struct {
		Input struct{ Point point }
	}
	load(t, "testdata/corpus/encode_cases.json", &cases)
	used := 0
	for _, c := range cases {
		p := c.Input.Point
		l := Line{Measurement: string(p.Name), At: time.Unix(0, p.Time).UTC()}
		for _, tag := range p.Tags {
			l.Tags = append(l.Tags, Tag{string(tag.Key), string(tag.Value)})
		}
		skip := false
		for _, f := range p.Fields {
			l.Fields = append(l.Fields, Field{string(f.Key), value(t, f.Value)})
			skip = skip || f.Key == "check"
		}
		for _, tag := range l.Tags {
			skip = skip || tag.Value == "" // which is left out
		}
		b, err := AppendLine(nil, l)
		if err != nil || skip || strings.HasPrefix(l.Measurement, "#") || strings.Contains(l.Measurement, `\`) {
			continue
		}
		used++
		back, err := ParseLine(b)
		if err != nil || fmt.Sprint(back) != fmt.Sprint(l) {
			t.Errorf("%+v\ngave %s\nback %+v, %v", l, b, back, err)
		}
	}
	if used < 20 {
		t.Fatalf("only %d cases used", used)
	}
}

func load(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatal(err)
	}
}

// value gives a field of the corpus; one that a float can't hold is a string.
func value(t *testing.T, m map[string]json.RawMessage) lineprotocol.Value {
	t.Helper()
	for kind, raw := range m {
		v, err := lineprotocol.Value{}, error(nil)
		switch kind {
		case "string", "binary":
			var s text
			if err = json.Unmarshal(raw, &s); err == nil {
				v = mustString(string(s))
			}
		case "float":
			v, err = lineprotocol.NewValueFromBytes(lineprotocol.Float, raw)
		case "int":
			v, err = lineprotocol.NewValueFromBytes(lineprotocol.Int, raw)
		case "uint":
			v, err = lineprotocol.NewValueFromBytes(lineprotocol.Uint, raw)
		case "bool":
			v, err = lineprotocol.NewValueFromBytes(lineprotocol.Bool, raw)
		default:
			err = errors.New("unknown kind " + kind)
		}
		if err != nil {
			return mustString(string(raw))
		}
		return v
	}
	return mustString("")
}
