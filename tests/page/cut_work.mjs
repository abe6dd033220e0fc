// Work that is partly cut, on the page: what is asked for before a plan, marks and their verdict, what is recorded and
// taken back, words changed on cut work, places and areas as a rule shows them.
// Run: SETTLAY=path/to/settlay node cut_work.mjs

import assert from 'node:assert/strict';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createRequire } from 'node:module';
import { browser, page, table, until } from './table.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const pictures = process.env.PICTURES;
const folder = mkdtempSync(join(tmpdir(), 'table-'));
const wrong = [];
const step = (what) => console.log(`- ${what}`);

// In pixels alone: 2268 × 1512 of them at 96 to the inch are 600.1 × 400.1 mm.
writeFileSync(join(folder, 'leaf.svg'), `<svg xmlns="http://www.w3.org/2000/svg" width="2268" height="1512" viewBox="0 0 600 400">
<g id="wave"><path id="one" d="M10 10h150v90h-150z"/><path id="two" d="M190 30l120 20v120l-120 -10z"/></g>
<path id="ring" fill-rule="evenodd" d="M340 60h240v240h-240z M370 90v180h180v-180z"/><path id="bud" d="M20 300h60v60h-60z"/></svg>`);
// A cutter that other jobs use, whose kerf nobody has written down.
const bench = { bed_mm: [700, 230], margin_mm: 6, feed: 'along-y', home: 'far-left', border_mm: 4, tested: [{ kind: 'outline', power: 40, mm_per_s: 20 }] };
writeFileSync(join(folder, 'bench.json'), JSON.stringify(bench));
writeFileSync(join(folder, 'leaf.job.json'), JSON.stringify({
  settlay: 1, title: 'Leaf', drawing: 'leaf.svg', cutter: 'bench.json', lay: { gap_mm: 3, effort: 1 },
  cloths: [{ name: 'fen', width_mm: 620, length_mm: 1500, edge_mm: 10, weave: 'twill-z', price_per_m: 20,
    pattern: { warp: 'N/6 G24 W4 G24 K/10', ends_per_cm: 20, picks_per_cm: 18, origin_mm: [35, 20], colours: { N: '#102040', G: '#306030', W: '#eeeeee', K: '#000000' } } }],
  pieces: [{ select: { layer: 'wave' }, cloth: 'fen', match: 'drawn', group: 'wave', allowance_mm: 1.5 }, { select: { id: '*' }, cloth: 'fen' }],
}));

const b = await browser();
const open = await table(folder, ['leaf.job.json']);
const context = await b.newContext({ viewport: { width: 1440, height: 900 } });
const p = await page(context, `${open.address}#cloth`, wrong);
const button = (name) => p.getByRole('button', { name, exact: typeof name === 'string' });
const seen = (text, timeout = 20000) => p.getByText(text).first().waitFor({ timeout });
const gone = (text) => p.getByText(text).first().waitFor({ state: 'detached', timeout: 20000 });
const api = (path) => p.evaluate((u) => fetch(u).then((r) => r.json()), `api/${path}`);
const call = (method, path, body) => p.evaluate(async ([m, u, what]) => {
  const { revision } = await (await fetch('api/state')).json();
  const answer = await fetch(u, { method: m, headers: { 'If-Match': String(revision), 'Content-Type': 'application/json' }, body: JSON.stringify(what) });
  return answer.status;
}, [method, `api/${path}`, body]);
const go = async (name) => { await button(name).click(); await p.waitForFunction((n) => document.title.endsWith(n), name); };
const pick = (label) => p.getByLabel('pass', { exact: true }).selectOption({ label });
// What the page asks with the browser's own question, and what is answered.
const asked = [];
let answer = true;
p.on('dialog', (d) => { asked.push(d.message()); return answer ? d.accept() : d.dismiss(); });

async function sound(where) {
  for (const light of ['light', 'dark']) {
    await p.evaluate((l) => { document.documentElement.dataset.light = l; }, light);
    await p.evaluate(axe);
    const found = await p.evaluate(() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] }));
    for (const v of found.violations.filter((x) => ['serious', 'critical'].includes(x.impact))) wrong.push(`${where}, ${light}: ${v.id}: ${v.help}: ${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 140)).join(' | ')}`);
    if (pictures) await p.screenshot({ path: join(pictures, `${where}-${light}.png`) });
  }
  await p.evaluate(() => { document.documentElement.dataset.light = 'light'; });
}

