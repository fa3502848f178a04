// What is filled in is asked about as it's typed; the answer is put in its place. All words and figures come from the
// program.
'use strict';
(() => {
  const form = document.querySelector('form[data-try]');
  if (!form) return;
  const wait = 250; // ms without a key before it's asked
  let timer = 0;
  let asking = null;
  const place = (name) => document.querySelector(`[data-sketch="${name}"]`);

  async function ask() {
    if (asking) asking.abort();
    asking = new AbortController();
    const mine = asking;
    place('reckoned').classList.add('waiting');
    try {
      const r = await fetch(form.dataset.try, {method: 'POST', body: new URLSearchParams(new FormData(form)), signal: mine.signal});
      if (!r.ok) return;
      const told = await r.json();
      place('answer').innerHTML = told.answer;
      if (told.reckoned) place('reckoned').innerHTML = told.reckoned;
      for (const el of document.querySelectorAll('[data-figures]')) {
        const html = (told.figures || {})[el.dataset.figures];
        if (html !== undefined) el.innerHTML = html;
      }
    } catch { /* aborted by the next one, or nothing is heard: the page says so */ } finally {
      if (mine === asking) place('reckoned').classList.remove('waiting');
    }
  }
  form.addEventListener('input', (e) => {
    if (e.target.name === 'sure') return;
    clearTimeout(timer);
    timer = setTimeout(ask, wait);
  });
})();
