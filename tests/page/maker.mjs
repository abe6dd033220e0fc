// The whole job on the page, as a maker goes: from a drawing on an empty table to downloaded cut files.
// Run: SETTLAY=path/to/settlay node maker.mjs

import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createRequire } from 'node:module';
import { deflateSync } from 'node:zlib';
import { browser, page, table, until } from './table.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const settlay = process.env.SETTLAY ?? new URL('../../target/release/settlay', import.meta.url).pathname;
const pictures = process.env.PICTURES;
const folder = mkdtempSync(join(tmpdir(), 'table-'));
const wrong = [];
const step = (what) => console.log(`- ${what}`);

// A drawing with a script and a picture elsewhere: neither may be run or fetched.
writeFileSync(join(folder, 'given.svg'), `<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="520mm" height="360mm" viewBox="0 0 520 360" onload="window.hurt=1">
<script>window.hurt = 1; fetch('http://192.0.2.1/');</script><image xlink:href="http://192.0.2.1/a.png" width="9" height="9"/>
<g id="leaves"><path id="leaf-1" d="M20 90C80 20 180 20 240 90C180 150 80 150 20 90Z"/><path id="leaf-2" d="M280 90C340 20 440 20 500 90C440 150 340 150 280 90Z"/></g>
<path id="stem" d="M20 200H500V228H20Z"/><circle id="berry" cx="80" cy="300" r="42"/><circle id="seed" cx="220" cy="300" r="30"/></svg>`);

/** A PNG of so many pixels; `look` gives the colour of each. */
function picture(w, t, look) {
  const crc = (bytes) => {
    let c = ~0;
    for (const b of bytes) { c ^= b; for (let k = 0; k < 8; k++) c = c & 1 ? (c >>> 1) ^ 0xedb88320 : c >>> 1; }
    return ~c >>> 0;
  };
  const chunk = (name, data) => {
    const body = Buffer.concat([Buffer.from(name), data]);
    const ends = Buffer.alloc(8);
    ends.writeUInt32BE(data.length, 0); ends.writeUInt32BE(crc(body), 4);
    return Buffer.concat([ends.subarray(0, 4), body, ends.subarray(4)]);
  };
  const head = Buffer.alloc(13);
  head.writeUInt32BE(w, 0); head.writeUInt32BE(t, 4); head.set([8, 2, 0, 0, 0], 8);
  const rows = Buffer.concat(Array.from({ length: t }, (_, y) => Buffer.from([0, ...Array.from({ length: w }, (_, x) => look(x, y)).flat()])));
  return Buffer.concat([Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), chunk('IHDR', head), chunk('IDAT', deflateSync(rows)), chunk('IEND', Buffer.alloc(0))]);
}

const b = await browser();
let open = await table(folder);
const context = await b.newContext({ viewport: { width: 1440, height: 900 }, acceptDownloads: true });
let p = await page(context, open.address, wrong);
const button = (name, options = {}) => p.getByRole('button', { name, exact: typeof name === 'string', ...options });
const seen = (text, timeout = 20000) => p.getByText(text).first().waitFor({ timeout });
const api = (path) => p.evaluate((u) => fetch(u).then((r) => r.json()), `api/${path}`);
// The place shows the table as it is now: a form filled before that would be taken away again.
const settled = async () => {
  const { revision } = await api('state');
  await p.waitForFunction((r) => Number(document.getElementById('place').dataset.shows?.split(' ')[1]) >= r, revision);
};
const still = async (told) => {
  for (let [last, now] = ['', await told()]; last !== now; [last, now] = [now, await told()]) await p.waitForTimeout(150);
};
const go = async (name) => { await button(name).click(); await p.waitForFunction((n) => document.title.endsWith(n), name); };

async function sound(where) {
  for (const light of ['light', 'dark']) {
    await p.evaluate((l) => { document.documentElement.dataset.light = l; }, light);
    await p.evaluate(axe);
    const found = await p.evaluate(() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] }));
    const serious = found.violations.filter((v) => ['serious', 'critical'].includes(v.impact));
    for (const v of serious) wrong.push(`${where}, ${light}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 140)).join(' | ')}`);
    if (pictures) await p.screenshot({ path: join(pictures, `${where}-${light}.png`) });
  }
  await p.evaluate(() => { document.documentElement.dataset.light = 'light'; });
}

