// The face: asks the program, shows what it says, keeps the job. Holds no rule and no number of the trade.
'use strict';
const $ = (id) => document.getElementById(id);
const screens = [...document.querySelectorAll('main > section')].map((s) => s.id);
const job = { name: '', text: '', look: null };
let begun = null;

// ---- the program, in a worker -------------------------------------------------------------------------------
let worker, waiting, last = 0, ready;
function hire() {
  const code = new Blob([$('worker').textContent], { type: 'text/javascript' });
  worker = new Worker(URL.createObjectURL(code));
  waiting = new Map();
  ready = new Promise((done, failed) => {
    worker.onerror = (event) => failed(new Error(event.message || 'the program does not start here'));
    worker.onmessage = ({ data }) => {
      if (data.ready) return done();
      if (data.word) { $('busy-word').textContent = data.word; return; }
      if (data.program) return failed(new Error(data.broke));
      const { resolve, reject } = waiting.get(data.id) || {};
      waiting.delete(data.id);
      busy();
      if (data.broke) reject?.(new Error('The program broke off: ' + data.broke)); else resolve?.(data.told);
    };
  });
  worker.postMessage({ program: $('program').textContent });
}
async function ask(request) {
  await ready;
  const id = ++last;
  const told = new Promise((resolve, reject) => waiting.set(id, { resolve, reject }));
  worker.postMessage({ id, request });
  setTimeout(busy, 400);
  return told;
}
function busy() {
  const working = waiting.size > 0;
  if (!working) $('busy-word').textContent = 'Working it out …';
  $('busy').hidden = !working;
}
$('stop').onclick = () => {
  worker.terminate();
  for (const { reject } of waiting.values()) reject(new Error('Stopped: nothing is known of it.'));
  hire();
  busy();
};
function fault(why) {
  $('fault').textContent = why ? String(why.message || why) : '';
  $('fault').hidden = !why;
}
const guarded = (work) => async (...given) => { try { fault(); return await work(...given); } catch (why) { fault(why); } };

