package suite_test

import (
	"encoding/binary"
	"math"
	"slices"

	"sealworthy/instruments/modbus"
)

// modbusFake is a server with the registers of the built-in Modbus profiles.
type modbusFake struct {
	shunt bool
	// few: it knows functions 3 and 6 only, says nothing to others, and has no
	// register behind its last one.
	few bool
	// coils: of a relay board that knows functions 1 and 5 only, and refuses others.
	coils bool
	// many: a supply that writes with function 16 only.
	many bool
}

func (*modbusFake) take(got []byte) (int, []byte) {
	if got[0] != 1 {
		return 1, nil
	}
	if len(got) < 8 {
		return 0, nil
	}
	n := 8
	if got[1] == 15 || got[1] == 16 {
		n = 9 + int(got[6])
	}
	if len(got) < n {
		return 0, nil
	}
	if modbus.CRC(got[:n-2]) != binary.LittleEndian.Uint16(got[n-2:]) {
		return 1, nil
	}
	return n, got[:n-2]
}

func (*modbusFake) spoil(p []byte) []byte {
	out := slices.Clone(p)
	out[len(out)/2] ^= 0x10
	return out
}

func (s *modbusFake) register(f *fake, n uint16) uint16 {
	round := func(x, scale float64) uint16 { return uint16(int64(math.Round(x / scale))) }
	if s.shunt {
		u := uint32(int64(math.Round(f.trueA / 1e-5)))
		if f.over {
			u = 0x7FFFFFFF
		}
		return map[uint16]uint16{0: uint16(u >> 16), 1: uint16(u), 2: round(f.trueV, 1e-3)}[n]
	}
	on := uint16(0)
	if f.on {
		on = 1
	}
	return map[uint16]uint16{0: round(f.volts, .01), 1: round(f.amps, .001), 2: round(f.trueV, .01),
		3: round(f.trueA, .001), 9: on, 10: round(f.ovp, .01), 11: round(f.ocp, .001)}[n]
}

func (s *modbusFake) write(f *fake, start, value uint16) {
	if to := map[uint16]*float64{0: &f.volts, 1: &f.amps, 10: &f.ovp, 11: &f.ocp}[start]; to != nil && !f.ignore {
		*to = float64(value) * map[uint16]float64{0: .01, 1: .001, 10: .01, 11: .001}[start]
	}
	if start == 9 && !f.ignore {
		f.on = value == 1
	}
}

func (s *modbusFake) answer(f *fake, m []byte) []byte {
	f.mu.Lock()
	defer f.mu.Unlock()
	start, value := binary.BigEndian.Uint16(m[2:]), binary.BigEndian.Uint16(m[4:])
	var out []byte
	switch {
	case s.coils && m[1] != 1 && m[1] != 5, s.many && m[1] == 6:
		out = []byte{m[0], m[1] | 0x80, 1}
	case m[1] == 5:
		out = m
		if c := int(start) + 1; !f.ignore {
			f.closed = slices.DeleteFunc(f.closed, func(x int) bool { return x == c })
			if value == 0xFF00 {
				f.closed = append(f.closed, c)
			}
			slices.Sort(f.closed)
		}
	case s.many && m[1] == 16:
		out = m[:6:6]
		written := binary.BigEndian.Uint16(m[7:])
		s.write(f, start, written)
	case s.few && m[1] != 3 && m[1] != 6:
		return nil
	case s.few && m[1] == 3 && int(start)+int(value) > 12:
		out = []byte{m[0], m[1] | 0x80, 2}
	case m[1] == 1:
		out = append(m[:2:2], byte((value+7)/8))
		bits := make([]byte, (value+7)/8)
		for _, c := range f.closed {
			if i := c - 1 - int(start); i >= 0 && i < int(value) {
				bits[i/8] |= 1 << (i % 8)
			}
		}
		out = append(out, bits...)
	case (m[1] == 3 || m[1] == 4) && (m[1] == 4) == s.shunt && int(start)+int(value) <= 32:
		out = append(m[:2:2], byte(2*value))
		for i := range value {
			out = binary.BigEndian.AppendUint16(out, s.register(f, start+i))
		}
	case m[1] == 3 || m[1] == 4:
		out = []byte{m[0], m[1] | 0x80, 2}
	case m[1] == 6:
		out = m
		s.write(f, start, value)
	case m[1] == 15:
		out = m[:6:6]
		if !f.ignore {
			f.closed = nil
			for i := range int(value) {
				if m[7+i/8]>>(i%8)&1 == 1 {
					f.closed = append(f.closed, i+1+int(start))
				}
			}
		}
	default:
		out = []byte{m[0], m[1] | 0x80, 1}
	}
	return binary.LittleEndian.AppendUint16(slices.Clone(out), modbus.CRC(out))
}
