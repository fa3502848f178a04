// The page's own script: it puts what the stream tells into its regions, sends answers, and says when nothing is
// heard. It makes no words: those stand in the page.
'use strict';
const missed = 1500; // ms without a word from the program: then nothing is known, within two seconds
const read = 350; // ms for which a new question takes no tap: it wasn't meant for it
const shown = new WeakMap(); // what each place was given last: a browser writes it otherwise
// What has passed is told by two clocks: that of the day may be set back, the other one may stand while a device sleeps.
const now = () => ({day: Date.now(), run: performance.now()});
const since = (t) => Math.max(Math.abs(Date.now() - t.day), performance.now() - t.run);
let heard = now();
let lost = false;
let asked = now(); // for the stream anew

const lostText = document.getElementById('lost').innerHTML;
const regionsOf = (id) => document.querySelectorAll(`[data-region="${id}"]`);

function put(id, html) {
  for (const el of regionsOf(id)) {
    if (shown.get(el) === html) continue;
    if (id === 'ask' && same(el, html)) {
      shown.set(el, html);
      continue;
    }
    const had = el.contains(document.activeElement);
    el.innerHTML = html;
    shown.set(el, html);
    if (id === 'ask') quiet(el, had);
    if (id === 'closures' && html.trim()) scrollTo(0, 0);
  }
}

// same: it's the question that stands there, said otherwise. What was filled in stays, and a tap counts.
function same(el, html) {
  const t = document.createElement('template');
  t.innerHTML = html;
  const [was, now] = [el, t.content].map((x) => x.querySelector('.ask'));
  if (!was || !now || was.dataset.question !== now.dataset.question) return false;
  was.querySelector('.says').replaceWith(now.querySelector('.says'));
  if (!document.activeElement.matches('input')) scrollTo(0, 0); // what is to be done now stands at the top
  return true;
}

// untapped keeps what is new from taking a tap that was meant for what stood there before.
function untapped(el) {
  const buttons = el.querySelectorAll('button');
  for (const b of buttons) b.disabled = true;
  setTimeout(() => { for (const b of buttons) b.disabled = false; }, read);
}

function quiet(el, had) {
  untapped(el);
  scrollTo(0, 0); // answered, too: what goes on then stands at the top
  const q = el.querySelector('.ask');
  if (q && had) q.focus({preventScroll: true});
}

// What was still being judged when the page came is fetched once the stream tells that it's there. Where the focus was
// in what goes, it stays at that place.
const judged = {}; // of each build, which judgement ended last
const files = {}; // of each build, how they are now: what was found of others doesn't stand any more
let told = 0; // how often that was told
let fetching = false;
function fetchJudged(anew) {
  const is = document.querySelector('[data-files]');
  const changed = anew && is && is.dataset.build in files && files[is.dataset.build] !== is.dataset.files;
  if (changed) for (const id of ['known', 'sum']) put(id, '');
  const waits = document.querySelector('[data-awaits]');
  if (fetching || !changed && !(waits && judged[waits.dataset.awaits] >= Number(waits.dataset.nth))) return;
  fetching = true;
  const then = told;
  fetch(changed ? is.dataset.anew : waits.dataset.from).then((r) => (r.ok ? r.json() : {})).then((regions) => {
    fetching = false;
    for (const [id, html] of Object.entries(regions)) {
      for (const el of regionsOf(id)) {
        const had = el.contains(document.activeElement);
        put(id, html);
        untapped(el);
        if (!had) continue;
        el.tabIndex = -1;
        el.focus({preventScroll: true});
      }
    }
    if (regions.awaited) fetchJudged(told !== then); // it may be judged anew already
  }, () => { fetching = false; });
}

// Nothing is known while nobody looks, after a sleep, and when nothing was heard for a while. What the stream still
// holds then may be old, so it's opened anew, and only what comes whole is shown.
function lose() {
  lost = true;
  document.body.classList.add('lost');
  put('output', lostText);
  put('group', document.getElementById('lostgroup').innerHTML);
}
function anew() {
  lose();
  asked = now();
  stream.anew();
}

