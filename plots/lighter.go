package plots

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"regexp"
	"slices"
)

var (
	svgStyle = regexp.MustCompile(`\s+style="([^"]*)"`)
	svgRules = regexp.MustCompile(`<style>\s*`)
)

// lighter takes what an SVG says again and again of how a line or a letter looks, and says
// it once: the library writes it out at each. It is for a picture with a <style>, which has
// its typefaces; another stands in a page, beside others. A rule is named by what it says, so
// that it means the same in whatever else it is put into.
func lighter(svg []byte) []byte {
	at := svgRules.FindIndex(svg)
	if at == nil {
		return svg
	}
	var names []string
	rules := map[string]string{}
	body := svgStyle.ReplaceAllFunc(svg[at[1]:], func(m []byte) []byte {
		style := string(svgStyle.FindSubmatch(m)[1])
		sum := sha256.Sum256([]byte(style))
		name := "s" + hex.EncodeToString(sum[:2])
		for rules[name] != "" && rules[name] != style { // two that look alike to two bytes of a sum
			name += "x"
		}
		if rules[name] == "" {
			rules[name], names = style, append(names, name)
		}
		return []byte(` class="` + name + `"`)
	})
	slices.Sort(names)
	var out bytes.Buffer
	out.Write(svg[:at[1]])
	for _, n := range names {
		out.WriteString("." + n + "{" + rules[n] + "}\n")
	}
	out.Write(body)
	return out.Bytes()
}
