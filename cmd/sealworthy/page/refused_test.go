package page

import (
	"context"
	"errors"
	"html"
	"strings"
	"testing"

	"sealworthy/compare/plan"
)

// What isn't done has a short heading; what is wrong stands beneath, line by line, with what to do.
func TestRefusalsAreLaidOut(t *testing.T) {
	long := "the lightship Brackwater can't be opened, because something that nobody thought of stands in the way of it"
	for _, c := range []struct {
		err          error
		head, detail string
	}{
		{errors.New("no such build"), "No such build", ""},
		{errors.New(long), "That wasn't done", "The lightship Brackwater can't"},
		{errors.New("one\n\n  two"), "That wasn't done", "Two"},
		{&PlanError{Where: "/m/plan.toml", Problems: []plan.Problem{{Pos: plan.Pos{Line: 7}, What: "volts is no number",
			Instead: "write it as 12.0", Text: "volts = x"}}}, "The plan can't be read", ""},
	} {
		x := refusedOf(c.err)
		if x.What != c.head || !strings.Contains(strings.Join(x.Detail, "\n"), c.detail) {
			t.Errorf("%v: %+v", c.err, x)
		}
	}
}

// planless is a build whose plan is broken.
type planless struct{ *fakeWork }

func (planless) Overview(context.Context, string) (Overview, error) {
	return Overview{}, &PlanError{Where: "/m/plan.toml", Problems: []plan.Problem{
		{Pos: plan.Pos{Line: 7}, What: "volts is no number", Instead: "write it as 12.0", Text: "volts = x"},
		{Pos: plan.Pos{Line: 9}, What: `"lamp" is no part`}}}
}

func (planless) New(_ context.Context, name string) (string, error) {
	return "", &NameError{Name: name, Why: "is that of a build already", Better: name + " 2"}
}

func TestABrokenPlanAndATakenName(t *testing.T) {
	w := &fakeWork{name: "launch"}
	x := newSite(t, w, func(o *Options) { o.Work = planless{w} })
	cookie := x.enter()
	_, src := x.send(x.request("GET", "/build/b1", "", cookie))
	for _, want := range []string{"<h1>The plan can't be read</h1>",
		"<strong>Line 7.</strong> Volts is no number. Write it as 12.0.",
		"<strong>Line 9.</strong> \"lamp\" is no part.", "volts = x</pre>", "The file: /m/plan.toml"} {
		if !strings.Contains(html.UnescapeString(src), want) {
			t.Errorf("%q isn't in\n%s", want, src)
		}
	}
	_, src = x.send(x.request("POST", "/new", "name=Brackwater", cookie))
	for _, want := range []string{"<h1>It needs another name</h1>", `"Brackwater" is that of a build already.`,
		`name="name" value="Brackwater 2"`} {
		if !strings.Contains(html.UnescapeString(src), want) {
			t.Errorf("%q isn't in\n%s", want, src)
		}
	}
}
