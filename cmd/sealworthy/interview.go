package main

import (
	"bufio"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
)

// interview asks one question after another and remembers each answer, so that it
// can be stopped, gone on with, and taken back: the same questions with the same
// answers lead to the same place.
type interview struct {
	e       env
	in      *bufio.Scanner
	file    string          // where the answers are kept meanwhile
	answers []string        // all so far
	next    int             // the one that comes next; behind the last one the maker is asked
	said    map[string]bool // the heads over choices that were on this screen before
	leaf    bool            // it's asked on a page: the question that is open is left in open
	open    query
	about   string // the group that is asked about; a terminal shows it above, a page beside the question
}

// Ways out of a question.
var (
	errBack    = errors.New("one question back")
	errLeave   = errors.New("stopped by the maker")
	errNoInput = errors.New("the input ended before the last question")
	errOpen    = errors.New("a question is open")
)

// answersHead stands over the answers, so that their file is known for what it is.
const answersHead = "# Answers to \"sealworthy new --ask\", which goes on with them and takes this file away\n"

// answersFormat says to which questions they are answers. It goes up when a question is
// put in, taken out or moved: what was said to another would be taken for an answer.
const answersFormat = "# format 2\n"

// strangeAnswersError: a file of answers can't be gone on with.
type strangeAnswersError struct{ file, why string }

func (e *strangeAnswersError) Error() string { return e.file + " " + e.why }

// newInterview goes on with the answers of a folder, if there are any.
func newInterview(e env, file string) (*interview, error) {
	v := &interview{e: e, in: bufio.NewScanner(e.stdin), file: file, said: map[string]bool{}}
	src, err := readFile(file, mostBytes)
	if errors.Is(err, fs.ErrNotExist) {
		return v, nil
	}
	if err != nil {
		return nil, err
	}
	if !isSealed(src) {
		return nil, withHint(&strangeAnswersError{file, "isn't as this program left it"}, "move it away to begin anew")
	}
	if !strings.Contains(string(src), "\n"+answersFormat) {
		return nil, withHint(&strangeAnswersError{file, "is of another version of this program, which asked other questions"},
			"go on with that version, or move the file away to begin anew")
	}
	for _, l := range strings.Split(string(src), "\n") {
		var a string
		if strings.HasPrefix(l, `"`) && json.Unmarshal([]byte(l), &a) == nil {
			v.answers = append(v.answers, a)
		}
	}
	return v, nil
}

// keep writes the answers down.
func (v *interview) keep() error {
	var s strings.Builder
	s.WriteString(answersHead + answersFormat)
	for _, a := range v.answers {
		b, err := json.Marshal(a)
		if err != nil {
			return err
		}
		s.Write(b)
		s.WriteByte('\n')
	}
	return writeMade(v.file, writeBytes([]byte(s.String())))
}

// asked: the maker is at a question, not an answer that was given before.
func (v *interview) asked() bool { return v.next >= len(v.answers) }

// query is one question of an interview.
type query struct {
	text     string
	help     string              // for ?
	choices  []string            // numbered from 1 below it
	brief    []string            // choices as they stand under their heads; nil: as elsewhere
	heads    map[int]string      // what stands over a choice, by its place from 0
	named    bool                // beside its number the name of a choice is an answer
	fallback string              // what Enter alone stands for, where hasFall
	hasFall  bool                // Enter alone is an answer
	check    func(string) string // says why an answer won't do; "" when it does; nil: any
}

// ask gives the answer to a question: that of before, or what the maker types now.
func (v *interview) ask(q query) (string, error) {
	if !v.asked() {
		a := v.answers[v.next]
		if q.check == nil || q.check(a) == "" {
			v.next++
			return a, nil
		}
		v.answers = v.answers[:v.next] // what it hung on has changed: asked anew
	}
	if v.leaf {
		v.open = q
		return "", errOpen
	}
	v.say(q)
	for {
		fmt.Fprint(v.e.stdout, "> ")
		if !v.in.Scan() {
			fmt.Fprintln(v.e.stdout)
			return "", errNoInput
		}
		a := strings.TrimSpace(v.in.Text())
		if !isTerminal(v.e.stdin) {
			fmt.Fprintln(v.e.stdout, a) // nothing else shows what was answered
		}
		switch {
		case stops(a):
			return "", errLeave
		case a == "u":
			return "", errBack
		case a == "?":
			wrap(v.e.stdout, "  ? ", "    ",
				q.typing()+cmp.Or(q.help, "Answer as the question says; Enter takes what stands in [ ].")+
					" u goes one question back, q stops here; what you said is kept.")
			continue
		}
		a, why := q.take(a)
		if why != "" {
			wrap(v.e.stdout, "  ? ", "    ", why)
			continue
		}
		v.answers = append(v.answers, a)
		v.next++
		return a, v.keep()
	}
}

// take is what an answer stands for; why, where it won't do.
func (q query) take(a string) (answer, why string) {
	switch {
	case a == "" && !q.hasFall:
		return "", "This needs an answer; ? tells more."
	case a == "":
		a = q.fallback
	}
	if q.check != nil {
		why = q.check(a)
	}
	return a, why
}

// typing says how a choice is typed; a page has them as buttons.
func (q query) typing() string {
	switch {
	case q.choices == nil:
		return ""
	case q.named:
		return "By its number, or its name. "
	}
	return "By its number. "
}

func (v *interview) say(q query) {
	text := q.text
	if q.hasFall && q.fallback != "" {
		text += " [" + q.fallback + "]"
	}
	fmt.Fprintln(v.e.stdout)
	wrap(v.e.stdout, "", "  ", text)
	fresh := v.anyFresh(q.heads)
	for i, c := range q.listed(fresh) {
		if h := q.heads[i]; h != "" && fresh {
			wrap(v.e.stdout, "      ", "      ", h+":")
		}
		wrap(v.e.stdout, fmt.Sprintf("  %2d  ", i+1), "        ", c)
	}
}

// listed are the choices, with what stands over them or without.
func (q query) listed(heads bool) []string {
	if heads && q.brief != nil {
		return q.brief
	}
	return q.choices
}

// anyFresh: of what stands over choices something wasn't said yet. A list that was is
// its numbers and names alone the next time; one is never said in part, or choices
// would stand under what isn't theirs.
func (v *interview) anyFresh(heads map[int]string) bool {
	fresh := false
	for _, h := range heads {
		fresh = fresh || !v.said[h]
		v.said[h] = true
	}
	return fresh
}

// run asks until the questions are through; "u" begins them anew with one answer less.
func (v *interview) run(questions func(*interview) error) error {
	for {
		v.next = 0
		err := questions(v)
		if !errors.Is(err, errBack) {
			return err
		}
		if len(v.answers) > 0 {
			v.answers = v.answers[:len(v.answers)-1]
		}
		if err := v.keep(); err != nil {
			return err
		}
	}
}

// answersFile is where the answers of a build in the making are kept.
func answersFile(dir string) string { return filepath.Join(dir, "new.answers") }
