package modbus

import (
	"bytes"
	"encoding/csv"
	"encoding/hex"
	"encoding/json"
	"errors"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func table(t testing.TB, name string) [][]string {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil || len(rows) < 5 {
		t.Fatalf("%s: %d rows, %v", name, len(rows), err)
	}
	return rows[1:]
}

// Modbus over Serial Line V1.02, 6.2.2 and Appendix B.
func TestPublishedCRCs(t *testing.T) {
	for _, row := range table(t, "crc16_vectors.csv") {
		m := unhex(t, row[0])
		if got := strconv.FormatUint(uint64(CRC(m)), 16); got != lower(row[1]) {
			t.Errorf("CRC of %s is %s, published %s", row[0], got, row[1])
		}
		if w := sealed(m)[len(m):]; !bytes.Equal(w, unhex(t, row[2])) {
			t.Errorf("%s goes out as %x, published %s", row[0], w, row[2])
		}
	}
}

func lower(s string) string {
	n, _ := strconv.ParseUint(s, 16, 16)
	return strconv.FormatUint(n, 16)
}

type published struct {
	Section, What string
	Registers     []uint16
	Request       string `json:"request_rtu_addr_11"`
	Response      string `json:"response_rtu_addr_11"`
}

func publishedFrames(t testing.TB) []published {
	t.Helper()
	src, err := os.ReadFile("testdata/spec_frames.json")
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Frames []published }
	if err := json.Unmarshal(src, &file); err != nil || len(file.Frames) != 7 {
		t.Fatalf("%d frames, %v", len(file.Frames), err)
	}
	return file.Frames
}

// requests are the examples of the Application Protocol V1.1b3, by section.
var requests = map[string]Request{
	"6.1":  {Address: 0x11, Function: ReadCoils, Start: 19, Quantity: 19},
	"6.3":  {Address: 0x11, Function: ReadHolding, Start: 107, Quantity: 3},
	"6.4":  {Address: 0x11, Function: ReadInputRegs, Start: 8, Quantity: 1},
	"6.5":  {Address: 0x11, Function: WriteCoil, Start: 172, Coils: []bool{true}},
	"6.6":  {Address: 0x11, Function: WriteRegister, Start: 1, Registers: []uint16{3}},
	"6.12": {Address: 0x11, Function: WriteRegisters, Start: 1, Registers: []uint16{10, 258}},
	"7":    {Address: 0x11, Function: ReadCoils, Start: 0x4A1, Quantity: 1},
}

func TestPublishedFrames(t *testing.T) {
	for _, x := range publishedFrames(t) {
		r := requests[x.Section]
		m, err := r.Encode()
		if err != nil || !bytes.Equal(m, unhex(t, x.Request)) {
			t.Errorf("%s: request %x, %v, published %s", x.What, m, err, x.Request)
		}
		f := unhex(t, x.Response)
		for cut := range f {
			if n, _, _ := r.Split(f[:cut]); n != 0 {
				t.Errorf("%s: %d bytes are a response", x.What, cut)
			}
		}
		n, frame, err := r.Split(f)
		if n != len(f) || err != nil {
			t.Fatalf("%s: took %d, %v", x.What, n, err)
		}
		got, err := r.Decode(frame)
		if x.Section == "7" {
			var e Exception
			if !errors.As(err, &e) || e.Code != 2 {
				t.Errorf("exception %v", err)
			}
			continue
		}
		if err != nil || len(x.Registers) > 0 && r.Registers == nil && !slices.Equal(got.Registers, x.Registers) {
			t.Errorf("%s: %v, %v", x.What, got, err)
		}
		// 6.1: outputs 27 to 20 are CD, 35 to 28 are 6B, 38 to 36 are 05.
		if x.Section == "6.1" && (!got.Coils[0] || got.Coils[1] || !got.Coils[16] || got.Coils[17] || !got.Coils[18]) {
			t.Errorf("coils %v", got.Coils)
		}
	}
}

