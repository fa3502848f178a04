package modbus

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// The header of a frame over TCP: transaction, protocol (0), length of what
// follows, unit (Modbus Messaging on TCP/IP Implementation Guide V1.0b, 3.1.3).
const (
	headerBytes = 7
	longestUnit = longestFrame - 2 // unit and what it says: a frame without its CRC
)

// EncodeTCP makes the frame of a request for a TCP connection. The response
// repeats the transaction, so that a late one can't pass for it.
func (r Request) EncodeTCP(transaction uint16) ([]byte, error) {
	body, err := r.unsealed()
	if err != nil {
		return nil, err
	}
	p := binary.BigEndian.AppendUint16(nil, transaction)
	p = binary.BigEndian.AppendUint16(p, 0)
	p = binary.BigEndian.AppendUint16(p, uint16(len(body)))
	return append(p, body...), nil
}

var errNoHeader = errors.New("no header of Modbus over TCP: is the converter one that passes RTU frames on? " +
	"Then write frames = \"rtu\"")

// SplitTCP gives the split that finds the response to r in this transaction.
// Responses of other transactions are stepped over. The reply is handed out in the
// form that Decode takes, with a CRC of our own.
func (r Request) SplitTCP(transaction uint16) func(got []byte) (n int, frame []byte, err error) {
	return func(got []byte) (int, []byte, error) {
		at := 0
		for {
			rest := got[at:]
			if len(rest) < headerBytes {
				return 0, nil, nil
			}
			length := int(binary.BigEndian.Uint16(rest[4:]))
			if binary.BigEndian.Uint16(rest[2:]) != 0 || length < 3 || length > longestUnit {
				return 0, nil, errNoHeader
			}
			whole := headerBytes - 1 + length
			if len(rest) < whole {
				return 0, nil, nil
			}
			at += whole
			if binary.BigEndian.Uint16(rest) != transaction {
				continue
			}
			frame := sealed(append([]byte{}, rest[headerBytes-1:whole]...))
			if !r.answeredBy(frame) {
				return 0, nil,
					fmt.Errorf("% x is no response to function %d of unit %d", rest[headerBytes-1:whole], r.Function,
						r.Address)
			}
			return at, frame, nil
		}
	}
}

// answeredBy tells whether a frame is a response to r, or its refusal.
func (r Request) answeredBy(frame []byte) bool {
	length := 0
	switch frame[1] {
	case byte(r.Function) | exceptionMarker:
		length = 5
	case byte(r.Function):
		length = r.responseLength()
	}
	return frame[0] == r.Address && len(frame) == length && r.fits(frame)
}