// ---- nothing is lost: the browser's own store, written through and read back ---------------------------------
let store = null;
const asked = (request) => new Promise((done, failed) => { request.onsuccess = () => done(request.result); request.onerror = () => failed(request.error); });
async function openStore() {
  const opening = indexedDB.open('meltstair', 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore('jobs', { keyPath: 'name' });
  store = await asked(opening);
  navigator.storage?.persist?.();
}
async function keep() {
  if (!job.name) return;
  const row = { name: job.name, text: job.text, at: Date.now() };
  try {
    if (!store) throw new Error('this browser keeps nothing');
    const write = store.transaction('jobs', 'readwrite', { durability: 'strict' });
    write.objectStore('jobs').put(row);
    await new Promise((done, failed) => { write.oncomplete = done; write.onabort = write.onerror = () => failed(write.error); });
    const back = await asked(store.transaction('jobs').objectStore('jobs').get(row.name));
    if (back?.text !== row.text) throw new Error('what was kept reads back differently');
    kept(true, 'Kept on this device, ' + new Date(row.at).toLocaleTimeString());
  } catch (why) {
    kept(false, 'NOT KEPT: ' + (why?.message || why) + '. Save it as a file.');
  }
}
function kept(well, words) {
  $('kept').textContent = words;
  $('kept').classList.toggle('bad', !well);
}
/** Another job of that name is never written over: whoever opens one chooses, and the other stays under a name of its own. */
async function settled(name, text) {
  const old = store && await asked(store.transaction('jobs').objectStore('jobs').get(name));
  if (!old || old.text === text) return text;
  const when = new Date(old.at).toLocaleString();
  if (!confirm(`${name} is on this device already, as it was left ${when}, and it differs.\n\nOK: go on with what you opened now (the other one stays in the list).\nCancel: go on with the one on this device.`)) return old.text;
  await asked(store.transaction('jobs', 'readwrite', { durability: 'strict' }).objectStore('jobs').put({ ...old, name: `${name.replace(/\.ya?ml$/, '')}, left ${when}.yaml` }));
  return text;
}
addEventListener('beforeunload', (event) => { if ($('kept').classList.contains('bad') && job.name) event.preventDefault(); });
async function mine() {
  const all = store ? await asked(store.transaction('jobs').objectStore('jobs').getAll()) : [];
  all.sort((a, b) => b.at - a.at);
  const box = $('mine');
  box.replaceChildren();
  if (!all.length) return;
  const head = document.createElement('h2');
  head.textContent = 'On this device';
  const row = document.createElement('div');
  row.className = 'choices';
  for (const { name, text } of all.slice(0, 12)) row.append(button(name, () => take(name, text, '#next')));
  box.append(head, row);
}
function button(words, does) {
  const made = document.createElement('button');
  made.type = 'button';
  made.textContent = words;
  made.onclick = guarded(does);
  return made;
}
function save(name, text, kind) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(new Blob([text], { type: kind }));
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

// ---- the job ---------------------------------------------------------------------------------------------
async function take(name, opened, then) {
  const text = await settled(name, opened);
  job.name = name;
  job.text = text;
  $('name').value = name;
  $('text').value = text;
  $('said').replaceChildren();
  blank();
  $('editor').hidden = false;
  await keep();
  await look();
  if (then && job.look) location.hash = then;
  mine();
}
// What was worked out of another text must not be ticked off in this one.
function blank() {
  job.look = null;
  for (const id of ['now', 'next-step', 'plan']) $(id).replaceChildren();
  $('sheet').srcdoc = '';
}
async function look() {
  const text = job.text;
  const told = await ask({ ask: 'look', text });
  if (text !== job.text) return;
  if (told.wrong) throw new Error(told.wrong);
  job.look = told.faults ? null : told;
  $('faults').innerHTML = told.faults || '';
  gutter(told.lines || []);
  $('title').textContent = told.title || job.name;
  $('now').innerHTML = told.now || '';
  $('next-step').innerHTML = told.next || '';
  $('plan').innerHTML = told.plan || '';
  $('sheet').srcdoc = told.sheet || '';
  if (told.faults) { for (const id of ['now', 'next-step', 'plan']) $(id).innerHTML = told.faults; }
}
function gutter(bad) {
  const lines = $('text').value.split('\n').length;
  $('gutter').replaceChildren(...Array.from({ length: lines }, (_, at) => {
    const mark = document.createElement('span');
    mark.textContent = at + 1;
    mark.classList.toggle('bad', bad.includes(at + 1));
    return mark;
  }));
}
let typing;
$('text').oninput = () => {
  gutter([]);
  blank();
  clearTimeout(typing);
  typing = setTimeout(guarded(async () => { job.text = $('text').value; await keep(); await look(); }), 500);
};
$('text').onscroll = () => { $('gutter').scrollTop = $('text').scrollTop; };
$('name').onchange = guarded(() => take($('name').value.trim() || 'job.yaml', job.text));
$('faults').onclick = ({ target }) => {
  const line = Number(target.closest('[data-line]')?.dataset.line);
  if (!line) return;
  const from = $('text').value.split('\n').slice(0, line - 1).join('\n').length + (line > 1 ? 1 : 0);
  $('text').focus();
  $('text').setSelectionRange(from, $('text').value.indexOf('\n', from) >>> 0);
};
$('open').onchange = guarded(async () => { const [file] = $('open').files; if (file) await take(file.name, await file.text(), '#next'); $('open').value = ''; });
document.ondragover = (event) => event.preventDefault();
document.ondrop = guarded(async (event) => { event.preventDefault(); const [file] = event.dataTransfer.files; if (file) await take(file.name, await file.text(), '#next'); });
$('download').onclick = () => save(job.name, job.text, 'application/yaml');
$('forget').onclick = guarded(async () => {
  if (!confirm('Forget ' + job.name + ' on this device? A saved file stays.')) return;
  await asked(store.transaction('jobs', 'readwrite').objectStore('jobs').delete(job.name));
  location.reload();
});
$('sheet-file').onclick = () => job.look && save(job.name.replace(/\.ya?ml$/, '') + '.html', job.look.sheet, 'text/html');
$('paper').onclick = () => $('sheet').contentWindow.print();
$('tap').onclick = () => { $('form').hidden = !$('form').hidden; $('demos-box').open = false; if (!$('form').hidden) $('form').scrollIntoView(); };
$('write').onclick = guarded(async () => {
  const told = await ask({ ask: 'verb', args: ['new'] });
  await take('job.yaml', told.out);
  $('text').focus();
});

// ---- ticking off ------------------------------------------------------------------------------------------
async function verb(args, width) {
  const files = job.name ? { [job.name]: job.text } : {};
  return ask({ ask: 'verb', args, files, width: Math.max(28, Math.min(100, Math.floor((Math.min(innerWidth, document.querySelector('main').clientWidth) - 70) / 9.1))), ...(width && { width }) });
}
let writing = false;
async function write(args) {
  // Who taps twice means one tick.
  if (writing) return;
  writing = true;
  try { await written(args); } finally { writing = false; }
}
async function written(args) {
  const told = await verb(args, 500);
  if (told.code === 2) throw new Error(told.err);
  job.text = told.files[job.name];
  $('text').value = job.text;
  await keep();
  $('said').replaceChildren(...told.out.trim().split('\n').map((line) => { const p = document.createElement('p'); p.textContent = line; return p; }));
  await look();
  scrollTo(0, 0);
}
document.addEventListener('submit', (event) => {
  event.preventDefault();
  const form = event.target;
  if (form.matches('.tick')) {
    const failed = event.submitter?.matches('[data-failed]');
    const args = ['did', job.name, form.dataset.step];
    for (const field of form.querySelectorAll('[data-arg]')) {
      const said = field.value.trim();
      if (!said || (field.dataset.arg === '--failed' && !failed)) continue;
      args.push(`${field.dataset.arg}=${field.dataset.before || ''}${said}`);
    }
    guarded(write)(args);
  } else if (form.id === 'build') {
    const fields = {};
    for (const [name, value] of new FormData(form)) (fields[name] ||= []).push(value);
    guarded(async () => {
      const told = await ask({ ask: 'build', fields });
      const stem = (form.elements.title.value.trim().toLowerCase().replace(/[^\p{L}\p{N}]+/gu, '_') || 'job') + '.yaml';
      await take(stem, told.text);
      $('form').hidden = true;
      $('editor').scrollIntoView();
    })();
  } else if (form.matches('.ask')) {
    const args = [form.dataset.verb];
    for (const field of form.querySelectorAll('[data-plain]')) args.push(...(form.dataset.verb === 'alloys' ? field.value.trim().split(/\s+/) : [field.value.trim()]));
    const named = {};
    for (const box of form.querySelectorAll('input:checked')) (named[box.name] ||= []).push(box.value);
    for (const [name, values] of Object.entries(named)) args.push(name, ...values);
    if (form.dataset.picture) args.push(form.dataset.picture, 'picture.svg');
    guarded(async () => {
      const told = await verb(args);
      const text = document.createElement('pre');
      text.textContent = told.out || told.err;
      const box = form.querySelector('.answer');
      box.replaceChildren(text);
      const svg = told.files['picture.svg'];
      if (svg) { const figure = document.createElement('figure'); figure.className = 'paper'; figure.innerHTML = svg; box.append(figure); }
    })();
  } else if (form.id === 'question') {
    guarded(answer)(form);
  }
});
document.addEventListener('click', ({ target }) => {
  const at = (mark) => target.closest(`[${mark}]`);
  if (at('data-undo')) guarded(write)(['undo', job.name]);
  const more = at('data-more');
  if (more) { document.querySelector(`[data-near="${more.dataset.more}"]`).hidden = false; more.hidden = true; }
  if (at('data-ways-out')) guarded(async () => {
    const told = await verb(['clash', job.name]);
    const text = document.createElement('pre');
    text.textContent = told.out || told.err;
    $('ways-out').replaceChildren(text);
  })();
  const level = at('data-level');
  if (level) { quiz = { level: Number(level.dataset.level), seed: Math.floor(Math.random() * 1e5), at: 0 }; guarded(question)(); }
  if (at('data-next-question')) { quiz.at += 1; guarded(question)(); }
  if (at('data-other-level')) { $('learn').innerHTML = begun.learn; }
});

// ---- practice ---------------------------------------------------------------------------------------------
let quiz;
async function question() {
  const told = await ask({ ask: 'question', ...quiz });
  if (told.wrong) throw new Error(told.wrong);
  $('learn').innerHTML = told.html;
  scrollTo(0, 0);
}
async function answer(form) {
  const said = new FormData(form);
  const told = await ask({ ask: 'answer', ...quiz, number: said.get('number') || '', options: said.getAll('option').map(Number), reason: Number(said.get('reason')) });
  if (told.wrong) throw new Error(told.wrong);
  form.querySelector('[type=submit]').remove();
  document.querySelector('#learn .told')?.remove();
  const box = document.createElement('div');
  box.className = 'told';
  box.innerHTML = told.html;
  $('learn').append(box);
  box.scrollIntoView();
}

// ---- screens ----------------------------------------------------------------------------------------------
function show() {
  const wanted = location.hash.slice(1);
  const id = screens.includes(wanted) ? wanted : 'start';
  for (const screen of screens) $(screen).hidden = screen !== id;
  for (const link of document.querySelectorAll('nav a')) {
    if (link.hash === '#' + id) link.setAttribute('aria-current', 'page'); else link.removeAttribute('aria-current');
  }
  document.body.classList.toggle('without', !job.name && ['now', 'next', 'plan', 'print'].includes(id));
  scrollTo(0, 0);
}
addEventListener('hashchange', show);
(async () => {
  const from = performance.now();
  show();
  hire();
  busy();
  try { await openStore(); } catch (why) { kept(false, 'This browser keeps nothing (' + (why?.message || why) + '): save every job as a file.'); }
  try {
    begun = await ask({ ask: 'begin' });
  } catch (why) { return fault(why); }
  $('form').innerHTML = begun.start;
  $('ask').innerHTML = begun.ask;
  $('learn').innerHTML = begun.learn;
  for (const { name, text } of begun.demos) $('demos').append(button(/^job: (.*)$/m.exec(text)[1], () => take('demo_' + name, text, '#next')));
  await mine();
  document.body.dataset.ready = Math.round(performance.now() - from);
})();