// Modbus over Serial Line V1.02, 2.5.1.1.
func TestPublishedFrameGaps(t *testing.T) {
	for _, row := range table(t, "rtu_timing.csv") {
		baud, err1 := strconv.Atoi(row[0])
		us, err2 := strconv.ParseFloat(row[3], 64)
		if err1 != nil || err2 != nil {
			t.Fatal(row)
		}
		if got := FrameGap(baud).Seconds() * 1e6; math.Abs(got-us) > 0.01 {
			t.Errorf("t3.5 at %d is %v us, published %v", baud, got, us)
		}
	}
	if FrameGap(0) <= 0 || FrameGap(1_000_000) != 1750*time.Microsecond {
		t.Error("no gap")
	}
}

// A CRC of 16 bits finds every burst up to 16 bits and each single and double
// flip in so short a frame; here each single and double flip is tried.
func TestNoFlipPasses(t *testing.T) {
	for _, x := range publishedFrames(t) {
		r, f := requests[x.Section], unhex(t, x.Response)
		for i := range 8 * len(f) {
			for j := i; j < 8*len(f); j++ {
				bad := slices.Clone(f)
				bad[i/8] ^= 1 << (i % 8)
				if j > i {
					bad[j/8] ^= 1 << (j % 8)
				}
				if n, frame, _ := r.Split(bad); n != 0 {
					t.Fatalf("%s: %x passed as %x", x.What, bad, frame)
				}
			}
		}
	}
}

func TestLimitsOfRequests(t *testing.T) {
	for name, r := range map[string]Request{
		"address 0":           {Address: 0, Function: ReadCoils, Quantity: 1},
		"address 248":         {Address: 248, Function: ReadCoils, Quantity: 1},
		"no registers":        {Address: 1, Function: ReadHolding},
		"126 registers":       {Address: 1, Function: ReadHolding, Quantity: 126},
		"2001 coils":          {Address: 1, Function: ReadCoils, Quantity: 2001},
		"beyond the last":     {Address: 1, Function: ReadHolding, Start: 65535, Quantity: 2},
		"124 to write":        {Address: 1, Function: WriteRegisters, Registers: make([]uint16, 124)},
		"two in function 6":   {Address: 1, Function: WriteRegister, Registers: make([]uint16, 2)},
		"unknown function 23": {Address: 1, Function: 23, Quantity: 1},
	} {
		if m, err := r.Encode(); err == nil {
			t.Errorf("%s: %x", name, m)
		}
	}
}

// Whatever comes before a response, it is found and read back as it was.
func TestResponsesAreFoundInNoise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		regs := rapid.SliceOfN(rapid.Uint16(), 1, 20).Draw(t, "regs")
		r := Request{Address: byte(rapid.IntRange(1, 247).Draw(t, "address")), Function: ReadHolding,
			Quantity: len(regs)}
		p := []byte{r.Address, byte(r.Function), byte(2 * len(regs))}
		for _, v := range regs {
			p = append(p, byte(v>>8), byte(v))
		}
		noise := rapid.SliceOfN(rapid.Byte(), 0, 10).Draw(t, "noise")
		n, frame, err := r.Split(append(noise, sealed(p)...))
		if err != nil || n != len(noise)+len(p)+2 {
			t.Fatalf("took %d, %v", n, err)
		}
		got, err := r.Decode(frame)
		if err != nil || !slices.Equal(got.Registers, regs) {
			t.Fatalf("%v, %v, want %v", got, err, regs)
		}
	})
}

func FuzzFraming(f *testing.F) {
	for _, x := range publishedFrames(f) {
		f.Add(unhex(f, x.Response), byte(3), uint16(3))
	}
	f.Fuzz(func(t *testing.T, got []byte, fn byte, quantity uint16) {
		r := Request{Address: 0x11, Function: Function(fn), Start: 1, Quantity: int(quantity%125) + 1,
			Registers: []uint16{uint16(quantity)}, Coils: []bool{quantity&1 == 1}}
		n, frame, err := r.Split(got)
		if n < 0 || n > len(got) || (n > 0) != (frame != nil) || err != nil && n > 0 {
			t.Fatalf("took %d, %x, %v", n, frame, err)
		}
		if n == 0 {
			return
		}
		if !checked(frame) || frame[0] != r.Address {
			t.Errorf("%x passed", frame)
		}
		var e Exception
		if _, err := r.Decode(frame); err != nil && !errors.As(err, &e) {
			t.Errorf("%x was found and not read: %v", frame, err)
		}
	})
}
