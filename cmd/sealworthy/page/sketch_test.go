package page

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"sync"
	"testing"

	"sealworthy/compare/budget"
	"sealworthy/compare/plan"
)

// gig is a small plan with a maker's remarks.
const gig = `build = "Gig"   # the old one
[jack.main]
volts = 12.0
[closure.hull]
[joint.keel]
from = "main"
# the bow's lamps
[[group]]
name = "bow"
joint = "keel"
lights = [ { part = "red 1.8 mm", ohms = 470 } ]
[[group]]
name = "stern"
joint = "keel"
lights = [ { part = "strip warm white 12 V", segments = 3 } ]
`

// fakePlans is a plan's file in memory.
type fakePlans struct {
	mu    sync.Mutex
	src   string
	saved []string // what was said to have changed
	known PlanKnown
	fails error // nothing is written
	after error // comes once it's written

	reckoned int // plans
}

func (f *fakePlans) set(src string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.src = src
}

func (f *fakePlans) get() string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.src
}

func (f *fakePlans) Plan(context.Context, string) (PlanFile, error) {
	return PlanFile{Name: "Gig", Where: "plan.toml", Src: []byte(f.get())}, nil
}

func (f *fakePlans) PlanKnown(context.Context, string) (PlanKnown, error) { return f.known, nil }

func (f *fakePlans) SavePlan(_ context.Context, _ string, was, src []byte, changes []string) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.fails != nil {
		return f.fails
	}
	if f.src != string(was) {
		return ErrPlanChanged
	}
	f.src, f.saved = string(src), changes
	return f.after
}

func (f *fakePlans) Reckon(_ context.Context, _ string, p *plan.Plan) (Reckoned, error) {
	f.mu.Lock()
	f.reckoned++
	f.mu.Unlock()
	b, err := budget.Of(p, budget.At{}, 1)
	return Reckoned{Budget: b}, err
}

func (f *fakePlans) BuyList(_ context.Context, _ string, w io.Writer) error {
	_, err := io.WriteString(w, "two bags of red ones")
	return err
}

// planSite is a page with a plan, and a browser that was let in.
type planSite struct {
	*site
	plans  *fakePlans
	cookie string
}

func newPlanSite(t *testing.T, known PlanKnown) *planSite {
	t.Helper()
	f := &fakePlans{src: gig, known: known}
	x := newSite(t, &fakeWork{name: "Gig"}, func(o *Options) { o.Plans = f })
	return &planSite{x, f, x.enter()}
}

func (x *planSite) post(what string, form ...string) (int, string) {
	x.t.Helper()
	v := url.Values{}
	for i := 0; i < len(form); i += 2 {
		v.Set(form[i], form[i+1])
	}
	if !v.Has("draft") {
		_, src := x.send(x.request("GET", "/build/b1/plan?at=closure:hull", "", x.cookie))
		v.Set("draft", between(src, `name="draft" value="`, `"`))
	}
	a, src := x.send(x.request("POST", "/build/b1/plan/"+what, v.Encode(), x.cookie))
	return a.StatusCode, src
}

func between(s, from, to string) string {
	_, s, _ = strings.Cut(s, from)
	s, _, _ = strings.Cut(s, to)
	return s
}

func (x *planSite) does(what string, form ...string) {
	x.t.Helper()
	if status, src := x.post(what, form...); status != http.StatusSeeOther {
		x.t.Fatalf("%s: %d: %s", what, status, between(src, `<main`, `</main>`))
	}
}

func (x *planSite) refuses(says, what string, form ...string) string {
	x.t.Helper()
	status, src := x.post(what, form...)
	if text := strings.NewReplacer("&#34;", `"`, "&#39;", "'").Replace(src); status == http.StatusSeeOther ||
		!strings.Contains(text, says) {
		x.t.Fatalf("%s: %d, want %q: %s", what, status, says, between(src, `<main`, `</main>`))
	}
	return src
}

const bowOhms = "f group.bow.lights[0].ohms"

