// Plane geometry on the page: paths, poses, the nearest allowed spot, a quick test for overlaps.
// What it shows while a piece is dragged is a hint; the table's exact test has the last word.

/** @typedef {[number, number]} Pair */

/** @param {number} deg @returns {Pair} cosine and sine, exact at quarter turns */
export function turn(deg) {
  const d = ((deg % 360) + 360) % 360;
  const exact = { 0: [1, 0], 90: [0, 1], 180: [-1, 0], 270: [0, -1] }[d];
  const r = (d * Math.PI) / 180;
  return exact ?? [Math.cos(r), Math.sin(r)];
}

/** A point of the drawing on the cloth. @param {Pair} p @param {number} deg @param {Pair} shift @returns {Pair} */
export function posed(p, deg, shift) {
  const [c, s] = turn(deg);
  return [c * p[0] - s * p[1] + shift[0], s * p[0] + c * p[1] + shift[1]];
}

/** The shift that keeps a point of the drawing where it lies while the turn changes. */
export function shiftKeeping(point, deg, shift, newDeg) {
  const there = posed(point, deg, shift);
  const bare = posed(point, newDeg, [0, 0]);
  return [there[0] - bare[0], there[1] - bare[1]];
}

/** All rings of a region. @param {{outline: Pair[], cutouts: Pair[][]}} region */
export const rings = (region) => [region.outline, ...region.cutouts];

/** @param {Pair[][]} all @param {boolean} [closed] @returns {Path2D} */
export function path(all, closed = true) {
  const made = new Path2D();
  for (const ring of all) {
    ring.forEach(([x, y], i) => (i ? made.lineTo(x, y) : made.moveTo(x, y)));
    if (closed) made.closePath();
  }
  return made;
}

/** @param {Iterable<Pair>} points @returns {[number, number, number, number]} least x, least y, greatest x, greatest y */
export function bounds(points) {
  const box = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [x, y] of points) {
    box[0] = Math.min(box[0], x); box[1] = Math.min(box[1], y);
    box[2] = Math.max(box[2], x); box[3] = Math.max(box[3], y);
  }
  return box;
}

/** @param {Pair[][]} all @param {Pair} p by the even-odd rule */
export function holds(all, [x, y]) {
  let inside = false;
  for (const ring of all) {
    for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
      const [ax, ay] = ring[i];
      const [bx, by] = ring[j];
      if (ay > y !== by > y && x < ax + ((y - ay) / (by - ay)) * (bx - ax)) inside = !inside;
    }
  }
  return inside;
}

/** The ring without points that a coarse look does not need. @param {Pair[]} ring @param {number} apart_mm */
export function thinned(ring, apart_mm) {
  const kept = [];
  for (const p of ring) {
    const q = kept[kept.length - 1];
    if (!q || Math.hypot(p[0] - q[0], p[1] - q[1]) >= apart_mm) kept.push(p);
  }
  return kept.length > 2 ? kept : ring;
}

const crosses = (a, b, c, d) => {
  const side = (p, q, r) => (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0]);
  return side(a, b, c) > 0 !== side(a, b, d) > 0 && side(c, d, a) > 0 !== side(c, d, b) > 0;
};

/** True when two regions given as rings overlap. @param {Pair[][]} one @param {Pair[][]} other */
export function overlap(one, other) {
  const [b, o] = [bounds(one[0]), bounds(other[0])];
  if (b[0] > o[2] || o[0] > b[2] || b[1] > o[3] || o[1] > b[3]) return false;
  const near = [Math.max(b[0], o[0]), Math.max(b[1], o[1]), Math.min(b[2], o[2]), Math.min(b[3], o[3])];
  const sides = (all) => {
    const kept = [];
    for (const ring of all) {
      for (let i = 0, j = ring.length - 1; i < ring.length; j = i++) {
        const s = bounds([ring[i], ring[j]]);
        if (s[0] <= near[2] && s[2] >= near[0] && s[1] <= near[3] && s[3] >= near[1]) kept.push([ring[j], ring[i]]);
      }
    }
    return kept;
  };
  const theirs = sides(other);
  for (const [a, c] of sides(one)) for (const [p, q] of theirs) if (crosses(a, c, p, q)) return true;
  return holds(other, one[0][0]) || holds(one, other[0][0]);
}

/**
 * The allowed shifts nearest to one asked for, the nearest first. `allowed` is the table's own word: null where any
 * shift will do, a lattice `{a, b, at}`, or lines `{line: {dir, step, at}}`.
 * @param {any} allowed @param {Pair} shift @param {number} [most]
 * @returns {Pair[]}
 */
