// Where the marks of a pass really are: written down, weighed, and the files corrected by them.

import { h, button, remark, say } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';
import { moved } from './words.js';

/** What was written and what it was found to say, by cloth and pass. */
const kept = { readings: {}, found: {} };

/**
 * The form for marks as measured.
 * @param {any} bed the bed as it is drawn @param {any} view
 * @param {any} pass @param {{name: string, bed: number[], pivot: boolean}[]} all what can be measured
 * @param {number[]} open earlier passes that are not marked as cut
 */
export function marksForm(bed, view, pass, all, open) {
  if (!all.length) return null;
  const name = `${pass.cloth}/${pass.number}`;
  const sheet = noted(name, all);
  const readings = (kept.readings[name] ??= sheet.read());
  const result = h('div', { 'aria-live': 'polite' });
  // What was found holds for these readings, of marks planned there, and for no others.
  const of = () => JSON.stringify([all, readings]);
  const known = kept.found[name]?.of === of() ? kept.found[name].report : null;
  bed.report = known;
  const forget = () => {
    if (!bed.report) return;
    bed.report = null;
    delete kept.found[name];
    result.replaceChildren(remark('', 'The readings changed: see anew what they say.'));
    view.again();
  };
  const input = (mark, axis, k) => h('input', { type: 'number', step: '0.01', 'aria-label': `${mark.name} ${axis}, mm`, name: `${mark.name}-${axis}`, value: readings[mark.name]?.[k] ?? '',
    oninput: (e) => { (readings[mark.name] ??= ['', ''])[k] = e.target.value; sheet.write(readings); forget(); } });
  const given = () => all.filter((m) => readings[m.name]?.every((v) => v !== ''))
    .map((m) => ({ name: m.name, x_mm: Number(readings[m.name][0]), y_mm: Number(readings[m.name][1]) }));
  const ask = async (only) => {
    if (!given().length) { say(`Write down where at least two ${all[0].pivot ? 'crossings' : 'marks'} really are, both figures of each`, true); return; }
    const body = { cloth: pass.cloth, marks: given(), try: only };
    const asked = of();
    let answer;
    try {
      answer = await api.send(`api/passes/${pass.number}/realign`, body);
    } catch (problem) {
      if (!problem.records) throw problem;
      if (!window.confirm(`${recorded(pass, problem.records)} Is it so? It can be taken back until a later pass is cut.`)) return;
      answer = await api.send(`api/passes/${pass.number}/realign`, { ...body, earlier_cut: true });
    }
    if (!only) {
      delete kept.found[name]; delete kept.readings[name];
      await store.refresh(); store.forget();
      say(`The files of pass ${[pass.number, ...answer.later].join(', ')} are corrected`);
      store.tell('place');
      return;
    }
    // Written in while the table reckoned: what it says is of readings that are gone.
    if (asked !== of()) return;
    kept.found[name] = { of: asked, report: answer.report };
    bed.report = answer.report;
    result.replaceChildren(told(answer.report));
    view.again();
  };
  if (known) result.replaceChildren(told(known));
  return h('div', {}, h('h3', {}, 'Marks as measured'),
    h('p', {}, all[0].pivot
      ? 'Nothing is burnt yet, so the pattern itself tells how the cloth lies: drive the head to crossings of pivots with the pointer light and write where they really are. Left empty, the cloth is taken to lie as planned.'
      : 'Put the cloth down, drive the head to each mark with the pointer light and write where it really is. Two marks at least; three or four find a slip of the pen.'),
    h('table', {}, h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'mark'), h('th', { scope: 'col' }, 'planned'), h('th', { scope: 'col' }, 'x, mm'), h('th', { scope: 'col' }, 'y, mm'))),
      h('tbody', {}, all.map((m) => h('tr', {}, h('th', { scope: 'row' }, m.name), h('td', {}, m.bed.map((v) => v.toFixed(1)).join(', ')), h('td', {}, input(m, 'x', 0)), h('td', {}, input(m, 'y', 1)))))),
    open.length && !all[0].pivot ? h('p', {}, recorded(pass, open)) : null,
    h('div', { class: 'tools' }, button('See what they say', () => ask(true)), button('Correct the files', () => ask(false), { class: 'main' })),
    result);
}

/** What correcting a pass says of earlier ones. */
const recorded = (pass, open) => `Correcting this pass also marks pass ${open.join(' and ')} of ${pass.cloth} as cut, for the marks are burnt with ${open.length > 1 ? 'them' : 'it'}.`;

/** Readings not yet used outlive a reload of the page; they are of no use where the marks were planned elsewhere since. */
function noted(name, all) {
  const key = `readings ${store.state.folder}/${store.state.job_file} ${name}`;
  const planned = JSON.stringify(all.map((m) => m.bed));
  return {
    read: () => { const old = JSON.parse(localStorage.getItem(key) ?? 'null'); return old?.planned === planned ? old.readings : {}; },
    write: (readings) => localStorage.setItem(key, JSON.stringify({ planned, readings })),
  };
}

/** What measured marks say, in words: well only where nothing is to be heeded. */
function told(r) {
  const sound = !r.cautions.length && r.marks.every((m) => m.used);
  const [across, along] = r.stretch_percent;
  const stretched = Math.abs(across) > 0.005 || Math.abs(along) > 0.005 ? `, stretched by ${across.toFixed(2)} % across and ${along.toFixed(2)} % along` : '';
  const turned = Math.abs(r.turn_deg) < 0.0005 ? 'not turned' : `turned by ${Math.abs(r.turn_deg).toFixed(3)}° ${r.turn_deg > 0 ? 'counter-clockwise' : 'clockwise'}`;
  return h('div', {},
    remark(sound ? 'well' : 'care', `The cloth lies ${moved(r.shift_mm)}, ${turned}${stretched}. Nothing is written yet.`),
    r.marks.map((m) => h('p', {}, `${m.name}: ${m.off_mm.toFixed(2)} mm off`, m.used ? '' : ', left out: it disagrees with the others')),
    r.cautions.map((c) => remark('care', c)));
}
