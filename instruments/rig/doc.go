// Package rig is a simulated bench behind real serial ports: a supply, a meter
// and a relay board that answer SCPI, and the model that hangs on them. The
// same driver code that talks to hardware talks to it, through a pseudo
// terminal or, where there is none, through memory.
//
// Start with New; Ports names the ports, Opener opens them. Methods of Bench
// such as Connect, Press and Unplug are the maker's hands.
//
// What it holds to: bytes take their time on the line, in both directions; a
// reading is the mean over its window; the jack's voltage is solved from the
// load's curve with leads, the meter's burden and the supply's limit; every
// instrument errs within its stated accuracy, as drawn by the seed. What it
// leaves out: the inductance of wires, the supply's regulation dynamics beyond
// one time constant, thermal voltages, mains hum.
//
// The instruments are of no maker. Their commands are those that SCPI-1999
// names, error numbers too (volume 2, 21.8). The figures of the default bench
// are invented.
package rig
