package main

import (
	"flag"
	"strings"

	"sealworthy/cmd/sealworthy/session"
)

// answerFlags give the same answers unattended: a flag given is a question not
// asked.
type answerFlags struct {
	seen, adapter      string
	client, look       string
	reversed           bool
	open, loaded, ohms float64
}

func (a *answerFlags) declare(f *flag.FlagSet) {
	f.StringVar(&a.seen, "seen", "", `what you saw by eye: "nothing", or what`)
	f.StringVar(&a.client, "client-said", "", "what the client said is wrong, in their `words`")
	f.StringVar(&a.look, "look", "", "what you saw of its lights, warm and lit: \"all right\", or `words` as \"bow: "+
		"2 dark, mast: not seen\"; what isn't named is all right")
	f.StringVar(&a.adapter, "adapter", "", `the client's adapter: "sent", "not sent" or "don't know"`)
	f.BoolVar(&a.reversed, "adapter-reversed", false, "its plug has plus where minus belongs; =false: it hasn't")
	f.Float64Var(&a.open, "adapter-volts", 0, "its `volts` with nothing on it")
	f.Float64Var(&a.loaded, "adapter-loaded", 0, "its `volts` on a known resistor")
	f.Float64Var(&a.ohms, "adapter-load", 0, "that resistor in `ohm`")
}

// answers gives those of the flags that were given.
func (a *answerFlags) answers(f *flag.FlagSet) (session.ReturnAnswers, error) {
	out := session.ReturnAnswers{}
	f.Visit(func(x *flag.Flag) {
		switch x.Name {
		case "seen":
			out[session.AskEye] = strings.TrimSpace(a.seen)
		case "client-said":
			out[session.AskClient] = strings.TrimSpace(a.client)
		case "look":
			out[session.ToldLook] = strings.TrimSpace(a.look)
		case "adapter":
			out[session.AskAdapter] = a.adapter
		case "adapter-reversed":
			out[session.AskPolarity] = session.PlusRight
			if a.reversed {
				out[session.AskPolarity] = session.TurnedRound
			}
		case "adapter-volts":
			out[session.AskOpen] = session.NumberText(a.open)
		case "adapter-loaded":
			out[session.AskLoaded] = session.NumberText(a.loaded)
		case "adapter-load":
			out[session.AskLoad] = session.NumberText(a.ohms)
		}
	})
	said, given := out[session.AskAdapter]
	switch {
	case given && said != session.WasSent && said != session.NotSent && said != session.DontKnow:
		return nil, misuse("return", `--adapter is "sent", "not sent" or "don't know"`)
	case a.open < 0 || a.loaded < 0 || a.ohms < 0:
		return nil,
			misuse("return", "volts and ohms of the adapter can't be negative: turned round is --adapter-reversed")
	case a.loaded > 0 && a.ohms == 0:
		return nil, misuse("return", "--adapter-loaded needs the resistor: --adapter-load OHM")
	case given && said != session.WasSent && (a.open > 0 || a.loaded > 0 || a.reversed):
		return nil, misuse("return", "an adapter that is %s can't have been measured", said)
	}
	if !given && (a.open > 0 || a.loaded > 0 || a.reversed) {
		out[session.AskAdapter] = session.WasSent
	}
	return out, nil
}
