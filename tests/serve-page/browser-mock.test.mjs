// The page in a real browser, on the stand-in server: ten thousand frames, names that bite, two tabs, a server that dies, a
// finger instead of keys, and accessibility.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { accessible, decide, here, keyToMark, launch, open, quantile } from './browser.mjs';
import { start } from './mock.mjs';

let browser, work;
before(async () => {
  browser = await launch();
  work = mkdtempSync(join(tmpdir(), 'burstsieve-page-'));
});
after(async () => {
  await browser?.close();
  rmSync(work, { recursive: true, force: true });
});
const cards = (page) => page.locator('.card').count();

test('ten thousand frames: few elements, quick to the end and back', async () => {
  const server = await start({ frames: 10000, journal: join(work, 'many') });
  const page = await open(browser, server.url);
  assert.ok((await cards(page)) < 80);
  await page.waitForFunction(() => document.querySelectorAll('.pic.frame img.there').length >= 6);
  await page.keyboard.press('Control+End');
  await page.waitForFunction(() => document.querySelector('.card.here')?.getBoundingClientRect().bottom <= innerHeight);
  assert.ok((await here(page)).focused);
  assert.ok((await cards(page)) < 80);
  assert.ok(Number(await page.getAttribute('.grid', 'aria-rowcount')) > 1000);
  for (let i = 0; i < 6; ++i) await page.keyboard.press('PageUp');
  for (let i = 0; i < 15; ++i) await page.keyboard.press('ArrowLeft');
  assert.ok((await cards(page)) < 80);
  assert.ok((await here(page)).focused, 'the focus goes along');
  const inSight = await page.evaluate(() => {
    const r = document.querySelector('.card.here').getBoundingClientRect(), b = document.querySelector('#bursts').getBoundingClientRect();
    return r.top >= b.top && r.bottom <= b.bottom;
  });
  assert.ok(inSight);
  const times = await keyToMark(page, Array.from({ length: 24 }, (_, i) => (i % 2 ? ['s', 'KeyS'] : ['d', 'KeyD'])));
  console.log(`# 10,000 frames: key to mark median ${quantile(times, 0.5).toFixed(0)} ms, 95th percentile ${quantile(times, 0.95).toFixed(0)} ms`);
  page.fine();
  await page.context().close();
  await server.close();
});

test('names that bite stay text', async () => {
  const server = await start({ frames: 30 });
  const page = await open(browser, server.url);
  const title = await page.title();
  assert.equal(await page.locator('img[src="x"]').count(), 0);
  const names = await page.locator('.card .name').allTextContents();
  assert.ok(names.includes('<img src=x onerror=alert(1)>.JPG'));
  for (const id of ['3', '4', '5', '6']) {
    await page.evaluate((i) => document.querySelector(`[data-id="${i}"]`)?.click(), id);
    await page.keyboard.press('Enter');
    await page.waitForSelector('#close:not([hidden]) .pane');
    await page.keyboard.press('Escape');
  }
  assert.equal(await page.title(), title);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth > innerWidth || document.querySelector('#aside').scrollWidth > document.querySelector('#aside').clientWidth);
  assert.equal(wide, false, 'a long name does not widen the page');
  page.fine();
  await page.context().close();
  await server.close();
});

test('two tabs: what one decides shows in the other, and can be undone there', async () => {
  const server = await start({ frames: 60 });
  const context = await browser.newContext({ viewport: { width: 1200, height: 800 } });
  const one = await open(browser, server.url, { context }), two = await open(browser, server.url, { context });
  await one.bringToFront();
  const { id } = await here(one);
  await decide(one, 's', 'reject');
  await two.bringToFront();
  await two.waitForFunction((i) => document.querySelector(`[data-id="${i}"]`)?.classList.contains('mine'), id);
  assert.equal(await two.locator(`[data-id="${id}"] .verdict b`).textContent(), 'reject');
  await two.keyboard.press('z');
  await two.waitForFunction((i) => !document.querySelector(`[data-id="${i}"]`)?.classList.contains('mine'), id);
  await one.bringToFront();
  await one.waitForFunction((i) => !document.querySelector(`[data-id="${i}"]`)?.classList.contains('mine'), id);
  one.fine();
  two.fine();
  await context.close();
  await server.close();
});

