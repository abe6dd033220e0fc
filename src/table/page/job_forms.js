// Forms for the parts of a job: cloths, rules of pieces, cutter, frame, lay.

import { h, button, plain, remark, say, words } from './dom.js';
import { photoForm } from './photo.js';
import * as api from './api.js';
import * as store from './store.js';
import { fields } from './schema_form.js';

const schema = () => store.part('api/schema/job');

/** Changes the job; true when it was kept and nothing is wrong with it. What is wrong is said. */
async function put(change) {
  try {
    const answer = await store.changeJob(change);
    // What a new job has nothing of yet is told where it is to be done.
    const first = answer.troubles?.find((t) => !/at least one entry/.test(t.what));
    if (!first) return true;
    say(`Kept. Not yet right: ${first.about ? `${first.about}: ` : ''}${plain(first.what)}${first.hint ? `. ${first.hint}` : ''}`, true);
  } catch (problem) {
    say(words(problem), true);
  }
  return false;
}

const set = (object, key, value) => {
  if (value === undefined) delete object[key]; else object[key] = value;
};

/** A cloth that a new job may begin with. @param {string} name */
export const newCloth = (name) => ({ name, width_mm: 1400, weave: 'plain', edge_mm: 10 });

/** The form of cloth `k`. @param {number} k @returns {Promise<HTMLElement>} */
export async function clothForm(k) {
  const [root, cloths] = await Promise.all([schema(), store.part('api/cloths')]);
  const cloth = store.state.job.cloths[k];
  const told = (cloths[k]?.notes ?? []).map((n) => remark(n.level === 'caution' ? 'care' : '', n.text));
  const change = (key, value) => put((job) => set(job.cloths[k], key, value));
  const usual = ['name', 'width_mm', 'length_mm', 'weave', 'nap', 'edge_mm', 'price_per_m', 'pattern'];
  const spec = root.$defs.ClothSpec;
  const only = (keys) => ({ ...spec, properties: Object.fromEntries(keys.map((key) => [key, spec.properties[key]])) });
  const rename = (key, value) => put((job) => {
    const old = job.cloths[k].name;
    set(job.cloths[k], key, value);
    // The rules of its pieces go with its name.
    if (key === 'name' && value) for (const rule of job.pieces ?? []) if (rule.cloth === old) rule.cloth = value;
  });
  return h('div', {},
    fields(only(usual), root, cloth, rename, [], `cloth-${k}.`),
    told,
    h('details', {}, h('summary', {}, 'A photograph of it as its look'), photoForm(k)),
    h('details', {}, h('summary', {}, 'More of this cloth'),
      fields(spec, root, cloth, change, usual, `cloth-${k}.`)),
    h('div', { class: 'row tools' }, button('Take this cloth out of the job', () => takeOut(k))));
}

/** Takes a cloth out, and with the maker's word the rules of what is cut from it. @param {number} k */
function takeOut(k) {
  const { name } = store.state.job.cloths[k];
  const of = (store.state.job.pieces ?? []).filter((r) => r.cloth === name).length;
  if (of && !window.confirm(`Shapes are cut from ${name}. Take it out, and leave them uncut until they are given to another cloth?`)) return null;
  return put((job) => { job.cloths.splice(k, 1); job.pieces = (job.pieces ?? []).filter((r) => r.cloth !== name); });
}

/** The form of rule `k` of the pieces. @param {number} k @returns {Promise<HTMLElement>} */
export async function ruleForm(k) {
  const root = await schema();
  const rule = store.state.job.pieces[k];
  const spec = root.$defs.PieceRule;
  const names = store.state.job.cloths.map((c) => c.name);
  const cloth = h('select', { name: `rule-${k}.cloth`, onchange: (e) => put((job) => { job.pieces[k].cloth = e.target.value; }) },
    names.concat(names.includes(rule.cloth) ? [] : [rule.cloth]).map((n) => h('option', { value: n, selected: n === rule.cloth }, n || '–')));
  const usual = ['count', 'grain', 'match', 'group', 'allowance_mm', 'shape'];
  const only = { ...spec, properties: Object.fromEntries(usual.map((key) => [key, spec.properties[key]])) };
  const change = (key, value) => put((job) => set(job.pieces[k], key, value));
  const move = (by) => put((job) => { const [r] = job.pieces.splice(k, 1); job.pieces.splice(k + by, 0, r); });
  return h('div', {},
    h('div', { class: 'form' }, h('label', {}, h('span', {}, 'cloth'), cloth)),
    fields(only, root, rule, change, [], `rule-${k}.`),
    h('details', {}, h('summary', {}, 'More of this rule'), fields(spec, root, rule, change, [...usual, 'cloth'], `rule-${k}.`)),
    h('div', { class: 'tools' },
      k > 0 && button('Let it win over the one before', () => move(-1)),
      button('Take this rule out', () => put((job) => job.pieces.splice(k, 1)))));
}

/** The measures of a cutter that stands in its own file. @returns {Promise<HTMLElement|null>} */
async function measuresOf() {
  const c = await store.part('api/cutter').catch(() => null);
  return c && h('span', {}, ` As it says: bed ${c.bed_mm.join(' × ')} mm, kerf ${c.kerf_mm} mm, nought at the ${c.home_words}.`);
}

/** The form of a block of the job: cutter, frame, lay or sheets. @param {string} key @returns {Promise<HTMLElement>} */
export async function blockForm(key) {
  const root = await schema();
  const now = store.state.job[key];
  if (typeof now === 'string') {
    return h('p', {}, `The ${key} stands in its own file, ${now}, and other jobs may use it too: change it there, or `,
      button('have it in this job instead', async () => {
        await api.send('api/cutter/own');
        await store.refresh();
        say(`The ${key} stands in this job now with all that its file says; the file stays as it is`);
      }), await measuresOf());
  }
  if (key === 'frame' && !now) {
    return h('p', {}, 'No embroidery frame yet. ', button('Add a frame of 360 × 200 mm', () => put((job) => { job.frame = { field_mm: [360, 200] }; })));
  }
  const change = (k, v) => put((job) => { job[key] = { ...(job[key] ?? {}) }; set(job[key], k, v); });
  return fields(root.properties[key], root, now, change, key === 'lay' ? ['locked'] : [], `${key}.`);
}

/** The job's own words: title and scale. @returns {Promise<HTMLElement>} */
export async function jobForm() {
  const root = await schema();
  const change = (k, v) => put((job) => set(job, k, v));
  return fields(root, root, store.state.job, change, ['settlay', 'cloths', 'pieces', 'cutter', 'frame', 'lay', 'sheets', '$schema'], 'job.');
}

export { put };
