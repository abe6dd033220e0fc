// Is the drawing its true size? A ruler on the screen, set by a card, and one measure of the maker's own.

import { h, button, closed, say } from './dom.js';
import { put } from './job_forms.js';
import * as store from './store.js';
import { mm } from './words.js';

/** Width of an identification card of size ID-1, mm (ISO/IEC 7810). */
const CARD_MM = 85.6;
const CARD_HIGH_MM = 53.98;

/** A wrong resolution or unit is off by no more than this (metres for millimetres). */
const MOST_TIMES = 1000;

/**
 * The dialog. `measured` is what is selected on the drawing: its name and its box, mm.
 * @param {{page_mm: number[], scale: number, size_remarks: string[]}} drawing
 * @param {{name: string, width: number, height: number}|null} measured
 */
export function sizeCheck(drawing, measured) {
  let dots = Number(localStorage.getItem('dots-per-mm')) || 96 / 25.4;
  const card = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  card.setAttribute('class', 'ruler');
  card.setAttribute('role', 'img');
  card.setAttribute('aria-label', 'A card and a ruler at the size set');
  const draw = () => {
    const ticks = Array.from({ length: 101 }, (_, k) => {
      const x = (k * dots).toFixed(2);
      return `M${x} 0V${k % 10 ? (k % 5 ? 8 : 12) : 18}`;
    }).join('');
    card.style.height = `${CARD_HIGH_MM * dots + 44}px`;
    card.replaceChildren();
    const add = (name, attributes, text) => {
      const e = document.createElementNS('http://www.w3.org/2000/svg', name);
      for (const [k, v] of Object.entries(attributes)) e.setAttribute(k, v);
      if (text) e.textContent = text;
      card.append(e);
    };
    add('path', { d: ticks, stroke: 'currentColor', fill: 'none' });
    for (let k = 0; k <= 100; k += 20) add('text', { x: k * dots + 2, y: 32, fill: 'currentColor', 'font-size': 13 }, String(k));
    add('rect', { x: 1, y: 40, width: CARD_MM * dots, height: CARD_HIGH_MM * dots, rx: 3.18 * dots, fill: 'none', stroke: 'currentColor', 'stroke-width': 2, 'stroke-dasharray': '6 4' });
    add('text', { x: 12, y: 66, fill: 'currentColor', 'font-size': 14 }, 'lay a bank card here');
  };
  draw();
  const slider = h('input', { type: 'range', min: 2, max: 14, step: 0.01, value: dots, 'aria-label': 'size of the card on the screen',
    oninput: (e) => { dots = Number(e.target.value); localStorage.setItem('dots-per-mm', String(dots)); draw(); } });
  const [w, t] = drawing.page_mm;
  const what = measured ?? { name: 'the page', width: w, height: t };
  const is = h('input', { type: 'number', step: 'any', min: '0.1', value: what.width.toFixed(1), 'aria-label': `true width of ${what.name}, mm` });
  const use = async () => {
    // What is shown is rounded: left as it is, it changes nothing.
    const factor = is.value === is.given ? 1 : Number(is.value) / what.width;
    if (!(factor > 0 && Number.isFinite(factor))) { say('Give the width in millimetres', true); return; }
    if (factor > MOST_TIMES || factor < 1 / MOST_TIMES) { say(`That would make the drawing ${factor > 1 ? factor.toPrecision(3) : `1/${(1 / factor).toPrecision(3)}`} times as large: look at the figure again`, true); return; }
    // Of a size in pixels somebody has to stand for it, be it as it is.
    const stands = Math.abs(factor - 1) <= 1e-6 && (drawing.measured || drawing.size_said);
    const well = stands || await put((job) => { job.drawing_scale = Number(((job.drawing_scale ?? 1) * (Math.abs(factor - 1) <= 1e-6 ? 1 : factor)).toPrecision(9)); });
    dialog.close();
    if (well) say(Math.abs(factor - 1) > 1e-6 ? `The drawing is now ${factor.toFixed(4)} times as large` : 'The size stands');
  };
  const dialog = h('dialog', { 'aria-label': 'Check the size' },
    h('h2', {}, 'Is the size true?'),
    h('p', {}, `The page is ${mm(w, 1)} × ${mm(t, 1)}${store.state.job?.drawing_scale && store.state.job.drawing_scale !== 1 ? `, drawn ${store.state.job.drawing_scale} times as large as the file says` : ''}.`),
    drawing.size_remarks.map((r) => h('p', {}, r)),
    h('div', { class: 'form' },
      h('label', {}, h('span', {}, `True width of ${what.name} (mm)`), is,
        h('small', {}, measured ? 'Measure it on your paper pattern, or on the ruler below.' : 'Select one shape on the drawing first to measure that instead.'))),
    h('details', {}, h('summary', {}, 'A ruler on this screen'),
      h('p', {}, 'Slide until the dashed card is as large as a bank card (85.60 × 53.98 mm); then the ruler above it is true.'), slider, card),
    h('div', { class: 'tools' }, button('That is its size', use, { class: 'main' }), button('Leave', () => dialog.close())));
  dialog.addEventListener('close', () => closed(dialog));
  document.body.append(dialog);
  dialog.showModal();
}