export function nearest(allowed, shift, most = 1) {
  if (!allowed) return [shift];
  const far = (p) => Math.hypot(p[0] - shift[0], p[1] - shift[1]);
  const found = [];
  if (allowed.line) {
    const { dir, step, at } = allowed.line;
    const v = [shift[0] - at[0], shift[1] - at[1]];
    const det = step[0] * dir[1] - step[1] * dir[0];
    const k0 = Math.round((v[0] * dir[1] - v[1] * dir[0]) / det);
    for (let k = k0 - most; k <= k0 + most; k++) {
      const base = [at[0] + k * step[0], at[1] + k * step[1]];
      const along = ((shift[0] - base[0]) * dir[0] + (shift[1] - base[1]) * dir[1]) / (dir[0] ** 2 + dir[1] ** 2);
      found.push([base[0] + along * dir[0], base[1] + along * dir[1]]);
    }
  } else {
    const { a, b, at } = allowed;
    const v = [shift[0] - at[0], shift[1] - at[1]];
    const det = a[0] * b[1] - a[1] * b[0];
    const i0 = Math.round((v[0] * b[1] - v[1] * b[0]) / det);
    const j0 = Math.round((a[0] * v[1] - a[1] * v[0]) / det);
    const reach = most > 1 ? 2 : 1;
    for (let i = i0 - reach; i <= i0 + reach; i++) {
      for (let j = j0 - reach; j <= j0 + reach; j++) found.push([at[0] + i * a[0] + j * b[0], at[1] + i * a[1] + j * b[1]]);
    }
  }
  return found.sort((p, q) => far(p) - far(q)).slice(0, most);
}

/** The allowed shift next to this one in a direction; `fine_mm` where the way is free. */
export function beside(allowed, shift, direction, fine_mm) {
  const steps = [];
  if (!allowed) steps.push([direction[0] * fine_mm, direction[1] * fine_mm]);
  else if (allowed.line) {
    const { dir, step } = allowed.line;
    const long = Math.hypot(...dir);
    for (const s of [1, -1]) steps.push([(s * dir[0] * fine_mm) / long, (s * dir[1] * fine_mm) / long], [s * step[0], s * step[1]]);
  } else {
    const { a, b } = allowed;
    for (const s of [1, -1]) steps.push([s * a[0], s * a[1]], [s * b[0], s * b[1]]);
  }
  const along = (v) => (v[0] * direction[0] + v[1] * direction[1]) / Math.hypot(...v);
  const best = steps.sort((p, q) => along(q) - along(p))[0];
  return along(best) < 0.5 ? null : [shift[0] + best[0], shift[1] + best[1]];
}

/**
 * The map that takes a square's shares, across and down, to the four corners of its picture in perspective, from the upper
 * left, clockwise. P. Heckbert, "Fundamentals of Texture Mapping and Image Warping", 1989, section 2.2.3; from memory.
 * @param {number[][]} corners @returns {(u: number, v: number) => [number, number]}
 */
export function across([[x0, y0], [x1, y1], [x2, y2], [x3, y3]]) {
  const [sx, sy] = [x0 - x1 + x2 - x3, y0 - y1 + y2 - y3];
  const [ax, ay, bx, by] = [x1 - x2, y1 - y2, x3 - x2, y3 - y2];
  const whole = ax * by - bx * ay;
  // Corners in one line show nothing: the map is then taken as if there were no perspective.
  const [g, k] = Math.abs(whole) < 1e-9 ? [0, 0] : [(sx * by - bx * sy) / whole, (ax * sy - sx * ay) / whole];
  return (u, v) => {
    const far = g * u + k * v + 1;
    return [((x1 - x0 + g * x1) * u + (x3 - x0 + k * x3) * v + x0) / far, ((y1 - y0 + g * y1) * u + (y3 - y0 + k * y3) * v + y0) / far];
  };
}

/** Whether an outline crosses itself. @param {number[][]} ring @returns {boolean} */
export function crossed(ring) {
  const side = (a, b, c) => Math.sign((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
  const n = ring.length;
  for (let i = 0; i < n; i++) {
    for (let j = i + 2; j < n; j++) {
      if (i === 0 && j === n - 1) continue;
      const [a, b, c, d] = [ring[i], ring[i + 1], ring[j], ring[(j + 1) % n]];
      if (side(a, b, c) * side(a, b, d) < 0 && side(c, d, a) * side(c, d, b) < 0) return true;
    }
  }
  return false;
}
