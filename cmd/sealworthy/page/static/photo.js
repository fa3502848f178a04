// A photo is taken inside the page, so that a test isn't out of sight meanwhile. Words stand in the page.
'use strict';
for (const box of document.querySelectorAll('[data-camera]')) {
  const part = (name) => box.querySelector(`[data-part=${name}]`);
  const video = box.querySelector('video');
  const said = box.querySelector('.said');
  const say = (what, words) => { said.textContent = words || box.querySelector(`[data-said=${what}]`).innerHTML; };
  const most = 2000; // pixels of the longer edge, as the program keeps them
  let stream = null;

  function close() {
    for (const t of stream ? stream.getTracks() : []) t.stop();
    stream = null;
    video.srcObject = null;
    part('live').hidden = true;
  }

  async function open() {
    said.textContent = '';
    try {
      stream = await navigator.mediaDevices.getUserMedia({video: {facingMode: 'environment', width: {ideal: 1920}, height: {ideal: 1440}}});
      video.srcObject = stream;
      part('file').hidden = true;
      part('live').hidden = false;
      await video.play();
      part('live').scrollIntoView({block: 'center'});
      box.querySelector('[data-do=take]').focus({preventScroll: true});
    } catch {
      close();
      part('file').hidden = false;
    }
  }

  // jpegOf draws what is seen, no larger than it's kept.
  function jpegOf(source, wide, high) {
    const by = Math.min(1, most / Math.max(wide, high));
    const c = document.createElement('canvas');
    c.width = Math.round(wide * by);
    c.height = Math.round(high * by);
    c.getContext('2d').drawImage(source, 0, 0, c.width, c.height);
    return new Promise((done) => { c.toBlob(done, 'image/jpeg', .9); });
  }

  async function send(photo) {
    say('sending');
    const of = box.querySelector('[name=of]');
    const to = `/build/${box.dataset.camera}/photo?` + new URLSearchParams({of: of ? of.value : ''});
    try {
      const r = await fetch(to, {method: 'POST', headers: {'Content-Type': 'image/jpeg'}, body: photo});
      if (!r.ok) { say('', await r.text()); return; }
    } catch { say('lost'); return; }
    say('kept');
    if (document.querySelector('#photos')) location.reload();
  }

  const does = {
    open,
    close: () => { close(); box.querySelector('[data-do=open]').focus(); },
    take: async () => {
      const photo = await jpegOf(video, video.videoWidth, video.videoHeight);
      close();
      await send(photo);
      box.querySelector('[data-do=open]').focus();
    },
  };
  box.addEventListener('click', (e) => {
    const b = e.target.closest('[data-do]');
    if (b) does[b.dataset.do]();
  });
  box.querySelector('input[type=file]').addEventListener('change', async (e) => {
    const file = e.target.files[0];
    if (!file) return;
    let photo = file;
    try { // upright and smaller, where the browser can
      const b = await createImageBitmap(file);
      photo = await jpegOf(b, b.width, b.height);
    } catch { /* the program does both, too */ }
    await send(photo);
    e.target.value = ''; // the same one may be given again
  });
  addEventListener('pagehide', close);
}
