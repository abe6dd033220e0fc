// A photograph of the cloth as its look: one repeat of it straightened from any picture that shows the pattern.

import { h, button, closed, say } from './dom.js';
import { raw } from './api.js';
import { across } from './geometry.js';
import * as store from './store.js';

/** Pixels of the straightened repeat to the millimetre, and at most along its longer side. */
const PX_PER_MM = 4;
const MOST_PX = 1200;
/** Least pixels a side, so that fine repeats still show something. */
const LEAST_PX = 48;
/** A camera's picture is looked at no finer than this along its longer side. */
const LOOKED_AT_PX = 2400;
const CORNERS = ['upper left', 'upper right', 'lower right', 'lower left'];

/**
 * The form of a photograph of cloth `k`: its look, and its repeat where nothing else says it.
 * @param {number} k @returns {HTMLElement}
 */
export function photoForm(k) {
  const pattern = store.state.job.cloths[k].pattern ?? {};
  const number = (name, value) => h('input', { type: 'number', step: 'any', min: '0.5', name, value: value ?? '' });
  const pick = h('input', { type: 'file', accept: 'image/png,image/jpeg,image/webp', name: `photo-${k}` });
  const wide = number(`photo-${k}-w`, pattern.photo?.size_mm[0] ?? pattern.repeat_across_mm);
  const high = number(`photo-${k}-h`, pattern.photo?.size_mm[1] ?? pattern.repeat_along_mm);
  const same = h('input', { type: 'checkbox', name: `photo-${k}-same`, checked: pattern.symmetrical ?? false });
  const send = async (name, picture) => {
    const asked = new URLSearchParams({ cloth: k, name, w_mm: wide.value, h_mm: high.value, symmetrical: same.checked });
    try { await raw(`api/photo?${asked}`, picture); } catch (problem) {
      if (!problem.exists || !window.confirm(`${problem.detail}. Put this one in its place?`)) throw problem;
      await raw(`api/photo?${asked}&over=1`, picture);
    }
    await store.refresh();
    say('The photograph is kept beside the job and shown as the cloth');
  };
  const straighten = async () => {
    const [file] = pick.files;
    if (!file) { say('Choose a picture first', true); return; }
    const size = [Number(wide.value), Number(high.value)];
    if (!size.every((v) => v > 0)) { say('Give the size of one repeat in millimetres', true); return; }
    const picture = await looked(file);
    corners(picture, size, (repeat) => send(`${file.name.replace(/\.[^.]*$/, '')}-repeat.png`, repeat));
  };
  return h('div', { class: 'form' },
    h('p', {}, 'Measure the repeat on the cloth over several repeats: these figures decide where pieces may lie, the picture is only looked at.'),
    h('label', {}, h('span', {}, 'Repeat across (mm)'), wide), h('label', {}, h('span', {}, 'Repeat along (mm)'), high),
    h('label', {}, h('span', {}, 'Picture'), pick, h('small', {}, 'Taken from above, the warp upright, in even light.')),
    h('label', { class: 'tick' }, same, ' a half turn leaves the pattern the same'),
    button('Find the repeat in it', straighten));
}

/** The picture's pixels, a large one made smaller. @param {File} file @returns {Promise<HTMLCanvasElement>} */
async function looked(file) {
  let image;
  try { image = await createImageBitmap(file); } catch { throw new Error(`${file.name} is no picture this browser can read: choose a PNG, JPEG or WebP`); }
  const less = Math.min(1, LOOKED_AT_PX / Math.max(image.width, image.height));
  const canvas = h('canvas', { width: Math.max(1, Math.round(image.width * less)), height: Math.max(1, Math.round(image.height * less)) });
  canvas.getContext('2d').drawImage(image, 0, 0, canvas.width, canvas.height);
  image.close();
  return canvas;
}

/**
 * The dialog in which four corners are put on whole repeats; the repeats between them are straightened and averaged.
 * @param {HTMLCanvasElement} picture @param {[number, number]} size of one repeat, mm
 * @param {(repeat: Blob) => Promise<void>} use
 */
