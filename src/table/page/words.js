// Figures as people read them.

/** @param {number|null|undefined} v millimetres @param {number} [places] */
export const mm = (v, places = 0) => (Number.isFinite(v) ? `${v.toFixed(places)} mm` : '–');

/** @param {number|null|undefined} v square millimetres, shown in square centimetres or metres */
export const area = (v) => (!Number.isFinite(v) ? '–' : v < 1e6 ? `${(v / 100).toFixed(0)} cm²` : `${(v / 1e6).toFixed(2)} m²`);

/** A way on the bed, seen by the maker who stands at its near edge. @param {[number, number]} way millimetres */
export function moved([x, y]) {
  const ways = [[x, 'to the right', 'to the left'], [y, 'away from you', 'towards you']]
    .filter(([v]) => Math.abs(v) >= 0.005).map(([v, more, less]) => `${Math.abs(v).toFixed(2)} mm ${v > 0 ? more : less}`);
  return ways.length ? `${ways.join(' and ')} of where it was planned` : 'where it was planned';
}

/** @param {number|null|undefined} v millimetres, shown in metres */
export const metres = (v) => (Number.isFinite(v) ? `${(v / 1000).toFixed(2)} m` : '–');

/** @param {number|null|undefined} v a share from 0 to 1 */
export const percent = (v) => (Number.isFinite(v) ? `${(100 * v).toFixed(1)} %` : '–');

/** @param {number|null|undefined} v */
export const money = (v) => (Number.isFinite(v) ? v.toFixed(2) : '–');

/** @param {number|null|undefined} s seconds */
export function time(s) {
  if (!Number.isFinite(s)) return '–';
  if (s < 90) return `${Math.round(s)} s`;
  return s < 5400 ? `${Math.round(s / 60)} min` : `${(s / 3600).toFixed(1)} h`;
}

/** @param {number} n @param {string} one @param {string} [many] */
export const count = (n, one, many = `${one}s`) => `${n} ${n === 1 ? one : many}`;

/** @param {number} bytes */
export const size = (bytes) => (bytes < 1e6 ? `${Math.ceil(bytes / 1000)} kB` : `${(bytes / 1e6).toFixed(1)} MB`);

/** A piece's name with its copy where there are several. @param {{id: string, copy: number}} p */
export const named = (p) => (p.copy > 1 ? `${p.id} (${p.copy})` : p.id);