func TestPlanIsSavedAsOne(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	x.does("change", "at", "group:bow", bowOhms, "560 ohm", "f group.bow.see", "two red ones")
	x.does("add", "at", "joint:keel", "kind", "group", "on", "joint keel", "name", "mast", "part", "smd red 12 V")
	x.does("remove", "at", "group:stern")
	x.does("undo")
	if x.plans.get() != gig {
		t.Fatal("something was written before it was saved")
	}
	x.does("save")
	want := strings.Replace(gig, "ohms = 470 } ]\n", "ohms = 560 } ]\nsee = \"two red ones\"\n", 1) +
		"[[group]]\nname = \"mast\"\njoint = \"keel\"\nlights = [{ part = \"smd red 12 V\" }]\n"
	if got := x.plans.get(); got != want {
		t.Errorf("saved:\n%s", got)
	}
	if len(x.plans.saved) != 2 || !strings.Contains(x.plans.saved[0], "group bow: resistor 560 ohm") {
		t.Errorf("said: %q", x.plans.saved)
	}
}

// The file changed while a draft was on the page: nothing of it is written over, both
// versions are shown, and the changes can be made on what is there now.
func TestPlanChangedInAnEditor(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	x.does("change", "at", "group:bow", bowOhms, "560")
	edited := strings.Replace(gig, "segments = 3", "segments = 4", 1)
	x.plans.set(edited)
	src := x.refuses("The file was changed meanwhile", "save")
	if x.plans.get() != edited || !strings.Contains(src, "segments = 4") || !strings.Contains(src, "ohms = 560") {
		t.Fatal("written over, or not shown")
	}
	x.does("again")
	x.does("save")
	if want := strings.Replace(edited, "ohms = 470", "ohms = 560", 1); x.plans.get() != want {
		t.Errorf("saved:\n%s", x.plans.get())
	}
	x.does("change", "at", "group:bow", bowOhms, "680")
	x.plans.set(strings.Replace(gig, `name = "bow"`, `name = "bows"`, 1))
	x.refuses("can't be made on the file as it is now", "again")
	x.does("forget")
	x.does("remove", "at", "group:bows")
}

// A form of an earlier draft, as another tab has it, does nothing.
func TestPlanFormOfAnotherDraft(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	x.does("change", "at", "group:bow", bowOhms, "560")
	for _, what := range []string{"change", "remove", "add", "undo", "save", "forget", "again", "offer"} {
		x.refuses("an earlier draft", what, "draft", "0", "at", "group:bow", bowOhms, "680")
	}
	if x.plans.get() != gig {
		t.Error("written")
	}
}

// While a build is under test its plan stays as it is; another's can be saved.
func TestPlanStaysWhileItIsTested(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	x.does("change", "at", "group:bow", bowOhms, "560")
	x.send(x.request("POST", "/begin", "build=b1&verb=measure", x.cookie))
	if !x.s.bench.tests("b1") || x.s.bench.tests("b2") {
		t.Fatal("it isn't known which build is under test")
	}
	x.refuses("Nothing was saved: a test is under way already. Save it when that has ended.", "save")
	if x.plans.get() != gig {
		t.Error("it was written")
	}
	x.send(x.request("POST", "/stop", "", x.cookie))
	until(t, func() bool { return !x.s.bench.tests("b1") })
	x.does("save")
}

// A change that is saved, but of which the record doesn't tell, is said to be that: the
// draft is the file again, and nobody else is said to have changed it.
func TestPlanSavedNotNoted(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	x.does("change", "at", "group:bow", bowOhms, "560")
	x.plans.after = ErrNotNoted
	src := x.refuses("The plan is saved, but its record doesn't tell of the change", "save")
	if strings.Contains(src, "changed meanwhile") || strings.Contains(src, "not saved") {
		t.Errorf("it says that it isn't saved: %s", between(src, "<main", "</main>"))
	}
	if _, src := x.send(x.request("GET", "/build/b1/plan", "", x.cookie)); strings.Contains(src,
		"changed meanwhile") || strings.Contains(src, "not saved") {
		t.Errorf("later: %s", between(src, "<main", "</main>"))
	}
}

