package transcript

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"sealworthy/instruments/clock"
)

func TestPlaybackFailsOnWhatDiffers(t *testing.T) {
	ctx := context.Background()
	turns := []Turn{{"VOLT?\n", "12.0\n"}, {"CURR?\n", "0.1\n"}}
	for name, x := range map[string]struct {
		send []string
		read bool
		want string
	}{
		"as written": {[]string{"VOLT?\n", "CURR?\n"}, true, ""},
		"wrong byte": {[]string{"VOLT?\n", "CURX?\n"}, true, `sent "CURX?\n"`},
		"left over":  {[]string{"VOLT?\n"}, true, "left over"},
		"too much":   {[]string{"VOLT?\n", "CURR?\n", "X"}, true, "after the end"},
		"unread":     {[]string{"VOLT?\n", "CURR?\n"}, false, "never read"},
	} {
		c := clock.NewSimulated(time.Unix(0, 0))
		rec := &Record{Port: NewPlayback(c, turns...)}
		for _, s := range x.send {
			if err := rec.Write(ctx, []byte(s)); err != nil {
				t.Fatal(err)
			}
			if x.read {
				var b [20]byte
				_, _ = rec.ReadUntil(ctx, b[:], c.Now().Add(time.Second))
			}
		}
		err := rec.Close()
		if (err == nil) != (x.want == "") || err != nil && !strings.Contains(err.Error(), x.want) {
			t.Errorf("%s: %v", name, err)
		}
		if got := rec.Turns(); x.read && got[0] != turns[0] {
			t.Errorf("%s: noted %v", name, got)
		}
	}
}

func TestPlaybackIsSilentToTheDeadline(t *testing.T) {
	c := clock.NewSimulated(time.Unix(0, 0))
	var b [1]byte
	_, err := NewPlayback(c).ReadUntil(context.Background(), b[:], c.Now().Add(time.Second))
	if !errors.Is(err, clock.ErrDeadline) || c.Now() != time.Unix(1, 0).UTC() && !c.Now().Equal(time.Unix(1, 0)) {
		t.Errorf("%v at %v", err, c.Now())
	}
}
