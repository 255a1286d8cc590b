// Stand-in for the review server, for work on the page and for the test with 10,000 frames: the same addresses and answers
// (docs/review.md) over an invented shoot, without reading a photograph. Every decision is on disk before it is answered.
//   node mock.mjs [--frames N] [--port P] [--journal FILE] [--seed S]
import { createServer } from 'node:http';
import { closeSync, existsSync, fdatasyncSync, openSync, readFileSync, readdirSync, writeSync } from 'node:fs';
import { dirname, extname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { invent } from './mock-shoot.mjs';

const root = join(dirname(fileURLToPath(import.meta.url)), '..', '..');
const page = join(root, 'src', 'serve', 'page');
const types = { '.html': 'text/html; charset=utf-8', '.js': 'text/javascript; charset=utf-8', '.css': 'text/css; charset=utf-8', '.svg': 'image/svg+xml' };
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'";

function pictures() {
  const at = (folder, pattern) =>
    readdirSync(join(root, 'sample-bursts', 'DCIM', folder)).filter((n) => pattern.test(n)).map((n) => readFileSync(join(root, 'sample-bursts', 'DCIM', folder, n)));
  return { small: at('100HARBR', /JPG$/), large: at('101SALTM', /JPG$/) };
}

/** @returns {Promise<{port: number, token: string, url: string, close: () => Promise<void>}>} */
export function start({ frames = 200, port = 0, journal = '', seed = 1, token = 'mock' } = {}) {
  const shoot = invent(frames, seed);
  const byId = { get: (id) => shoot.frames[Number(id) - 1], has: (id) => Number.isInteger(Number(id)) && Number(id) >= 1 && Number(id) <= shoot.frames.length };
  const shown = pictures();
  let revision = 0, undone = [], done = [];
  const log = [], waiting = new Set();
  const session = 'mock-' + seed;

  function apply(changed) {
    const before = changed.map((c) => ({ id: c.id, mine: byId.get(c.id).mine }));
    for (const c of changed) byId.get(c.id).mine = c.mine;
    log.push({ revision: ++revision, changed });
    for (const wake of waiting) wake();
    waiting.clear();
    return before;
  }
  if (journal && existsSync(journal))
    for (const line of readFileSync(journal, 'utf8').split('\n').filter(Boolean)) done.push(apply(JSON.parse(line)));
  const file = journal ? openSync(journal, 'a') : -1;
  function keep(changed) {
    if (file >= 0) {
      writeSync(file, JSON.stringify(changed) + '\n');
      fdatasyncSync(file);
    }
    return apply(changed);
  }
  const state = () => ({ revision, can_undo: done.length > 0, can_redo: undone.length > 0 });

  function detail(f) {
    const m = (value, unit, confidence = 0.8) => ({ value, unit, confidence, basis: 'jpeg' });
    return {
      id: f.id, name: f.name,
      reasons: [{ code: f.codes[0], text: f.reason, value: f.blur, unit: 'px', limit: 2.2, confidence: f.blur_confidence }],
      measures: { blur_sigma_px: m(f.blur, 'px', f.blur_confidence), motion_px: m(f.motion, 'px'), white_clipped_g: m(f.whites, ''),
        ...(f.blur > 2.2 ? { focus_elsewhere: m(3.4, 'x'), focus_elsewhere_side: m(1, ''), focus_elsewhere_x: m(0.05, ''), focus_elsewhere_y: m(0.7, ''), focus_elsewhere_w: m(0.3, ''), focus_elsewhere_h: m(0.2, '') } : { focus_elsewhere: m(1, 'x') }) },
      subjects: [{ box: f.subject, head: f.head, confidence: 0.8, source: 'AF area + focus energy' }],
      af: { box: [f.head[0], f.head[1], 0.07, 0.1], confidence: 0.7, source: 'Exif subject area' },
      capture: { make: 'Saltmarsh Optics', model: 'SO-1', focal_mm: 600, f_number: 5.6, exposure_s: 0.002, iso: 500 },
      notes: f.damaged ? ['the picture data ends early'] : [],
    };
  }
  function series(burst) {
    return { burst: burst.id, frames: burst.frames.map((id) => {
      const f = byId.get(id), spread = 0.1 + 0.5 * (1 - f.blur_confidence);
      return { id, time_ms: f.time_ms, blur: f.blur, blur_low: f.blur / (1 + spread), blur_high: f.blur * (1 + spread), motion: f.motion, whites: f.whites };
    }) };
  }

  // As the real one does: only what can change is written anew.
  const fixed = shoot.frames.map((f) => JSON.stringify({ ...f, mine: undefined }).slice(0, -1));
  const rest = JSON.stringify({ folder: shoot.folder, session, bursts: shoot.bursts }).slice(0, -1);
  const whole = () => `${rest},${JSON.stringify(state()).slice(1, -1)},"frames":[${fixed.map((t, i) => `${t},"mine":${JSON.stringify(shoot.frames[i].mine)}}`).join(',')}]}`;

  const posts = {
    '/api/decide': (b) => {
      const changed = b.frames.map(Number).map((id) => ({ id, mine: b.verdict === 'none' ? null : { verdict: b.verdict, rating: b.rating ?? null } }));
      if (changed.some((c) => !byId.has(c.id))) throw new Error('no such frame');
      done.push(keep(changed));
      undone = [];
      return { ...state(), changed };
    },
    '/api/undo': () => step(done, undone, 'undo'),
    '/api/redo': () => step(undone, done, 'redo'),
    '/api/done': () => {
      const mine = shoot.frames.filter((f) => f.mine);
      return { created: 0, updated: mine.length, unchanged: 0, failed: [] };
    },
  };
  function step(from, to, what) {
    const last = from.pop();
    if (!last) throw Object.assign(new Error(`there is nothing to ${what}`), { status: 409 });
    to.push(keep(last));
    return { ...state(), changed: last, what };
  }

  const server = createServer((request, response) => {
    const url = new URL(request.url ?? '/', 'http://localhost');
    const send = (code, type, body) => {
      response.writeHead(code, { 'Content-Type': type, 'Content-Security-Policy': policy, 'Cache-Control': 'no-store' });
      response.end(body);
    };
    const json = (code, value) => send(code, 'application/json', JSON.stringify(value));
    if (request.method === 'POST') {
      let text = '';
      request.on('data', (part) => (text += part));
      request.on('end', () => {
        if (request.headers['x-burstsieve-token'] !== token) return json(403, { error: 'wrong token' });
        const run = posts[url.pathname];
        if (!run) return json(404, { error: 'no such address' });
        try {
          json(200, run(text ? JSON.parse(text) : {}));
        } catch (e) {
          json(e.status ?? 400, { error: String(e.message) });
        }
      });
      return;
    }
    if (url.pathname === '/' && url.searchParams.has('t')) {
      response.writeHead(303, { Location: '/', 'Set-Cookie': 'burstsieve=mock; HttpOnly; SameSite=Strict; Path=/' });
      return response.end();
    }
    if (url.pathname === '/') return send(200, types['.html'], readFileSync(join(page, 'index.html'), 'utf8').replace('@TOKEN@', token));
    const [, kind, name, more] = url.pathname.split('/');
    if (kind === 'app' && /^[\w.-]+$/.test(name) && existsSync(join(page, name))) return send(200, types[extname(name)], readFileSync(join(page, name)));
    if (url.pathname === '/api/shoot') return send(200, 'application/json', whole());
    if (url.pathname === '/api/changes') {
      const since = Number(url.searchParams.get('since'));
      if (since > revision) return json(410, { error: 'the page is ahead of the server; read the shoot anew' });
      const answer = () => json(200, { ...state(), changed: log.filter((e) => e.revision > since).flatMap((e) => e.changed) });
      if (revision > since || !url.searchParams.has('wait')) return answer();
      let timer;
      const wake = () => (clearTimeout(timer), answer());
      timer = setTimeout(() => (waiting.delete(wake), answer()), 20000);
      waiting.add(wake);
      request.on('close', () => (clearTimeout(timer), waiting.delete(wake)));
      return;
    }
    if (kind === 'api' && name === 'frame' && byId.has(more)) return json(200, detail(byId.get(more)));
    if (kind === 'api' && name === 'burst') {
      const burst = shoot.bursts.find((b) => String(b.id) === more);
      if (burst) return json(200, series(burst));
    }
    if ((kind === 'thumb' || kind === 'full' || kind === 'crop') && byId.has(name)) {
      const from = kind === 'full' ? shown.large : shown.small;
      return byId.get(name).damaged ? json(404, { error: 'no picture could be read' }) : send(200, 'image/jpeg', from[Number(name) % from.length]);
    }
    json(404, { error: 'no such address' });
  });
  return new Promise((resolve) =>
    server.listen(port, '127.0.0.1', () => {
      if (process.argv[1] !== fileURLToPath(import.meta.url)) server.unref(); // a failed test must not keep the test runner
      const at = /** @type {any} */ (server.address()).port;
      resolve({
        port: at, token, url: `http://127.0.0.1:${at}/?t=${token}`,
        close: () => new Promise((r) => (server.closeAllConnections(), server.close(() => (file >= 0 && closeSync(file), r(undefined))))),
      });
    }));
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const option = (name, otherwise) => {
    const i = process.argv.indexOf('--' + name);
    return i > 0 ? process.argv[i + 1] : otherwise;
  };
  const run = await start({ frames: Number(option('frames', 200)), port: Number(option('port', 0)), journal: option('journal', ''), seed: Number(option('seed', 1)) });
  console.log(run.url);
}
