import { spawn } from 'node:child_process';
import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';

/** A data folder that is gone after the story. */
export async function temporaryFolder() {
  const path = await mkdtemp(join(tmpdir(), 'pothook-e2e-'));
  return { path, remove: () => rm(path, { recursive: true, force: true }) };
}

/** Starts the program's local web address; `address` holds the secret. */
export async function serve(program, data) {
  const child = spawn(program, ['--data', data, 'serve', '--port', '0'], { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = new Promise((done) => child.once('exit', done));
  const address = await new Promise((found, lost) => {
    child.once('error', lost);
    void ended.then((code) => lost(new Error(`the program ended with ${code} before it gave an address`)));
    createInterface({ input: child.stdout }).on('line', (line) => {
      const open = /^Open (http:\/\/127\.0\.0\.1:\d+\/#s=\S+)$/.exec(line);
      if (open) found(open[1]);
    });
  });
  return {
    address,
    stop: async () => {
      child.kill('SIGTERM');
      await ended;
    },
  };
}

/** The pages for a test, with their paths: `{ id, path, text, … }`. */
export async function testPages(folder) {
  const { pages } = JSON.parse(await readFile(join(folder, 'manifest.json'), 'utf8'));
  return pages.map((page) => ({ ...page, path: join(folder, page.image) }));
}