// What becomes of readings under a new name is said before it's done.
func TestPlanRenamesWhatWasMeasured(t *testing.T) {
	x := newPlanSite(t, PlanKnown{Measured: map[string]int{"bow": 3},
		Findings: &Findings{Offers: []Offer{{Edit: "group.stern.lights[0].segments = 4", For: "stern"},
			{Edit: "group.gone.lights[0].segments = 4", For: "gone"}}}})
	x.refuses(`3 readings are kept under the name "bow". They stay there`, "change", "at", "group:bow", "f group.bow",
		"fore peak")
	x.does("change", "at", "group:bow", "f group.bow", "fore peak", "sure", "1")
	x.does("undo")
	x.refuses("That isn't offered", "offer", "edit", "jack.main.volts = 24")
	if _, src := x.send(x.request("GET", "/build/b1/plan", "", x.cookie)); !strings.Contains(src,
		"<span>group stern: segments 4 <code") || !strings.Contains(src, "<span>gone: <code") {
		t.Errorf("the offer isn't in the words of its form: %s", between(src, "fits a change", "</section>"))
	}
	x.does("offer", "edit", "group.stern.lights[0].segments = 4")
	x.does("save")
	if want := strings.Replace(gig, "segments = 3", "segments = 4", 1); x.plans.get() != want {
		t.Errorf("saved:\n%s", x.plans.get())
	}
}

func TestPlanRefusesInThePlansWords(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	x.refuses(`The name of group "nothing" is an answer`, "change", "at", "group:bow", "f group.bow", "nothing")
	x.refuses("a number, as 470", "change", "at", "group:bow", bowOhms, "much")
	x.refuses("Nothing differs", "change", "at", "group:bow", bowOhms, "470")
	x.refuses("no group", "change", "at", "group:nobody", bowOhms, "470")
	x.refuses("needs a name", "add", "at", "joint:keel", "kind", "group", "on", "joint keel", "part", "smd red 12 V")
	x.refuses(`No part "no such"`, "add", "at", "joint:keel", "kind", "group", "on", "joint keel", "name", "x", "part",
		"no such")
	x.refuses("no jack", "remove", "at", "jack:main")
	x.plans.fails = errors.New("the disk is full")
	x.does("change", "at", "group:bow", bowOhms, "560")
	x.refuses("The disk is full", "save")
	if x.plans.get() != gig {
		t.Error("written")
	}
}

func TestPlanBuyListRunsNothing(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	a, src := x.send(x.request("GET", "/build/b1/buy", "", x.cookie))
	if p := a.Header.Get("Content-Security-Policy"); !strings.Contains(src, "two bags") ||
		strings.Contains(p, "script-src") || !strings.Contains(p, "default-src 'none'") {
		t.Errorf("%s, %q", src, p)
	}
	if a, _ := x.send(x.request("GET", "/build/b1/buy", "", "")); a.StatusCode != http.StatusUnauthorized {
		t.Errorf("without a cookie: %s", a.Status)
	}
}

// What is typed is answered without a change to the draft or the file.
func TestPlanTry(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	status, src := x.post("try", "at", "group:bow", bowOhms, "100")
	if status != http.StatusOK || !strings.Contains(src, `"group:bow"`) || !strings.Contains(src, "WRONG") {
		t.Errorf("%d: %s", status, src)
	}
	if _, src := x.post("try", "at", "group:bow", bowOhms, "much"); !strings.Contains(src, "understood") ||
		!strings.Contains(src, "21.0 mA") {
		t.Error(src)
	}
	if _, src := x.send(x.request("GET", "/build/b1/plan", "", x.cookie)); strings.Contains(src, "not saved") {
		t.Error("it's in the draft")
	}
}

// Who has gone while another held the draft gets nothing reckoned: the next key that is
// typed takes the question before it back.
func TestPlanGoneAsker(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	_, src := x.send(x.request("GET", "/build/b1/plan", "", x.cookie))
	form := url.Values{"draft": {between(src, `name="draft" value="`, `"`)}, "at": {"group:bow"},
		bowOhms: {"560"}}.Encode()
	before := x.plans.reckoned
	ctx, gone := context.WithCancel(t.Context())
	gone()
	for _, r := range []*http.Request{x.request("POST", "/build/b1/plan/try", form, x.cookie),
		x.request("GET", "/build/b1/plan", "", x.cookie), x.request("POST", "/build/b1/plan/change", form, x.cookie)} {
		x.s.Handler().ServeHTTP(httptest.NewRecorder(), r.WithContext(ctx))
	}
	if n := x.plans.reckoned - before; n != 0 {
		t.Errorf("reckoned %d times", n)
	}
	if _, src := x.send(x.request("GET", "/build/b1/plan", "", x.cookie)); strings.Contains(src, "not saved") {
		t.Error("the change of one who has gone was made")
	}
}

