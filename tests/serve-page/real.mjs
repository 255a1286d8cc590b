// The real program over a copy of the sample bursts.
import { spawn } from 'node:child_process';
import { createHash } from 'node:crypto';
import { cpSync, existsSync, mkdirSync, readFileSync, readdirSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');

/** Starts `burstsieve review` on work/card, a copy of the sample bursts made the first time. */
export async function review(program, work, { port = 0 } = {}) {
  const card = join(work, 'card');
  mkdirSync(join(work, 'home'), { recursive: true });
  if (!existsSync(card)) cpSync(join(root, 'sample-bursts', 'DCIM'), card, { recursive: true });
  const child = spawn(program, ['review', '--no-browser', '--port', String(port), '--catalog', join(work, 'catalog.sqlite'), card], {
    env: { ...process.env, HOME: join(work, 'home'), XDG_DATA_HOME: '', XDG_CONFIG_HOME: '', XDG_STATE_HOME: '' }, stdio: ['ignore', 'pipe', 'pipe'] });
  let out = '';
  const gone = new Promise((r) => child.once('exit', r));
  const url = await new Promise((resolve, reject) => {
    const read = (part) => {
      out += part;
      const found = /http:\/\/127\.0\.0\.1:\d+\/\?t=\w+/.exec(out);
      if (found) resolve(found[0]);
    };
    child.stdout.on('data', read);
    child.stderr.on('data', read);
    child.once('error', reject);
    child.once('exit', (code) => reject(new Error(`burstsieve review ended with ${code}: ${out}`)));
  });
  const end = (signal) => async () => (child.kill(signal), await gone);
  return { url, card, port: Number(new URL(url).port), stop: end('SIGTERM'), kill: end('SIGKILL'), output: () => out };
}

/** Every file below a folder and what is in it. */
export function contents(folder, pattern) {
  const out = {};
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true }))
    if (entry.isFile() && pattern.test(entry.name)) out[entry.name] = createHash('sha256').update(readFileSync(join(entry.parentPath, entry.name))).digest('hex');
  return out;
}

/** xmp:Rating of a photograph's sidecar; null: none in it; undefined: no sidecar. */
export function ratingOf(folder, name) {
  for (const entry of readdirSync(folder, { recursive: true, withFileTypes: true }))
    if (entry.name === name + '.xmp') {
      const found = /xmp:Rating(?:="|>)(-?\d+)/.exec(readFileSync(join(entry.parentPath, entry.name), 'utf8'));
      return found ? Number(found[1]) : null;
    }
  return undefined;
}
