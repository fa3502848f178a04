package fault

import (
	"strings"
	"testing"
)

func TestPriorsTextReadsBackAsTheDefaults(t *testing.T) {
	text := PriorsText()
	p, problems := ParsePriors("priors.toml", []byte(text))
	if len(problems) > 0 {
		t.Fatalf("%v\n%s", problems, text)
	}
	if p != DefaultPriors() {
		t.Errorf("%+v, want the defaults", p)
	}
	for _, n := range p.fields() {
		if meanings[n.key] == "" {
			t.Errorf("%s has no meaning written beside it", n.key)
		}
	}
	if strings.Contains(text, "# \n") {
		t.Errorf("an empty comment:\n%s", text)
	}
}

func TestPriorsFileChangesOnlyWhatItSays(t *testing.T) {
	p, problems := ParsePriors("priors.toml",
		[]byte("none = 0.5\n[fault]\nopen_branch = 0.02\n[eye]\noverlooked = 0.1\n"))
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	want := DefaultPriors()
	want.None, want.Fault.OpenBranch, want.Eye.Overlooked = 0.5, 0.02, 0.1
	if p != want {
		t.Errorf("%+v, want %+v", p, want)
	}
}

func TestPriorsFileSaysWhereItIsWrong(t *testing.T) {
	for _, x := range []struct{ name, src, want string }{
		{"unknown key", "none = 0.8\n[fault]\nopen_brunch = 0.02\n",
			"p.toml:3:1: unknown key \"fault.open_brunch\"\n    open_brunch = 0.02\n    ^\n  write \"fault.open_branch\""},
		{"unknown table", "[fish]\nx = 1\n", `p.toml:1:2: unknown key "fish"`},
		{"out of range", "[fault]\n  open_branch = 1.5\n",
			`p.toml:2:3: fault.open_branch is 1.5: it must lie between 0 and 1`},
		{"inline", "eye = { overlooked = 0.9 }\n", `p.toml:1:9: eye.overlooked is 0.9`},
		{"text for a number", "none = \"much\"\n", `p.toml:1:8: `},
		{"not a number", "[joint]\nfeed_ohms = nan\n", `p.toml:2:1: joint.feed_ohms is NaN`},
		{"zero ohms", "[joint]\nfeed_ohms = 0.0\n", `p.toml:2:1: joint.feed_ohms is 0: it must lie above 0`},
		{"no value", "none =\n", `p.toml:1:`},
		{"not UTF-8", "none = 0.8 # \xff\n", `p.toml:1:1: this is not UTF-8`},
		{"infinite", "[fault]\nshort = inf\n", `p.toml:2:1: fault.short is +Inf`},
	} {
		t.Run(x.name, func(t *testing.T) {
			_, problems := ParsePriors("p.toml", []byte(x.src))
			if len(problems) == 0 || !strings.HasPrefix(problems[0].Error(), x.want) {
				t.Errorf("%v, want %s…", problems, x.want)
			}
		})
	}
}

func TestPriorsFileReportsAllAtOnce(t *testing.T) {
	_, problems := ParsePriors("p.toml", []byte("none = 2.0\n[fault]\nshort = -1.0\n[eye]\nfloor = 0.0\n"))
	if len(problems) != 3 {
		t.Errorf("%v, want three problems", problems)
	}
}

func TestValidateRefusesWhatNoProbabilityIs(t *testing.T) {
	p := DefaultPriors()
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	p.Fault.Short, p.Unknown = -1, 0
	if err := p.Validate(); err == nil || !strings.Contains(err.Error(), "fault.short") ||
		!strings.Contains(err.Error(), "unknown") {
		t.Errorf("%v, want both numbers named", err)
	}
}

func FuzzPriors(f *testing.F) {
	f.Add([]byte(PriorsText()))
	f.Add([]byte("none = 0.5\n[fault]\nopen_branch = 0.02\n"))
	f.Add([]byte("eye = { overlooked = 0.9 }"))
	f.Add([]byte("[fish]\nx = [1, {y = 2}]"))
	f.Add([]byte("\xef\xbb\xbfnone = nan"))
	f.Fuzz(func(t *testing.T, src []byte) {
		p, problems := ParsePriors("p.toml", src)
		if len(problems) == 0 {
			if err := p.Validate(); err != nil {
				t.Errorf("accepted, yet: %v", err)
			}
			return
		}
		for _, q := range problems {
			if q.Pos.Line < 1 || q.Pos.Column < 1 || q.What == "" || strings.Contains(q.Text, "\n") {
				t.Errorf("%+v", q)
			}
		}
	})
}
