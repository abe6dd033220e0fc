// An empty table: a drawing dropped or chosen begins a job.

import { h, say, words } from './dom.js';
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

/** The page of an empty table. @returns {HTMLElement} */
export function start() {
  return h('div', { class: 'begin' },
    h('h2', {}, 'Begin with the drawing'),
    h('p', {}, 'Outlines of the pieces as they will be seen from the face, in an SVG file. It is read, never run; nothing leaves this computer. A job file is begun beside it in ',
      h('b', {}, store.state.folder ?? 'this folder'), '.'),
    dropPlace('Drop the drawing here', () => say('The drawing is on the table. Check its size first.')),
    h('h3', {}, 'Then'),
    h('ol', {}, ['hold a ruler to the screen or give one measure: the size must be true', 'name the cloths, with thread count or measured repeat',
      'click shapes and say which cloth they are cut from', 'lay them, move what you like by hand, and cut']
      .map((t) => h('li', {}, t))));
}
