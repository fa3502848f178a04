package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"

	"sealworthy/cmd/sealworthy/page"
)

// The questions of a page are those of new --ask: what the script answers there line by
// line comes to the same plan here, taken back and refused on the way, and through a
// second program in the middle of it.
func TestPageAsksAsNewDoes(t *testing.T) {
	t.Parallel()
	script, err := txtar.ParseFile("testdata/scripts/new_ask.txtar")
	must(t, err)
	file := map[string]string{}
	for _, f := range script.Files {
		file[f.Name] = string(f.Data)
	}
	dir := t.TempDir()
	work := func() *pageWork {
		return &pageWork{e: quiet(), w: machine(), dir: dir, flags: benchFlags{room: noRoom},
			sims: map[string]*simulatedBuild{}}
	}
	p, ctx := work(), t.Context()
	id, err := p.BeginAsking(ctx, "tram")
	must(t, err)
	x, err := p.Asked(ctx, id)
	must(t, err)
	if x.Question != "What feeds the model?" || len(x.Choices) != 4 || x.Usual != "1" || x.Nth != 0 {
		t.Fatalf("%+v", x)
	}
	refused, said, backs := 0, "", 0
	for _, part := range []string{"first", "second"} {
		for _, line := range strings.Split(strings.TrimSuffix(file[part], "\n"), "\n") {
			switch line {
			case "q", "?":
				continue
			case "u":
				backs++
				x, err = p.Back(ctx, id, x.Nth)
			default:
				if again, err := p.Reply(ctx, id, x.Nth-1, "amber"); err != nil || again.Nth != x.Nth {
					t.Fatalf("an answer to a question that is over: %+v %v", again, err)
				}
				x, err = p.Reply(ctx, id, x.Nth, line)
			}
			must(t, err)
			if x.Refused != "" {
				refused++
			}
			said += x.Said
		}
		if part == "first" {
			p = work()
			all, err := p.Unfinished(ctx)
			if err != nil || len(all) != 1 || all[0].ID != id || all[0].Name != "tram" {
				t.Fatalf("%+v %v", all, err)
			}
			if x, err = p.Asked(ctx, id); err != nil || x.Nth != 27 {
				t.Fatalf("gone on after %d answers: %v", x.Nth, err)
			}
		}
	}
	if x.Build != id {
		t.Fatalf("not through: %+v", x)
	}
	src, err := os.ReadFile(filepath.Join(dir, "tram", planFile))
	must(t, err)
	if string(src) != file["want.toml"] {
		t.Errorf("the plan is\n%s", src)
	}
	if refused != 4 || backs != 3 || !strings.Contains(said, ", all lit 9") || !strings.Contains(said,
		"WRONG") {
		t.Errorf("%d refused, %d taken back, said\n%s", refused, backs, said)
	}
	if all, err := p.Unfinished(ctx); err != nil || len(all) != 0 {
		t.Errorf("left: %v %v", all, err)
	}
	if _, err := p.BeginAsking(ctx, "tram"); err == nil || !strings.Contains(err.Error(), "already") {
		t.Errorf("begun over a plan: %v", err)
	}
	if _, err := p.Asked(ctx, id); err == nil {
		t.Error("an interview that is through goes on")
	}
}

// Answers that can't be gone on with are said to be so, and a tap begins anew: they are kept beside, each time.
func TestPageBeginsAskingAnew(t *testing.T) {
	t.Parallel()
	dir, ctx := t.TempDir(), t.Context()
	p := &pageWork{e: quiet(), w: machine(), dir: dir, flags: benchFlags{room: noRoom},
		sims: map[string]*simulatedBuild{}}
	file := answersFile(filepath.Join(dir, "tram"))
	must(t, os.Mkdir(filepath.Dir(file), 0o777))
	for n, format := range []string{"", "# format 99\n"} {
		must(t, writeMade(file, writeBytes([]byte(answersHead+format+"\"\"\n\"12\"\n"))))
		was, err := os.ReadFile(file)
		must(t, err)
		id, err := p.BeginAsking(ctx, "tram")
		must(t, err)
		for what, do := range map[string]func() (page.Interview, error){
			"asked": func() (page.Interview, error) { return p.Asked(ctx, id) },
			"reply": func() (page.Interview, error) { return p.Reply(ctx, id, 0, "1") },
			"back":  func() (page.Interview, error) { return p.Back(ctx, id, 2) },
		} {
			x, err := do()
			if err != nil || !strings.Contains(x.Strange, "is of another version") || x.Question != "" || x.ID != id {
				t.Errorf("%s: %+v %v", what, x, err)
			}
		}
		if is, err := os.ReadFile(file); err != nil || string(is) != string(was) {
			t.Errorf("it's now %s, %v", is, err)
		}
		x, err := p.BeginAnew(ctx, id)
		if err != nil || x.Strange != "" || x.Question != "What feeds the model?" || x.Nth != 0 {
			t.Fatalf("anew: %+v %v", x, err)
		}
		if is, err := os.ReadFile(fmt.Sprintf("%s.%d", file, n+1)); err != nil || string(is) != string(was) {
			t.Errorf("kept beside: %s, %v", is, err)
		}
		if x, err = p.Reply(ctx, id, 0, "1"); err != nil || x.Nth != 1 {
			t.Fatalf("%+v %v", x, err)
		}
		if x, err = p.BeginAnew(ctx, id); err != nil || x.Nth != 1 { // these can be gone on with
			t.Errorf("%+v %v", x, err)
		}
		must(t, os.Remove(file))
	}
}
