package suite_test

import (
	"encoding/binary"
	"slices"
	"testing"

	"sealworthy/instruments/suite"
)

// tcpFake is a Modbus server behind a socket: what modbusFake says, in frames of the
// Messaging on TCP/IP guide, 3.1.3, written out once more here.
type tcpFake struct{ modbusFake }

func (*tcpFake) port() string { return "tcp://memory:502" }

// lines: half a frame waits for the rest, a stream has no silences.
func (*tcpFake) lines() {}

func (*tcpFake) take(got []byte) (int, []byte) {
	if len(got) < 6 {
		return 0, nil
	}
	n := 6 + int(got[4])<<8 + int(got[5])
	if len(got) < n {
		return 0, nil
	}
	return n, got[:n]
}

func (s *tcpFake) answer(f *fake, m []byte) []byte {
	serial := s.modbusFake.answer(f, m[6:])
	if serial == nil {
		return nil
	}
	unit := serial[:len(serial)-2] // without the CRC
	out := append([]byte{m[0], m[1], 0, 0}, byte(len(unit)>>8), byte(len(unit)))
	return append(out, unit...)
}

// spoil makes a frame of another protocol: TCP itself lets no bit be flipped.
func (*tcpFake) spoil(p []byte) []byte {
	out := slices.Clone(p)
	binary.BigEndian.PutUint16(out[2:], 1)
	return out
}

func TestContractOverTCP(t *testing.T) {
	for name, shunt := range map[string]bool{"modbus supply": false, "modbus shunt": true,
		"modbus relay board": false} {
		t.Run(name, func(t *testing.T) {
			suite.Run(t, func(t *testing.T) suite.Subject {
				p := load(t, name)
				f, x := putUp(t, p, &tcpFake{modbusFake{shunt: shunt}}, nil)
				return suite.Subject{Clock: f.c, Control: f, Meter: x.Meter, Supply: x.Supply, Relays: x.Relays,
					Timeout: p.Timeout()}
			})
		})
	}
}
