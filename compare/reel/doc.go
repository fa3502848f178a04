// Package reel learns from groups that were measured and judged healthy what the
// pieces of one reel have in common, so that the draw of the next group of that
// reel is expected more sharply.
//
// A part's deviation is HalfWidth*(sqrt(s)*c + sqrt(1-s)*e): c is common to all
// pieces of its reel, e its own, both of variance 1/3 before anything is known
// (wiring.Param). Each healthy group is an observation of a sum of c's; a Learner
// makes the joint normal distribution of all c's from them (Kalman's update). The
// own deviations are noise of each group, while the meter's gain, the voltage of
// the supply, the room's temperature and the leads are common to all readings and
// don't average out.
//
// The share s is planned, not known. Up to three groups, it is allowed for what it
// may be; from the fourth on it is estimated from how much groups of one reel
// differ. Where the planned share is certain, Options say so.
//
// A group never sharpens its own expectation: Learner.Without leaves the group
// under judgement out. What is learned can be kept in a file (Encode,
// Parse) and as an entry of the part book (Part).
//
// Units: A, V, ohm, degC; relative quantities as fractions.
package reel