function take(message) {
  if (document.visibilityState !== 'visible' || (lost && !message.whole)) return;
  if ('leads' in message) {
    role(message.leads);
    return;
  }
  heard = now();
  lost = false;
  document.body.classList.remove('lost');
  if (message.beat) {
    stream.seen();
    return;
  }
  for (const [id, html] of Object.entries(message.told.regions || {})) put(id, html);
  for (const t of message.told.tones || []) sound(t);
  Object.assign(judged, message.told.judged);
  Object.assign(files, message.told.files);
  if (message.told.files) told++;
  fetchJudged(Boolean(message.told.files));
}

// Which page starts tests may change: then the style of this one's role is asked for anew.
function role(leads) {
  const seen = (name) => document.querySelector(name).getClientRects().length > 0;
  if (!seen('.forhelper') && seen('.forfollower') === leads) document.getElementById('role').href = `/role.css?${Date.now()}`;
}

// The stream: of a shared worker, so that all pages of a browser have one; else its own.
let stream;
if (window.SharedWorker) {
  const w = new SharedWorker('/static/worker.js', 'sealworthy');
  w.port.onmessage = (m) => take(m.data);
  stream = {seen: () => w.port.postMessage('seen'), anew: () => w.port.postMessage('anew')};
  addEventListener('pagehide', () => w.port.postMessage('gone'));
} else {
  let source = null;
  stream = {
    seen: () => { fetch('/seen', {method: 'POST'}).then((r) => take({leads: r.ok})).catch(() => {}); },
    anew: () => {
      if (source) source.close();
      const mine = source = new EventSource('/stream');
      let whole = true;
      source.onopen = () => { whole = true; };
      source.addEventListener('told', (e) => {
        if (mine === source) take({told: JSON.parse(e.data), whole});
        whole = false;
      });
      source.addEventListener('beat', () => { if (mine === source) take({beat: true}); });
    },
  };
  stream.anew();
}
addEventListener('pageshow', (e) => { if (e.persisted) location.reload(); });
addEventListener('visibilitychange', () => (document.visibilityState === 'visible' ? anew : lose)());
if (document.visibilityState !== 'visible') lose();

let ticked = now();
setInterval(() => {
  const slept = since(ticked) > missed;
  ticked = now();
  if (document.visibilityState !== 'visible') return;
  if (slept || since(lost ? asked : heard) > missed) anew();
}, 250);

// STOP: on the touch, not on its end.
let stopping = false;
function stop(e) {
  e.preventDefault();
  if (stopping) return;
  stopping = true;
  setTimeout(() => { stopping = false; }, 700);
  put('stopped', document.getElementById('asked').innerHTML);
  const unheard = () => put('stopped', document.getElementById('unheard').innerHTML);
  const late = setTimeout(unheard, 2500);
  fetch('/stop', {method: 'POST', headers: {Accept: 'application/json'}, keepalive: true, priority: 'high'})
    .then((r) => { if (!r.ok) unheard(); }, unheard).finally(() => clearTimeout(late));
}
const button = document.getElementById('stop');
button.addEventListener('pointerdown', stop);
button.addEventListener('click', stop); // by the keyboard

// Answers.
function answer(el, choice, text) {
  const q = el.closest('.ask');
  const a = {question: Number(q.dataset.question), choice};
  if (text) a.text = text;
  const why = q.querySelector('.answerwhy');
  fetch('/answer', {method: 'POST', body: JSON.stringify(a)})
    .then((r) => (r.ok ? '' : r.text())).then((s) => { why.textContent = s; }, () => { why.textContent = lostWords(); });
}
function lostWords() {
  const t = document.createElement('div');
  t.innerHTML = lostText;
  return t.textContent;
}

function lightsOf(form) {
  const out = [];
  for (const f of form.querySelectorAll('.light')) {
    const what = f.querySelector('input[type=radio]:checked');
    const n = f.querySelector('input[type=number]').value;
    const name = f.querySelector('[name=group]').value;
    if (what && what.value === 'all right') out.push(`${name}: ${what.value}${n ? `, ${n} lit` : ''}`);
    else if (what) out.push(`${name}: ${n ? n + ' ' : ''}${what.value}`);
  }
  return out;
}

