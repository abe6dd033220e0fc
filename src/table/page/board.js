// A board: tools above, a canvas in millimetres, figures of the pointer below, and a side beside it.

import { h, button } from './dom.js';
import { View } from './view.js';

/**
 * @param {string} label what the canvas shows, for a reader of the screen
 * @param {(g: CanvasRenderingContext2D, view: View) => void} draw
 * @param {() => number[]} whole the box that shows everything
 * @param {Array<Node|null>} tools
 */
export function board(label, draw, whole, tools) {
  const canvas = h('canvas', { role: 'img', 'aria-label': label });
  const where = h('span', { class: 'where' }, '–');
  const note = h('span', {});
  const sum = h('span', { class: 'sum' });
  const side = h('aside', { class: 'side', 'aria-label': 'Details' });
  const view = new View(canvas, draw, where);
  const all = () => { view.moved = false; view.fit(whole()); };
  const bar = h('div', { class: 'bar' }, tools,
    button('+', () => view.zoom(1.3), { 'aria-label': 'closer' }), button('−', () => view.zoom(1 / 1.3), { 'aria-label': 'farther' }),
    button('All', all, { 'aria-label': 'show all' }));
  const element = h('div', { class: 'work' },
    h('section', { class: 'board', 'aria-label': label }, bar, h('div', { class: 'stage' }, canvas),
      h('div', { class: 'under' }, where, note, sum)), side);
  return { element, view, side, bar, note, sum, all, canvas };
}

/** A button that stays pressed. @param {string} label @param {boolean} on @param {(on: boolean) => void} changed */
export function toggle(label, on, changed, attributes = {}) {
  const made = h('button', { type: 'button', 'aria-pressed': String(on), ...attributes, onclick: () => {
    const now = made.getAttribute('aria-pressed') !== 'true';
    made.setAttribute('aria-pressed', String(now));
    changed(now);
  } }, label);
  return made;
}

/** Several at a time, where no Shift key is at hand. @param {{several: boolean}} kept */
export const several = (kept) => toggle('Several', kept.several, (on) => { kept.several = on; }, { title: 'each click or touch chooses one more (as with Shift)' });

/**
 * A list of things of which one or several are chosen with mouse or keys (the ARIA listbox pattern).
 * @param {string} label
 * @param {{key: string, content: any}[]} items
 * @param {{chosen: Set<string>, many?: boolean, changed: (chosen: Set<string>) => void, keys?: (e: KeyboardEvent, active: string|null) => boolean}} options
 */
export function listbox(label, items, { chosen, many = false, changed, keys }) {
  let active = items.findIndex((i) => chosen.has(i.key));
  const id = (k) => `option-${label.replace(/\W/g, '-')}-${k}`;
  const rows = items.map((item, k) => h('li', { role: 'option', id: id(k), 'aria-selected': String(chosen.has(item.key)), onclick: (e) => pick(k, many && (e.shiftKey || e.ctrlKey || e.metaKey)) }, item.content));
  const list = h('ul', { class: 'list', role: 'listbox', tabindex: '0', 'aria-label': label, 'aria-multiselectable': many ? 'true' : null }, rows);
  const show = () => {
    rows.forEach((row, k) => row.setAttribute('aria-selected', String(chosen.has(items[k].key))));
    if (active >= 0) list.setAttribute('aria-activedescendant', id(active));
  };
  const pick = (k, add) => {
    active = k;
    const { key } = items[k];
    if (!add) chosen.clear();
    if (add && chosen.has(key)) chosen.delete(key); else chosen.add(key);
    show();
    rows[k].scrollIntoView({ block: 'nearest' });
    changed(chosen);
  };
  list.addEventListener('keydown', (e) => {
    if (keys?.(e, items[active]?.key ?? null)) { e.preventDefault(); return; }
    const to = { ArrowDown: active + 1, ArrowUp: active - 1, Home: 0, End: items.length - 1 }[e.key];
    if (to === undefined || e.altKey || e.ctrlKey || !items.length) return;
    e.preventDefault();
    pick(Math.min(items.length - 1, Math.max(0, to)), many && e.shiftKey);
  });
  /** Shows a choice made elsewhere. */
  const follow = () => {
    active = items.findIndex((i) => chosen.has(i.key));
    show();
    rows[active]?.scrollIntoView({ block: 'nearest' });
  };
  show();
  return { list, follow };
}

/** Big figures. @param {[string, string][]} pairs */
export const figures = (pairs) =>
  h('dl', { class: 'figures' }, pairs.map(([name, value]) => h('div', {}, h('dt', {}, name), h('dd', {}, value))));
