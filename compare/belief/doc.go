// Package belief says how probable each fault of a group is after several
// readings and a look, whether the group is healthy, and which further reading
// would tell most.
//
// A caller takes these steps:
//
//  1. New lists the faults that a group can have, and computes from sensitivities
//     what each of them makes of the draw at every voltage: a mean and a covariance
//     over the voltages, for what is uncertain at one of them (a reel, the room,
//     the supply's setting) is uncertain at all of them together.
//  2. Decide gives the verdict of the decision rule over all readings.
//  3. Posterior gives the probabilities: of nothing wrong, of an unknown cause,
//     and of classes of faults that these readings can't tell apart.
//  4. Information ranks further readings by the bits they are expected to give;
//     Ahead does so before anything is measured, to choose a second voltage.
//
// After adds what was read and seen of the same pieces at an earlier stage: their draw is
// known from there, and anything wrong may have been so then, too, or came since.
//
// Several groups are weighed Together: what they share of reels, parts and bench, and what
// they have in common, a bad joint above them or a supply that is off, are worlds of one
// filter. Given what the others say, each Ensemble is asked the same things anew.
//
// Loose parts are judged by the plan that wiring.Loose makes. What is learned of
// reels and ways in which the plan may be wrong enter by Options, what a maker thinks
// probable by fault.Priors.
//
// It refuses to name what it can't tell: faults less than 1.5 standard
// deviations apart are one class, a deviation that no fault explains is unknown.
// The truth it is tested against comes from the same device model: real parts
// add model error, for which half a per cent of the draw is allowed.
//
// Units: V, A, ohm, degC. An Ensemble may be asked by several goroutines.
package belief