test('a server that dies: what is decided meanwhile waits, is said to wait, and is saved when it is back', async () => {
  const journal = join(work, 'dies');
  let server = await start({ frames: 60, journal });
  const page = await open(browser, server.url);
  await decide(page, 'f', 'keep');
  const first = (await here(page)).id;
  await server.close();
  await page.keyboard.press('ArrowRight');
  const second = (await here(page)).id;
  await page.keyboard.press('s');
  await page.waitForSelector('#notice.lasting:not([hidden])');
  assert.equal((await here(page)).mine, false, 'no mark before it is saved');
  assert.match(await page.locator('.saving').textContent(), /1 not saved/);
  server = await start({ frames: 60, journal, port: server.port });
  await page.waitForFunction((i) => document.querySelector(`[data-id="${i}"]`)?.classList.contains('mine'), second);
  assert.ok(await page.evaluate((i) => document.querySelector(`[data-id="${i}"]`).classList.contains('mine'), first));
  await page.waitForSelector('.saving', { state: 'hidden' });
  await page.context().close();
  await server.close();
  server = await start({ frames: 60, journal });
  const again = await open(browser, server.url);
  assert.deepEqual(await again.evaluate(() => [...document.querySelectorAll('.card.mine')].map((c) => c.getAttribute('data-id')).sort()), [first, second].sort());
  again.fine();
  await again.context().close();
  await server.close();
});

test('a decision that the server refuses leaves the mark as it was and says why', async () => {
  const server = await start({ frames: 20 });
  const page = await open(browser, server.url);
  await page.route('**/api/decide', (r) => r.fulfill({ status: 500, contentType: 'application/json', body: '{"error":"the disk is full"}' }));
  await page.keyboard.press('s');
  await page.waitForSelector('#notice.error');
  assert.match(await page.locator('#notice').textContent(), /the disk is full/);
  assert.equal((await here(page)).mine, false);
  await page.unroute('**/api/decide');
  await decide(page, 's', 'reject');
  // A page of an earlier start: the key no longer fits.
  await page.evaluate(() => document.querySelector('meta[name=token]').setAttribute('content', 'old'));
  await page.keyboard.press('f');
  await page.waitForSelector('#notice.lasting');
  assert.match(await page.locator('#notice').textContent(), /earlier start/);
  assert.equal((await here(page)).verdict, 'reject');
  await page.evaluate(() => (window.onbeforeunload = null));
  await page.context().close();
  // Opened anew in a tab with the same memory, it would be sent then; see 'waits over a reload'.
  await server.close();
});

test('what waits goes over a reload of the tab', async () => {
  const server = await start({ frames: 20 });
  const page = await open(browser, server.url);
  await page.evaluate(() => document.querySelector('meta[name=token]').setAttribute('content', 'old'));
  await page.keyboard.press('s');
  await page.waitForSelector('#notice.lasting');
  page.removeAllListeners('dialog');
  page.on('dialog', (d) => d.accept());
  await page.goto(server.url);
  await page.waitForSelector('.card.here.mine');
  assert.equal((await here(page)).verdict, 'reject');
  await page.context().close();
  await server.close();
});

test('the whole pose with Shift and one undo; stepping on; stars', async () => {
  const server = await start({ frames: 60 });
  const page = await open(browser, server.url);
  const marked = (n) => page.waitForFunction((k) => document.querySelectorAll('.card.mine').length === k, n);
  const pose = await page.evaluate(() => document.querySelectorAll('.line')[0].querySelectorAll('.card').length);
  await page.keyboard.press('t');
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('t');
  await page.keyboard.press('Shift+S');
  await marked(2);
  await page.keyboard.press('z');
  await marked(0);
  await page.keyboard.press('Escape');
  assert.equal(await page.locator('.card.ticked').count(), 0);
  await page.keyboard.press('Shift+F');
  await page.waitForFunction((k) => document.querySelectorAll('.card.mine').length >= k, pose);
  await page.keyboard.press('z');
  await marked(0);
  await page.keyboard.press('Shift+Z');
  await page.waitForFunction((k) => document.querySelectorAll('.card.mine').length >= k, pose);
  await page.keyboard.press('z');
  await marked(0);
  await page.keyboard.press('1'); // the best of the pose: five stars
  await page.keyboard.press('e');
  await page.waitForFunction(() => document.querySelector('.card.here.mine .count5')?.firstChild.textContent === '4');
  await page.keyboard.press('.');
  await page.keyboard.press('Space');
  const before = await here(page);
  await page.keyboard.press('f');
  await page.waitForFunction((id) => document.querySelector(`[data-id="${id}"]`)?.classList.contains('mine'), before.id);
  const now = await here(page);
  assert.notEqual(now.id, before.id);
  assert.equal(now.verdict, 'undecided', 'on to the next that waits');
  page.fine();
  await page.context().close();
  await server.close();
});

