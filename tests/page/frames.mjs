// How fast the page paints: first paint, and frames while a piece is dragged on a lay of 300 pieces with woven pattern,
// from the browser's own performance record. Prints figures; a machine at work on other things spoils them.
// Run: SETTLAY=path/to/settlay node frames.mjs

import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, page, table } from './table.mjs';

const folder = mkdtempSync(join(tmpdir(), 'frames-'));
const leaf = (k) => {
  const [x, y] = [(k % 20) * 90 + 45, Math.floor(k / 20) * 70 + 35];
  const [l, w] = [26 + (k % 7) * 2, 12 + (k % 5) * 2];
  return `<path id="leaf-${k}" d="M${x - l} ${y}C${x - l / 2} ${y - w} ${x + l / 2} ${y - w} ${x + l} ${y}C${x + l / 2} ${y + w} ${x - l / 2} ${y + w} ${x - l} ${y}Z"/>`;
};
writeFileSync(join(folder, 'leaves.svg'), `<svg xmlns="http://www.w3.org/2000/svg" width="1800mm" height="1050mm" viewBox="0 0 1800 1050">${Array.from({ length: 300 }, (_, k) => leaf(k)).join('')}</svg>`);
writeFileSync(join(folder, 'leaves.job.json'), JSON.stringify({
  settlay: 1, drawing: 'leaves.svg', lay: { effort: 1 }, pieces: [{ select: { id: '*' }, cloth: 'moss' }],
  cloths: [{ name: 'moss', width_mm: 1480, weave: 'twill-z', pattern: { warp: 'G/12 K4 W/2', ends_per_cm: 16, picks_per_cm: 14 } }],
}));

const b = await browser();
const open = await table(folder, ['leaves.job.json']);
const wrong = [];
try {
  const context = await b.newContext({ viewport: { width: 1440, height: 900 } });
  const p = await page(context, `${open.address}#cloth`, wrong);
  await p.getByRole('button', { name: 'Lay the pieces' }).click();
  await p.getByText('Every rule holds').waitFor({ timeout: 120000 });
  await p.reload();
  await p.getByText('Every rule holds').waitFor();
  const paint = await p.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0]?.startTime);
  console.log(`first paint ${paint?.toFixed(0)} ms`);
  await p.waitForTimeout(1500);
  const { box, at } = await p.evaluate(async () => {
    const [pieces, lay] = await Promise.all(['api/pieces', 'api/lay'].map((u) => fetch(u).then((r) => r.json())));
    const lies = lay.cloths[0].placed[150];
    const c = pieces[lies.piece].cut.outline;
    const mid = [0, 1].map((k) => (Math.min(...c.map((q) => q[k])) + Math.max(...c.map((q) => q[k]))) / 2);
    const t = (lies.turn_deg * Math.PI) / 180;
    const [sx, sy, ox, oy] = document.querySelector('canvas').dataset.look.split(' ').map(Number);
    const [x, y] = [Math.cos(t) * mid[0] - Math.sin(t) * mid[1] + lies.shift[0], Math.sin(t) * mid[0] + Math.cos(t) * mid[1] + lies.shift[1]];
    const r = document.querySelector('canvas').getBoundingClientRect();
    return { box: [r.left, r.top], at: [ox + sx * x, oy + sy * y] };
  });
  const [x, y] = [box[0] + at[0], box[1] + at[1]];
  await p.mouse.move(x, y);
  await p.mouse.down();
  await p.evaluate(() => {
    window.frames_ = [];
    let last = performance.now();
    const step = (now) => { window.frames_.push(now - last); last = now; window.going = requestAnimationFrame(step); };
    window.going = requestAnimationFrame(step);
  });
  for (let k = 0; k < 240; k++) await p.mouse.move(x + 180 * Math.sin(k / 12), y + 90 * Math.cos(k / 9));
  const frames = await p.evaluate(() => { cancelAnimationFrame(window.going); return window.frames_.slice(2); });
  await p.mouse.up();
  frames.sort((u, v) => u - v);
  const part = (q) => frames[Math.floor(q * (frames.length - 1))].toFixed(1);
  console.log(`${frames.length} frames while dragging: median ${part(0.5)} ms, 95 of 100 within ${part(0.95)} ms, longest ${part(1)} ms (60 a second: 16.7 ms)`);
  if (wrong.length) throw new Error(wrong.join('; '));
} finally {
  await open.end('SIGKILL');
  await b.close();
  rmSync(folder, { recursive: true, force: true });
}