// page is the page with a place chosen.
func (x *planSite) page(at string) string {
	_, src := x.send(x.request("GET", "/build/b1/plan?at="+url.QueryEscape(at), "", x.cookie))
	return src
}

// What a joint holds is added from a card, changed by its field, taken out and undone.
func TestWhatAJointHolds(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	if s, _ := x.post("item", "at", "joint:keel", "list", "holds", "i part", "glass fuse", "i amps",
		"lots"); s != 422 {
		t.Errorf("a fuse for lots: %d", s)
	}
	if s, body := x.post("item", "at", "joint:keel", "list", "holds", "i part", "glass fuse", "i amps",
		"0.75"); s != 303 {
		t.Fatalf("%d %s", s, body)
	}
	page := x.page("joint:keel")
	for _, want := range []string{"Glass fuse 0.75 A", `name="f joint.keel.holds[0].amps" value="0.75"`,
		"Take out: glass fuse 0.75 A", `href="#part-fuse"`,
		"through glass fuse"} {
		if !strings.Contains(page, want) {
			t.Errorf("%q isn't on the page", want)
		}
	}
	if s, _ := x.post("change", "at", "joint:keel", "f joint.keel.holds[0].amps", "1.5", "f joint.keel.holds[0].fuse",
		"blade"); s != 303 {
		t.Errorf("changed: %d", s)
	}
	if s, _ := x.post("takeout", "at", "joint:keel", "item", "joint.keel.holds[0]"); s != 303 {
		t.Errorf("taken out: %d", s)
	}
	if s, _ := x.post("undo", "at", "joint:keel"); s != 303 {
		t.Errorf("undone: %d", s)
	}
	if s, _ := x.post("save", "at", "joint:keel"); s != 303 {
		t.Errorf("saved: %d", s)
	}
	if got := x.plans.get(); !strings.Contains(got, `holds = [{ fuse = "blade", amps = 1.5 }]`) ||
		!strings.Contains(got, "# the bow's lamps") {
		t.Errorf("saved\n%s", got)
	}
}

// A second kind of light of a group.
func TestASecondKindOfLight(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	if s, body := x.post("item", "at", "group:bow", "list", "lights", "i part", "smd red 12 V", "i count",
		"3"); s != 303 {
		t.Fatalf("%d %s", s, body)
	}
	page := x.page("group:bow")
	if !strings.Contains(page, `name="f group.bow.lights[1].count" value="3"`) || !strings.Contains(page,
		"Take out: the 3 pieces of smd red 12 V") {
		t.Errorf("%s", page)
	}
	if s, _ := x.post("takeout", "at", "group:bow", "item", "group.bow.lights[5]"); s != 422 {
		t.Errorf("what isn't there was taken out: %d", s)
	}
	if s, _ := x.post("takeout", "at", "group:bow", "item", "group.bow.lights[0]"); s != 303 {
		t.Errorf("taken out: %d", s)
	}
}

// What was filled in to add a group stays where it's refused, in its open block; the address under which that stands
// leads back to the plan.
func TestRefusedAddKeepsWhatWasFilledIn(t *testing.T) {
	x := newPlanSite(t, PlanKnown{})
	src := x.refuses("stern", "add", "at", "joint:keel", "kind", "group", "on", "joint keel", "name", "stern",
		"count", "7", "part", "smd red 12 V")
	form := between(src, `<details class="add" open>`, "</details>\n")
	for _, want := range []string{`name="name" value="stern"`, `name="count" value="7"`,
		`name="part" value="smd red 12 V" checked`} {
		if !strings.Contains(form, want) {
			t.Errorf("%s isn't in %s", want, form)
		}
	}
	if a, _ := x.send(x.request("GET", "/build/b1/plan/add", "", x.cookie)); a.StatusCode != http.StatusSeeOther ||
		a.Header.Get("Location") != "/build/b1/plan" {
		t.Errorf("loaded afresh: %s to %s", a.Status, a.Header.Get("Location"))
	}
}
