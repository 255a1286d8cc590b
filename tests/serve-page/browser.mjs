// One headless Chromium for a test file, and what the tests ask of a page.
import assert from 'node:assert/strict';
import { existsSync, readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';

const where = ['/usr/bin/chromium', '/usr/bin/chromium-browser'].find((p) => existsSync(p));

export async function launch() {
  return chromium.launch({
    executablePath: where,
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
}

/** A page that fails the test if anything goes wrong in it or leaves this machine. */
export async function open(browser, url, options = {}) {
  const context = options.context ?? (await browser.newContext({ viewport: { width: 1440, height: 900 }, ...options }));
  const page = await context.newPage();
  page.setDefaultTimeout(10000);
  const origin = new URL(url).origin, wrong = [];
  page.on('pageerror', (e) => wrong.push('error: ' + e.message));
  page.on('console', (m) => m.type() === 'error' && !/Failed to load resource/.test(m.text()) && wrong.push('console: ' + m.text()));
  page.on('dialog', (d) => (wrong.push('dialog: ' + d.message()), d.dismiss()));
  page.on('request', (r) => !r.url().startsWith(origin) && !r.url().startsWith('blob:' + origin) && wrong.push('asked for ' + r.url()));
  page.fine = () => assert.deepEqual(wrong, []);
  await page.goto(url);
  if (!options.bare) await page.waitForSelector('.card.here');
  return page;
}

/** What stands on the current card: name, verdict, yours. */
export async function here(page) {
  return page.evaluate(() => {
    const c = document.querySelector('.card.here');
    return c && { id: c.getAttribute('data-id'), name: c.querySelector('.name').textContent, verdict: c.querySelector('.verdict b').textContent, mine: c.classList.contains('mine'), stars: c.querySelector('.count5')?.firstChild.textContent ?? '', focused: document.activeElement === c };
  });
}

/** Presses a key and waits for the verdict's word on the current card. */
export async function decide(page, key, verdict) {
  await page.keyboard.press(key);
  await page.waitForFunction((v) => {
    const c = document.querySelector('.card.here');
    return c?.classList.contains('mine') && c.querySelector('.verdict b').textContent === v;
  }, verdict);
}

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

/** No finding of axe-core of moderate or graver weight. */
export async function accessible(page, what) {
  // Injected past the page's policy, which allows no script but its own: through the debugger.
  await page.evaluate(axe);
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ['violations'] }));
  const grave = found.violations.filter((v) => v.impact !== 'minor').map((v) => `${v.id} (${v.impact}): ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 160)).join(' | ')}`);
  assert.deepEqual(grave, [], what);
  assert.ok(found.passes.length > 0 || found.violations.length >= 0);
}

/** Milliseconds from key press to the changed mark, by the page's own clock. */
export async function keyToMark(page, keys) {
  return page.evaluate(async (list) => {
    const times = [];
    for (const [key, code] of list) {
      const card = document.querySelector('.card.here');
      const start = performance.now();
      const changed = new Promise((resolve) => {
        const watch = new MutationObserver(() => {
          if (!card.isConnected) return;
          watch.disconnect();
          resolve();
        });
        watch.observe(card, { attributes: true, attributeFilter: ['class'] });
      });
      document.activeElement.dispatchEvent(new KeyboardEvent('keydown', { key, code, bubbles: true, cancelable: true }));
      await Promise.race([changed, new Promise((_, no) => setTimeout(() => no(new Error('no mark within 5 s: ' + card.className)), 5000))]);
      await new Promise((r) => requestAnimationFrame(r)); // painted with this frame
      times.push(performance.now() - start);
    }
    return times;
  }, keys);
}

export function quantile(times, q) {
  const sorted = [...times].sort((a, b) => a - b);
  return sorted[Math.min(sorted.length - 1, Math.floor(q * sorted.length))];
}
