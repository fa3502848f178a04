//go:build !race

package blink

const raced = false
