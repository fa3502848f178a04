package modbus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"
)

// Function is a Modbus function code (Modbus Application Protocol V1.1b3, section 6).
type Function byte

// The functions that are used here.
const (
	ReadCoils      Function = 0x01
	ReadInputs     Function = 0x02
	ReadHolding    Function = 0x03
	ReadInputRegs  Function = 0x04
	WriteCoil      Function = 0x05
	WriteRegister  Function = 0x06
	WriteCoils     Function = 0x0F
	WriteRegisters Function = 0x10
)

// The limits of one frame (Modbus over Serial Line V1.02, 2.5.1; Application
// Protocol V1.1b3, sections 6.1 to 6.12).
const (
	longestFrame    = 256
	mostReadBits    = 2000
	mostReadRegs    = 125
	mostWriteBits   = 1968
	mostWriteRegs   = 123
	exceptionMarker = 0x80
	mostAddress     = 247
)

// CRC is CRC-16 with the reflected polynomial A001, preset to FFFF (Modbus over
// Serial Line V1.02, 6.2.2). On the wire its low byte comes first.
func CRC(p []byte) uint16 {
	crc := uint16(0xFFFF)
	for _, b := range p {
		crc ^= uint16(b)
		for range 8 {
			odd := crc&1 == 1
			crc >>= 1
			if odd {
				crc ^= 0xA001
			}
		}
	}
	return crc
}

func sealed(p []byte) []byte { return binary.LittleEndian.AppendUint16(p, CRC(p)) }

// checked tells whether a whole frame carries its own CRC.
func checked(frame []byte) bool {
	n := len(frame) - 2
	return n >= 2 && binary.LittleEndian.Uint16(frame[n:]) == CRC(frame[:n])
}

// Request is one question or setting. For reads Quantity says how many; for
// writes Registers or Coils say what.
type Request struct {
	Address   byte // of the server, 1 to 247
	Function  Function
	Start     uint16   // the first register or coil, as on the wire, from 0
	Quantity  int      // of registers or coils
	Registers []uint16 // their values, in order
	Coils     []bool   // their values, in order
}

// Encode makes the frame of a request.
func (r Request) Encode() ([]byte, error) {
	if r.Address < 1 || r.Address > mostAddress {
		return nil, fmt.Errorf("modbus address %d is outside 1 to %d", r.Address, mostAddress)
	}
	p, err := r.unsealed()
	if err != nil {
		return nil, err
	}
	return sealed(p), nil
}

// unsealed is the address and what the request says, the same in every framing.
func (r Request) unsealed() ([]byte, error) {
	p := binary.BigEndian.AppendUint16([]byte{r.Address, byte(r.Function)}, r.Start)
	n := r.count()
	if n < 1 || n > r.most() || int(r.Start)+n > 0x10000 {
		return nil, fmt.Errorf("modbus function %d can't carry %d values from %d", r.Function, n, r.Start)
	}
	switch r.Function {
	case ReadCoils, ReadInputs, ReadHolding, ReadInputRegs:
		p = binary.BigEndian.AppendUint16(p, uint16(n))
	case WriteCoil:
		v := uint16(0)
		if r.Coils[0] {
			v = 0xFF00
		}
		p = binary.BigEndian.AppendUint16(p, v)
	case WriteRegister:
		p = binary.BigEndian.AppendUint16(p, r.Registers[0])
	case WriteCoils:
		p = binary.BigEndian.AppendUint16(p, uint16(n))
		p = append(append(p, byte((n+7)/8)), packBits(r.Coils)...)
	case WriteRegisters:
		p = binary.BigEndian.AppendUint16(p, uint16(n))
		p = append(p, byte(2*n))
		for _, v := range r.Registers {
			p = binary.BigEndian.AppendUint16(p, v)
		}
	}
	return p, nil
}

func (r Request) count() int {
	switch r.Function {
	case WriteCoil, WriteCoils:
		return len(r.Coils)
	case WriteRegister, WriteRegisters:
		return len(r.Registers)
	}
	return r.Quantity
}

func (r Request) most() int {
	switch r.Function {
	case ReadCoils, ReadInputs:
		return mostReadBits
	case ReadHolding, ReadInputRegs:
		return mostReadRegs
	case WriteCoil, WriteRegister:
		return 1
	case WriteCoils:
		return mostWriteBits
	case WriteRegisters:
		return mostWriteRegs
	}
	return 0
}

