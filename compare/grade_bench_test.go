package compare

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"sealworthy/compare/plan"
	"sealworthy/compare/rule"
	"sealworthy/compare/scene"
)

// quay is an invented plan of n groups, eight on a joint: strips, lamps and chains.
func quay(n int) string {
	var s strings.Builder
	s.WriteString("build = \"Quay\"\n[jack.main]\nvolts = 12.0\nadapter_amps = 40.0\n[closure.shed]\n")
	for i := range n {
		joint := fmt.Sprintf("bollard %d", i/8+1)
		if i%8 == 0 {
			fmt.Fprintf(&s, "[joint.%q]\nfrom = \"main\"\nwire = { mm = 0.4, length_mm = %d }\nclosure = \"shed\"\n",
				joint, 100+i)
		}
		light := fmt.Sprintf("part = \"strip warm white 12 V\", segments = %d", 2+i%5)
		switch i % 3 {
		case 1:
			light = fmt.Sprintf("part = \"smd warm white 12 V\", count = %d", 1+i%7)
		case 2:
			light = fmt.Sprintf("part = \"warm white 3 mm\", in_series = 3, ohms = 180, count = %d", 1+i%4)
		}
		fmt.Fprintf(&s, "[[group]]\nname = \"lights %d\"\nclosure = \"shed\"\njoint = %q\nwire = { mm = 0.2, "+
			"length_mm = %d }\nlights = [ { %s } ]\n",
			i+1, joint, 50+i, light)
	}
	return s.String()
}

// What a grade costs beside its budget: "share" is its part of the budget's time.
func BenchmarkGrade(b *testing.B) {
	src, err := os.ReadFile("../testdata/brackwater/plan.toml")
	if err != nil {
		b.Fatal(err)
	}
	for _, x := range []struct{ name, src string }{{"Brackwater", string(src)}, {"25", quay(25)}, {"50", quay(50)},
		{"100", quay(100)}, {"200", quay(200)}} {
		p, problems := plan.Parse("plan.toml", []byte(x.src))
		if len(problems) > 0 {
			b.Fatal(problems[0])
		}
		start := time.Now()
		meter := &scene.Accuracy{OfReading: 0.003, FloorA: 2e-5, ResolutionA: 1e-5}
		bud, err := NewExpected(p).At(scene.Scene{BurdenOhm: 1.7, LeadsOhm: 0.1, LeadsHalfOhm: 0.05, Accuracy: meter})
		if err != nil {
			b.Fatal(err)
		}
		budgetS := time.Since(start).Seconds()
		b.Run(x.name, func(b *testing.B) {
			start, n := time.Now(), 0
			for b.Loop() {
				if _, err := Grade(p, bud, StepOptions{Stage: Fitted, Sweep: true}, rule.Default(), nil); err != nil {
					b.Fatal(err)
				}
				n++
			}
			each := time.Since(start).Seconds() / float64(n)
			b.ReportMetric(1e3*each/float64(len(p.Groups)), "ms/group")
			b.ReportMetric(each/budgetS, "share")
		})
	}
}
