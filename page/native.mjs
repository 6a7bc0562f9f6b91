// The program of the page against the program of the command line: the same words, pictures and pages, byte by byte.
import { execFileSync, spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const root = new URL('..', import.meta.url).pathname;
const out = process.env.CARGO_TARGET_DIR || join(root, 'target');
const wasm = join(out, 'wasm32-unknown-unknown/page/meltstair_page.wasm');
const native = process.env.MELTSTAIR || join(out, 'debug/meltstair');

const began = performance.now();
const module = await WebAssembly.compile(readFileSync(wasm));
let exports;
const page = { now: () => performance.now(), tell: () => {} };
exports = (await WebAssembly.instantiate(module, { page })).exports;
console.log(`compiled and ready in ${Math.round(performance.now() - began)} ms`);

export function ask(request) {
  const given = new TextEncoder().encode(JSON.stringify(request));
  const at = exports.alloc(given.length);
  new Uint8Array(exports.memory.buffer, at, given.length).set(given);
  const told = exports.call(at, given.length) >>> 0;
  const length = new DataView(exports.memory.buffer).getUint32(told, true);
  const answer = new TextDecoder().decode(new Uint8Array(exports.memory.buffer, told + 4, length));
  exports.free(told, length + 4);
  return JSON.parse(answer);
}

function natively(args, files) {
  const folder = mkdtempSync(join(tmpdir(), 'page-'));
  try {
    for (const [name, text] of Object.entries(files)) writeFileSync(join(folder, name), text);
    const env = { ...process.env, COLUMNS: '100', XDG_CONFIG_HOME: join(folder, 'none') };
    const ran = spawnSync(native, args, { cwd: folder, env, encoding: 'utf8' });
    if (ran.error) throw ran.error;
    const after = {};
    for (const name of readdirSync(folder)) after[name] = readFileSync(join(folder, name), 'utf8');
    return { code: ran.status, out: ran.stdout, files: after };
  } finally {
    rmSync(folder, { recursive: true });
  }
}

let compared = 0, failed = 0;
function same(what, one, other) {
  compared += 1;
  if (one === other) return;
  failed += 1;
  let at = 0;
  while (one?.[at] === other?.[at]) at += 1;
  console.error(`FAILED ${what}: native …${JSON.stringify(one?.slice(at - 40, at + 40))}, page …${JSON.stringify(other?.slice(at - 40, at + 40))}`);
}
function both(args, files = {}) {
  const from = performance.now();
  const inside = ask({ ask: 'verb', args, files });
  const took = performance.now() - from;
  const outside = natively(args, files);
  const what = args.join(' ');
  same(`${what}: code`, String(outside.code), String(inside.code));
  same(`${what}: text`, outside.out, inside.out);
  for (const name of new Set([...Object.keys(outside.files), ...Object.keys(inside.files)])) {
    same(`${what}: ${name}`, outside.files[name], inside.files[name]);
  }
  if (took > 200) console.log(`${Math.round(took)} ms: ${what}`);
  return inside;
}

const demos = readdirSync(join(root, 'charts')).filter((name) => name.endsWith('.yaml'));
for (const demo of demos) {
  const files = { [demo]: readFileSync(join(root, 'charts', demo), 'utf8') };
  for (const args of [
    ['check', demo], ['order', demo], ['order', '--full', demo], ['order', '--json', demo], ['order', demo, '--all'],
    ['clash', demo], ['bench', demo], ['bench', '--json', demo], ['chart', demo, '-o', 'picture.svg'], ['chart', demo, '--text'],
    ['sheet', demo, '-o', 'sheet.html'], ['--fahrenheit', 'order', demo],
  ]) both(args, files);
}
let files = { 'job.yaml': readFileSync(join(root, 'charts/organ_console.yaml'), 'utf8') };
for (const args of [
  ['did', 'job.yaml', 'shield'], ['did', 'job.yaml', 'strip', '--peak', '243'], ['did', 'job.yaml', 'ball', '--alloy', 'snbi', '--peak', '161'],
  ['did', 'job.yaml', 'ball_again'], ['did', 'job.yaml', 'set', '--peak', '205', '--sees', 'tails:186', '--failed', 'two balls open'],
  ['bench', 'job.yaml'], ['order', 'job.yaml'], ['undo', 'job.yaml'], ['did', 'job.yaml', 'nothing_of_that_name'],
]) files = both(args, files).files;
both(['mix', 'ball 0.3 snbi + film 10um 63/37 on 0.3', '--curve', 'curve.svg']);
both(['pick', '--over', 'sac305', '63/37', '--service', '60']);
both(['compare', ...demos, '-o', 'routes.svg'], Object.fromEntries(demos.map((d) => [d, readFileSync(join(root, 'charts', d), 'utf8')])));
for (const args of [['alloys', 'lead-free', '100-150'], ['alloys', 'sac305'], ['words'], ['keys', 'place'], ['schema'], ['new'], ['new', 'new.yaml'], ['chart', '--wall', '-o', 'wall.svg']]) both(args);
// Not the drill: its dice count in the words of the machine, so that a seed draws other questions where those are shorter.

// Each tick, as the page does it: the line into the log, and all screens anew.
let text = readFileSync(join(root, 'charts/organ_console.yaml'), 'utf8');
const times = [];
for (const step of [['shield'], ['strip', '--peak=243'], ['ball', '--alloy=snbi'], ['set', '--peak=205', '--sees=tails:186', '--failed=two balls open']]) {
  const from = performance.now();
  const did = ask({ ask: 'verb', args: ['did', 'job.yaml', ...step], files: { 'job.yaml': text } });
  text = did.files['job.yaml'];
  const seen = ask({ ask: 'look', text });
  if (!seen.next) { failed += 1; console.error('FAILED: no screens after', step, seen); }
  times.push(Math.round(performance.now() - from));
}
console.log(`ticks of the organ console, ms: ${times.join(' ')}`);
console.log(`${compared - failed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