// Exception is a server's refusal (Application Protocol V1.1b3, section 7).
type Exception struct {
	Function Function
	Code     byte // 1 to 4 and more, see Error
}

var exceptionNames = map[byte]string{
	1: "illegal function", 2: "illegal data address", 3: "illegal data value", 4: "server device failure",
	5: "acknowledge", 6: "server device busy", 8: "memory parity error",
	10: "gateway path unavailable", 11: "gateway target device failed to respond",
}

func (e Exception) Error() string {
	name := exceptionNames[e.Code]
	if name == "" {
		name = "unknown"
	}
	return fmt.Sprintf("modbus exception %d to function %d: %s", e.Code, e.Function, name)
}

// Response is what a server answered.
type Response struct {
	Registers []uint16 // of a register read
	Coils     []bool   // of a bit read
}

// errTooLong is noise without any frame in it.
var errTooLong = errors.New("no frame in it")

// Split finds the response to r: its address, its function or that with the
// exception bit, the length that r asks for, the echo of a write, and the CRC.
// Bytes before it are stepped over. It has the form of an exchange.Split.
func (r Request) Split(got []byte) (n int, frame []byte, err error) {
	for i := range got {
		rest := got[i:]
		if rest[0] != r.Address {
			continue
		}
		if len(rest) < 2 {
			break
		}
		length := 0
		switch {
		case rest[1] == byte(r.Function)|exceptionMarker:
			length = 5
		case rest[1] == byte(r.Function):
			length = r.responseLength()
		}
		if length == 0 || len(rest) < length {
			continue
		}
		if f := rest[:length]; checked(f) && r.fits(f) {
			return i + length, f, nil
		}
	}
	if len(got) > 2*longestFrame {
		return 0, nil, errTooLong
	}
	return 0, nil, nil
}

func (r Request) responseLength() int {
	switch r.Function {
	case ReadCoils, ReadInputs:
		return 5 + (r.Quantity+7)/8
	case ReadHolding, ReadInputRegs:
		return 5 + 2*r.Quantity
	}
	return 8
}

// fits compares what a response repeats of its request.
func (r Request) fits(f []byte) bool {
	if f[1]&exceptionMarker != 0 {
		return f[2] != 0
	}
	switch r.Function {
	case ReadCoils, ReadInputs, ReadHolding, ReadInputRegs:
		return int(f[2]) == len(f)-5
	}
	if binary.BigEndian.Uint16(f[2:]) != r.Start {
		return false
	}
	v := binary.BigEndian.Uint16(f[4:])
	switch r.Function {
	case WriteCoil:
		return v == 0xFF00 && r.Coils[0] || v == 0 && !r.Coils[0]
	case WriteRegister:
		return v == r.Registers[0]
	}
	return int(v) == r.count()
}

// Decode reads a response that Split found. A refusal is an Exception.
func (r Request) Decode(f []byte) (Response, error) {
	if len(f) < 5 || !checked(f) {
		return Response{}, errors.New("not a whole frame")
	}
	if f[1] == byte(r.Function)|exceptionMarker {
		return Response{}, Exception{r.Function, f[2]}
	}
	if f[0] != r.Address || f[1] != byte(r.Function) || len(f) != r.responseLength() || !r.fits(f) {
		return Response{}, errors.New("not the response to this request")
	}
	body := f[3 : len(f)-2]
	var out Response
	switch r.Function {
	case ReadCoils, ReadInputs:
		for i := range r.Quantity {
			out.Coils = append(out.Coils, body[i/8]>>(i%8)&1 == 1)
		}
	case ReadHolding, ReadInputRegs:
		for i := range r.Quantity {
			out.Registers = append(out.Registers, binary.BigEndian.Uint16(body[2*i:]))
		}
	}
	return out, nil
}

func packBits(bits []bool) []byte {
	out := make([]byte, (len(bits)+7)/8)
	for i, b := range bits {
		if b {
			out[i/8] |= 1 << (i % 8)
		}
	}
	return out
}

// FrameGap is the silence between frames, t3.5: 3.5 characters of 11 bits up to
// 19200 bit/s, 1.75 ms above (Modbus over Serial Line V1.02, 2.5.1.1). It bounds
// frames when sending; received frames are told by length and CRC.
func FrameGap(baud int) time.Duration {
	if baud <= 0 || baud > 19200 {
		return 1750 * time.Microsecond
	}
	return time.Duration(3.5 * 11 / float64(baud) * float64(time.Second))
}
