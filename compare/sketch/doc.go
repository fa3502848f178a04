// Package sketch lays a plan out so that it can be changed by pointing: the feed tree
// with what flows and drops at each place and what goes dark if it opens, the fields of
// each place, the parts as cards, and the changes of the plan's file that a filled-in
// form, a place that is taken out or one that is added asks for.
//
// Start with Tree for what is shown, Fields for a place and Changes for what was filled
// in; plan.EditAll makes the changes. It does no I/O, computes no current (package
// budget does) and says nothing that the plan says itself: what can't be is refused by
// the plan's own checks.
//
// Units: A, V.
package sketch
