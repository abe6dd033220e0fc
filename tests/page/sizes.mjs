// Every place of the page at three sizes of screen, light and dark: nothing sticks out sideways, all that is clicked is
// large enough, no serious finding of the accessibility checker. PICTURES names a folder for a picture of each.
// Run: SETTLAY=path/to/settlay node sizes.mjs [FOLDER WITH reed-bed.job.json]

import assert from 'node:assert/strict';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, page, table, until } from './table.mjs';

/** WCAG 2.2, success criterion 2.5.8 Target Size (Minimum): 24 by 24 CSS pixels; links within a sentence are excepted. */
const LEAST_TARGET = 24;
const SIZES = [[1440, 900], [1024, 768], [390, 844]];

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const pictures = process.env.PICTURES;
const only = process.env.ONLY;
const from = process.argv[2] ?? new URL('../../examples/reed-bed', import.meta.url).pathname;
const folder = mkdtempSync(join(tmpdir(), 'table-'));
for (const name of ['reed-bed.job.json', 'reed-bed.svg']) cpSync(join(from, name), join(folder, name));
if (pictures) mkdirSync(pictures, { recursive: true });

const wrong = [];
const open = await table(folder, ['reed-bed.job.json']);
const b = await browser();

async function look(p, name) {
  const found = await p.evaluate(([least]) => {
    const said = [];
    const wide = document.documentElement.scrollWidth;
    if (wide > innerWidth) said.push(`sticks out sideways: ${wide} of ${innerWidth}`);
    for (const e of document.querySelectorAll('button, select, input, summary, a[href]')) {
      const r = e.getBoundingClientRect();
      if (!r.width || e.closest('.skip, p, li, td, small') || e.classList.contains('skip')) continue;
      if (r.height < least || r.width < least) said.push(`too small to hit: ${e.outerHTML.slice(0, 80)} ${r.width.toFixed(0)} × ${r.height.toFixed(0)}`);
    }
    return said;
  }, [LEAST_TARGET]);
  await p.evaluate(axe);
  const serious = await p.evaluate(() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })
    .then((r) => r.violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => `${v.id}: ${v.nodes.slice(0, 2).map((n) => n.html.slice(0, 120)).join(' | ')}`)));
  for (const f of [...found, ...serious]) wrong.push(`${name}: ${f}`);
  if (pictures) await p.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
}

try {
  const context = await b.newContext({ viewport: { width: 1440, height: 900 } });
  const p = await page(context, `${open.address}#cloth`, wrong);
  const ask = (path, method = 'POST', body = {}) => p.evaluate(async ([u, m, j]) => {
    const state = await (await fetch('api/state')).json();
    const a = await fetch(u, { method: m, headers: { 'If-Match': String(state.revision), 'Content-Type': 'application/json' }, body: m === 'GET' ? undefined : JSON.stringify(j) });
    return a.json();
  }, [path, method, body]);
  const idle = () => until(p, 'api/state', (s) => !s.busy, 240000);
  await p.getByRole('button', { name: /^Lay / }).waitFor();
  // A slow computer may need a longer search before every piece lies.
  for (let k = 0; k < 3 && !(await ask('api/state', 'GET')).has_plan; k++) {
    const laid = await ask('api/lay/start', 'POST', { seconds: 5 + 20 * k });
    if (laid.status >= 400) console.log(`  not laid: ${laid.detail}`);
    await idle();
    const answer = await ask('api/plan');
    if (answer.status >= 400) console.log(`  not planned yet: ${answer.detail}`);
    await idle();
  }
  assert.ok((await ask('api/state', 'GET')).has_plan, 'the plan is made');
  await context.close();
  for (const [width, height] of SIZES) {
    for (const light of ['light', 'dark']) {
      if (only && only !== `${width}-${light}`) continue;
      const at = await b.newContext({ viewport: { width, height }, colorScheme: light, hasTouch: width < 500 });
      const q = await page(at, open.address, wrong);
      for (const name of ['Drawing', 'Cloth', 'Cutting', 'Sewing']) {
        await q.getByRole('button', { name, exact: true }).click();
        await q.waitForFunction((n) => document.title.endsWith(n), name);
        await q.waitForTimeout(800);
        await q.waitForTimeout(700);
        await look(q, `${name}-${width}-${light}`);
      }
      await at.close();
    }
  }
  assert.deepEqual(wrong, []);
  console.log('every place at every size: well');
} catch (error) {
  console.error(error);
  process.exitCode = 1;
} finally {
  await open.end('SIGKILL');
  await b.close();
  rmSync(folder, { recursive: true, force: true });
}
