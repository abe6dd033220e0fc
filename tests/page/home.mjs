// The table of a double click: begun without a job, several works each in a folder of its own, and gone on with later.
// Light and dark, three sizes of screen, looked over by the accessibility checker. PICTURES names a folder for pictures.
// Run: SETTLAY=path/to/settlay node home.mjs

import assert from 'node:assert/strict';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, page, table, until } from './table.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const pictures = process.env.PICTURES;
if (pictures) mkdirSync(pictures, { recursive: true });
const home = mkdtempSync(join(tmpdir(), 'home-'));
const env = { HOME: home, XDG_DATA_HOME: '', XDG_CONFIG_HOME: '', XDG_DOCUMENTS_DIR: '' };
const jobs = join(home, 'Documents', 'settlay');
const wrong = [];
const step = (what) => console.log(`- ${what}`);
const leaf = '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="120mm" viewBox="0 0 200 120"><path id="leaf" d="M20 60C60 20 140 20 180 60C140 100 60 100 20 60Z"/></svg>';
for (const name of ['leaf', 'heron', 'A border of reeds with a name that is rather long for a small screen']) writeFileSync(join(home, `${name}.svg`), leaf);

const b = await browser();
const open = await table(home, ['--home'], env);

async function look(p, name) {
  for (const [w, t] of [[1440, 900], [1024, 768], [390, 844]]) {
    await p.setViewportSize({ width: w, height: t });
    const wide = await p.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    if (wide > 0) wrong.push(`${name} ${w}: sticks out sideways by ${wide}`);
    for (const light of ['light', 'dark']) {
      await p.emulateMedia({ colorScheme: light });
      await p.waitForFunction((l) => document.documentElement.dataset.light === l, light);
      await p.locator('.begin').waitFor();
      await p.evaluate(axe);
      const serious = await p.evaluate(() => axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
        .then((r) => r.violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => `${v.id}: ${v.nodes.slice(0, 2).map((n) => n.html.slice(0, 120)).join(' | ')}`)));
      for (const s of serious) wrong.push(`${name} ${w} ${light}: ${s}`);
      if (pictures) await p.screenshot({ path: join(pictures, `${name}-${w}-${light}.png`) });
    }
  }
  await p.setViewportSize({ width: 1280, height: 800 });
}

try {
  const context = await b.newContext({ viewport: { width: 1280, height: 800 } });
  const p = await page(context, open.address, wrong);
  await p.getByRole('heading', { name: 'Begin with the drawing' }).waitFor();
  assert.ok(existsSync(jobs), 'the folder for jobs is there');
  await look(p, 'first');
  step('each drawing begins a job in a folder of its own');
  for (const [name, title] of [['leaf', 'Leaves at dusk'], ['heron', ''], ['A border of reeds with a name that is rather long for a small screen', '']]) {
    await p.locator('#drawing-file').setInputFiles(join(home, `${name}.svg`));
    await p.getByRole('option', { name: /^leaf/ }).waitFor();
    assert.ok(existsSync(join(jobs, name, `${name}.svg`)), name);
    if (title) {
      await p.getByLabel('title').first().fill(title);
      await p.getByLabel('title').first().press('Enter');
      await until(p, 'api/state', (s) => s.job.title === title);
    }
    await p.getByRole('button', { name: 'All jobs' }).click();
    await p.getByRole('heading', { name: 'Go on with' }).waitFor();
  }
  assert.equal(await p.locator('.recent li').count(), 3);
  await look(p, 'recent');
  step('a click goes on with one, by its title; the keyboard does as well');
  await p.getByRole('button', { name: /Leaves at dusk/ }).click();
  await p.getByRole('heading', { name: 'Leaves at dusk', level: 1 }).waitFor();
  await p.getByRole('button', { name: 'All jobs' }).click();
  await p.locator('.recent button').first().waitFor();
  assert.match(await p.locator('.recent button').first().innerText(), /Leaves at dusk/, 'the last one comes first');
  await p.getByRole('button', { name: /^heron/ }).focus();
  await p.keyboard.press('Enter');
  await p.getByRole('heading', { name: 'heron.job.json', level: 1 }).waitFor();
  step('a second start shows the same server; what was begun in one tab is on the list of another');
  const again = await table(home, ['--home'], env);
  assert.equal(new URL(again.address).port, new URL(open.address).port);
  const q = await page(context, again.address, wrong);
  await q.getByRole('heading', { name: 'Go on with' }).waitFor();
  assert.equal(await q.locator('.recent li').count(), 3);
  step('what is gone is no longer there');
  rmSync(join(jobs, 'leaf'), { recursive: true });
  await q.getByRole('button', { name: /Leaves at dusk/ }).click();
  await q.getByText('gone').waitFor();
  await q.reload();
  await q.getByRole('heading', { name: 'Go on with' }).waitFor();
  assert.equal(await q.locator('.recent li').count(), 2);
  assert.deepEqual(wrong.filter((w) => !/404/.test(w)), []);
  console.log('the table of a double click: well');
} catch (error) {
  console.error(error);
  console.error('also wrong:', wrong);
  process.exitCode = 1;
} finally {
  await open.end('SIGKILL');
  await b.close();
  rmSync(home, { recursive: true, force: true });
}
