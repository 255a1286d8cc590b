// Pictures of the review page for the documentation, of the real program over the sample bursts. tools/screenshots.sh calls it.
//   node screenshots.mjs PROGRAM FOLDER
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { decide, here, launch, open } from './browser.mjs';
import { review } from './real.mjs';

const [, , program, out] = process.argv;
const work = mkdtempSync(join(tmpdir(), 'burstsieve-shots-'));
const server = await review(program, work);
const browser = await launch();

const goTo = async (page, name) => {
  await page.keyboard.press('Control+Home');
  for (let i = 0; i < 40 && (await here(page)).name !== name; ++i) await page.keyboard.press('ArrowRight');
};
// Everything in sight has come.
const settled = async (page, pictures) => {
  await page.waitForFunction((s) => [...document.querySelectorAll(s)].filter((i) => i.checkVisibility()).every((i) => i.classList.contains('there')), pictures);
  await page.waitForTimeout(400);
};
// The folder is a temporary one: named as in the documentation.
const named = (page) => page.evaluate(() => (document.querySelector('.folder bdi').textContent = '/pictures/2026-04-12'));

const page = await open(browser, server.url);
await goTo(page, 'BSG_9996.JPG');
await decide(page, 's', 'reject');
await goTo(page, 'BSG_0004.JPG');
await decide(page, 'f', 'keep');
await goTo(page, 'BSG_9995.JPG');
await page.waitForSelector('.plot .dot');
await named(page);
await settled(page, '#bursts img, .whole img');
await page.screenshot({ path: join(out, 'review.png') });

await page.keyboard.press('v');
await page.keyboard.press('c');
await page.keyboard.press('b');
await settled(page, '.port img');
await page.screenshot({ path: join(out, 'review-side-by-side.png') });
await page.keyboard.press('c');
await page.keyboard.press('b');
await page.keyboard.press('Escape');

await page.keyboard.press('?');
await page.waitForSelector('dialog.help[open]');
await page.screenshot({ path: join(out, 'review-keys.png') });
await page.context().close();

const tablet = await open(browser, server.url, { viewport: { width: 1024, height: 768 }, hasTouch: true, isMobile: true });
await goTo(tablet, 'BSG_0006.JPG');
await tablet.keyboard.press('l');
await tablet.waitForSelector('.plot .dot');
await settled(tablet, '#bursts img, .whole img');
await tablet.screenshot({ path: join(out, 'review-tablet.png') });
await tablet.context().close();

await browser.close();
await server.stop();
rmSync(work, { recursive: true, force: true });