try {
  step('an empty table');
  await seen('Begin with the drawing');
  await sound('empty');
  step('the drawing dropped in, neither run nor fetched from');
  await p.locator('#drawing-file').setInputFiles(join(folder, 'given.svg'));
  await seen('leaf-1');
  assert.equal(await p.evaluate(() => window.hurt), undefined);
  step('what the drawing loses, told beside its faults');
  await seen('This is a picture and is left out');
  await seen('about the drawing and the job');
  step('its size confirmed');
  await button('Check the size').click();
  await seen('The page is 520.0 mm × 360.0 mm');
  await sound('size');
  await button('That is its size').click();
  step('a cloth named, with a measured repeat');
  await p.getByLabel('name of a new cloth').fill('fen');
  await p.keyboard.press('Enter');
  await p.locator('summary', { hasText: 'fen' }).click();
  const fill = async (name, value) => {
    await settled();
    const field = p.locator(`[name="${name}"]`);
    await field.waitFor({ state: 'attached' });
    await field.evaluate((e) => { for (let d = e.closest('details'); d; d = d.parentElement.closest('details')) d.open = true; });
    await field.fill(value);
    const before = (await api('state')).revision;
    await field.blur();
    await until(p, 'api/state', (s) => s.revision > before);
    await settled();
  };
  const choose = async (name, value) => {
    await settled();
    const before = (await api('state')).revision;
    await p.locator(`[name="${name}"]`).selectOption(value);
    await until(p, 'api/state', (s) => s.revision > before);
    await settled();
  };
  await fill('cloth-0.width_mm', '700');
  await fill('cloth-0.pattern.repeat_across_mm', '60');
  await fill('cloth-0.pattern.repeat_along_mm', '80');
  await choose('cloth-0.pattern.symmetrical', 'true');
  await fill('cloth-0.price_per_m', '40');
  step('two fields written quickly one after the other: neither is lost');
  await p.locator('[name="cloth-0.edge_mm"]').fill('11');
  await p.locator('[name="cloth-0.edge_mm"]').blur();
  await p.locator('[name="cloth-0.name"]').focus();
  await p.keyboard.press('End');
  await p.keyboard.type('land', { delay: 120 });
  await until(p, 'api/state', (s) => s.job.cloths[0].edge_mm === 11);
  await settled();
  assert.equal(await p.locator('[name="cloth-0.name"]').inputValue(), 'fenland');
  await p.locator('[name="cloth-0.name"]').blur();
  const both = await until(p, 'api/state', (s) => s.job.cloths[0].name === 'fenland');
  assert.equal(both.job.cloths[0].edge_mm, 11);
  await settled();
  await fill('cloth-0.name', 'fen');
  step('a photograph as its look: the repeat found in it with keys and pointer, straightened');
  // Three stripes across, taken askew: the lines of the cloth run together towards the upper edge.
  const askew = (x, y) => (Math.floor((x - 120) / (0.6 + 0.4 * (y / 240)) / 40 + 3) % 2 ? [40, 70, 60] : [200, 190, 150]);
  writeFileSync(join(folder, 'weave.png'), picture(240, 240, askew));
  await p.locator('summary', { hasText: 'A photograph of it' }).click();
  await p.locator('[name="photo-0"]').setInputFiles(join(folder, 'weave.png'));
  await button('Find the repeat in it').click();
  const corner = (name) => p.getByRole('button', { name: `corner at the ${name}` });
  for (const side of ['left', 'right']) {
    await corner(`lower ${side}`).focus();
    for (let k = 0; k < 3; k++) await p.keyboard.press('Shift+ArrowDown');
    for (let k = 0; k < 3; k++) await p.keyboard.press(side === 'left' ? 'Shift+ArrowLeft' : 'Shift+ArrowRight');
    await corner(`upper ${side}`).focus();
    for (let k = 0; k < 3; k++) await p.keyboard.press('Shift+ArrowUp');
    const box = await p.getByRole('img', { name: 'the photograph' }).boundingBox();
    const from = await corner(`upper ${side}`).boundingBox();
    await p.mouse.move(from.x + from.width / 2, from.y + from.height / 2);
    await p.mouse.down();
    await p.mouse.move(box.x + box.width * (side === 'left' ? 0.2 : 0.8), box.y + 1, { steps: 4 });
    await p.mouse.up();
  }
  await p.getByLabel('repeats from left to right').fill('3');
  await sound('photograph');
  await button('Use as the look').click();
  await seen('shown as the cloth');
  assert.deepEqual((await api('state')).job.cloths[0].pattern.photo, { file: 'weave-repeat.png', size_mm: [60, 80] });
  const rows = await p.evaluate(async (base64) => {
    const bitmap = await createImageBitmap(new Blob([Uint8Array.from(atob(base64), (c) => c.charCodeAt(0))], { type: 'image/png' }));
    const c = Object.assign(document.createElement('canvas'), { width: bitmap.width, height: bitmap.height });
    const g = c.getContext('2d');
    g.drawImage(bitmap, 0, 0);
    return [0.1, 0.5, 0.9].map((v) => [0.1, 0.4, 0.6, 0.9].map((u) => g.getImageData(u * c.width, v * c.height, 1, 1).data[0]));
  }, readFileSync(join(folder, 'weave-repeat.png')).toString('base64'));
  for (const row of rows) assert.ok(row[0] === row[1] && row[2] === row[3] && Math.abs(row[0] - row[2]) > 140, `the stripes stand upright: ${JSON.stringify(rows)}`);
  step('shapes picked: two by their layer, three by a click');
  const pick = (id) => p.getByRole('listbox', { name: 'Shapes' }).getByRole('option', { name: new RegExp(`^${id} `) });
  await pick('leaf-1').click();
  await pick('leaf-2').click({ modifiers: ['Shift'] });
  await button('Cut from fen').click();
  await seen('2 shapes cut from fen');
  const look = async () => (await p.locator('canvas').getAttribute('data-look')).split(' ').map(Number);
  const at = async ([x, y]) => {
    const [sx, sy, ox, oy] = await look();
    const box = await p.locator('canvas').boundingBox();
    return [box.x + ox + sx * x, box.y + oy + sy * y];
  };
  await p.waitForTimeout(500);
  await p.mouse.click(...await at([80, 60]));
  await p.keyboard.down('Shift');
  await p.mouse.click(...await at([220, 60]));
  await p.mouse.click(...await at([260, 146]));
  await p.keyboard.up('Shift');
  await seen('3 shapes');
  await button('Cut from fen').click();
  await seen('3 shapes cut from fen');
  let job = (await api('state')).job;
  assert.deepEqual(job.pieces.map((r) => r.select).sort((x, y) => JSON.stringify(x).localeCompare(JSON.stringify(y))), [{ id: 'berry' }, { id: 'seed' }, { id: 'stem' }, { layer: 'leaves' }]);
  step('one shape of a layer left uncut: the other is cut all the same; undone');
  await pick('leaf-1').click();
  await button('Not cut at all').click();
  await until(p, 'api/state', (s) => !s.job.pieces.some((r) => r.select.layer));
  assert.deepEqual((await api('state')).job.pieces.map((r) => r.select.id).sort(), ['berry', 'leaf-2', 'seed', 'stem']);
  await button('Undo').click();
  await until(p, 'api/state', (s) => s.job.pieces.some((r) => r.select.layer));
  await settled();
  step('rules of cloth and the bed said on the page');
  await pick('leaf-1').click();
  const leaves = job.pieces.findIndex((r) => r.select.layer);
  await p.locator(`[name="rule-${leaves}.match"]`).selectOption('drawn');
  await until(p, 'api/state', (s) => s.job.pieces.some((r) => r.match === 'drawn'));
  await fill(`rule-${leaves}.group`, 'leaves');
  await go('Cutting');
  await fill('cutter.bed_mm.x', '320');
  await fill('cutter.bed_mm.y', '260');
  assert.deepEqual((await api('state')).job.cutter.bed_mm, [320, 260]);
  await sound('before-the-plan');
  await button('Save').click();
  await seen('Saved as given.job.json');
  execFileSync(settlay, ['check', 'given.job.json'], { cwd: folder });
  await go('Drawing');
  await sound('drawing');

  step('laid, watched live');
  await go('Cloth');
  await button('Lay the pieces').click();
  await seen('Every rule holds', 60000);
  await sound('cloth');
  const lay = () => api('lay').then((l) => l.cloths[0].placed);
  const middle = async (id) => {
    const [pieces, placed] = [await api('pieces'), await lay()];
    const piece = pieces.find((q) => q.id === id);
    const lies = placed.find((q) => q.id === id);
    const t = (lies.turn_deg * Math.PI) / 180;
    const xs = piece.cut.outline.map((q) => q[0]); const ys = piece.cut.outline.map((q) => q[1]);
    const [x, y] = [(Math.min(...xs) + Math.max(...xs)) / 2, (Math.min(...ys) + Math.max(...ys)) / 2];
    return [Math.cos(t) * x - Math.sin(t) * y + lies.shift[0], Math.sin(t) * x + Math.cos(t) * y + lies.shift[1]];
  };
  step('a free piece dragged goes where it is put, a matched one only where its pattern meets');
  const drag = async (id, by, patient = true) => {
    if (patient) await settled();
    const from = await middle(id);
    const [x, y] = await at(from);
    const [u, v] = await at([from[0] + by[0], from[1] + by[1]]);
    await p.mouse.move(x, y); await p.mouse.down();
    for (let k = 1; k <= 8; k++) await p.mouse.move(x + ((u - x) * k) / 8, y + ((v - y) * k) / 8);
    const before = (await api('state')).revision;
    await p.mouse.up();
    await until(p, 'api/state', (s) => s.revision > before);
  };
  const one = async (id) => (await lay()).find((q) => q.id === id);
  const [berry, leaf] = [await one('berry'), await one('leaf-1')];
  await drag('berry', [-7, 33]);
  const moved = await one('berry');
  assert.ok(Math.hypot(moved.shift[0] - berry.shift[0] + 7, moved.shift[1] - berry.shift[1] - 33) < 3, 'it lies where it was put');
  await drag('leaf-1', [50, 3]);
  const snapped = await one('leaf-1');
  const [dx, dy] = [snapped.shift[0] - leaf.shift[0], snapped.shift[1] - leaf.shift[1]];
  assert.ok(Math.abs(dx / 60 - Math.round(dx / 60)) < 1e-6 && Math.abs(dy / 80 - Math.round(dy / 80)) < 1e-6, `a whole number of repeats: ${dx}, ${dy}`);
  step('undone and done again');
  await button('Undo').click(); await seen('Undone');
  assert.deepEqual((await one('leaf-1')).shift, leaf.shift);
  await p.keyboard.press('Control+z');
  await until(p, 'api/lay', (l) => Math.abs(l.cloths[0].placed.find((q) => q.id === 'berry')?.shift[0] - berry.shift[0]) < 1e-9);
  await button('Redo').click(); await seen('Done again');
  step('a piece taken up while the answer about the one before is still under way');
  await settled();
  await p.locator('canvas').evaluate((c) => { c.kept = true; });
  await p.route('**/api/lay/move', async (route) => { const answer = await route.fetch(); await p.waitForTimeout(900); await route.fulfill({ response: answer }); });
  const berryWas = (await one('berry')).shift;
  await drag('berry', [2, 5], false);
  await drag('berry', [-2, -5], false);
  await settled();
  await p.unroute('**/api/lay/move');
  assert.ok(await p.locator('canvas').evaluate((c) => c.kept), 'the picture stays the same one');
  const berryIs = (await one('berry')).shift;
  assert.ok(Math.hypot(berryIs[0] - berryWas[0], berryIs[1] - berryWas[1]) < 3, `there and back: ${berryWas}, ${berryIs}`);
  step('the keyboard alone: chosen, moved, turned, locked');
  await p.getByRole('listbox', { name: 'Pieces' }).focus();
  await p.keyboard.press('Home');
  const list = (await lay()).map((q) => q.id);
  await p.keyboard.press('Alt+ArrowUp');
  await p.waitForTimeout(600);
  await p.getByRole('option', { name: /^seed/ }).click();
  await p.keyboard.press('l');
  await until(p, 'api/lay', (l) => l.cloths[0].placed.find((q) => q.id === 'seed').locked);
  const seed = await one('seed');
  step('neither keys nor dragging: chosen by a click, moved by a button');
  await p.getByRole('option', { name: /^berry/ }).click();
  const bare = await one('berry');
  await button('farther, to the next allowed place').click();
  await until(p, 'api/lay', (l) => Math.abs(l.cloths[0].placed.find((q) => q.id === 'berry').shift[1] - bare.shift[1] - 1) < 0.01);
  await button('Show it').click();
  await button('show all').click();
  step('a flaw drawn with clicks alone, closed by a click on its first point');
  await settled();
  await button('Draw a flaw').click();
  // The bar that appears takes room from the picture, which is fitted to what is left.
  await still(async () => JSON.stringify([await look(), await p.locator('canvas').boundingBox()]));
  for (const q of [[600, 260], [640, 260], [640, 290], [600, 260]]) await p.mouse.click(...await at(q));
  const flawed = await until(p, 'api/state', (s) => s.job.cloths[0].flaws_mm?.length === 1);
  for (const [k, q] of [[600, 260], [640, 260], [640, 290]].entries()) {
    const [x, y] = flawed.job.cloths[0].flaws_mm[0][k];
    assert.ok(Math.hypot(x - q[0], y - q[1]) < 6, `the flaw lies where it was drawn: ${x}, ${y}`);
  }
  await settled();
  step('laid again round the locked piece');
  await p.waitForTimeout(500);
  const rest = await api('state');
  assert.ok(!rest.busy);
  await button('Lay again').click();
  await until(p, 'api/state', (s) => s.busy || s.revision > rest.revision);
  await until(p, 'api/state', (s) => !s.busy, 60000);
  await settled();
  await seen('Every rule holds', 60000);
  assert.deepEqual((await one('seed')).shift, seed.shift);
  assert.equal(list.length, 5);

  step('reloaded in the middle: nothing lost');
  const before = await lay();
  await p.reload();
  await seen('Every rule holds', 30000);
  assert.deepEqual(await lay(), before);
  step('a second tab: what is done in one is seen in the other, an older sight is refused');
  const other = await page(context, `${open.address}#cloth`, wrong);
  await other.getByText('Every rule holds').first().waitFor();
  const old = (await api('state')).revision;
  await other.waitForFunction((r) => Number(document.getElementById('place').dataset.shows?.split(' ')[1]) >= r, old);
  await other.getByRole('option', { name: /^berry/ }).click();
  await other.getByRole('option', { name: /^berry/, selected: true }).waitFor();
  await other.keyboard.press('l');
  await p.getByRole('option', { name: /berry.*locked/ }).waitFor({ timeout: 10000 });
  const refused = await p.evaluate((r) => fetch('api/undo', { method: 'POST', headers: { 'If-Match': String(r) } }).then((a) => a.status), old);
  assert.equal(refused, 409);
  await other.close();
  step('the job edited on disk while open is told, not lost');
  const onDisk = readFileSync(join(folder, 'given.job.json'), 'utf8');
  writeFileSync(join(folder, 'given.job.json'), onDisk.replace('"title": ""', '"title": "By another hand"'));
  await seen('was changed on disk', 15000);
  await button('Take the file as it is').click();
  await seen('By another hand');
  await button('Undo').click();
  await until(p, 'api/state', (s) => s.job.title !== 'By another hand');

  step('killed and opened again: all there');
  const kept = await api('state');
  await open.end('SIGKILL');
  open = await table(folder, ['given.job.json']);
  await p.close();
  p = await page(context, `${open.address}#cutting`, wrong);
  const again = await api('state');
  assert.deepEqual(again.job, kept.job);

  step('the plan made: passes, marks, files');
  await button('Make the plan').click();
  await seen('Is this so?');
  await p.locator('[name="said.kerf"]').fill('0.2');
  await button('It is so: make the plan').click();
  await seen('Burn order', 120000);
  await sound('cutting');
  const plan = await api('plan');
  assert.ok(plan.passes.length > 1, 'the cloth is wider than the bed');
  await button('Play the burns').click();
  await p.waitForTimeout(700);
  await seen(/Burn \d+ of/);
  step('pass 2 put down a little off: marks measured, files corrected');
  const second = plan.passes.findIndex((q) => q.number === 2);
  await p.getByLabel('pass', { exact: true }).selectOption(String(second));
  await seen('Marks as measured');
  for (const m of plan.passes[second].marks.filter((q) => !q.burnt_here)) {
    const [x, y] = m.bed;
    const t = 0.004;
    await p.locator(`[name="${m.name}-x"]`).fill((x + 0.6 - t * y).toFixed(2));
    await p.locator(`[name="${m.name}-y"]`).fill((y - 0.4 + t * x).toFixed(2));
  }
  step('readings not yet used outlive a reload');
  await p.reload();
  await p.getByLabel('pass', { exact: true }).selectOption(String(second));
  const [first] = plan.passes[second].marks.filter((q) => !q.burnt_here);
  await p.locator(`[name="${first.name}-x"]`).waitFor();
  assert.equal(await p.locator(`[name="${first.name}-x"]`).inputValue(), (first.bed[0] + 0.6 - 0.004 * first.bed[1]).toFixed(2));
  await button('See what they say').click();
  await seen('of where it was planned');
  await sound('marks');
  p.once('dialog', (d) => d.accept());
  await button('Correct the files').click();
  await seen('are corrected', 30000);
  const corrected = await api('plan');
  assert.notDeepEqual(corrected.passes[second].cloth_to_bed, plan.passes[second].cloth_to_bed);
  step('pass 1 is recorded as cut, as was agreed; pass 2 is marked as cut; a file kept');
  await p.getByRole('option', { name: 'fen, pass 1 ✓ cut' }).waitFor({ state: 'attached' });
  await button('Mark this pass as cut').click();
  await seen('is marked as cut');
  await p.waitForTimeout(800);
  const download = p.waitForEvent('download');
  await p.getByRole('link', { name: /cut\/.*pass-1\.svg/ }).click();
  const file = await (await download).path();
  assert.match(readFileSync(file, 'utf8'), /<svg[^>]+mm/);
  step('one piece cut again');
  await p.locator('summary', { hasText: 'One piece again' }).click();
  await p.getByLabel('piece to cut again').selectOption({ label: 'seed' });
  await button('Find cloth for it').click();
  await seen(/again, from|no offcut|takes it/, 60000);
  await go('Sewing');
  await p.waitForTimeout(800);
  await sound('sewing');

  step('a line lost in the middle of laying: said, and nothing lost');
  await go('Cloth');
  await p.getByLabel('seconds to search').fill('20');
  await button('Lay again').click();
  await button('Stop and keep the best').waitFor({ timeout: 20000 });
  const lies = await lay();
  await open.end('SIGKILL');
  await seen('The line to the table is lost', 15000);
  open = await table(folder, ['given.job.json']);
  await p.close();
  p = await page(context, `${open.address}#cloth`, wrong);
  await p.getByRole('listbox', { name: 'Pieces' }).waitFor();
  assert.deepEqual((await lay()).map((q) => q.shift), lies.map((q) => q.shift));
  await open.end();
  assert.ok(!existsSync(join(folder, '.given.job.json.table-lock')), 'the lock is gone with the table');
  assert.deepEqual(wrong, []);
  console.log('the whole job on the page: well');
} catch (error) {
  if (pictures) await p.screenshot({ path: join(pictures, 'failed.png') }).catch(() => {});
  console.error(error);
  console.error('also wrong:', wrong, readdirSync(folder));
  process.exitCode = 1;
} finally {
  await open.end('SIGKILL').catch?.(() => {});
  await b.close();
  rmSync(folder, { recursive: true, force: true });
}
