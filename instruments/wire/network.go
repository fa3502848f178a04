package wire

import (
	"context"
	"errors"
	"fmt"
	"net"
	"time"

	"sealworthy/instruments"
)

// dialWithin is how long a connection may take to come about. An instrument is in
// the same house.
const dialWithin = 3 * time.Second

// network opens tcp://host:port: a raw socket, as instruments with a network jack
// and converters from serial to network have.
func (o opener) network(ctx context.Context, name, address string) (instruments.Port, error) {
	fail := func(err error, hint string) error {
		return &instruments.PortError{Port: name, Op: "open", Err: err, Hint: hint}
	}
	if host, port, err := net.SplitHostPort(address); err != nil || host == "" || port == "" {
		return nil, fail(fmt.Errorf("%w: it is no address", ErrNoSuchPort),
			"write tcp://HOST:PORT, as tcp://192.168.1.20:5025")
	}
	unlock, err := lockPort(o.locks, name)
	if err != nil {
		return nil, err
	}
	d := net.Dialer{Timeout: dialWithin}
	conn, err := d.DialContext(ctx, "tcp", address)
	if err != nil {
		err = fail(fmt.Errorf("%w: %w", ErrNoSuchPort, err),
			"is the instrument on, its network cable in, and the number after the colon the one that its manual "+
				"names? "+
				"Many take one connection at a time")
		return nil, errors.Join(err, unlock())
	}
	return newPort(o.c, &networkStream{Conn: conn, unlock: unlock}, nil, nil, name, 0), nil
}

// networkStream is a connection that gives its lock back when it is closed.
type networkStream struct {
	net.Conn
	unlock func() error
}

// Close ends the read under way.
func (s *networkStream) Close() error { return errors.Join(s.Conn.Close(), s.unlock()) }