function corners(picture, size, use) {
  const pixels = picture.getContext('2d').getImageData(0, 0, picture.width, picture.height);
  const at = [[0.1, 0.1], [0.9, 0.1], [0.9, 0.9], [0.1, 0.9]].map(([u, v]) => [u * picture.width, v * picture.height]);
  const count = (label) => h('input', { type: 'number', min: '1', max: '40', step: '1', value: '1', 'aria-label': label, oninput: () => show() });
  const [many, deep] = [count('repeats from left to right'), count('repeats from top to bottom')];
  const frame = document.createElementNS('http://www.w3.org/2000/svg', 'svg');
  frame.setAttribute('viewBox', `0 0 ${picture.width} ${picture.height}`);
  const line = document.createElementNS('http://www.w3.org/2000/svg', 'polygon');
  frame.append(line);
  picture.setAttribute('role', 'img');
  picture.setAttribute('aria-label', 'the photograph');
  const handles = CORNERS.map((name, k) => h('button', { type: 'button', class: 'corner', 'aria-label': `corner at the ${name}`,
    onkeydown: (e) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
      if (!way) return;
      e.preventDefault();
      const step = e.shiftKey ? 10 : 1;
      move(k, [at[k][0] + way[0] * step, at[k][1] + way[1] * step]);
    },
    onpointerdown: (e) => e.target.setPointerCapture(e.pointerId),
    onpointermove: (e) => {
      if (!e.target.hasPointerCapture(e.pointerId)) return;
      const box = picture.getBoundingClientRect();
      move(k, [((e.clientX - box.left) / box.width) * picture.width, ((e.clientY - box.top) / box.height) * picture.height]);
    } }));
  const sample = h('canvas', { class: 'sample', role: 'img', 'aria-label': 'the cloth as it will look' });
  const move = (k, [x, y]) => {
    at[k] = [Math.min(Math.max(x, 0), picture.width), Math.min(Math.max(y, 0), picture.height)];
    show();
  };
  const repeats = () => [many, deep].map((e) => Math.min(40, Math.max(1, Math.round(Number(e.value)) || 1)));
  let waiting = 0;
  function show() {
    line.setAttribute('points', at.map((p) => p.join(',')).join(' '));
    handles.forEach((e, k) => { e.style.left = `${(100 * at[k][0]) / picture.width}%`; e.style.top = `${(100 * at[k][1]) / picture.height}%`; });
    waiting ||= requestAnimationFrame(() => { waiting = 0; tiled(sample, straight(pixels, at, repeats(), fineness(size, LEAST_PX * 4)), size); });
  }
  const take = async () => {
    const repeat = straight(pixels, at, repeats(), fineness(size, MOST_PX));
    const blob = await new Promise((made) => { repeat.toBlob(made, 'image/png'); });
    await use(blob);
    dialog.close();
  };
  const dialog = h('dialog', { 'aria-label': 'Find the repeat' },
    h('h2', {}, 'Find the repeat'),
    h('p', {}, 'Put the four corners on the same spot of the pattern: round one repeat, or round several that you count. Drag them, or choose one and press the arrow keys (Shift: ten at a time).'),
    h('div', { class: 'photo' }, picture, frame, handles),
    h('div', { class: 'form' }, h('div', { class: 'row' }, h('label', {}, h('span', {}, 'Repeats from left to right'), many), h('label', {}, h('span', {}, 'From top to bottom'), deep))),
    h('p', {}, `As it will look, two repeats each way of ${size[0]} × ${size[1]} mm: no seam should show.`), sample,
    h('div', { class: 'tools' }, button('Use as the look', take, { class: 'main' }), button('Leave', () => dialog.close())));
  dialog.addEventListener('close', () => closed(dialog));
  document.body.append(dialog);
  dialog.showModal();
  show();
}

/** Pixels of one repeat, across and along. */
function fineness(size, most) {
  const scale = Math.min(PX_PER_MM, most / Math.max(...size));
  return size.map((v) => Math.max(LEAST_PX, Math.round(v * scale)));
}

/** Two repeats each way, in their proportion. */
function tiled(canvas, repeat, [wide, high]) {
  canvas.width = 2 * repeat.width;
  canvas.height = 2 * repeat.height;
  canvas.style.aspectRatio = `${wide} / ${high}`;
  const g = canvas.getContext('2d');
  for (const x of [0, repeat.width]) for (const y of [0, repeat.height]) g.drawImage(repeat, x, y);
}

/**
 * One repeat seen straight on: the mean of all repeats between the corners.
 * @param {ImageData} from @param {number[][]} at corners from the upper left, clockwise, px
 * @param {number[]} repeats between them, across and along @param {number[]} pixels of the result
 * @returns {HTMLCanvasElement}
 */
function straight(from, at, [many, deep], [w, t]) {
  const place = across(at);
  const canvas = h('canvas', { width: w, height: t });
  const g = canvas.getContext('2d');
  const made = g.createImageData(w, t);
  for (let row = 0; row < t; row++) {
    for (let column = 0; column < w; column++) {
      const sum = [0, 0, 0];
      for (let i = 0; i < many; i++) {
        for (let j = 0; j < deep; j++) {
          const [x, y] = place((i + (column + 0.5) / w) / many, (j + (row + 0.5) / t) / deep);
          between(from, x - 0.5, y - 0.5, sum);
        }
      }
      const k = 4 * (row * w + column);
      for (let c = 0; c < 3; c++) made.data[k + c] = sum[c] / (many * deep);
      made.data[k + 3] = 255;
    }
  }
  g.putImageData(made, 0, 0);
  return canvas;
}

/** Adds the colour at a place between pixels, each counted by its nearness. */
function between({ data, width, height }, x, y, sum) {
  const [u, v] = [Math.min(Math.max(x, 0), width - 1), Math.min(Math.max(y, 0), height - 1)];
  const [i, j] = [Math.min(Math.floor(u), width - 2), Math.min(Math.floor(v), height - 2)].map((q) => Math.max(q, 0));
  const [a, b] = [u - i, v - j];
  for (const [p, q, part] of [[i, j, (1 - a) * (1 - b)], [i + 1, j, a * (1 - b)], [i, j + 1, (1 - a) * b], [i + 1, j + 1, a * b]]) {
    const k = 4 * (Math.min(q, height - 1) * width + Math.min(p, width - 1));
    for (let c = 0; c < 3; c++) sum[c] += part * data[k + c];
  }
}
