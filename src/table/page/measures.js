// Measures that only the maker can know, asked for once before a plan is made: bed, kerf, the drawing's size.

import { h, button, closed, say, words } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';
import { put } from './job_forms.js';

const number = (name, label, value) => h('input', { type: 'number', step: 'any', min: '0', name, 'aria-label': label, value });

/**
 * Asks for every measure nobody has given yet, and keeps it with the job.
 * @returns {Promise<boolean>} true when all are given, and the lay on the table is still that of the drawing
 */
export async function allSaid() {
  const cutter = await api.get('api/cutter');
  if (!cutter.unsaid.length) return true;
  const lacks = (field) => cutter.unsaid.includes(field);
  const [w, t] = cutter.page_mm ?? [0, 0];
  const bed = cutter.bed_mm.map((v, k) => number(`said.bed.${'xy'[k]}`, `bed, ${k ? 'away from you' : 'from left to right'}, mm`, v));
  const kerf = number('said.kerf', 'kerf, mm', cutter.kerf_mm);
  const width = number('said.width', 'true width of the drawing’s page, mm', w.toFixed(1));
  return new Promise((done) => {
    let well = false;
    const keep = async () => {
      const given = { bed: bed.map((e) => Number(e.value)), kerf: Number(kerf.value), factor: Number(width.value) / Number(w.toFixed(1)) };
      if (lacks('bed_mm') && !given.bed.every((v) => v > 0)) { say('Give both sides of the bed in millimetres', true); return; }
      if (lacks('kerf_mm') && (kerf.value === '' || !(given.kerf >= 0))) { say('Give the kerf in millimetres', true); return; }
      if (lacks('drawing_scale') && !(given.factor > 0.001 && given.factor < 1000)) { say('Give the true width of the page in millimetres', true); return; }
      // A file that other jobs use is not written in: its description comes into this job whole.
      if (cutter.file && (lacks('bed_mm') || lacks('kerf_mm'))) { await api.send('api/cutter/own'); await store.refresh(); }
      const kept = await put((job) => {
        const own = { ...(job.cutter ?? {}) };
        if (lacks('bed_mm')) own.bed_mm = given.bed;
        if (lacks('kerf_mm')) own.kerf_mm = given.kerf;
        if (lacks('bed_mm') || lacks('kerf_mm')) job.cutter = own;
        if (lacks('drawing_scale')) job.drawing_scale = Number(((job.drawing_scale ?? 1) * given.factor).toPrecision(9));
      });
      if (!kept) return;
      const resized = lacks('drawing_scale') && given.factor !== 1;
      well = !resized;
      dialog.close();
      if (resized) say('The drawing has another size now: lay its pieces again under Cloth', true);
    };
    const dialog = h('dialog', { 'aria-label': 'Before the plan is made' }, h('h2', {}, 'Is this so?'),
      h('p', {}, 'A plan is made for one cutter and one size. Nobody has said these yet, so usual figures stand here: put them right. They are kept with the job, and not asked again.'),
      h('div', { class: 'form' },
        lacks('bed_mm') && h('fieldset', {}, h('legend', {}, 'The cutter’s bed (mm)'),
          h('div', { class: 'row' }, h('label', {}, h('span', {}, 'left to right'), bed[0]), h('label', {}, h('span', {}, 'away from you'), bed[1])), h('small', {}, 'What the head can reach, as the machine’s manual or a rule says.')),
        lacks('kerf_mm') && h('label', {}, h('span', {}, 'Kerf (mm)'), kerf, h('small', {}, 'Width of cloth the beam takes away. The gauge that settlay writes measures it.')),
        lacks('drawing_scale') && h('label', {}, h('span', {}, 'True width of the drawing’s page (mm)'), width, h('small', {}, `The drawing gives its size in pixels alone. Read at 96 to the inch its page is ${w.toFixed(1)} × ${t.toFixed(1)} mm.`))),
      cutter.file && (lacks('bed_mm') || lacks('kerf_mm')) ? h('p', {}, `The cutter’s own file, ${cutter.file}, does not say it. Its description is taken into this job and completed here; the file stays as it is.`) : null,
      h('div', { class: 'tools' }, button('It is so: make the plan', () => keep().catch((problem) => say(words(problem), true)), { class: 'main' }), button('Leave', () => dialog.close())));
    dialog.addEventListener('close', () => { closed(dialog); done(well); });
    document.body.append(dialog);
    dialog.showModal();
  });
}
