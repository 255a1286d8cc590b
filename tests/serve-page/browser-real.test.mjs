// The whole way with the keyboard alone, on the real program: from opening to sidecars on disk; a server killed in the middle; two
// tabs at once.
import assert from 'node:assert/strict';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { after, before, test } from 'node:test';
import { accessible, decide, here, launch, open } from './browser.mjs';
import { contents, ratingOf, review } from './real.mjs';

const program = process.env.BURSTSIEVE_PROGRAM;
const real = { skip: program ? false : 'no program was given' };
let browser, work;
before(async () => {
  if (!program) return;
  browser = await launch();
  work = mkdtempSync(join(tmpdir(), 'burstsieve-page-'));
});
after(async () => {
  await browser?.close();
  if (work) rmSync(work, { recursive: true, force: true });
});

/** With the keyboard alone to the frame of that name. */
async function goTo(page, name) {
  await page.keyboard.press('Control+Home');
  for (let i = 0; i < 40; ++i) {
    if ((await here(page)).name === name) return;
    await page.keyboard.press('ArrowRight');
  }
  assert.fail('no frame ' + name);
}

test('keyboard only, from opening to sidecars on disk, with a killed server in the middle', real, async () => {
  let server = await review(program, work);
  const photographs = contents(server.card, /\.(JPG|DNG)$/);
  assert.equal(Object.keys(photographs).length, 33);
  assert.deepEqual(contents(server.card, /\.xmp$/), {}, 'opening writes nothing');
  let page = await open(browser, server.url);
  assert.ok((await here(page)).focused, 'keys work at once');

  // A keep of burstsieve's is rejected, one it rejected is kept with stars, an open one is settled as undecided.
  await goTo(page, 'BSG_9995.JPG');
  await decide(page, 's', 'reject');
  await goTo(page, 'BSG_9999.JPG');
  await decide(page, 'f', 'keep');
  await page.keyboard.press('r');
  await page.keyboard.press('e');
  await page.keyboard.press('e');
  const stars = await page.waitForFunction(() => document.querySelector('.card.here .count5')?.firstChild.textContent === '1' || document.querySelector('.card.here .count5')?.firstChild.textContent);
  assert.ok(stars);
  await goTo(page, 'BSG_9996.JPG');
  await decide(page, 'd', 'undecided');

  // Undo and redo, over a kill: what was marked is on the disk.
  await page.keyboard.press('z');
  await page.waitForFunction(() => !document.querySelector('.card.here').classList.contains('mine'));
  await page.keyboard.press('Shift+Z');
  await page.waitForSelector('.card.here.mine.v-undecided');
  await goTo(page, 'BSG_0005.JPG');
  await decide(page, 'f', 'keep');
  await server.kill();
  await page.waitForSelector('#notice.lasting');
  await page.context().close();
  server = await review(program, work);
  page = await open(browser, server.url);
  for (const [name, verdict] of [['BSG_9995.JPG', 'reject'], ['BSG_9999.JPG', 'keep'], ['BSG_9996.JPG', 'undecided'], ['BSG_0005.JPG', 'keep']]) {
    await goTo(page, name);
    const now = await here(page);
    assert.deepEqual([now.mine, now.verdict], [true, verdict], name);
  }

  // Narrow to what waits, and look closely at two of a pose.
  await page.keyboard.press('n');
  await page.waitForFunction(() => [...document.querySelectorAll('.card')].every((c) => c.classList.contains('v-undecided')));
  await page.keyboard.press('n');
  await page.waitForFunction(() => document.querySelectorAll('.card').length === 4);
  await page.keyboard.press('n');
  await goTo(page, 'BSG_9995.JPG');
  await page.keyboard.press('v');
  await page.waitForFunction(() => document.querySelectorAll('.pane .sharp.there').length === 2);
  const exact = await page.evaluate(() => [...document.querySelectorAll('.pane .sharp')].map((i) => Math.abs(i.naturalWidth - i.getBoundingClientRect().width * devicePixelRatio)));
  assert.ok(exact.every((d) => d <= 2), `a picture pixel is a screen pixel: ${exact}`);
  const spot = () => page.evaluate(() => [...document.querySelectorAll('.pane .rough')].map((i) => i.style.transform));
  const before = await spot();
  await page.keyboard.press('Shift+ArrowRight');
  await page.keyboard.press('Shift+ArrowDown');
  assert.ok((await spot()).every((t, i) => t !== before[i]), 'both pictures moved');
  await page.keyboard.press('+');
  assert.equal(await page.locator('output.zoom').textContent(), '200 %');
  for (const k of ['b', 'h', 'c', 'l', 'w']) await page.keyboard.press(k);
  assert.ok((await page.locator('.pane.here .overlay path').count()) > 0);
  await accessible(page, 'side by side');
  await page.keyboard.press('Escape');

  // The course of the burst: a click goes to the frame.
  await page.waitForSelector('.plot .dot');
  const at = await page.locator('.plot svg').boundingBox();
  await page.mouse.click(at.x + at.width - 14, at.y + 40);
  await page.waitForFunction(() => document.querySelector('.card.here .name').textContent === 'BSG_0004.JPG');

  // Done.
  await page.keyboard.press('Control+Enter');
  await page.waitForSelector('dialog.done[open]');
  await page.keyboard.press('Enter');
  await page.waitForSelector('#written.good');
  assert.match(await page.locator('#written').textContent(), /created/);
  assert.equal(ratingOf(server.card, 'BSG_9995.JPG'), -1);
  assert.ok(ratingOf(server.card, 'BSG_9999.JPG') >= 1);
  assert.equal(ratingOf(server.card, 'BSG_9996.JPG'), null);
  assert.ok(ratingOf(server.card, 'BSG_0005.JPG') >= 1);
  assert.deepEqual(contents(server.card, /\.(JPG|DNG)$/), photographs, 'photographs are as they were');
  page.fine();
  await page.context().close();
  await server.stop();
});

test('two tabs at once on the real program', real, async () => {
  const server = await review(program, work);
  const context = await browser.newContext({ viewport: { width: 1200, height: 800 } });
  const one = await open(browser, server.url, { context }), two = await open(browser, server.url, { context });
  await one.bringToFront();
  await goTo(one, 'BSG_0010.JPG');
  const { id } = await here(one);
  await decide(one, 's', 'reject');
  await two.bringToFront();
  await goTo(two, 'BSG_0010.JPG');
  await two.waitForFunction((i) => document.querySelector(`[data-id="${i}"]`)?.classList.contains('v-reject'), id);
  await decide(two, 'f', 'keep');
  await one.bringToFront();
  await one.waitForFunction((i) => document.querySelector(`[data-id="${i}"]`)?.classList.contains('v-keep'), id);
  await decide(one, 's', 'reject');
  one.fine();
  two.fine();
  await context.close();
  await server.stop();
});
