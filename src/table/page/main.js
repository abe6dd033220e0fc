// The page: its head, its four places, and what everyone hears.

import { h, button, closed, say, words, remark } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';
import { goTo, start } from './start.js';
import { drawingPlace } from './drawing_place.js';
import { clothPlace } from './cloth_place.js';
import { cuttingPlace } from './cutting_place.js';
import { sewingPlace } from './sewing_place.js';
import { sizeCheck } from './size_check.js';

const PLACES = [['Drawing', drawingPlace], ['Cloth', clothPlace], ['Cutting', cuttingPlace], ['Sewing', sewingPlace]];

let place = PLACES.find(([n]) => `#${n.toLowerCase()}` === location.hash)?.[0] ?? 'Drawing';
let shown = null;
let opening = 0;
let openedFor = null;

function light(set) {
  const kept = set ?? localStorage.getItem('light');
  if (set) localStorage.setItem('light', set);
  const system = matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light';
  document.documentElement.dataset.light = kept === 'dark' || kept === 'light' ? kept : system;
  shown?.repaint?.();
}

// A field taken away while it is written in is no field left: what browsers tell of it then counts for nothing.
let replacing = false;
for (const told of ['change', 'blur']) {
  document.addEventListener(told, (e) => { if (replacing) e.stopImmediatePropagation(); }, true);
}

/** Shows the place anew: what is chosen stays chosen. */
async function open() {
  const mine = ++opening;
  const { state } = store;
  let next;
  try {
    next = state.job ? await PLACES.find(([n]) => n === place)[1]() : { element: await start(), close() {} };
  } catch (problem) {
    next = { element: h('div', { class: 'begin' }, remark('wrong', words(problem)), button('Try again', () => store.refresh().then(open))), close() {} };
  }
  // A piece in hand is not taken out of it: the place asks to be shown anew when it is put down.
  if (mine !== opening || (openedFor === place && shown?.inHand?.())) { next.close(); return; }
  const samePlace = openedFor === place;
  const active = document.activeElement;
  const focused = active?.getAttribute?.('name') ?? active?.getAttribute?.('aria-label');
  const typed = samePlace && active?.matches?.('#place input:not([type="checkbox"], [type="radio"], [type="range"], [type="file"]), #place textarea') && active.value !== String(active.given ?? '') ? active.value : null;
  const scrolled = document.querySelector('.side')?.scrollTop ?? 0;
  const summaries = () => [...document.querySelectorAll('#place details > summary')];
  const before = summaries();
  const wereOpen = before.map((s) => s.parentElement.open);
  const openDetails = new Set(before.filter((_, k) => wereOpen[k]).map((s) => s.textContent));
  const look = samePlace ? shown?.look?.() : null;
  shown?.close();
  shown = next;
  openedFor = place;
  replacing = true;
  document.getElementById('place').replaceChildren(next.element);
  replacing = false;
  if (samePlace) {
    // One that was given another name is still the same.
    const after = summaries();
    const alike = after.length === before.length;
    for (const [k, s] of after.entries()) if (openDetails.has(s.textContent) || (alike && wereOpen[k])) s.parentElement.open = true;
    const side = document.querySelector('.side');
    if (side) side.scrollTop = scrolled;
    const again = focused && document.querySelector(`#place [name="${CSS.escape(focused)}"], #place [aria-label="${CSS.escape(focused)}"]`);
    again?.focus({ preventScroll: true });
    if (again && typed !== null) goOn(again, typed);
  }
  shows();
  if (look) next.restore?.(look);
  document.title = `${state.job?.title || state.job_file || 'Cutting table'}: ${place}`;
}

/** Which state the place shows, for whoever drives the page from outside. */
const shows = () => { document.getElementById('place').dataset.shows = `${place} ${store.state.revision}`; };

/** Goes on with what was being written when the place was shown anew; it is not lost even if no more is written. */
function goOn(field, typed) {
  field.value = typed;
  let told = false;
  field.addEventListener('change', () => { told = true; }, { once: true });
  field.addEventListener('blur', () => { if (!told && field.isConnected && field.value !== String(field.given ?? '')) field.dispatchEvent(new Event('change')); }, { once: true });
}

function go(name) {
  place = name;
  history.replaceState(null, '', `#${name.toLowerCase()}`);
  head();
  open();
}

function head() {
  const { state } = store;
  const undo = (which) => async () => { await store.step(which); say(which === 'undo' ? 'Undone' : 'Done again'); };
  const save = async (over = false) => {
    try {
      const answer = await api.send('api/save', { over });
      await store.refresh();
      say(`Saved as ${answer.job_file}`);
    } catch (problem) {
      if (problem.on_disk && window.confirm(`${problem.detail}. Save over it?`)) return save(true);
      throw problem;
    }
    return null;
  };
  const lightNow = document.documentElement.dataset.light;
  const parts = [
    h('div', { class: 'title' }, h('h1', {}, state.job?.title || state.job_file || 'Cutting table'),
      h('small', {}, state.job ? `${state.job_file ?? ''}${state.saved ? ', saved' : ', kept; not yet saved as a job file'}` : 'nothing on it yet')),
    state.job ? h('nav', { 'aria-label': 'Places' }, PLACES.map(([n]) => h('button', { type: 'button', 'aria-current': n === place ? 'page' : null, onclick: () => go(n) }, n))) : null,
    h('div', { class: 'tools' },
      state.job ? [button('Undo', undo('undo'), { disabled: !state.can_undo, title: state.can_undo ? `take back: ${state.can_undo}` : null }),
        button('Redo', undo('redo'), { disabled: !state.can_redo }),
        button('Save', () => save(), { class: state.saved ? null : 'main' })] : null,
      state.home && state.job ? button('All jobs', () => goTo(null), { title: 'To the list of jobs; this one stays as it is' }) : null,
      button(lightNow === 'dark' ? 'Light' : 'Dark', () => { light(lightNow === 'dark' ? 'light' : 'dark'); head(); open(); }),
      button('Help', help)),
  ];
  document.getElementById('head').replaceChildren(...parts.filter(Boolean));
  if (state.disk_changed) {
    document.getElementById('head').append(h('div', { class: 'said care', role: 'alert' }, h('b', {}, '▲'), ' The job or its drawing was changed on disk. ',
      button('Take the file as it is', async () => { await api.send('api/reload'); await store.refresh(); say('Read again; Undo brings yours back'); }),
      ' or Save keeps what is on the table.'));
  }
  headed += 1;
  askSize(headed);
}

