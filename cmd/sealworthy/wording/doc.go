// Package wording is what every face of a session says in the same words: what a
// step is called, what goes on and what hands may do, and how each choice of a
// question is named. The terminal writes them with keys to type, the page on
// buttons.
//
// Start at Ways for a question. Findings have their words in compare/words.
package wording