try {
  step('a size in pixels alone is asked about wherever one looks');
  await seen('The drawing gives its size in pixels alone. Read at 96 to the inch, its page is 600.1 × 400.1 mm');
  step('a piece is told by where its ends lie on the cloth');
  await button('Lay the pieces').click();
  await seen('Every rule holds', 60000);
  await p.getByRole('option', { name: /^ring/ }).click();
  await seen(/from the left selvedge, its near end/);
  const told = (await p.getByText(/from the left selvedge/).textContent()).match(/lies ([\d.]+) mm from the left selvedge, its near end ([\d.]+) mm/).slice(1).map(Number);
  const [pieces, lay] = [await api('pieces'), await api('lay')];
  const lies = lay.cloths[0].placed.find((q) => q.id === 'ring');
  const turn = (lies.turn_deg * Math.PI) / 180;
  const corners = pieces[lies.piece].cut.outline.map(([x, y]) => [Math.cos(turn) * x - Math.sin(turn) * y + lies.shift[0], Math.sin(turn) * x + Math.cos(turn) * y + lies.shift[1]]);
  for (const k of [0, 1]) assert.ok(Math.abs(told[k] - Math.min(...corners.map((c) => c[k]))) < 0.06, `${told} of ${JSON.stringify(corners)}`);
  await sound('a-piece');

  step('a plan waits for the measures nobody has given, and they are asked once');
  await go('Cutting');
  await seen('As it says: bed 700 × 230 mm');
  await button('Make the plan').click();
  await seen('Is this so?');
  await sound('is-this-so');
  assert.equal(await p.locator('[name="said.bed.x"]').count(), 0, 'the bed is named');
  await p.locator('[name="said.kerf"]').fill('0.25');
  await button('It is so: make the plan').click();
  await seen('Burn order', 120000);
  const { job } = await api('state');
  assert.deepEqual(job.cutter, { ...bench, kerf_mm: 0.25 }, 'the cutter came into the job whole');
  assert.equal(job.drawing_scale, 1);
  await gone('The drawing gives its size in pixels alone');

  step('crossings to measure are those that lie on the cloth');
  const first = (await api('passes'))[0];
  assert.ok(first.measure.length >= 3);
  const names = await p.locator('tbody th').allTextContents();
  assert.deepEqual(names, first.measure.map((m) => m.name));
  step('a verdict goes when a reading it is of is changed');
  const fill = async (measure, dx, dy) => { for (const m of measure) { await p.locator(`[name="${m.name}-x"]`).fill((m.bed[0] + dx).toFixed(2)); await p.locator(`[name="${m.name}-y"]`).fill((m.bed[1] + dy).toFixed(2)); } };
  await fill(first.measure, 2, -1);
  await button('See what they say').click();
  await seen('The cloth lies 2.00 mm to the right and 1.00 mm towards you of where it was planned, not turned');
  await sound('verdict');
  await p.locator(`[name="${first.measure[0].name}-x"]`).fill((first.measure[0].bed[0] + 7).toFixed(2));
  await seen('The readings changed');
  assert.equal(await p.locator('.said', { hasText: 'of where it was planned' }).count(), 0);
  await p.reload();
  await seen('Marks as measured');
  assert.equal(await p.locator('.said', { hasText: 'of where it was planned' }).count(), 0);

  step('an earlier pass is recorded only when the maker says so');
  await pick('fen, pass 2');
  await seen('Correcting this pass also marks pass 1 of fen as cut');
  const second = (await api('passes')).find((q) => q.pass === 2);
  await fill(second.measure, 1, 0.5);
  answer = false;
  await button('Correct the files').click();
  await until(p, 'api/state', () => asked.length === 1);
  assert.match(asked[0], /pass 1 of fen as cut.*Is it so\?/);
  assert.ok((await api('passes')).every((q) => q.done === null));
  answer = true;
  await button('Correct the files').click();
  await seen('The files of pass 2', 30000);
  await until(p, 'api/passes', (all) => all[0].done && !all[1].done);

  step('a title and a frame on cut work: passes stay in sight, report and sheets follow');
  const before = await api('plan');
  const now = (await api('state')).job;
  assert.equal(await call('PUT', 'job', { job: { ...now, title: 'Oak leaf' } }), 200);
  await seen('Report and sheets tell it as it was. Changed since: the title');
  await p.getByRole('option', { name: 'fen, pass 1 ✓ cut' }).waitFor({ state: 'attached' });
  await go('Sewing');
  await button('Add a frame of 360 × 200 mm').click();
  await seen('Changed since: the title and the embroidery frame');
  await sound('retold');
  await button('Write report and sheets again').click();
  await seen('Order of work', 60000);
  const after = await api('plan');
  assert.deepEqual(after.passes, before.passes);
  assert.equal(after.title, 'Oak leaf');
  assert.ok(after.sewing.hoopings.length > 0);
  await gone('Report and sheets tell it as it was');

  step('what no longer fits is named, and the cut plan stays in sight');
  await go('Cutting');
  await call('POST', 'lay/move', { moves: [{ piece: lies.piece, copy: 1, turn_deg: lies.turn_deg, shift: [lies.shift[0], lies.shift[1] + 300] }] });
  await seen('This plan no longer fits the job. Changed since: the lay');
  await p.getByRole('option', { name: 'fen, pass 1 ✓ cut' }).waitFor({ state: 'attached' });
  await sound('no-longer-fits');
  await button('Undo').click();
  await gone('This plan no longer fits the job');

  step('leftovers in square centimetres');
  const left = after.cloths[0].offcuts[0]?.area_mm2;
  if (left) {
    await p.locator('summary', { hasText: 'What is left over' }).click();
    await seen(left < 1e6 ? `the largest ${(left / 100).toFixed(0)} cm²` : `the largest ${(left / 1e6).toFixed(2)} m²`);
  }

  step('taken back: pass 1 is open again, pass 2 lies as planned');
  await pick('fen, pass 1 ✓ cut');
  await button('It is not cut after all').click();
  await seen('Pass 1 is open again');
  assert.match(asked.at(-1), /Take back that pass 1 of fen is cut\? Pass 2 of fen goes back to where it was planned/);
  await until(p, 'api/passes', (all) => all.every((q) => q.done === null));
  await sound('taken-back');
  await open.end();
  assert.deepEqual(wrong, []);
  console.log('partly cut work on the page: well');
} catch (error) {
  if (pictures) await p.screenshot({ path: join(pictures, 'failed.png') }).catch(() => {});
  console.error(error);
  console.error('also wrong:', wrong, asked);
  process.exitCode = 1;
} finally {
  await open.end('SIGKILL').catch?.(() => {});
  await b.close();
  rmSync(folder, { recursive: true, force: true });
}
