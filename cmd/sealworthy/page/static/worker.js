// One stream of events for all pages of a browser: it holds the stream, hands on what it tells, and answers its beat
// while a page is to be seen. A page that comes later gets all regions at once.
'use strict';
const ports = new Set();
const regions = {};
let source = null;
let answering = false;

function hand(message) {
  for (const p of ports) p.postMessage(message);
}

function open() {
  if (source) return;
  source = new EventSource('/stream');
  source.addEventListener('told', (e) => {
    const t = JSON.parse(e.data);
    Object.assign(regions, t.regions || {});
    hand({told: t});
  });
  source.addEventListener('beat', () => hand({beat: true}));
  source.onerror = () => { // it comes back by itself, unless the program said no
    if (source.readyState === EventSource.CLOSED) {
      source.close();
      source = null;
      setTimeout(open, 1000);
    }
  };
}

function seen() {
  if (answering) return;
  answering = true;
  fetch('/seen', {method: 'POST'}).catch(() => {}).finally(() => { answering = false; });
}

self.onconnect = (e) => {
  const p = e.ports[0];
  p.onmessage = (m) => {
    if (m.data === 'seen') seen();
    if (m.data === 'gone') ports.delete(p);
  };
  ports.add(p);
  p.postMessage({told: {regions}});
  open();
};
