//go:build unix

package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// pxPerMM is that of a tablet of ten inches across, 16 to 10, that says it is 1024 px wide: 215 mm.
const pxPerMM = 1024 / 215.4

// tooSmall lists what is too small on such a tablet: of the live page letters that are to be read from two metres,
// there and elsewhere what is to be touched; what goes on with a question and what flows meanwhile, where that isn't in
// sight at first, and after a verdict that is wrong each answer that isn't, and that it's said what to do. A
// capital is 0.7 of its type in the usual sans serifs (measured here on the browser's own: 0.73).
const tooSmall = `((mm) => {
	const out = [];
	const seen = (e) => e.checkVisibility() && e.getClientRects().length > 0;
	const what = (e) => e.tagName + '.' + e.className + ' "' + (e.innerText || e.name || '').trim().slice(0, 30) + '"';
	const least = (selector, least, is, of) => {
		for (const e of document.querySelectorAll(selector))
			if (seen(e) && of(e) / mm < least) out.push(what(e) + ': ' + is + ' ' + (of(e) / mm).toFixed(1) + ' mm of ' + least);
	};
	const capital = (e) => 0.7 * parseFloat(getComputedStyle(e).fontSize);
	const high = (e) => e.getBoundingClientRect().height;
	const across = (e) => Math.min(high(e), e.getBoundingClientRect().width);
	least('#output .out, .live h1, .live .verdict:not(.because *) .word, .live .closure h3', 14, 'capitals of', capital);
	least('.live .do', 10, 'capitals of', capital);
	least('#stop', 25, 'across', across);
	least('main:not(:has(.plan)) :is(button, .button, .chip, summary, select, ' +
		'input:not([type=radio], [type=checkbox], [type=hidden])), nav :is(a, button)', 15, 'high', high);
	for (const ask of document.querySelectorAll('.live .ask[data-kind=again]')) {
		if (!ask.querySelector('.says .do')) out.push('a verdict that is wrong says nothing of what to do');
		for (const e of ask.querySelectorAll(':scope > .ways > button, :scope > details > summary, :scope > form > button'))
			if (seen(e) && e.getBoundingClientRect().bottom + scrollY > innerHeight)
				out.push(what(e) + ' answers a wrong verdict, and lies below what is in sight');
	}
	for (const e of document.querySelectorAll('.live:has(.ask) :is(.digits, .bar)'))
		if (seen(e) && e.getBoundingClientRect().bottom + scrollY > innerHeight)
			out.push(what(e) + ' says what flows, and lies below what is in sight');
	const way = document.querySelector('.live .ask .first');
	const below = way && seen(way) ? Math.round(way.getBoundingClientRect().bottom + scrollY - innerHeight) : 0;
	if (below > 0) out.push(what(way) + ' goes on, and lies ' + below + ' px below what is in sight');
	return out;
})(%v)`

// largeEnough holds a view against what is read and touched on a tablet at arm's length and beyond.
func (b *browser) largeEnough(t *testing.T, name string) {
	t.Helper()
	b.do(chromedp.EmulateViewport(1024, 768))
	if got := evaluated[[]string](b, fmt.Sprintf(tooSmall, pxPerMM)); len(got) > 0 {
		t.Errorf("%s on a tablet: %s", name, strings.Join(got, "; "))
	}
}
