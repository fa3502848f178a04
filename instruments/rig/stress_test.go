package rig_test

import (
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"sealworthy/instruments"
	"sealworthy/instruments/clock"
	"sealworthy/instruments/rig"
)

// Three drivers at once, hands that clip, press and pull cables, and a second
// goroutine that looks at the output. Nothing hangs, replies are whole, and
// time is the bench's own. Worth most under -race.
func TestStress(t *testing.T) {
	both(t, func(t *testing.T, memory bool) {
		c := clock.NewSimulated(start)
		b, err := rig.New(background, c, bench2(), rig.Options{MemoryPorts: memory, Buttons: []string{"beacon"}})
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		var parties sync.WaitGroup
		party := func(f func() error) {
			parties.Add(1)
			c.Go(func() {
				defer parties.Done()
				if err := f(); err != nil {
					t.Error(err)
				}
			})
		}
		// drive asks again and again, and finds the port anew when it is gone.
		drive := func(port func() string, commands ...string) func() error {
			return func() error {
				var u *user
				for n := 0; n < 40; n++ {
					if u == nil {
						p, err := b.Opener()(background, port(), line)
						if err != nil { // the cable is out
							c.Wait(background, nil, c.Now().Add(50*time.Millisecond))
							continue
						}
						u = &user{t: t, c: c, p: p}
					}
					err := u.p.Write(background, []byte(commands[n%len(commands)]+"\n"))
					if err == nil {
						var r string
						if r, err = u.tryReply(); err == nil && r == "" {
							return fmt.Errorf("empty reply")
						}
					}
					switch {
					case errors.Is(err, instruments.ErrPortGone):
						u.p.Close()
						u = nil
					case err != nil:
						return err
					}
				}
				if u != nil {
					return u.p.Close()
				}
				return nil
			}
		}
		party(drive(func() string { return b.Ports().Supply }, "VOLT 12;CURR 0.2;OUTP ON;*OPC?", "MEAS:CURR?",
			"*RST;*OPC?", "STAT:QUES:COND?"))
		party(drive(func() string { return b.Ports().Meter }, "READ?", "MEAS:VOLT:DC?", "CURR:NPLC 1;:READ?"))
		party(drive(func() string { return b.Ports().Relays }, "ROUT:CLOS (@1,3);*OPC?", "ROUT:OPEN:ALL;*OPC?",
			"ROUT:CLOS:STAT?"))
		party(func() error {
			for n := range 6 {
				c.Wait(background, nil, c.Now().Add(130*time.Millisecond))
				b.Connect("mast")
				b.Press("beacon")
				what := []string{rig.Meter, rig.Supply, rig.Relays}[n%3]
				if err := b.Unplug(what); err != nil {
					return err
				}
				c.Wait(background, nil, c.Now().Add(70*time.Millisecond))
				if _, err := b.Replug(what, n%2 == 0); err != nil {
					return err
				}
			}
			return nil
		})
		stop := make(chan struct{})
		var watch sync.WaitGroup
		watch.Go(func() {
			for {
				select {
				case <-stop:
					return
				default:
					if o := b.Output(); !o.On && o.Amps != 0 {
						t.Errorf("off, and %g A flow", o.Amps)
					}
					b.Outputs()
					b.Connected()
				}
			}
		})
		c.Outside(parties.Wait)
		close(stop)
		watch.Wait()
	})
}
