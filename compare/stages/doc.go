// Package stages says whether a whole model, measured at its jack alone, draws
// at one stage what it drew at the stage before: a wire pinched while a part was
// closed shows as a change although both draws lie in their band.
//
// Start with New, take readings from records with ReadingOf, and set two of them
// side by side with Compare; Over does it for all that was recorded of a build.
// Apart takes a trace of the whole into what is always lit and what blinks.
//
// A change is D = now - before, less what voltage, temperature, burden and leads
// alone would change by the plan's circuit, scaled to what was measured before.
// Its standard uncertainty u holds scatter, meters, voltage, temperature,
// contacts, warming up and age. After JCGM 106:2012: changed where |D| is K u or
// more; unchanged where it is less and |D| is at most the smallest branch less
// Guard u; else it can't be told.
//
// What it refuses: to compare other jacks, other paces, or a trace that was cut
// off; to call a model unchanged while the loss of a branch could hide.
//
// What can have come in between are the faults of package fault, by their effect on the
// plan's circuit and with the weights of a model that came back.
//
// Units: A, V, ohm, s, degC; relative quantities are fractions.
package stages
