package reel_test

import (
	"fmt"
	"strings"

	"sealworthy/compare/plan"
	"sealworthy/compare/reel"
)

// Three groups of one strip were measured and are healthy; the fourth is to be
// judged by what they tell. Plan and readings are invented.
func Example() {
	text := `build = "Brackwater"
[part."strip warm 60/m"]
like = "strip warm white 12 V"
[jack.main]
volts = 12.0
`
	for _, name := range []string{"cabin windows", "bridge", "saloon", "galley"} {
		text += fmt.Sprintf("[[group]]\nname = %q\nlights = [ { part = \"strip warm 60/m\", segments = 12 } ]\n", name)
	}
	p, problems := plan.Parse("plan.toml", []byte(text))
	if p == nil {
		fmt.Println(problems)
		return
	}
	var obs []reel.Observation
	for i, amps := range []float64{0.1791, 0.1797, 0.1788} {
		obs = append(obs, reel.Observation{Group: p.Groups[i].Name, Volts: 12, AmpsA: amps, UA: 1e-4, GainU: 0.003,
			ExpectedA: 0.187, PHealthy: 0.97, SeriesOhm: 0.3, Meter: "meter"})
	}
	all, err := reel.Prepare(p, obs, reel.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(strings.Join(all.Without("galley").Text(), "\n"))
	// Output:
	// strip warm 60/m: this reel draws 4 % less than its data sheet (±3.2 %), learned from: cabin windows, bridge, saloon
	//   how much its pieces differ is taken from the plan until 4 groups are measured; 3 so far
}
