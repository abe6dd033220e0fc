// The bed in one pass: cloth, burns in their order, marks, joints with their verdicts, key, residuals.

import { bounds, path } from './geometry.js';

/** How kinds of burn are drawn: by dash as well as by colour. */
const LOOKS = {
  outline: { colour: ['#22201b', '#f1ede2'], dash: [], word: 'outline' },
  cutout: { colour: ['#1d5570', '#9bd0ea'], dash: [7, 3], word: 'cut-out' },
  mark: { colour: ['#9c2f17', '#ffb09a'], dash: [2, 3], word: 'mark' },
};

/** The key that stays pegged on the bed. */
const KEY = { colour: ['#5d3f78', '#cdb3e6'], dash: [10, 4, 2, 4], word: 'key' };

const SVG = 'http://www.w3.org/2000/svg';

function sample(d, { colour, dash }, dark) {
  const picture = document.createElementNS(SVG, 'svg');
  const line = document.createElementNS(SVG, 'path');
  for (const [k, v] of [['width', 34], ['height', 16], ['aria-hidden', 'true']]) picture.setAttribute(k, v);
  for (const [k, v] of [['d', d], ['fill', 'none'], ['stroke', colour[dark ? 1 : 0]], ['stroke-width', 2], ['stroke-dasharray', dash.join(' ') || 'none']]) line.setAttribute(k, v);
  picture.append(line);
  return picture;
}

/**
 * What the lines and signs on the bed mean, each shown beside its word.
 * @param {boolean} dark @param {any} pass
 * @returns {HTMLElement[]}
 */
export function legend(dark, pass) {
  const lines = [...Object.values(LOOKS), ...(pass.key.length ? [KEY] : [])].map((look) => [look.word, sample('M1 8H33', look, dark)]);
  const plain = { colour: ['#3f5a2f', '#b5cc9a'], dash: [] };
  const showing = { colour: ['#9c2f17', '#ffb09a'], dash: [] };
  const signs = pass.joints.length ? [['joint covered by its border', sample('M11 8a6 6 0 1 0 12 0a6 6 0 1 0-12 0', plain, dark)],
    ['barely covered', sample('M17 2L24 14H10Z', showing, dark)], ['will show', sample('M11 2H23V14H11Z', showing, dark)]] : [];
  return [...lines, ...signs].map(([word, picture]) => {
    const item = document.createElement('span');
    item.className = 'legend';
    item.append(picture, ` ${word}`);
    return item;
  });
}

const through = ([a, b, c, d, e, f]) => ([x, y]) => [a * x + c * y + e, b * x + d * y + f];

/** @param {any} joint @param {number} border_mm what the border stitching hides to one side */
export function verdict(joint, border_mm) {
  const step = joint.step_95_mm ?? joint.expected_step_mm;
  const hides = border_mm / 2;
  if (joint.verdict) return joint.verdict;
  return step <= 0.7 * hides ? 'covered' : step <= hides ? 'barely' : 'will show';
}

/** Where a mark may be read, on the bed. */
export const markAt = (m) => m.bed;

/** One pass as it lies on the bed. */
export class Bed {
  /** @param {any} plan @param {any} pass */
  constructor(plan, pass) {
    Object.assign(this, { plan, pass, upTo: pass.burns.length, report: null, chosen: null });
    const to = through(pass.cloth_to_bed);
    const cloth = plan.cloths.find((c) => c.name === pass.cloth);
    this.cloth = path([cloth.outline.map(to)]);
    this.pieces = new Path2D();
    for (const p of plan.pieces) if (p.cloth === pass.cloth) this.pieces.addPath(path([p.cut.outline.map(to), ...p.cut.cutouts.map((r) => r.map(to))]));
    this.burns = pass.burns.map((b) => ({ ...b, line: path([b.path], b.closed), box: bounds(b.path) }));
    this.key = pass.key.map((k) => path([k.path], k.closed));
  }

  /** @returns {number[]} */
  whole() { return [0, 0, ...this.pass.bed_mm]; }

