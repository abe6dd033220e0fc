// Sewing: the work as sewn, fields of the embroidery frame, placement lines, order, sheets.

import { add, h, button, remark } from './dom.js';
import * as store from './store.js';
import { board, figures, listbox } from './board.js';
import { bounds, path } from './geometry.js';
import { blockForm } from './job_forms.js';
import { standing } from './plan_standing.js';
import { count } from './words.js';

const kept = { hooping: new Set() };

/** @returns {Promise<any>} */
export async function sewingPlace() {
  const { state } = store;
  const frame = h('details', { open: !state.job.frame }, h('summary', {}, 'The embroidery frame'), await blockForm('frame'));
  if (!state.has_plan) {
    return { element: h('div', { class: 'begin' }, h('h2', {}, 'Sewing'), h('p', {}, 'Fields, placement lines and sheets come with the plan: make it under Cutting.'), frame), close() {} };
  }
  const [plan, files] = await Promise.all([store.part('api/plan'), store.part('api/files')]);
  const sewing = plan.sewing;
  const across = plan.run_across ?? [];
  const match = across.length
    ? remark(across.every((r) => r.runs_through) ? 'well' : 'care', `The pattern runs through ${across.filter((r) => r.runs_through).length} of ${count(across.length, 'pair')} of neighbours.`)
    : null;
  if (!sewing) {
    return { element: h('div', { class: 'begin' }, standing(), h('h2', {}, 'As sewn'), match, h('img', { class: 'sewn', src: `files/sewn.png?r=${state.revision}`, alt: 'The work as sewn' }), frame), close() {} };
  }
  const drawn = plan.pieces.filter((p) => p.copy === 1).map((p) => ({ ...p, line: path([p.drawn.outline, ...p.drawn.cutouts]), box: bounds(p.drawn.outline) }));
  const one = () => sewing.hoopings.find((x) => kept.hooping.has(String(x.number)));
  const draw = (g, view) => {
    const dark = view.dark() ? 1 : 0;
    g.fillStyle = ['#ffffff', '#302d27'][dark]; g.fillRect(0, 0, ...plan.page_mm);
    const chosen = one();
    const inIt = new Set(chosen?.pieces.map((p) => p.piece));
    for (const p of drawn) {
      g.fillStyle = chosen && inIt.has(p.id) ? ['#e6ead9', '#34402a'][dark] : ['#f0ebdf', '#3a362e'][dark]; g.fill(p.line, 'evenodd');
      g.lineWidth = view.px(1); g.strokeStyle = ['#5a554a', '#c2bbab'][dark]; g.stroke(p.line);
    }
    for (const x of sewing.hoopings) {
      const [a, b, c, d] = x.field;
      const it = x === chosen;
      g.lineWidth = view.px(it ? 4 : 1.2); g.strokeStyle = it ? ['#3f5a2f', '#b5cc9a'][dark] : ['#716a5b', '#8d8575'][dark];
      g.setLineDash(it ? [] : [view.px(6), view.px(5)]); g.strokeRect(a, b, c - a, d - b); g.setLineDash([]);
      if (it || !chosen) view.write(g, String(x.number), [a + view.px(16), d - view.px(16)], { size: it ? 20 : 14, colour: ['#22201b', '#f1ede2'][dark], halo: ['#fffdf8', '#26241f'][dark] });
    }
    if (chosen) {
      g.lineWidth = view.px(2); g.strokeStyle = ['#1d5570', '#9bd0ea'][dark];
      for (const p of chosen.pieces) for (const line of p.placement ?? []) g.stroke(path([line.path ?? line], line.closed ?? false));
      for (const m of chosen.marks) {
        const [x, y] = m.at; const r = view.px(8);
        g.strokeStyle = ['#9c2f17', '#ffb09a'][dark]; g.lineWidth = view.px(2.2);
        g.beginPath(); g.moveTo(x - r, y); g.lineTo(x + r, y); g.moveTo(x, y - r); g.lineTo(x, y + r); g.stroke();
        view.write(g, m.name, [x + view.px(12), y + view.px(12)], { size: 14, colour: ['#22201b', '#fff'][dark], halo: ['#fffdf8', '#26241f'][dark] });
      }
    }
  };
  const whole = () => [0, 0, ...plan.page_mm];
  const made = board('The work in its fields', draw, whole, []);
  const { view, side } = made;
  const detail = h('div', { 'aria-live': 'polite' });
  const show = () => {
    const x = one();
    if (!x) { detail.replaceChildren(); return; }
    const sheets = files.filter((f) => f.path.startsWith(`sewing/hooping-${x.number}.`));
    detail.replaceChildren(h('h3', {}, `Hooping ${x.number}`),
      h('ol', {}, x.pieces.map((p) => h('li', {}, p.piece, p.whole ? '' : ' (part: the field is smaller than the piece)'))),
      h('p', {}, `Marks: ${x.marks.map((m) => `${m.name}${m.stitched_here ? ' (stitch it here)' : ''}`).join(', ') || 'none needed'}`),
      h('p', {}, sheets.map((f) => [h('a', { href: `files/${f.path}?download=1` }, f.path), ' '])));
  };
  const { list } = listbox('Hoopings', sewing.hoopings.map((x) => ({ key: String(x.number), content: [h('b', {}, `Hooping ${x.number}`), ' ', h('small', {}, x.pieces.map((p) => p.piece).join(', '))] })),
    { chosen: kept.hooping, changed: () => { show(); view.again(); } });
  add(side, standing(), h('h2', {}, 'Sewing'),
    figures([['hoopings', String(sewing.hoopings.length)], ['stitches', sewing.total.stitches.toLocaleString('en')], ['at the machine', `${Math.round(sewing.total.minutes)} min`], ['thread', `${Math.round(sewing.total.thread_m)} m`]]),
    match, list, detail,
    h('details', {}, h('summary', {}, 'Order of work'), h('ol', {}, sewing.order.map((o) => h('li', {}, o.piece, h('small', {}, ` hooping ${o.hooping}${o.upon?.length ? `, upon ${o.upon.join(', ')}` : ''}`))))),
    h('details', {}, h('summary', {}, 'As sewn'), h('img', { class: 'sewn', loading: 'lazy', src: `files/sewn.png?r=${state.revision}`, alt: 'The work as sewn, every piece in its own cloth' })),
    h('p', {}, h('a', { href: 'files/sheets.pdf?download=1' }, 'All sheets (PDF)')), frame,
    button('Show all fields', () => { kept.hooping.clear(); store.tell('place'); }));
  show();
  view.fit(whole());
  return { element: made.element, close: () => view.close(), key: (e) => view.key(e, whole()), look: () => view.kept(), restore: (l) => view.restore(l) };
}
