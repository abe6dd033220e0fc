// The lay as it is drawn: woven cloth, pieces seen in it, flaws, breaks, the piece in hand.

import { bounds, nearest, overlap, path, posed, rings, thinned, turn } from './geometry.js';
import { tile, woven } from './tile.js';
import { named } from './words.js';

/** Rings for the quick test are thinned to this, mm. */
const COARSE_MM = 1;

/** Key of one copy of a piece. @param {{piece: number, copy: number}} p */
export const keyOf = (p) => `${p.piece}:${p.copy}`;

/** One cloth with its lay. */
export class Scene {
  /** @param {any} cloth from `api/cloths` @param {any} on its part of `api/lay` @param {any[]} pieces `api/pieces` @param {any[]} breaks */
  constructor(cloth, on, pieces, breaks) {
    Object.assign(this, { cloth, on, breaks, ghosts: [], along: [], held: null });
    this.shapes = new Map();
    this.placed = new Map();
    for (const p of on.placed) {
      this.placed.set(keyOf(p), p);
      if (!this.shapes.has(p.piece)) {
        const all = rings(pieces[p.piece].cut);
        const box = bounds(all[0]);
        this.shapes.set(p.piece, { all, path: path(all), coarse: all.map((r) => thinned(r, COARSE_MM)), middle: [(box[0] + box[2]) / 2, (box[1] + box[3]) / 2], wide: box[2] - box[0], box });
      }
    }
  }

  length() { return this.cloth.length_mm ?? Math.max(this.on.used_length_mm + 120, 300); }

  /** @returns {number[]} */
  whole() {
    if (this.cloth.outline) return bounds(this.cloth.outline);
    return [0, 0, this.cloth.width_mm, this.length()];
  }

  /** Rings of a piece where it lies. */
  there(p, coarse = true) {
    const s = this.shapes.get(p.piece);
    return (coarse ? s.coarse : s.all).map((ring) => ring.map((q) => posed(q, p.turn_deg, p.shift)));
  }

  /** The piece at a place. @param {[number, number]} at */
  at([x, y]) {
    for (const p of [...this.placed.values()].reverse()) {
      const s = this.shapes.get(p.piece);
      const [c, sn] = turn(p.turn_deg);
      const [u, v] = [x - p.shift[0], y - p.shift[1]];
      const q = [c * u + sn * v, c * v - sn * u];
      if (q[0] < s.box[0] || q[0] > s.box[2] || q[1] < s.box[1] || q[1] > s.box[3]) continue;
      let inside = false;
      for (const r of s.coarse) {
        for (let i = 0, j = r.length - 1; i < r.length; j = i++) {
          if (r[i][1] > q[1] !== r[j][1] > q[1] && q[0] < r[i][0] + ((q[1] - r[i][1]) / (r[j][1] - r[i][1])) * (r[j][0] - r[i][0])) inside = !inside;
        }
      }
      if (inside) return p;
    }
    return null;
  }

  /** Pieces the one in hand lies on, by the quick test. @param {any} p */
  struck(p) {
    const mine = this.there(p);
    const box = bounds(mine[0]);
    const struck = [];
    for (const q of this.placed.values()) {
      if (keyOf(q) === keyOf(p)) continue;
      const s = this.shapes.get(q.piece);
      const r = Math.hypot(s.box[2] - s.box[0], s.box[3] - s.box[1]) / 2;
      const m = posed(s.middle, q.turn_deg, q.shift);
      if (m[0] + r < box[0] || m[0] - r > box[2] || m[1] + r < box[1] || m[1] - r > box[3]) continue;
      if (overlap(mine, this.there(q))) struck.push(q);
    }
    return struck;
  }

  /** True when the piece in hand sticks out of the cloth. @param {any} p */
  out(p) {
    const b = bounds(this.there(p)[0]);
    const w = this.whole();
    const e = this.cloth.edge_mm ?? 0;
    return b[0] < w[0] + e || b[2] > w[2] - e || b[1] < w[1] + e || (!this.cloth.open_length && b[3] > w[3] - e);
  }

  /** The allowed shifts near a wish. */
  allowed(p, shift, most) { return nearest(p.allowed.lattice, shift, most); }

  /** Cloth and all pieces but the one in hand. @param {CanvasRenderingContext2D} g */
  still(g, view, chosen) {
    const dark = view.dark();
    const edge = this.cloth.outline ? path([this.cloth.outline]) : path([[[0, 0], [this.cloth.width_mm, 0], [this.cloth.width_mm, this.length()], [0, this.length()]]]);
    const fill = woven(g, this.cloth, tile(this.cloth, 'face', 0, () => view.changed()));
    g.fillStyle = fill;
    g.fill(edge);
    g.fillStyle = dark ? 'rgba(20,19,16,.46)' : 'rgba(255,253,248,.52)';
    g.fill(edge);
    // Pieces are the cloth itself, seen unveiled.
    const all = new Path2D();
    for (const p of this.placed.values()) if (!this.held || keyOf(p) !== keyOf(this.held)) all.addPath(this.shapes.get(p.piece).path, matrix(p));
    g.fillStyle = fill;
    g.fill(all, 'evenodd');
    g.lineWidth = view.px(2.6); g.strokeStyle = dark ? 'rgba(0,0,0,.75)' : 'rgba(255,255,255,.85)'; g.stroke(all);
    g.lineWidth = view.px(1.2); g.strokeStyle = dark ? '#f1ede2' : '#22201b'; g.stroke(all);
    g.lineWidth = view.px(1.4); g.strokeStyle = dark ? '#f1ede2' : '#22201b'; g.stroke(edge);
    this.edges(g, view);
    const taken = [];
    for (const p of this.placed.values()) {
      if (this.held && keyOf(p) === keyOf(this.held)) continue;
      if (chosen.has(keyOf(p))) this.ring(g, view, p, '#1d5570');
      this.label(g, view, p, taken);
    }
    for (const b of this.breaks) this.broken(g, view, b);
  }

