// Prints how quick the page is; asserts nothing. On the stand-in server with 10,000 frames, whose every decision is on disk before
// it is answered, and on the real one with the sample bursts.
import { mkdtempSync, rmSync } from 'node:fs';
import { loadavg, tmpdir } from 'node:os';
import { join } from 'node:path';
import { keyToMark, launch, open, quantile } from './browser.mjs';
import { start } from './mock.mjs';
import { review } from './real.mjs';

const work = mkdtempSync(join(tmpdir(), 'burstsieve-bench-'));
const browser = await launch();
const line = (what, list) => console.log(`${what.padEnd(46)} median ${quantile(list, 0.5).toFixed(0).padStart(4)} ms   95th percentile ${quantile(list, 0.95).toFixed(0).padStart(4)} ms`);
console.log(`load ${loadavg()[0].toFixed(1)}`);

// In the page, from its beginning: when frames, and the first pictures, are on the screen.
function watch() {
  const look = () => {
    const after = (name) => requestAnimationFrame(() => (window[name] ??= performance.now()));
    if (!window.listed && document.querySelector('.card.here')) after('listed');
    if (!window.pictured && document.querySelectorAll('.pic img.there').length >= 4) after('pictured');
  };
  new MutationObserver(look).observe(document, { childList: true, subtree: true, attributes: true, attributeFilter: ['class'] });
}

async function run(name, url, decisions) {
  const paint = [], first = [], pictures = [];
  let page;
  for (let i = 0; i < 5; ++i) {
    await page?.context().close();
    const context = await browser.newContext({ viewport: { width: 1440, height: 900 } });
    await context.addInitScript(watch);
    page = await open(browser, url, { context });
    await page.waitForFunction(() => window.pictured);
    const seen = await page.evaluate(() => [performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? NaN, window.listed, window.pictured]);
    paint.push(seen[0]);
    first.push(seen[1]);
    pictures.push(seen[2]);
  }
  line(`${name}: first paint`, paint);
  line(`${name}: first frames painted`, first);
  line(`${name}: first four pictures`, pictures);
  const keys = Array.from({ length: decisions }, (_, i) => (i % 2 ? ['s', 'KeyS'] : ['d', 'KeyD']));
  await keyToMark(page, keys.slice(0, 10));
  line(`${name}: key to durable mark`, await keyToMark(page, keys));
  await page.context().close();
}

const mock = await start({ frames: 10000, journal: join(work, 'journal') });
await run('10,000 frames, stand-in', mock.url, 200);
await mock.close();
if (process.env.BURSTSIEVE_PROGRAM) {
  const real = await review(process.env.BURSTSIEVE_PROGRAM, work);
  await run('sample bursts, burstsieve', real.url, 200);
  await real.stop();
}
await browser.close();
rmSync(work, { recursive: true, force: true });
