// Package byhand is a bench without a port: a meter whose number the maker
// types in, and a supply that the maker sets. Both ask through a capture.Face.
//
// A supply set by hand can't be switched off by the program. It says so with
// each question, and an off that the maker didn't confirm is an error.
//
// Units: V, A.
package byhand
