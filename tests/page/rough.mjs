// What a table must bear: a drawing far too large, another site's page, thousands of calls. Nothing on it changes.
// Run: SETTLAY=path/to/settlay node rough.mjs

import assert from 'node:assert/strict';
import { closeSync, mkdtempSync, openSync, readFileSync, rmSync, writeFileSync, writeSync } from 'node:fs';
import { createServer } from 'node:http';
import { connect } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { browser, page, table, until } from './table.mjs';

const folder = mkdtempSync(join(tmpdir(), 'table-'));
const wrong = [];
const step = (what) => console.log(`- ${what}`);
writeFileSync(join(folder, 'leaf.svg'), '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="120mm" viewBox="0 0 200 120"><path id="leaf" d="M20 60C60 20 140 20 180 60C140 100 60 100 20 60Z"/></svg>');
const large = join(folder, 'large.svg');
const file = openSync(large, 'w');
writeSync(file, '<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="120mm">');
for (let k = 0; k < 50; k++) writeSync(file, Buffer.alloc(1 << 20, ' '));
writeSync(file, '</svg>');
closeSync(file);

// Another site, of another origin.
const site = createServer((_, answer) => { answer.setHeader('Content-Type', 'text/html'); answer.end('<!doctype html><title>another site</title>'); });
await new Promise((ready) => { site.listen(0, '127.0.0.1', ready); });

const b = await browser();
const open = await table(folder);
try {
  const context = await b.newContext({ viewport: { width: 1280, height: 800 } });
  const p = await page(context, open.address, wrong);
  const state = () => p.evaluate(() => fetch('api/state').then((r) => r.json()));
  step('a drawing of 50 MB is refused in words, on the page and by the table itself');
  await p.locator('#drawing-file').setInputFiles(large);
  await p.getByText('larger than 32 MB').waitFor();
  const refused = await p.evaluate(() => fetch('api/drawing?name=large.svg', { method: 'POST', headers: { 'If-Match': '0' }, body: new Blob([new Uint8Array(50 << 20)]) }).then((r) => r.status, () => 413));
  assert.equal(refused, 413);
  assert.equal((await state()).job, null);
  step('a small one is taken all the same');
  await p.locator('#drawing-file').setInputFiles(join(folder, 'leaf.svg'));
  await p.getByRole('option', { name: /^leaf/ }).waitFor();
  const before = await state();
  step('another site\'s page can change nothing and read nothing');
  const other = await context.newPage();
  await other.goto(`http://127.0.0.1:${site.address().port}/`);
  const tried = await other.evaluate(async (address) => {
    const tries = [];
    for (const mode of ['no-cors', 'cors']) {
      for (const [path, method] of [['api/undo', 'POST'], ['api/save', 'POST'], ['api/state', 'GET']]) {
        tries.push(await fetch(address + path, { method, mode, body: method === 'POST' ? '{}' : undefined }).then(async (r) => `${r.type} ${(await r.text().catch(() => '')).length}`, () => 'refused'));
      }
    }
    return tries;
  }, open.address);
  for (const said of tried) assert.ok(['refused', 'opaque 0'].includes(said), said);
  const framed = await other.evaluate((address) => new Promise((done) => {
    const frame = document.createElement('iframe');
    frame.onload = () => { let seen; try { seen = frame.contentDocument?.title ?? ''; } catch { seen = ''; } done(seen); };
    frame.src = address;
    document.body.append(frame);
  }), open.address);
  assert.equal(framed, '');
  await other.close();
  assert.deepEqual(await state(), before);
  step('three thousand calls in four waves: some must wait, none is lost, the page goes on');
  const answers = await p.evaluate(async () => {
    // A browser holds no more than some thirteen hundred at a time.
    const wave = () => Promise.all(Array.from({ length: 750 }, () => fetch('api/state').then((r) => r.status, () => 0)));
    const all = [...await wave(), ...await wave(), ...await wave(), ...await wave()];
    return Object.fromEntries([...new Set(all)].map((s) => [s, all.filter((t) => t === s).length]));
  });
  console.log(`  ${JSON.stringify(answers)}`);
  assert.ok(Object.keys(answers).every((s) => ['200', '429'].includes(s)), JSON.stringify(answers));
  await p.waitForTimeout(1500);
  await p.getByLabel('name of a new cloth').fill('moss');
  await p.getByRole('button', { name: 'Add a cloth' }).click();
  await until(p, 'api/state', (s) => s.job.cloths?.[0]?.name === 'moss');
  const kept = JSON.parse(readFileSync(join(folder, '.leaf.job.json.table'), 'utf8'));
  assert.ok(JSON.stringify(kept).includes('moss'), 'the working copy is whole');
  step('twelve hundred half-sent requests: the page goes on beside them');
  const port = Number(new URL(open.address).port);
  const crowd = await Promise.all(Array.from({ length: 1200 }, (_, k) => new Promise((begun) => {
    const socket = connect(port, '127.0.0.1', () => { socket.write(k % 2 ? 'GET / HTTP/1.1\r\nHost:' : `GET /api/state HTTP/1.1\r\nX: ${'a'.repeat(k)}`); begun(socket); });
    socket.on('error', () => begun(socket));
  })));
  await p.getByLabel('name of a new cloth').fill('heath');
  await p.getByRole('button', { name: 'Add a cloth' }).click();
  await until(p, 'api/state', (s) => s.job.cloths?.[1]?.name === 'heath');
  await p.reload();
  await p.getByRole('option', { name: /^leaf/ }).waitFor();
  for (const socket of crowd) socket.destroy();
  assert.deepEqual(wrong.filter((w) => !/413|429/.test(w)), []);
  console.log('what a table must bear: well');
} catch (error) {
  console.error(error);
  console.error('also wrong:', wrong);
  process.exitCode = 1;
} finally {
  await open.end('SIGKILL');
  await b.close();
  site.close();
  rmSync(folder, { recursive: true, force: true });
}
