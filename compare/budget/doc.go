// Package budget turns a plan into expected draws: what each group, board and
// the whole model take from the jack, how sure that is, and what in the plan
// won't work as drawn.
//
// Start with Of. The Budget that it returns is one plain struct: the table
// (Text), the pictures and the power-on test all read it. Curve gives the draw
// of one feed at lower voltages, for the ramp of the test.
//
// Two ways of carrying tolerances into a draw stand side by side: Monte Carlo
// (JCGM 101:2008) gives mean, standard uncertainty and band; the law of
// propagation (JCGM 100:2008, 5.1.2) gives a second opinion and the split into
// what a reel has in common and what each piece has on its own. Where they
// differ a warning says so, and the Monte Carlo figures stand.
//
// A tolerance of half-width a with share s is drawn as
//
//	a (sqrt(s) c + sqrt(1-s) e),   c, e rectangular on [-1, 1]
//
// with one c for all pieces of a reel and one e for each piece. Its variance is
// a^2/3 for every s. For s = 0 and s = 1 the law is the rectangular one; between
// them it is a trapezium that reaches beyond the half-width, at most to
// sqrt(2) a at s = 1/2, where 9 % of pieces lie outside a. The worst case keeps
// to a, but never lies within the band.
//
// Beside it stand small functions that a maker's tools need: ResistorFor,
// PreferredOhms (IEC 60063), FuseAmps, AWGDiameterM and CopperOhms (NBS Handbook
// 100, IEC 60028), and Sampled, which makes a tolerance from a few measured pieces.
//
// The package knows no instrument and no reading. It refuses to give a band to
// a group that the plan doesn't describe ("as found"), and it never returns
// NaN: a network that can't be solved is an error by group and line.
//
// Units: V, A, ohm, W, m, degC; relative quantities are fractions.
package budget