  edges(g, view) {
    const e = this.cloth.edge_mm ?? 0;
    g.setLineDash([view.px(2), view.px(4)]); g.lineWidth = view.px(1.2); g.strokeStyle = view.dark() ? '#c2bbab' : '#5a554a';
    if (e > 0 && !this.cloth.outline) g.strokeRect(e, e, this.cloth.width_mm - 2 * e, this.length() - 2 * e);
    const y = this.on.used_length_mm;
    if (y > 0) {
      g.setLineDash([view.px(12), view.px(5)]); g.lineWidth = view.px(2); g.strokeStyle = view.dark() ? '#f3c777' : '#7a4b00';
      g.beginPath(); g.moveTo(0, y); g.lineTo(this.cloth.width_mm, y); g.stroke();
      view.write(g, `${Math.round(y)} mm used`, [this.cloth.width_mm, y + view.px(11)], { align: view.mirrored ? 'left' : 'right', colour: view.dark() ? '#f3c777' : '#7a4b00', halo: view.dark() ? '#26241f' : '#fffdf8' });
    }
    g.setLineDash([]);
    for (const f of this.cloth.flaws ?? []) {
      const shape = path([f]);
      g.fillStyle = 'rgba(156,47,23,.35)'; g.fill(shape);
      g.lineWidth = view.px(2); g.strokeStyle = '#9c2f17'; g.stroke(shape);
      view.write(g, 'flaw', bounds(f).slice(0, 2), { size: 12, align: 'left', colour: '#9c2f17', halo: '#fffdf8' });
    }
  }

  /** A piece's name where there is room for it; `taken` keeps names apart. */
  label(g, view, p, taken = []) {
    const s = this.shapes.get(p.piece);
    const text = `${named(p)}${p.locked ? ', locked' : ''}`;
    const half = 4.2 * text.length;
    if (Math.max(s.wide, s.box[3] - s.box[1]) * view.scale < 1.2 * half) return;
    const at = posed(s.middle, p.turn_deg, p.shift);
    const [x, y] = view.toPx(at);
    if (taken.some(([u, v, w]) => Math.abs(u - x) < half + w && Math.abs(v - y) < 18)) return;
    taken.push([x, y, half]);
    view.write(g, text, at, { size: 13, colour: view.dark() ? '#fff' : '#1d1b16', halo: view.dark() ? '#26241f' : '#fffdf8' });
  }

  ring(g, view, p, colour) {
    g.save();
    g.transform(...six(p));
    g.lineWidth = view.px(5); g.strokeStyle = '#ffffff'; g.stroke(this.shapes.get(p.piece).path);
    g.lineWidth = view.px(3); g.strokeStyle = colour; g.stroke(this.shapes.get(p.piece).path);
    g.restore();
  }

  broken(g, view, b) {
    const [x, y] = b.at;
    const r = view.px(13);
    g.lineWidth = view.px(3); g.strokeStyle = '#9c2f17'; g.fillStyle = '#fffdf8';
    g.beginPath(); g.arc(x, y, r, 0, 7); g.fill(); g.stroke();
    g.beginPath();
    for (const s of [1, -1]) { g.moveTo(x - r / 2, y - (s * r) / 2); g.lineTo(x + r / 2, y + (s * r) / 2); }
    g.stroke();
  }

  /** The piece in hand, where it may lie near by, and what it strikes. */
  hand(g, view) {
    const p = this.held;
    if (!p) return;
    const s = this.shapes.get(p.piece);
    for (const shift of this.ghosts) {
      g.save();
      g.transform(...six({ ...p, shift }));
      g.globalAlpha = 0.55; g.setLineDash([view.px(5), view.px(4)]); g.lineWidth = view.px(1.3); g.strokeStyle = view.dark() ? '#9bd0ea' : '#1d5570';
      g.stroke(s.path);
      g.restore();
    }
    for (const q of p.struck ?? []) this.ring(g, view, q, '#9c2f17');
    for (const q of this.along) this.ring(g, view, q, '#3f5a2f');
    const moved = new Path2D();
    moved.addPath(s.path, matrix(p));
    g.fillStyle = woven(g, this.cloth, tile(this.cloth, 'face', 0, () => view.changed()));
    g.fill(moved, 'evenodd');
    this.ring(g, view, p, p.struck?.length || p.outside ? '#9c2f17' : '#3f5a2f');
    this.label(g, view, p);
    if (p.struck?.length || p.outside) {
      const at = posed(s.middle, p.turn_deg, p.shift);
      view.write(g, p.outside ? '✕ off the cloth' : `✕ on ${p.struck.slice(0, 3).map(named).join(', ')}`, [at[0], at[1] - view.px(20)], { colour: '#9c2f17', halo: '#fffdf8' });
    }
  }
}

/** A pose as the six figures of a canvas transform. */
export function six(p) {
  const [c, s] = turn(p.turn_deg);
  return [c, s, -s, c, p.shift[0], p.shift[1]];
}

const matrix = (p) => new DOMMatrix(six(p));
