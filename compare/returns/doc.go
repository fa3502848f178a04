// Package returns keeps what a finished model drew when it left, and says
// from a measurement at its jack alone what is wrong with it when it comes back.
//
// Of makes a Signature of the records of the power-on tests and of the whole
// model; Encode and Decode write it as lines of a record. ReturnOf takes a
// measurement at the jack from its records, Diagnose compares it with the
// signature. A Library holds the hypotheses of one plan and signature. A Search
// does it reading by reading and chooses the next voltage, or a look at the lights
// where that tells more for its effort; NewGuided makes the steps for that.
//
// What was seen weighs in by compare/look's rates, the client's words for less; what
// a hypothesis darkens or dims stands with it. A fault that takes less than a tenth
// of what hangs on its place is seen by nobody: it counts as being as it left.
//
// A resistor that was read in the model's place when it left and when it came back
// is one more reading, of which no fault changes anything: it tells what two meters
// differ by. It counts for one meter in one range each time.
//
// The model: y = y0 + delta_h + sum_k theta_k J_k + noise. y0 is the sweep of
// the whole model as it left, delta_h what hypothesis h changes, J_k the
// sensitivities to what nobody knows (gain and offset of another meter,
// temperature, set voltage, age, resistance at the jack), theta_k normal. With
// C = diag(noise) + J'J and its Cholesky factor L all of it is whitened; to C
// comes what the sensitivities themselves may be off by, a share of what they
// make, smooth over voltage. How large the noise and that share are a sweep tells
// itself, by how it scatters about whatever may be wrong. The sensitivities are those
// of the groups as built, at the volts that reach them in the whole model. The
// likelihood of h is -1/2 |L^-1 (y - y0 - delta_h)|^2, with a low-rank term where the
// fault itself is uncertain. The deltas of two groups add, so that two faults cost
// only the Gram matrix of the single ones. Posteriors are prior times likelihood,
// normalised (Bayes).
//
// What it refuses: to name one place that isn't more likely than 0.9, to call
// a model faulty while "nothing" is likelier than 0.05, to force a deviation
// that fits nothing into its list ("unknown").
//
// The priors are defaults of common practice, no data behind them. Units: V,
// A, ohm, s, degC; relative quantities are fractions.
package returns
