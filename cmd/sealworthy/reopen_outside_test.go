package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"testing"

	"sealworthy/capture"
	"sealworthy/cmd/sealworthy/session"
	"sealworthy/instruments"
	"sealworthy/instruments/bench"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/outside"
	"sealworthy/instruments/wire"
)

// byOthers puts up an instrument on a raw socket that was written from the standards by one
// who hadn't seen the drivers, with an identity of its own, and gives its port.
func byOthers(t *testing.T, kind, identity string) string {
	t.Helper()
	outside.Need(t, "python3", "json, socket", "python3")
	return "tcp://127.0.0.1:" + outside.Start(t, false, "python3", "../../instruments/suite/testdata/scpi_peer.py",
		"--listen", kind, "", identity).Line(t)
}

// says has a conversation with an instrument beside the drivers: what isn't a question has
// no answer.
func says(t *testing.T, port string, messages ...string) (answers string) {
	t.Helper()
	c, err := net.Dial("tcp", strings.TrimPrefix(port, "tcp://"))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	in := bufio.NewReader(c)
	for _, m := range messages {
		if _, err := fmt.Fprintf(c, "%s\n", m); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(m, "?") {
			continue
		}
		s, err := in.ReadString('\n')
		if err != nil {
			t.Fatal(err)
		}
		answers += strings.TrimSpace(s)
	}
	return answers
}

// Under the name of a port another instrument answers, by another hand: the same make with
// another serial number, and a supply that is live on somebody's bench. Neither is taken,
// nothing of the stranger's is set or switched, and the right one is taken when it's back.
func TestAStrangerByAnotherHand(t *testing.T) {
	t.Parallel()
	const ours, theirs = "INVENTED WORKS,BENCH,BK-0417,2.3", "INVENTED WORKS,BENCH,BK-0981,2.3"
	b, bg, c := gig(t), context.Background(), clock.Wall{}
	cfg, err := b.readBench()
	if err != nil {
		t.Fatal(err)
	}
	supply, meter := byOthers(t, "supply", ours), byOthers(t, "meter", ours)
	strangers := map[string]string{"the supply's port": byOthers(t, "supply", theirs),
		"the meter's port": byOthers(t, "meter", theirs)}
	at := map[string]string{"the supply's port": supply, "the meter's port": meter}
	machine := wire.Serial(c, nil, nil)
	w := session.World{Clock: c, Others: func() []string { return nil },
		Open: func(ctx context.Context, port string, l instruments.Line) (instruments.Port, error) {
			return machine(ctx, at[port], l)
		}}
	bs, err := session.OpenBench(bg, w, b.plan, cfg,
		bench.Overrides{SupplyPort: "the supply's port", MeterPort: "the meter's port"}, alone{})
	if err != nil {
		t.Fatal(err)
	}
	defer bs.Close()
	who := bs.Who()
	const live = "VOLT 5;CURR 0.5;OUTP ON"
	settings := []string{"SOUR:VOLT?", "SOUR:CURR?", "OUTP?"}
	says(t, strangers["the supply's port"], live)
	was := says(t, strangers["the supply's port"], settings...)
	if !strings.HasPrefix(was, "5.0000") || !strings.HasSuffix(was, "1") {
		t.Fatalf("the stranger's supply isn't live: %s", was)
	}
	reopened := bs.Supply
	for port, reopen := range map[string]func() error{
		"the supply's port": func() error {
			s, err := bs.ReopenSupply(bg)
			if err == nil {
				reopened = s
			}
			return err
		},
		"the meter's port": func() error { _, err := bs.ReopenMeter(bg); return err },
	} {
		own := at[port]
		at[port] = strangers[port]
		var stranger *capture.StrangerError
		if err := reopen(); !errors.As(err, &stranger) || stranger.Port != port ||
			!strings.Contains(stranger.Is, "BK-0981") || !strings.Contains(stranger.Was, "BK-0417") {
			t.Errorf("a stranger on %s: %v", port, err)
		}
		at[port] = own
		if err := reopen(); err != nil {
			t.Errorf("%s, the own one again: %v", port, err)
		}
	}
	if got := bs.Who(); got != who {
		t.Errorf("%q, want %q", got, who)
	}
	if is := says(t, strangers["the supply's port"], settings...); is != was {
		t.Errorf("the stranger's supply was at %s, and is at %s", was, is)
	}
	if err := reopened.Off(bg); err != nil {
		t.Error(err)
	}
}