  /** @param {CanvasRenderingContext2D} g @param {any} view */
  draw(g, view) {
    const dark = view.dark() ? 1 : 0;
    const [w, t] = this.pass.bed_mm;
    const ink = ['#22201b', '#f1ede2'][dark];
    const halo = ['#fffdf8', '#26241f'][dark];
    g.fillStyle = ['#ebe3d3', '#3a352c'][dark]; g.fill(this.cloth);
    g.fillStyle = ['#d9cdb8', '#4c463a'][dark]; g.fill(this.pieces, 'evenodd');
    // What hangs over the bed fades.
    const beyond = new Path2D();
    beyond.rect(-1e5, -1e5, 2e5, 2e5); beyond.rect(0, 0, w, t);
    g.fillStyle = ['rgba(246,243,236,.72)', 'rgba(27,26,23,.72)'][dark]; g.fill(beyond, 'evenodd');
    g.lineWidth = view.px(2); g.strokeStyle = ink; g.strokeRect(0, 0, w, t);
    const m = this.pass.margin_mm;
    g.setLineDash([view.px(2), view.px(4)]); g.lineWidth = view.px(1); g.strokeRect(m, m, w - 2 * m, t - 2 * m);
    g.setLineDash(KEY.dash.map((d) => view.px(d))); g.lineWidth = view.px(1.4); g.strokeStyle = KEY.colour[dark];
    for (const k of this.key) g.stroke(k);
    this.burns.forEach((b, k) => {
      const look = LOOKS[b.kind] ?? LOOKS.outline;
      g.setLineDash(look.dash.map((d) => view.px(d)));
      g.lineWidth = view.px(k === this.upTo - 1 && this.upTo < this.burns.length ? 4 : 1.8);
      g.strokeStyle = look.colour[dark];
      g.globalAlpha = k < this.upTo ? 1 : 0.16;
      g.stroke(b.line);
      g.globalAlpha = 1;
    });
    g.setLineDash([]);
    if (this.upTo < this.burns.length) this.travel(g, view, dark);
    const border = this.plan.cutter.border_mm;
    for (const j of this.pass.joints) this.joint(g, view, j, border, dark);
    for (const mark of this.pass.marks) {
      const [x, y] = markAt(mark);
      const r = view.px(9);
      g.lineWidth = view.px(2.4); g.strokeStyle = ['#9c2f17', '#ffb09a'][dark];
      g.beginPath(); g.moveTo(x - r, y); g.lineTo(x + r, y); g.moveTo(x, y - r); g.lineTo(x, y + r); g.stroke();
      view.write(g, mark.name, [x + view.px(14), y + view.px(14)], { size: 15, colour: ink, halo });
    }
    this.residuals(g, view, dark);
    view.write(g, 'near edge: you stand here', [w / 2, -view.px(14)], { colour: ['#5a554a', '#c2bbab'][dark], halo });
  }

  travel(g, view, dark) {
    const shown = this.burns.slice(0, this.upTo + 1);
    g.lineWidth = view.px(1); g.strokeStyle = ['#7a4b00', '#f3c777'][dark]; g.setLineDash([view.px(1), view.px(4)]);
    g.beginPath();
    shown.forEach((b, k) => {
      if (!k) return;
      const before = shown[k - 1];
      const from = before.closed ? before.path[0] : before.path[before.path.length - 1];
      g.moveTo(...from); g.lineTo(...b.path[0]);
    });
    g.stroke(); g.setLineDash([]);
    const now = shown[this.upTo - 1];
    if (!now) return;
    const [x, y] = now.path[0];
    g.fillStyle = ['#7a4b00', '#f3c777'][dark]; g.beginPath(); g.arc(x, y, view.px(6), 0, 7); g.fill();
  }

  joint(g, view, j, border, dark) {
    const at = through(this.pass.cloth_to_bed)(j.cloth);
    const said = verdict(j, border);
    const r = view.px(8);
    g.lineWidth = view.px(2.4);
    g.fillStyle = ['#fffdf8', '#26241f'][dark];
    g.strokeStyle = said.startsWith('covered') ? ['#3f5a2f', '#b5cc9a'][dark] : ['#9c2f17', '#ffb09a'][dark];
    g.beginPath();
    // Covered is round, barely a triangle, what will show a square: told by shape as well as colour.
    if (said.startsWith('covered')) g.arc(...at, r, 0, 7);
    else if (said.startsWith('barely')) { g.moveTo(at[0], at[1] + r); g.lineTo(at[0] + r, at[1] - r); g.lineTo(at[0] - r, at[1] - r); g.closePath(); } else g.rect(at[0] - r, at[1] - r, 2 * r, 2 * r);
    g.fill(); g.stroke();
    if (this.chosen === j) { g.beginPath(); g.arc(...at, view.px(16), 0, 7); g.stroke(); }
  }

  /** Arrows from where each mark should be to where it was read, a hundred times as long where they are small. */
  residuals(g, view, dark) {
    for (const m of this.report?.marks ?? []) {
      const [dx, dy] = m.residual_mm;
      const grow = 100;
      const [x, y] = m.measured_mm;
      const [u, v] = [x + dx * grow, y + dy * grow];
      g.lineWidth = view.px(3); g.strokeStyle = m.used ? ['#1d5570', '#9bd0ea'][dark] : ['#9c2f17', '#ffb09a'][dark];
      g.setLineDash(m.used ? [] : [view.px(4), view.px(3)]);
      g.beginPath(); g.moveTo(x, y); g.lineTo(u, v);
      const a = Math.atan2(v - y, u - x);
      for (const s of [2.6, -2.6]) { g.moveTo(u, v); g.lineTo(u + view.px(10) * Math.cos(a + s), v + view.px(10) * Math.sin(a + s)); }
      g.stroke(); g.setLineDash([]);
      view.write(g, `${Math.hypot(dx, dy).toFixed(2)} mm`, [u, v - view.px(16)], { size: 12, colour: ['#22201b', '#fff'][dark], halo: ['#fffdf8', '#26241f'][dark] });
    }
  }
}
