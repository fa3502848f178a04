// What is filled in is asked about as it's typed; the answer is put in its place. All words and figures come from the
// program.
'use strict';
(() => {
  const place = (name) => document.querySelector(`[data-sketch="${name}"]`);
  function show(told) {
    if (told.reckoned) place('reckoned').innerHTML = told.reckoned;
    for (const el of document.querySelectorAll('[data-figures]')) {
      const html = (told.figures || {})[el.dataset.figures];
      if (html !== undefined) el.innerHTML = html;
    }
  }
  // The page came before what comes of its plan. What was typed since has its own answer.
  const later = document.querySelector('[data-reckoned]');
  if (later) {
    fetch(later.dataset.reckoned).then((r) => (r.ok ? r.json() : null)).then((told) => { if (told && later.isConnected) show(told); })
      .catch(() => {}); // nothing is heard: the page says so
  }
  const form = document.querySelector('form[data-try]');
  if (!form) return;
  const wait = 250; // ms without a key before it's asked
  let timer = 0;
  let asking = null;

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
      show(told);
    } catch { /* aborted by the next one, or nothing is heard: the page says so */ } finally {
      if (mine === asking) place('reckoned').classList.remove('waiting');
    }
  }
  // What was typed is taken in before anything else on the page is done, else it would be lost with it: then that is
  // done on the draft that came of it. Where it's refused, the page that says why is shown instead.
  const filledIn = () => new URLSearchParams(new FormData(form)).toString();
  const came = filledIn();
  const typed = () => filledIn() !== came;
  async function takeIn(then) {
    clearTimeout(timer);
    const body = new URLSearchParams(new FormData(form));
    let page = null;
    let at = '';
    try {
      const r = await fetch(form.action, {method: 'POST', body});
      at = new URL(r.url).searchParams.get('at') || '';
      if (r.ok && r.redirected) page = new DOMParser().parseFromString(await r.text(), 'text/html');
    } catch { /* nothing is heard: the page says so */ }
    if (!page) form.submit();
    else then(page.querySelector('input[name=draft]').value, at);
  }
  document.addEventListener('submit', (e) => {
    if (!typed() || e.target === form || e.defaultPrevented || !e.target.closest('.plan')) return;
    e.preventDefault();
    if (e.submitter && e.submitter.id === 'undo') { // the last is what was typed
      form.reset();
      ask();
      return;
    }
    const other = e.target;
    const was = form.elements.at.value;
    takeIn((draft, at) => {
      if (other.elements.draft) other.elements.draft.value = draft;
      if (at && other.elements.at && other.elements.at.value === was) other.elements.at.value = at;
      other.submit();
    });
  });
  document.addEventListener('click', (e) => {
    const a = e.target.closest('a[href]');
    if (!a || !typed() || a.target || e.defaultPrevented || e.button || e.ctrlKey || e.metaKey || e.shiftKey) return;
    e.preventDefault();
    takeIn(() => { location.href = a.href; });
  });
  form.addEventListener('input', (e) => {
    if (e.target.name === 'sure') return;
    clearTimeout(timer);
    timer = setTimeout(ask, wait);
  });
})();
