package main

import (
	"context"
	_ "embed"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/instruments/profile"
)

//go:embed completion/sealworthy.bash
var bashCompletion string

//go:embed completion/sealworthy.zsh
var zshCompletion string

//go:embed completion/sealworthy.fish
var fishCompletion string

//go:embed completion/sealworthy.ps1
var powershellCompletion string

const completionHelp = `sealworthy completion bash|zsh|fish|powershell

Prints what lets a shell complete verbs, flags, and the names of closures and
groups of the build that is typed.

  bash, a line in ~/.bashrc:
    source <(sealworthy completion bash)
  zsh, a line in ~/.zshrc:
    source <(sealworthy completion zsh)
  fish, once:
    cd ~/.config/fish/completions
    sealworthy completion fish > sealworthy.fish
  PowerShell, a line in $PROFILE:
    sealworthy completion powershell | Out-String | Invoke-Expression

--words prints one line for each word that may stand next, for other shells:
sealworthy completion --words -- measure brackwater --closure ""`

func runCompletion(ctx context.Context, e env, args []string) (int, error) {
	f := newFlags(e, "completion", completionHelp)
	words := f.Bool("words", false, "print what the last of the words behind -- may become")
	newWord := f.Bool("new-word", false, "behind the words a new one begins, of which nothing is typed yet")
	before, typed := args, []string(nil)
	if i := slices.Index(args, "--"); i >= 0 {
		before, typed = args[:i], args[i+1:]
	}
	rest, err := parse(f, before, -1)
	if err != nil {
		return exitUsage, err
	}
	if *words {
		if *newWord {
			typed = append(slices.Clone(typed), "")
		}
		for _, w := range completed(ctx, e, typed) {
			fmt.Fprintln(e.stdout, w)
		}
		return exitReady, nil
	}
	scripts := map[string]string{"bash": bashCompletion, "zsh": zshCompletion, "fish": fishCompletion,
		"powershell": powershellCompletion}
	if len(rest) != 1 || scripts[rest[0]] == "" {
		return exitUsage, misuse("completion", "takes one of bash, zsh, fish, powershell")
	}
	fmt.Fprint(e.stdout, scripts[rest[0]])
	return exitReady, nil
}

// completed are the words that the last of the typed ones may become.
func completed(ctx context.Context, e env, typed []string) []string {
	if len(typed) == 0 {
		typed = []string{""}
	}
	last := typed[len(typed)-1]
	var known []string
	if len(typed) == 1 {
		known = verbNames()
	} else {
		known = wordsOf(ctx, e, typed[0], typed[1:len(typed)-1], last)
	}
	var out []string
	for _, k := range known {
		if strings.HasPrefix(k, last) && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	sort.Strings(out)
	return out
}

// wordsOf are the words that may stand behind others of a verb.
func wordsOf(ctx context.Context, e env, verb string, before []string, last string) []string {
	flags := flagsTaken(ctx, e, verb)
	if n := len(before); n > 0 && strings.HasPrefix(before[n-1], "-") {
		f := flags[strings.TrimLeft(before[n-1], "-")]
		if f != nil && !isSwitch(f) {
			return valuesOf(e, f, buildNear(e, before))
		}
	}
	if strings.HasPrefix(last, "-") {
		var out []string
		for name := range flags {
			out = append(out, "--"+name)
		}
		return out
	}
	switch verb {
	case "help":
		return append(verbNames(), topicNames()...)
	case "completion":
		return []string{"bash", "zsh", "fish", "powershell"}
	case "explain":
		var out []string
		_, all := explanations("")
		for _, x := range all {
			out = append(out, x.Name, x.Table)
		}
		return out
	case "part":
		return partNames(e)
	case "demo":
		return []string{"return"}
	case "new", "version", "ports":
		return nil
	}
	return buildsHere()
}

// flagsTaken are the flags of a verb, by name.
func flagsTaken(ctx context.Context, e env, name string) map[string]*flag.Flag {
	out := map[string]*flag.Flag{}
	v, ok := verbNamed(name)
	if !ok {
		return out
	}
	asked := e
	asked.stdout, asked.stderr = io.Discard, io.Discard
	asked.listing = func(fs *flag.FlagSet) { fs.VisitAll(func(f *flag.Flag) { out[f.Name] = f }) }
	_, _ = v(ctx, asked, []string{"-h"}) // it says that help was asked for
	return out
}

// isSwitch: a flag that takes no value.
func isSwitch(f *flag.Flag) bool {
	b, ok := f.Value.(interface{ IsBoolFlag() bool })
	return ok && b.IsBoolFlag()
}

// valuesOf are what a flag may be given, from the build where it names something of it.
func valuesOf(e env, f *flag.Flag, p *plan.Plan) []string {
	value, _ := flag.UnquoteUsage(f)
	switch value {
	case "stage":
		return []string{"loose", "fitted", "closed", "delivered", "returned"}
	case "format":
		return []string{"svg", "png", "pdf"}
	case "profile", "name":
		if f.Name == "profile" || f.Name == "meter-profile" {
			return profileNames(e)
		}
	}
	if p == nil {
		return nil
	}
	var out []string
	switch value {
	case "closure":
		for _, c := range p.Closures {
			out = append(out, c.Name)
		}
	case "group", "feed", "place":
		for _, g := range p.Groups {
			out = append(out, g.Name)
		}
		if value != "group" {
			for _, b := range p.Boards {
				out = append(out, b.Name)
			}
		}
		if value == "place" {
			for _, j := range p.Joints {
				out = append(out, j.Name)
			}
			out = append(out, "nothing")
		}
	}
	return out
}

// buildNear is the plan of the build that was typed, or of the folder that the maker
// stands in; nil: there is none, or it can't be read.
func buildNear(e env, typed []string) *plan.Plan {
	quiet := e
	quiet.stderr = io.Discard
	for _, t := range append(slices.Clone(typed), ".") {
		if _, err := os.Stat(filepath.Join(t, planFile)); err != nil {
			continue
		}
		if b, err := openBuild(quiet, t); err == nil {
			return b.plan
		}
	}
	return nil
}

// buildsHere are the folders beside that hold a build.
func buildsHere() []string {
	files, err := filepath.Glob(filepath.Join("*", planFile))
	if err != nil {
		return nil
	}
	var out []string
	for _, f := range files {
		out = append(out, filepath.Dir(f))
	}
	return out
}

func profileNames(e env) []string {
	folder := ""
	if dir, err := configDir(e); err == nil {
		folder = profileFolder(dir)
	}
	list, err := profile.List(folder)
	if err != nil {
		return nil
	}
	var out []string
	for _, x := range list {
		out = append(out, x.Name)
	}
	return out
}

func partNames(e env) []string {
	book, err := partBook(e)
	if err != nil || book == nil {
		book = plan.BuiltIn()
	}
	var out []string
	for _, p := range book.Parts() {
		out = append(out, p.Name)
	}
	return out
}
