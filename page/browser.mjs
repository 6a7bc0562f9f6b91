// The page in a real browser: built by tapping, ticked off, killed and opened again; nothing cut, nothing sent, all named.
// With a folder as argument the screens are written there as pictures.
import { spawn } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const root = new URL('..', import.meta.url).pathname;
const out = process.env.CARGO_TARGET_DIR || join(root, 'target');
const address = 'file://' + join(out, 'page/meltstair.html');
const pictures = process.argv[2];
const profile = mkdtempSync(join(tmpdir(), 'page-'));
let passed = 0, failed = 0;
const check = (well, what) => { if (well) passed += 1; else { failed += 1; console.error('FAILED', what); } };
const wait = (ms) => new Promise((done) => setTimeout(done, ms));

async function browser() {
  const flags = ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync', '--hide-scrollbars', '--remote-debugging-pipe', `--user-data-dir=${profile}`, 'about:blank'];
  const run = spawn(process.env.CHROMIUM || 'chromium', flags, { stdio: ['ignore', 'ignore', 'ignore', 'pipe', 'pipe'] });
  const calls = new Map(), events = [];
  let last = 0, rest = '';
  run.stdio[4].on('data', (bytes) => {
    rest += bytes;
    for (let end; (end = rest.indexOf('\0')) >= 0; rest = rest.slice(end + 1)) {
      const told = JSON.parse(rest.slice(0, end));
      if (told.id) calls.get(told.id)?.(told); else events.push(told);
    }
  });
  const call = (method, params = {}, sessionId) => new Promise((done, no) => {
    const id = ++last;
    calls.set(id, (told) => (told.error ? no(new Error(`${method}: ${told.error.message}`)) : done(told.result)));
    run.stdio[3].write(JSON.stringify({ id, method, params, sessionId }) + '\0');
  });
  const { targetInfos } = await call('Target.getTargets');
  const { sessionId } = await call('Target.attachToTarget', { targetId: targetInfos.find((t) => t.type === 'page').targetId, flatten: true });
  const on = (method, params) => call(method, params, sessionId);
  await on('Page.enable');
  await on('Network.enable');
  await on('Runtime.enable');
  return { run, on, events };
}
function tab({ on, events }) {
  const run = async (code) => {
    const told = await on('Runtime.evaluate', { expression: `(async () => { ${code} })()`, awaitPromise: true, returnByValue: true });
    if (told.exceptionDetails) throw new Error(code + ': ' + told.exceptionDetails.exception?.description);
    return told.result.value;
  };
  const until = async (code, what) => {
    for (let tries = 0; tries < 150; tries += 1) { if (await run(`return !!(${code})`)) return; await wait(100); }
    check(false, 'waited in vain for ' + what);
  };
  const size = (width, height, dark = false) => Promise.all([
    on('Emulation.setDeviceMetricsOverride', { width, height, deviceScaleFactor: 1, mobile: true }),
    on('Emulation.setEmulatedMedia', { features: [{ name: 'prefers-color-scheme', value: dark ? 'dark' : 'light' }] }),
  ]);
  const open = async () => { await on('Page.navigate', { url: address }); await until('document.body?.dataset.ready', 'the program'); };
  const picture = async (name) => {
    if (!pictures) return;
    const { data } = await on('Page.captureScreenshot', { format: 'png' });
    writeFileSync(join(pictures, name + '.png'), Buffer.from(data, 'base64'));
  };
  return { on, events, run, until, size, open, picture };
}
/** What is cut, too small for a glove, or has no name. */
const FLAWS = `
  const flaws = [];
  if (document.documentElement.scrollWidth > innerWidth) {
    const wide = [...document.querySelectorAll('main *')].filter((e) => e.getBoundingClientRect().right > innerWidth + 1 && !e.closest('.paper, pre, .editor')).slice(0, 3);
    flaws.push('wider than the screen: ' + wide.map((e) => e.tagName + '.' + e.className));
  }
  for (const e of document.querySelectorAll('button, a[href], input:not([type=file]), select, summary, textarea')) {
    if (!e.checkVisibility({ visibilityProperty: true })) continue;
    const label = e.closest('label');
    const box = (label && /radio|checkbox/.test(e.type) ? label : e).getBoundingClientRect();
    if (!e.closest('p') && (box.height < 44 || box.width < 44)) flaws.push('small: ' + e.outerHTML.slice(0, 90) + ' ' + box.width + '×' + box.height);
    const name = e.getAttribute('aria-label') || e.innerText || label?.innerText;
    if (!name?.trim()) flaws.push('no name: ' + e.outerHTML.slice(0, 90));
  }
  return flaws;`;
