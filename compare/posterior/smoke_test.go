package posterior

import ("testing";"fmt")

func TestSmoke(t *testing.T) {
	e := ensemble(t, mixed(.5), []float64{12, 6}, Bench{}, Options{Seed: 1})
	fmt.Println(e.HealthyA, e.HealthyU)
	for _, h := range e.Hypotheses {
		fmt.Println(h.Kinds, h.Lights, h.Prior, h.Places, h.Dark, h.Dim, h.MeanA, h.U)
	}
	for _, y := range [][2]float64{{.0917, .019},{.0827,.019},{.0827,.016},{.07,.017},{.2,.017},{.12,.03}} {
		rs := []Reading{{12, y[0], 1e-5, .003}, {6, y[1], 1e-5, .003}}
		r, err := e.Posterior(rs, Look{})
		if err != nil { t.Fatal(err) }
		d, _ := e.Decide(rs, Look{}, 3.29, 1.64)
		fmt.Println(y, r.None, r.Unknown, r.Double, d)
		for _, c := range r.Classes[:min(3, len(r.Classes))] { fmt.Println("   ", c.P, c.Fault, c.Kinds, c.Places, c.Count, c.PredictedA) }
	}
}
