// A form made from the published schema of the job, so that all a job file can say can be said on the page.

import { h } from './dom.js';

/** Follows references and takes the part of a choice that is not null. */
function resolved(schema, root) {
  let s = schema;
  for (let k = 0; k < 8; k++) {
    if (s.$ref) s = { ...root.$defs[s.$ref.split('/').pop()], ...{ description: s.description ?? undefined } };
    else if (s.anyOf) s = { ...s.anyOf.find((o) => o.type !== 'null' && o.type !== 'string') ?? s.anyOf[0], description: s.description };
    else if (s.allOf?.length === 1) s = { ...s.allOf[0], description: s.description };
    else break;
  }
  return s;
}

const nullable = (s) => (Array.isArray(s.type) && s.type.includes('null')) || !!s.anyOf?.some((o) => o.type === 'null');
const typeOf = (s) => (Array.isArray(s.type) ? s.type.find((t) => t !== 'null') : s.type);
const label = (key) => {
  const unit = { _mm_per_s2: 'mm/s²', _mm_per_s: 'mm/s', _mm_per_m: 'mm per m', _per_cm: 'per cm', _per_min: 'per min', _g_per_m2: 'g/m²', _percent: '%', _mm2: 'mm²', _mm: 'mm', _deg: '°', _s: 's' };
  for (const [end, word] of Object.entries(unit)) {
    if (key.endsWith(end)) return `${key.slice(0, -end.length).replaceAll('_', ' ')} (${word})`;
  }
  return key.replaceAll('_', ' ');
};

/** Words for a choice: its constants with what they mean. */
function choices(s) {
  if (s.enum) return s.enum.map((v) => [v, String(v)]);
  if (s.oneOf?.every((o) => 'const' in o)) return s.oneOf.map((o) => [o.const, o.description ? `${o.const}: ${o.description}` : o.const]);
  return null;
}

/**
 * Fields for an object of the job.
 * @param {any} schema its schema @param {any} root the whole schema @param {any} value as it is now
 * @param {(key: string, value: any) => void} changed called with undefined where a field is emptied
 * @param {string[]} [without] fields that stand elsewhere
 * @param {string} [name] what stands before the fields' own names, for a reader of the screen
 * @returns {HTMLElement}
 */
export function fields(schema, root, value, changed, without = [], name = '') {
  const s = resolved(schema, root);
  const form = h('div', { class: 'form' });
  for (const [key, raw] of Object.entries(s.properties ?? {})) {
    if (without.includes(key)) continue;
    form.append(field(key, raw, root, value?.[key], (v) => changed(key, v), name));
  }
  return form;
}

function field(key, raw, root, value, changed, name) {
  const s = resolved(raw, root);
  const text = label(key);
  const about = raw.description ?? s.description;
  const small = about ? h('small', {}, about.split('\n\n')[0]) : null;
  const titled = (input) => h('label', {}, h('span', {}, text), input, small);
  const options = choices(s);
  if (options) {
    const now = value ?? raw.default ?? s.default;
    const list = options.map(([v, words]) => h('option', { value: v, selected: v === now }, words));
    if (nullable(raw) || (value === undefined && now === undefined)) list.unshift(h('option', { value: '', selected: value === undefined || value === null }, '–'));
    return titled(h('select', { name: `${name}${key}`, onchange: (e) => changed(e.target.value || undefined) }, list));
  }
  const type = typeOf(s);
  if (type === 'boolean' && !nullable(raw)) {
    const box = h('input', { type: 'checkbox', name: `${name}${key}`, checked: value ?? raw.default ?? false, onchange: (e) => changed(e.target.checked) });
    return h('label', { class: 'tick' }, box, ' ', h('span', {}, text), h('br'), small);
  }
  if (type === 'boolean') {
    const pick = (e) => changed(e.target.value === '' ? undefined : e.target.value === 'true');
    const option = (v, words) => h('option', { value: v, selected: String(value ?? '') === v }, words);
    return titled(h('select', { name: `${name}${key}`, onchange: pick }, option('', 'as found'), option('true', 'yes'), option('false', 'no')));
  }
  if (type === 'number' || type === 'integer') {
    const hint = raw.default ?? s.default;
    const input = h('input', {
      type: 'number', step: type === 'integer' ? '1' : 'any', min: s.minimum, max: s.maximum, name: `${name}${key}`,
      placeholder: hint === undefined || hint === null ? null : String(hint), value: value ?? '',
      onchange: (e) => changed(e.target.value === '' ? undefined : Number(e.target.value)),
    });
    return titled(input);
  }
  if (type === 'string') {
    return titled(h('input', { type: 'text', name: `${name}${key}`, value: value ?? '', onchange: (e) => changed(e.target.value || undefined) }));
  }
  if (type === 'array' && s.minItems === 2 && s.maxItems === 2 && typeOf(resolved(s.items, root)) === 'number') return pair(key, text, small, value, raw.default ?? s.default, changed, name);
  if (type === 'object' && s.properties) {
    const inner = { ...(value ?? {}) };
    const put = (k, v) => {
      if (v === undefined) delete inner[k]; else inner[k] = v;
      changed(Object.keys(inner).length || !nullable(raw) ? inner : undefined);
    };
    return h('details', { open: !!value && Object.keys(value).length > 0 }, h('summary', {}, text), small, fields(s, root, value, put, [], `${name}${key}.`));
  }
  return titled(listed(key, value, changed, name));
}

/** Two figures that belong together; one left empty is as usual, where there is a usual one. */
function pair(key, text, small, value, usual, changed, name) {
  const ends = key.includes('range') ? ['least', 'most'] : ['x', 'y'];
  const inputs = ends.map((end, k) => h('input', { type: 'number', step: 'any', name: `${name}${key}.${end}`, 'aria-label': `${text}, ${end}`, placeholder: usual?.[k] ?? null, value: value?.[k] ?? '', onchange: () => tell() }));
  const tell = () => {
    if (inputs.every((e) => e.value === '')) { changed(undefined); return; }
    const both = inputs.map((e, k) => (e.value === '' ? usual?.[k] : Number(e.value)));
    if (both.every((v) => Number.isFinite(v))) changed(both);
  };
  return h('fieldset', {}, h('legend', {}, text), h('div', { class: 'row' }, inputs.map((e, k) => h('label', {}, h('span', {}, ends[k]), e))), small);
}

/** Lists and tables are written as they stand in the job file. */
function listed(key, value, changed, name) {
  const short = JSON.stringify(value) ?? '';
  const Long = short.length > 60;
  const input = h(Long ? 'textarea' : 'input', { name: `${name}${key}`, spellcheck: 'false', placeholder: 'as in the job file, e.g. [1, 2]' });
  input.value = input.given = Long ? JSON.stringify(value, null, 1) : short;
  input.addEventListener('change', () => {
    try {
      changed(input.value.trim() === '' ? undefined : JSON.parse(input.value));
      input.removeAttribute('aria-invalid');
    } catch {
      input.setAttribute('aria-invalid', 'true');
      input.setCustomValidity('Brackets, commas or quotes do not match');
      input.reportValidity();
      input.setCustomValidity('');
    }
  });
  return input;
}
