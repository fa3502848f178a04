// One stream of events for all pages of a browser: it holds the stream, hands on what it tells, and answers its beat
// while a page is to be seen. It's opened anew for each page that comes or comes back: then all of it is told, whole.
'use strict';
const ports = new Set();
let source = null;
let opened = {day: 0, run: 0}; // when, by the clock of the day, which may be set back, and by one that may stand in sleep
let answering = false;

function hand(message) {
  for (const p of ports) p.postMessage(message);
}

function open() {
  if (source) source.close();
  opened = {day: Date.now(), run: performance.now()};
  const mine = source = new EventSource('/stream');
  let whole = true;
  mine.onopen = () => { whole = true; };
  mine.addEventListener('told', (e) => {
    hand({told: JSON.parse(e.data), whole});
    whole = false;
  });
  mine.addEventListener('beat', () => hand({beat: true}));
  mine.onerror = () => { // it comes back by itself, unless the program said no
    if (mine.readyState === EventSource.CLOSED && mine === source) setTimeout(() => { if (mine === source) open(); }, 1000);
  };
}

function seen() {
  if (answering) return;
  answering = true;
  fetch('/seen', {method: 'POST', signal: AbortSignal.timeout(1500)}).then((r) => hand({leads: r.ok}))
    .catch(() => {}).finally(() => { answering = false; });
}

self.onconnect = (e) => {
  const p = e.ports[0];
  p.onmessage = (m) => {
    if (m.data === 'seen') seen();
    if (m.data === 'gone') ports.delete(p);
    if (m.data === 'anew' && (source.readyState === EventSource.OPEN || Math.max(Math.abs(Date.now() - opened.day), performance.now() - opened.run) > 5000)) open();
  };
  ports.add(p);
  open();
};
