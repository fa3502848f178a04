//go:build unix

package main

import (
	"regexp"
	"strings"
	"testing"
)

// commandTalk is what a command line says and a page shouldn't: a verb behind the program's name, a flag, a key to
// type, and what stands for a name in a help text. Names of keys of a plan, and a file's path where the page tells
// where something is kept, are none of it.
var commandTalk = regexp.MustCompile(`\bsealworthy (help|new|budget|bench|measure|page|compare|next|sheet|rig|keep|` +
	`return|builds|history|export|send|pack|unpack|explain|part|ports|soak|demo|check|photo|plot|version|schema|` +
	`completion)\b|(^|[\s"(=,])--[a-z]|\bEnter:|\bCtrl-C\b|\bq or\b|\b[a-z]: (undo|skip|redo|done)\b|` +
	`\bu (takes it|goes) back|: n\.|\bn asks\b|All of it right: \w\.|number or name\. To|\bBUILD\b|\bPLACE\b|\bREASON\b`)

// plainly holds all that a view says, folded away or not, against what a command line says.
func (b *browser) plainly(t *testing.T, name string) {
	t.Helper()
	said := evaluated[string](b, `(() => {
		const all = document.body.cloneNode(true);
		for (const e of all.querySelectorAll('script, style')) e.remove();
		for (const e of all.querySelectorAll('template')) e.replaceWith(e.content);
		for (const e of all.querySelectorAll('*')) e.append(' ', e.getAttribute('title') || '', ' ',
			e.getAttribute('aria-label') || '', ' ', e.getAttribute('alt') || '', ' ', e.getAttribute('placeholder') || '');
		return all.textContent;
	})()`)
	said = strings.Join(strings.Fields(said), " ")
	for _, at := range commandTalk.FindAllStringIndex(said, -1) {
		t.Errorf("%s talks as a command line does: …%s…", name, said[max(0, at[0]-80):min(len(said), at[1]+80)])
	}
}
