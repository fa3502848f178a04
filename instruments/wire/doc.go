// Package wire makes a byte stream into an instruments.Port, and is the only
// caller of the serial library.
//
// Serial opens real ports; New takes any stream; Pair gives two ends in memory
// where there is no pseudo terminal. A Port knows nothing of frames: drivers
// cut replies out of what ReadUntil hands them.
//
// Bytes inside the operating system are invisible to a simulated clock. Where
// both ends are in this process they share a Flight for each direction, which
// counts those bytes and holds the clock while there are any.
package wire