const SIZES = [[768, 1024, ''], [360, 800, '_small']];
async function screens(page, names, dark) {
  for (const [width, height, suffix] of SIZES) {
    await page.size(width, height, dark);
    for (const [screen, name] of names) {
      await page.run(`location.hash = '${screen}'; await new Promise((d) => setTimeout(d, 250)); scrollTo(0, 0)`);
      for (const flaw of await page.run(FLAWS)) check(false, `${screen} at ${width}: ${flaw}`);
      passed += 1;
      await page.picture(name + suffix + (dark ? '_dark' : ''));
    }
  }
}

let at = await browser();
let page = tab(at);
try {
  await page.size(768, 1024);
  await page.open();
  const readies = [await page.run('return Number(document.body.dataset.ready)')];
  for (let i = 0; i < 4; i += 1) { await page.open(); readies.push(await page.run('return Number(document.body.dataset.ready)')); }
  console.log(`ready in ms: ${readies.join(' ')}`);
  await screens(page, [['start', 'page_start'], ['ask', 'page_ask'], ['learn', 'page_learn']]);

  // Built by tapping, without a word of YAML, to an order.
  await page.run(`
    location.hash = 'start'; await new Promise((d) => setTimeout(d, 200));
    document.getElementById('tap').click();
    const form = document.getElementById('build');
    const put = (name, value) => { form.elements[name].value = value; };
    const tap = (name, value) => form.querySelector('[name="' + name + '"][value="' + value + '"]').click();
    put('title', 'well pump'); put('count', '49'); put('limit_c', '245'); put('body_k', '110'); put('preheat_c', '100');
    tap('residue', 'Sn63Pb37'); put('film_um', '2'); tap('dry', 'true');
    put('near1_name', 'jumpers'); tap('near1_alloy', 'Sn63Pb37'); put('near1_count', '9'); put('near1_k', '80');
    for (const alloy of ['Sn63Pb37', 'Bi58Sn42']) tap('stock', alloy);`);
  for (const [width, height, suffix] of SIZES) {
    await page.size(width, height);
    for (const flaw of await page.run(FLAWS)) check(false, `form at ${width}: ${flaw}`);
    await page.run(`document.querySelector('[data-near="1"]').scrollIntoView(); scrollBy(0, -120)`);
    await page.picture('page_build' + suffix);
  }
  await page.run(`document.querySelector('#build [type=submit]').click()`);
  await page.until(`document.querySelector('#next-step .verdict-box')`, 'an order');
  check(await page.run(`return document.querySelector('#next-step .verdict-box').dataset.verdict === 'holds'`), 'the tapped job holds: ' + await page.run(`return document.getElementById('next-step').innerText.slice(0, 300) + document.getElementById('text').value`));
  await page.run(`location.hash = 'start'; await new Promise((d) => setTimeout(d, 200)); document.getElementById('editor').scrollIntoView()`);
  await page.size(768, 1024);
  await page.picture('page_text');

  // A slip of the pen is told at its line.
  await page.run(`const t = document.getElementById('text'); t.value = t.value.replace('limit_c', 'limitt_c'); t.dispatchEvent(new Event('input'))`);
  await page.until(`document.querySelector('#gutter .bad')`, 'a fault at its line');
  await page.run(`document.getElementById('editor').scrollIntoView()`);
  await page.picture('page_fault');

  // The hard demo, with its failure.
  await page.run(`[...document.querySelectorAll('#demos button')].find((b) => /organ/.test(b.textContent)).click()`);
  const from = Date.now();
  await page.until(`document.getElementById('title').textContent.startsWith('organ') && location.hash === '#next'`, 'the organ console');
  console.log(`organ console shown in about ${Date.now() - from} ms`);
  await screens(page, [['next', 'page_next_first'], ['now', 'page_now'], ['plan', 'page_plan'], ['print', 'page_print']]);
  const tick = async (fields, failed) => {
    const before = await page.run(`return document.getElementById('text').value`);
    const step = await page.run(`
      location.hash = 'next';
      const form = document.querySelector('.tick');
      for (const [where, value] of ${JSON.stringify(fields)}) form.querySelector(where).value = value;
      ${failed ? `form.querySelector('details').open = true; form.querySelector('[data-failed]').click();` : `form.querySelector('.main').click();`}
      return form.dataset.step;`);
    const began = Date.now();
    await page.until(`document.getElementById('text').value !== ${JSON.stringify(before)} && document.querySelector('.tick')?.dataset.step !== ${JSON.stringify(step)} && document.getElementById('kept').textContent.startsWith('Kept')`, 'the tick of ' + step);
    await wait(150);
    return [step, Date.now() - began];
  };
  const ticks = [await tick([]), await tick([['[data-arg="--peak"]', '243']]), await tick([['[data-arg="--peak"]', '161']])];
  await screens(page, [['next', 'page_next']]);
  await screens(page, [['next', 'page_next']], true);
  ticks.push(await tick([['[data-arg="--peak"]', '205'], ['[data-before="tails:"]', '186'], ['[data-arg="--failed"]', 'two balls open']], true));
  console.log('ticked, about ms: ' + ticks.map(([step, ms]) => `${step} ${ms}`).join(', '));
  check(ticks.map(([step]) => step).join() === 'shield,strip,ball,set', 'the steps came in order: ' + ticks);
  check(await page.run(`return document.querySelector('#next-step .verdict-box').dataset.verdict`) === 'melts', 'the failure is told');
  await screens(page, [['next', 'page_failed'], ['now', 'page_now_failed']]);
  await screens(page, [['now', 'page_now_failed']], true);
  await page.size(768, 1024);

  // Power goes: what was ticked is there again.
  const kept = await page.run(`return document.getElementById('text').value`);
  const requests = page.events.filter((e) => e.method === 'Network.requestWillBeSent').map((e) => e.params.request.url);
  const sent = requests.filter((url) => !/^(file|blob|data|about):/.test(url));
  check(sent.length === 0, 'nothing is sent: ' + sent);
  const broke = page.events.filter((e) => e.method === 'Runtime.exceptionThrown').map((e) => e.params.exceptionDetails.exception?.description);
  check(broke.length === 0, 'no script broke: ' + broke);
  at.run.kill('SIGKILL');
  await wait(500);
  at = await browser();
  page = tab(at);
  await page.size(768, 1024);
  await page.open();
  await page.run(`[...document.querySelectorAll('#mine button')].find((b) => /organ/.test(b.textContent)).click()`);
  await page.until(`document.getElementById('text').value`, 'the job that was kept');
  check(await page.run(`return document.getElementById('text').value`) === kept, 'the log is there after a kill');

  // The same demo opened anew: the log that is there stays there.
  await page.run(`window.confirm = () => true; [...document.querySelectorAll('#demos button')].find((b) => /organ/.test(b.textContent)).click()`);
  await page.until(`!document.getElementById('text').value.includes('two balls open') && [...document.querySelectorAll('#mine button')].filter((b) => /organ/.test(b.textContent)).length === 2`, 'both copies');
  await page.run(`[...document.querySelectorAll('#mine button')].find((b) => /organ.*left/.test(b.textContent)).click()`);
  await page.until(`document.getElementById('text').value.includes('two balls open')`, 'the copy that was left');

  // One tap too many is no second line of the log.
  await page.until(`document.querySelector('.tick[data-step="set~inspect"]')`, 'the step to come');
  await page.run(`location.hash = 'next'; const b = document.querySelector('.tick .main'); b.click(); b.click()`);
  await page.until(`document.getElementById('text').value.includes('set~inspect')`, 'the tick');
  await wait(1500);
  check(await page.run(`return document.getElementById('text').value.split('set~inspect').length === 2`), 'two taps are one tick');

  // Without an order: what is in the way, and what opens it.
  await page.run(`[...document.querySelectorAll('#demos button')].find((b) => /seismo/.test(b.textContent)).click()`);
  await page.until(`document.querySelector('[data-ways-out]')`, 'the ways out');
  await page.run(`location.hash = 'plan'; document.querySelector('[data-ways-out]').click()`);
  await page.until(`document.querySelector('#ways-out pre')`, 'what opens it');
  await screens(page, [['plan', 'page_no_order']]);

  // Practice.
  await page.run(`location.hash = 'learn'; document.querySelector('[data-level="3"]').click()`);
  await page.until(`document.querySelector('#question')`, 'a question');
  await page.run(`const q = document.querySelector('#question'); const n = q.querySelector('[name=number]'); if (n) n.value = '1'; for (const set of q.querySelectorAll('fieldset')) set.querySelector('input').checked = true; q.querySelector('[type=submit]').click()`);
  await page.until(`document.querySelector('#learn .told')`, 'what the answer is worth');
  await screens(page, [['learn', 'page_question']]);
  await page.run(`location.hash = 'ask'; document.querySelector('[data-verb=mix] [type=submit]').click()`);
  await page.until(`document.querySelector('.answer figure')`, 'a mixture');
  await screens(page, [['ask', 'page_mix']]);
} catch (why) {
  check(false, why.stack);
} finally {
  at.run.kill('SIGKILL');
  await wait(300);
  rmSync(profile, { recursive: true, force: true });
}
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
