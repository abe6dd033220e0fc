// An empty table: a drawing dropped or chosen begins a job.

import { button, h, say, words } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';

const LARGEST = 32 * 1024 * 1024;

/**
 * Sends a drawing to the table, which keeps it beside the job.
 * @param {File} file @returns {Promise<boolean>} true when it was taken
 */
export async function takeDrawing(file) {
  if (file.size > LARGEST) {
    say(`${file.name} is larger than 32 MB. Take embedded pictures out of it: only outlines are needed.`, true);
    return false;
  }
  const send = (over) => api.raw(`api/drawing?name=${encodeURIComponent(file.name)}${over ? '&over=1' : ''}`, file);
  try {
    await send(false);
  } catch (problem) {
    if (problem.status !== 409 || !problem.exists) throw problem;
    if (!window.confirm(`${problem.detail}. Put this one in its place?`)) return false;
    await send(true);
  }
  await store.refresh();
  return true;
}

/** A place to drop a drawing. @param {string} words @param {() => void} done @returns {HTMLElement} */
export function dropPlace(label, done) {
  const pick = h('input', { type: 'file', accept: '.svg,.svgz,image/svg+xml', id: 'drawing-file' });
  const take = async (file) => {
    try { if (file && await takeDrawing(file)) done?.(); } catch (problem) { say(words(problem), true); }
  };
  pick.addEventListener('change', () => take(pick.files[0]));
  const place = h('div', { class: 'drop' }, h('p', {}, label), h('label', { for: 'drawing-file' }, 'Choose an SVG drawing: '), pick);
  place.addEventListener('dragover', (e) => { e.preventDefault(); place.classList.add('over'); });
  place.addEventListener('dragleave', () => place.classList.remove('over'));
  place.addEventListener('drop', (e) => { e.preventDefault(); place.classList.remove('over'); take(e.dataTransfer.files[0]); });
  return place;
}

/** Jobs shown at once; the others are folded. */
const MOST_SHOWN = 8;

/** @param {number} seconds @returns {string} the day, as people say it */
function day(seconds) {
  const then = new Date(seconds * 1000);
  const days = Math.round((new Date().setHours(0, 0, 0, 0) - new Date(then).setHours(0, 0, 0, 0)) / 86400000);
  return days === 0 ? 'today' : days === 1 ? 'yesterday' : then.toLocaleDateString('en-GB', { day: 'numeric', month: 'long', year: 'numeric' });
}

/** Goes to a table of the same server. @param {string|null} job its path; null for an empty table */
export async function goTo(job) {
  const { to, told } = await api.send('api/open', { job });
  // It is read before the page goes.
  if (told?.length) window.alert(told.join('\n'));
  location.assign(to);
}

/** One job that was on the table. @param {any} job @returns {HTMLElement} */
function recent(job) {
  const where = job.folder && job.folder !== job.name ? `in ${job.folder}` : null;
  return h('li', {}, button([h('b', {}, job.title || job.name),
    h('small', {}, [job.title ? job.name : null, where, `changed ${day(job.changed_s)}`].filter(Boolean).join(', '))], () => goTo(job.job), { title: job.job }));
}

/** The jobs that were on the table last, and where they are. @returns {Promise<HTMLElement|null>} */
async function goOn() {
  const { jobs } = await api.get('api/recent');
  if (!jobs.length) return null;
  const list = (some) => h('ul', { class: 'recent' }, some.map(recent));
  const older = jobs.slice(MOST_SHOWN);
  return h('section', { 'aria-labelledby': 'go-on' }, h('h2', { id: 'go-on' }, 'Go on with'), list(jobs.slice(0, MOST_SHOWN)),
    older.length ? h('details', {}, h('summary', {}, older.length === 1 ? '1 older job' : `${older.length} older jobs`), list(older)) : null);
}

/** The page of an empty table. @returns {Promise<HTMLElement>} */
export async function start() {
  const { home, folder } = store.state;
  const before = home ? await goOn().catch((problem) => { say(words(problem), true); return null; }) : null;
  return h('div', { class: 'begin' }, before,
    h('h2', {}, before ? 'Or begin a new one with its drawing' : 'Begin with the drawing'),
    h('p', {}, 'Outlines of the pieces as they will be seen from the face, in an SVG file. It is read, never run; nothing leaves this computer. ',
      home ? ['Each job is kept in a folder of its own in ', h('b', { title: folder }, folder.split(/[\\/]/).slice(-2).join(' › '))] : ['A job file is begun beside it in ', h('b', {}, folder ?? 'this folder')], '.'),
    dropPlace('Drop the drawing here', () => say('The drawing is on the table. Check its size first.')),
    before ? null : [h('h3', {}, 'Then'),
      h('ol', {}, ['hold a ruler to the screen or give one measure: the size must be true', 'name the cloths, with thread count or measured repeat',
        'click shapes and say which cloth they are cut from', 'lay them, move what you like by hand, and cut']
        .map((t) => h('li', {}, t)))]);
}
