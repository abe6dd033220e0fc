// Starts settlay's table and opens a browser on it.

import { spawn } from 'node:child_process';
import { chromium } from 'playwright-core';

const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'];
const program = process.env.SETTLAY ?? new URL('../../target/release/settlay', import.meta.url).pathname;

/** A table in `folder`: its address, and how to end it. @param {string} folder @param {string[]} [words] @param {Object<string, string>} [env] */
export async function table(folder, words = [], env = {}) {
  const child = spawn(program, ['table', ...words, '--no-open', '--port', '0'], { cwd: folder, env: { ...process.env, ...env } });
  let said = '';
  const address = await new Promise((found, lost) => {
    const late = setTimeout(() => lost(new Error(`the table says no address: ${said}`)), 20000);
    const hear = (data) => {
      said += data;
      const at = said.match(/http:\/\/127\.0\.0\.1:\d+\/\S+/);
      if (at) { clearTimeout(late); found(at[0]); }
    };
    child.stdout.on('data', hear);
    child.stderr.on('data', hear);
    child.on('exit', (code) => lost(new Error(`the table ended with ${code}: ${said}`)));
  });
  return { address, end: (signal = 'SIGINT') => new Promise((ended) => {
    // One that has ended already says so no more.
    if (child.exitCode !== null || child.signalCode !== null) { ended(); return; }
    child.on('exit', ended);
    child.kill(signal);
  }) };
}

/** A browser. */
export const browser = () => chromium.launch({ executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: FLAGS });

/** A page that notes everything wrong: console errors, faults, calls that leave this computer. */
export async function page(context, address, wrong) {
  const p = await context.newPage();
  // PAGE names a folder to take the page's own files from, in place of those built in: for work on the page.
  if (process.env.PAGE) {
    await p.route(/\/page\/[\w.]+$/, (route) => route.fulfill({ path: `${process.env.PAGE}/${route.request().url().split('/').pop()}` }));
  }
  p.on('console', (m) => { if (m.type() === 'error' && !/409|423|ERR_CONNECTION_REFUSED|ERR_INCOMPLETE|ERR_EMPTY|net::/.test(m.text())) wrong.push(`console: ${m.text()}`); });
  p.on('pageerror', (e) => wrong.push(`fault: ${e.message}`));
  p.on('request', (r) => { if (!/^(http:\/\/127\.0\.0\.1:|data:|blob:)/.test(r.url())) wrong.push(`a call to ${r.url()}`); });
  await p.goto(address);
  return p;
}

/**
 * Waits until the table says so: asks an address of it until `holds` is true of the answer. (The driver's own waiting takes
 * a promise for true at once.)
 * @param {import('playwright-core').Page} p @param {string} path @param {(answer: any) => boolean} holds @param {number} [timeout] ms
 */
export async function until(p, path, holds, timeout = 30000) {
  const end = Date.now() + timeout;
  for (;;) {
    const answer = await p.evaluate((u) => fetch(u).then((r) => r.json()), path);
    if (holds(answer)) return answer;
    if (Date.now() > end) throw new Error(`waited in vain at ${path} for ${holds}: ${JSON.stringify(answer).slice(0, 600)}`);
    await p.waitForTimeout(150);
  }
}