test('errors and emptiness have pages of their own', async () => {
  const server = await start({ frames: 20 });
  const page = await open(browser, server.url, { bare: true });
  await page.route('**/api/shoot', (r) => r.fulfill({ status: 200, contentType: 'application/json', body: '{"folder":"/harbour","revision":0,"session":"x","bursts":[],"frames":[]}' }));
  await page.reload();
  await page.waitForSelector('#plain:not([hidden])');
  assert.match(await page.locator('#plain').textContent(), /No photographs/);
  await accessible(page, 'empty');
  await page.unroute('**/api/shoot');
  await page.route('**/api/shoot', (r) => r.fulfill({ status: 500, contentType: 'application/json', body: '{"error":"the catalogue is <b>damaged</b>"}' }));
  await page.reload();
  await page.waitForSelector('#plain:not([hidden])');
  assert.match(await page.locator('#plain').textContent(), /the catalogue is <b>damaged<\/b>/);
  await accessible(page, 'error');
  await page.context().close();
  await server.close();
});

test('a tablet: taps, no keys', async () => {
  const server = await start({ frames: 60 });
  const page = await open(browser, server.url, { viewport: { width: 1024, height: 768 }, hasTouch: true, isMobile: true, deviceScaleFactor: 2 });
  await page.locator('.card').nth(1).tap();
  await page.waitForFunction(() => document.querySelectorAll('.card')[1].classList.contains('here'));
  await page.locator('#aside [data-wish=reject]').tap();
  await page.waitForSelector('.card.here.mine.v-reject');
  const small = await page.evaluate(() => [...document.querySelectorAll('button, a, select')].filter((b) => b.checkVisibility() && b.getBoundingClientRect().height < 40).map((b) => b.textContent));
  assert.deepEqual(small, [], 'everything to tap is at least 40 px high');
  await page.locator('.whole').tap();
  await page.waitForSelector('#close:not([hidden]) .pane');
  const zoom = () => page.locator('output.zoom').textContent();
  assert.equal(await zoom(), '100 %');
  // Two fingers that part, by the debugger: playwright-core has no pinch.
  const cdp = await page.context().newCDPSession(page);
  const touch = (type, ...points) => cdp.send('Input.dispatchTouchEvent', { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  await touch('touchStart', [400, 400], [600, 400]);
  for (let i = 1; i <= 5; ++i) await touch('touchMove', [400 - 20 * i, 400], [600 + 20 * i, 400]);
  await touch('touchEnd');
  assert.equal(await zoom(), '200 %');
  page.fine();
  await page.context().close();
  await server.close();
});

test('accessibility: list, close look, side by side, keys, done', async () => {
  const server = await start({ frames: 60 });
  const page = await open(browser, server.url);
  await page.waitForFunction(() => document.querySelectorAll('.reasons li').length > 0);
  await accessible(page, 'list');
  await decide(page, 'f', 'keep');
  await page.waitForFunction(() => /^keep: /.test(document.querySelector('#said').textContent));
  assert.match(await page.locator('.card.here').textContent(), /place \d+ in pose \d+, keep.*, yours/);
  assert.equal(await page.locator('[role=gridcell][tabindex="0"]').count(), 1, 'one stop for the tabulator');
  await page.keyboard.press('Enter');
  await page.keyboard.press('b');
  await page.waitForSelector('#close .pane.here');
  await accessible(page, 'close look');
  await page.keyboard.press('v');
  await page.waitForFunction(() => document.querySelectorAll('.pane').length === 2);
  await accessible(page, 'side by side');
  await page.keyboard.press('Escape');
  await page.keyboard.press('?');
  await page.waitForSelector('dialog.help[open]');
  await accessible(page, 'keys');
  await page.keyboard.press('Escape');
  assert.ok((await here(page)).focused, 'the focus comes back');
  await page.keyboard.press('Control+Enter');
  await page.waitForSelector('dialog.done[open]');
  await accessible(page, 'done');
  page.fine();
  await page.context().close();
  await server.close();
});