/** A size in pixels alone is asked about at every place until somebody stands for it. */
async function askSize(mine) {
  if (!store.state.job || !store.state.drawing) return;
  const drawing = await store.part('api/drawing').catch(() => null);
  if (!drawing || drawing.measured || drawing.size_said || mine !== headed) return;
  const [w, t] = drawing.page_mm;
  document.getElementById('head').append(h('div', { class: 'said care', role: 'alert' }, h('b', {}, '▲'),
    ` The drawing gives its size in pixels alone. Read at 96 to the inch, its page is ${w.toFixed(1)} × ${t.toFixed(1)} mm. Is that true? `,
    button('Check the size', () => sizeCheck(drawing, null))));
}
let headed = 0;

function help() {
  const row = (keys, what) => h('tr', {}, h('th', { scope: 'row' }, keys.map((k) => [h('kbd', {}, k), ' '])), h('td', {}, what));
  const dialog = h('dialog', { 'aria-label': 'Help' }, h('h2', {}, 'Keys'),
    h('table', {}, h('tbody', {}, row(['1', '2', '3', '4'], 'Drawing, Cloth, Cutting, Sewing'), row(['+', '−', '0'], 'closer, farther, all'),
      row(['Alt + arrows'], 'the chosen pieces to the next allowed place (Shift: 10 mm where free)'), row(['[', ']'], 'the next allowed turn'), row(['L'], 'lock or unlock'),
      row(['Ctrl + Z'], 'undo; with Shift, redo'), row(['Ctrl + S'], 'save the job file'), row(['Enter', 'Escape'], 'close or leave an outline being drawn'))),
    h('p', {}, 'Drag a piece with mouse or finger; with Alt, or with “Whole group” on, its whole group slides. Without dragging: choose a piece and press the arrows beside the list. Drag the cloth to move about, wheel or two fingers to come closer. Every change is kept at once beside the job.'),
    button('Close', () => dialog.close(), { class: 'main' }));
  dialog.addEventListener('close', () => closed(dialog));
  document.body.append(dialog);
  dialog.showModal();
}

document.addEventListener('keydown', (e) => {
  if (document.querySelector('dialog[open]')) return;
  const typing = e.target.closest?.('input:not([type="range"]):not([type="checkbox"]), textarea, select');
  const command = e.ctrlKey || e.metaKey;
  if (command && e.key.toLowerCase() === 'z' && !typing) {
    e.preventDefault();
    const which = e.shiftKey ? 'redo' : 'undo';
    if (store.state[`can_${which}`]) store.step(which).catch((p) => say(words(p), true));
  } else if (command && e.key.toLowerCase() === 's') {
    e.preventDefault();
    [...document.querySelectorAll('#head button')].find((b) => b.textContent === 'Save')?.click();
  } else if (!typing && !command) {
    const k = '1234'.indexOf(e.key);
    if (k >= 0 && store.state.job && !e.altKey) go(PLACES[k][0]);
    else if (!e.defaultPrevented && shown?.key?.(e)) e.preventDefault();
  }
});

store.watch((what, data) => {
  if (what === 'place') { head(); open(); return; }
  if (what === 'shown') { shows(); return; }
  if (what !== 'state') return;
  head();
  const key = JSON.stringify([store.state.revision, store.state.busy, store.planOf(store.state), !!store.state.job, place]);
  if (key === watchedKey) return;
  watchedKey = key;
  if (openedFor === place && shown?.inHand?.()) return;
  if (openedFor === place && shown?.holds?.(store.state)) shows(); else open();
});
let watchedKey = '';

document.addEventListener('found', (e) => say(e.detail, true));
matchMedia('(prefers-color-scheme: dark)').addEventListener('change', () => { light(); head(); open(); });
light();
await store.refresh().catch((problem) => { say(words(problem), true); });
api.listen({
  state: (news) => store.take(news).catch((p) => say(words(p), true)),
  better: (data) => shown?.heard?.('better', data),
  progress: (data) => shown?.heard?.('progress', data),
  passes: (data) => shown?.heard?.('passes', data),
  done: async (data) => {
    const what = { lay: 'Laid', plan: 'The plan is made', words: 'Report and sheets are written', buy: 'Worked out', recut: 'Found' }[data.what] ?? data.what;
    shown?.heard?.('done', data);
    say(data.ok ? what : words(data.problem), !data.ok);
    store.forget();
    await store.refresh();
    store.tell('place');
  },
  lost: () => say('The line to the table is lost; it is tried again. What you did is kept.', true),
  found: () => { say('The table answers again'); store.forget(); store.refresh(); },
});