document.addEventListener('click', (e) => {
  const b = e.target.closest('.ask button[data-choice]');
  if (b && !b.disabled) answer(b, b.dataset.choice);
});
// A pedal types Enter: where nothing else has the focus it goes on, wherever Enter does at a terminal. It passes no
// look, but keeps one lit; what went dark it doesn't light.
document.addEventListener('keydown', (e) => {
  if (e.key !== 'Enter' || e.repeat || !(e.target === document.body || e.target.matches('.ask'))) return;
  const b = document.querySelector('.ask button[data-enter], button.longer');
  if (!b || b.disabled) return;
  if (b.form) b.form.requestSubmit(b);
  else answer(b, b.dataset.choice);
});
document.addEventListener('submit', (e) => {
  if (e.target.dataset.quietly) { // the page stays as it is, with what was chosen in it
    e.preventDefault();
    fetch(e.target.action, {method: 'POST', headers: {Accept: 'application/json'}, body: new URLSearchParams({line: e.submitter.value})});
    return;
  }
  const f = e.target.closest('.ask form');
  if (!f) return;
  e.preventDefault();
  const own = f.elements.own ? f.elements.own.value.trim() : '';
  let text = own || (e.submitter && e.submitter.name === 'text' ? e.submitter.value : '');
  if (e.submitter && e.submitter.name === 'text') text = e.submitter.value;
  const unit = f.querySelector('[name=unit]:checked'); // of a bare number: a tablet's keys for numbers have no letters
  if (unit && /^[-+\d.,\s]*\d[.,\s]*$/.test(own)) text = `${own} ${unit.value}`;
  if (f.dataset.lights) text = lightsOf(f).concat(own ? [own] : []).join('; ');
  if (f.dataset.places) text = [...f.querySelectorAll('[name=place]:checked')].map((x) => x.value).join(', ');
  answer(f, f.dataset.choice, text);
});

// Sound: the recorded tones, one after another. A browser makes none before the page was touched: the first touch
// anywhere unlocks them, until then the button says so.
const soundButton = document.getElementById('sound');
const recorded = {}; // name to what was loaded
let audio = null;
let until = 0; // the last tone ends, on the clock of audio
const wanted = () => localStorage.getItem('sound') !== 'off';
function tellSound() {
  const now = !wanted() ? 'off' : audio && audio.state === 'running' ? 'on' : 'locked';
  soundButton.setAttribute('aria-pressed', String(now !== 'off'));
  soundButton.textContent = soundButton.dataset[now];
}
function unlock() {
  if (!wanted()) return;
  if (!audio) {
    audio = new AudioContext();
    audio.onstatechange = tellSound;
  }
  audio.resume().then(tellSound, () => {});
}
soundButton.addEventListener('click', () => {
  const on = !wanted() || !audio || audio.state !== 'running';
  localStorage.setItem('sound', on ? 'on' : 'off');
  if (on) unlock();
  tellSound();
  sound('your turn');
});
for (const touch of ['pointerdown', 'keydown']) {
  addEventListener(touch, (e) => { if (e.target !== soundButton && (!audio || audio.state !== 'running')) unlock(); });
}
function load(name) {
  recorded[name] ||= fetch(`/static/tones/${name.replace(/[^a-z]/g, '-')}.wav`).then((r) => r.arrayBuffer())
    .then((b) => audio.decodeAudioData(b)).catch(() => { delete recorded[name]; });
  return recorded[name];
}
let said = Promise.resolve(); // one after another, however long each takes to load
function sound(name) {
  if (audio && wanted() && document.visibilityState === 'visible') said = said.then(() => play(name));
}
async function play(name) {
  const b = await load(name);
  if (!b || audio.currentTime + 1 < until) return; // what comes too fast is left out
  const source = audio.createBufferSource();
  source.buffer = b;
  source.connect(audio.destination);
  const at = Math.max(audio.currentTime + .01, until);
  source.start(at);
  until = at + b.duration;
}
unlock();
tellSound();

// The screen stays awake while a test runs, where a browser can.
async function awake() {
  if (!navigator.wakeLock || document.visibilityState !== 'visible' || !document.querySelector('.live')) return;
  try { await navigator.wakeLock.request('screen'); } catch { /* it may say no */ }
}
document.addEventListener('visibilitychange', awake);
awake();
