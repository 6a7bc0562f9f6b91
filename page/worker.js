// Runs the program. One request after the other; a request that breaks it costs this instance and no more.
'use strict';
let module, exports, word = '';

async function compile(base64) {
  const bytes = Uint8Array.fromBase64 ? Uint8Array.fromBase64(base64) : Uint8Array.from(atob(base64), (c) => c.charCodeAt(0));
  const plain = new Blob([bytes]).stream().pipeThrough(new DecompressionStream('gzip'));
  module = await WebAssembly.compile(await new Response(plain).arrayBuffer());
}

async function instantiate() {
  const text = (at, length) => new TextDecoder().decode(new Uint8Array(exports.memory.buffer, at, length));
  const page = { now: () => performance.now(), tell: (at, length) => postMessage({ word: (word = text(at, length)) }) };
  exports = (await WebAssembly.instantiate(module, { page })).exports;
}

function call(request) {
  const given = new TextEncoder().encode(JSON.stringify(request));
  const at = exports.alloc(given.length);
  new Uint8Array(exports.memory.buffer, at, given.length).set(given);
  const told = exports.call(at, given.length) >>> 0;
  const length = new DataView(exports.memory.buffer).getUint32(told, true);
  const answer = new TextDecoder().decode(new Uint8Array(exports.memory.buffer, told + 4, length));
  exports.free(told, length + 4);
  return JSON.parse(answer);
}

onmessage = async ({ data }) => {
  try {
    if (data.program) {
      await compile(data.program);
      await instantiate();
      postMessage({ ready: true });
    } else {
      postMessage({ id: data.id, told: call(data.request) });
    }
  } catch (why) {
    postMessage({ id: data.id, broke: `${why} ${word}`, program: !!data.program });
    if (module) await instantiate();
  }
};
