// The same pages read by WebAssembly: `node compare.mjs MODULE ALL`. Each answer must be the bytes
// that the machine's own code gave; the processor time is shown as a ratio to it.

import { readFileSync } from "node:fs";
import { basename } from "node:path";

const [moduleFile, list] = process.argv.slice(2);
const pages = JSON.parse(readFileSync(list, "utf8"));
const { instance } = await WebAssembly.instantiate(readFileSync(moduleFile), {});
const { memory, room, read, answer } = instance.exports;

function put(what, bytes) {
  const at = room(what, bytes.length) >>> 0;
  new Uint8Array(memory.buffer, at, bytes.length).set(bytes);
}

function readHere(photo, expect) {
  put(0, photo);
  put(1, expect);
  const started = process.cpuUsage();
  const length = read();
  const spent = process.cpuUsage(started);
  const milliseconds = (spent.user + spent.system) / 1000;
  return { bytes: Buffer.from(memory.buffer, answer() >>> 0, length), milliseconds };
}

/** The first stage whose result differs. */
function difference(here, there) {
  try {
    const [a, b] = [JSON.parse(here), JSON.parse(there)];
    return ["photo", "page", "reading"].find(
      (stage) => JSON.stringify(a[stage]) !== JSON.stringify(b[stage]),
    );
  } catch {
    return `the answer “${here.toString().slice(0, 80)}”`;
  }
}

let passed = 0;
let failed = 0;
const ratios = [];
for (const [index, page] of pages.entries()) {
  const [photo, expect] = [readFileSync(page.photo), readFileSync(page.expect)];
  // The first call also compiles the module.
  if (index === 0) readHere(photo, expect);
  const here = readHere(photo, expect);
  const there = readFileSync(page.answer);
  const ratio = here.milliseconds / page.milliseconds;
  ratios.push(ratio);
  const same = here.bytes.equals(there) && there.length > 1000;
  same ? passed++ : failed++;
  const verdict = same ? "the same bytes" : `differs from ${difference(here.bytes, there)} on`;
  const times = `${here.milliseconds.toFixed(0)} ms / ${page.milliseconds.toFixed(0)} ms`;
  console.log(`${basename(page.answer, ".answer.json").padEnd(34)} ${verdict}; ${times}`);
}
ratios.sort((a, b) => a - b);
console.log(`\ntime, WebAssembly to native: ${ratios[ratios.length >> 1].toFixed(2)} (median)`);
console.log(`largest memory of the module: ${(memory.buffer.byteLength / 2 ** 20).toFixed(0)} MB`);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed || passed < 20 ? 1 : 0);
