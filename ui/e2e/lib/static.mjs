// Serves a folder as it is: what the time of a finished page is held against.
//
//   node e2e/lib/static.mjs FOLDER
import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { createServer } from 'node:http';
import { extname, join, normalize } from 'node:path';

const TYPES = { '.html': 'text/html; charset=utf-8', '.css': 'text/css', '.js': 'text/javascript', '.woff2': 'font/woff2', '.svg': 'image/svg+xml' };
const folder = process.argv[2];

const server = createServer(async ({ url }, answer) => {
  const { pathname } = new URL(url, 'http://localhost');
  const path = join(folder, normalize(pathname === '/' ? '/index.html' : pathname));
  const there = await stat(path).catch(() => null);
  if (!there?.isFile()) return void answer.writeHead(404).end();
  answer.writeHead(200, { 'content-type': TYPES[extname(path)] ?? 'application/octet-stream', 'content-length': there.size });
  createReadStream(path).pipe(answer);
});
server.listen(0, '127.0.0.1', () => console.log(`Open http://127.0.0.1:${server.address().port}/`));
