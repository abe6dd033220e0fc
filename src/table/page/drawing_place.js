// Drawing: shapes and pieces, faults circled, allowances, overs and unders, as drawn and as sewn.

import { add, h, button, plain, say, remark, words } from './dom.js';
import * as store from './store.js';
import { board, listbox, several, toggle } from './board.js';
import { bounds, holds, path, rings, turn } from './geometry.js';
import { tile, woven } from './tile.js';
import { clothForm, jobForm, newCloth, put, ruleForm } from './job_forms.js';
import { dropPlace } from './start.js';
import { sizeCheck } from './size_check.js';
import { count, mm } from './words.js';

const kept = { chosen: new Set(), look: 'drawn', faults: true, allowances: true, several: false };

/** @returns {Promise<{element: HTMLElement, close: () => void}>} */
export async function drawingPlace() {
  const { state } = store;
  if (!state.drawing) {
    return { element: h('div', { class: 'begin' }, h('h2', {}, 'The job has no drawing yet'), dropPlace('Drop the drawing here')), close() {} };
  }
  const drawing = await store.part('api/drawing');
  const cloths = await store.part('api/cloths');
  const sound = drawing.troubles.length === 0;
  const pieces = sound ? await store.part('api/pieces') : [];
  const lay = sound && kept.look === 'sewn' ? await store.part('api/lay') : null;
  const shapes = drawing.shapes.map((s) => ({ ...s, ...outlines(s), box: bounds([...s.paths.flat(), ...s.band.flatMap((r) => r.outline)]) }));
  const rules = state.job.pieces ?? [];
  const clothOf = (s) => (s.rule === null ? null : cloths.find((c) => c.name === rules[s.rule]?.cloth || c.stock === rules[s.rule]?.cloth) ?? null);
  const byPiece = new Map();
  for (const [c, on] of (lay?.cloths ?? []).entries()) for (const p of on.placed) if (p.copy === 1) byPiece.set(p.piece, { ...p, cloth: c });
  for (const id of [...kept.chosen]) if (!shapes.some((s) => s.id === id)) kept.chosen.delete(id);
  const whole = () => [0, 0, ...drawing.page_mm];

  const draw = (g, view) => {
    const dark = view.dark();
    g.fillStyle = dark ? '#302d27' : '#ffffff';
    g.fillRect(0, 0, ...drawing.page_mm);
    const ink = dark ? '#f1ede2' : '#22201b';
    if (kept.look === 'sewn' && lay) sewn(g, view, pieces, byPiece, cloths);
    else for (const s of shapes) {
      const cloth = clothOf(s);
      g.fillStyle = cloth ? woven(g, { ...cloth, tile: cloth.tile && { ...cloth.tile } }, tile(cloth, 'face', 0, () => view.again())) : s.fill ?? 'transparent';
      g.globalAlpha = cloth ? 1 : 0.35;
      if (s.area) g.fill(s.area, 'evenodd');
      g.globalAlpha = 1;
      g.lineWidth = view.px(1);
      g.strokeStyle = ink;
      g.setLineDash(cloth ? [] : [view.px(4), view.px(3)]);
      g.stroke(s.line);
      g.setLineDash([]);
    }
    if (kept.allowances) {
      g.setLineDash([view.px(6), view.px(4)]); g.lineWidth = view.px(1); g.strokeStyle = dark ? '#9bd0ea' : '#1d5570';
      for (const p of pieces) g.stroke(path(rings(p.cut)));
      g.setLineDash([]);
    }
    for (const s of shapes) {
      if (!kept.chosen.has(s.id)) continue;
      g.lineWidth = view.px(4); g.strokeStyle = dark ? '#ffffff' : '#ffffff'; g.stroke(s.line);
      g.lineWidth = view.px(2.4); g.strokeStyle = '#9c2f17'; g.stroke(s.line);
    }
    if (kept.faults) for (const { box: [[x0, y0], [x1, y1]] } of drawing.losses) {
      g.lineWidth = view.px(1); g.strokeStyle = dark ? '#cfc6b2' : '#6d6470';
      g.setLineDash([view.px(3), view.px(3)]); g.strokeRect(x0, y0, x1 - x0, y1 - y0); g.setLineDash([]);
    }
    if (kept.faults) for (const f of drawing.faults) {
      const r = Math.max(Math.min(f.r_mm, 18), view.px(11));
      g.beginPath(); g.arc(f.at[0], f.at[1], r, 0, 7);
      g.lineWidth = view.px(f.level === 'wrong' ? 6 : 5); g.strokeStyle = '#fffdf8'; g.stroke();
      g.lineWidth = view.px(f.level === 'wrong' ? 3 : 2); g.strokeStyle = f.level === 'wrong' ? '#9c2f17' : '#7a4b00';
      g.setLineDash(f.level === 'wrong' ? [] : [view.px(5), view.px(3)]); g.stroke(); g.setLineDash([]);
      view.write(g, String(f.n), [f.at[0], f.at[1] + r], { size: 13, colour: dark ? '#fff' : '#22201b', halo: dark ? '#26241f' : '#fffdf8' });
    }
    // Names where there is room; those of chosen shapes first.
    const taken = kept.faults ? drawing.faults.map((f) => { const [x, y] = view.toPx(f.at); return [x, y - Math.max(Math.min(f.r_mm, 18) * view.scale, 11), 9]; }) : [];
    for (const s of [...shapes].sort((a, b) => kept.chosen.has(b.id) - kept.chosen.has(a.id))) {
      const [x, y] = view.toPx([(s.box[0] + s.box[2]) / 2, (s.box[1] + s.box[3]) / 2]);
      const half = s.id.length * 4.2;
      if (!kept.chosen.has(s.id) && (s.box[2] - s.box[0]) * view.scale < 1.2 * half) continue;
      if (taken.some(([u, v, w]) => Math.abs(u - x) < half + w && Math.abs(v - y) < 18)) continue;
      taken.push([x, y, half]);
      view.write(g, s.id, view.toMm([x, y]), { colour: ink, halo: dark ? '#26241f' : '#fffdf8' });
    }
    if (view.lasso) {
      const [a, b] = view.lasso;
      g.lineWidth = view.px(1.5); g.strokeStyle = '#1d5570'; g.setLineDash([view.px(5), view.px(3)]);
      g.strokeRect(a[0], a[1], b[0] - a[0], b[1] - a[1]); g.setLineDash([]);
    }
  };

  const reopen = () => store.tell('place');
  const made = board('The drawing', draw, whole, [
    toggle('As sewn', kept.look === 'sewn', (on) => { kept.look = on ? 'sewn' : 'drawn'; reopen(); }),
    toggle('Faults', kept.faults, (on) => { kept.faults = on; made.view.again(); }),
    toggle('Cut edge', kept.allowances, (on) => { kept.allowances = on; made.view.again(); }, { title: 'the edge as cut, allowance included, dashed' }),
    several(kept),
    button('Check the size', () => {
      const one = shapes.filter((s) => kept.chosen.has(s.id));
      const box = one.length === 1 ? one[0].box : null;
      sizeCheck(drawing, box && { name: one[0].id, width: box[2] - box[0], height: box[3] - box[1] });
    }),
  ]);
  const { view, side, note } = made;
  const at = (p) => [...shapes].reverse().find((s) => (s.area && holds(s.all, p)) || near(s, p, view.px(8)));
  view.tool = {
    down: (p, e) => {
      const hit = at(p);
      if (!hit && !e.shiftKey && !kept.several) { if (kept.chosen.size) { kept.chosen.clear(); list.follow(); detail(); view.again(); } return false; }
      if (!hit) { view.lasso = [p, p]; return true; }
      if (!e.shiftKey && !e.ctrlKey && !e.metaKey && !kept.several) kept.chosen.clear();
      if (kept.chosen.has(hit.id)) kept.chosen.delete(hit.id); else kept.chosen.add(hit.id);
      list.follow(); detail(); view.again();
      return true;
    },
    drag: (p) => { if (view.lasso) { view.lasso[1] = p; view.again(); } },
    up: () => {
      if (!view.lasso) return;
      const [a, b] = view.lasso;
      const box = bounds([a, b]);
      for (const s of shapes) if (s.box[0] >= box[0] && s.box[1] >= box[1] && s.box[2] <= box[2] && s.box[3] <= box[3]) kept.chosen.add(s.id);
      view.lasso = null; list.follow(); detail(); view.again();
    },
    hover: (p) => { const s = at(p); note.textContent = s ? `${s.id}${clothOf(s) ? `, of ${clothOf(s).name}` : ', not picked'}` : ''; },
  };
  const list = listbox('Shapes', shapes.map((s) => {
    const cloth = clothOf(s);
    return { key: s.id, content: [h('b', {}, s.id), ' ', h('small', {}, `${mm(s.box[2] - s.box[0])} × ${mm(s.box[3] - s.box[1])}, ${cloth ? `of ${cloth.name}` : 'not picked'}${s.closed ? '' : ', open line'}`)] };
  }), { chosen: kept.chosen, many: true, changed: () => { detail(); view.again(); } });
  const about = h('div', {});
  const detail = async () => {
    const some = shapes.filter((s) => kept.chosen.has(s.id));
    const names = (state.job.cloths ?? []).map((c) => c.name);
    if (!some.length) { about.replaceChildren(h('p', {}, 'Click shapes (with Shift for several, or Shift and a frame round them), then say which cloth they are cut from.')); return; }
    const rule = some[0].rule;
    const alike = rule !== null && some.every((s) => s.rule === rule);
    about.replaceChildren();
    add(about,
      h('h3', {}, some.length === 1 ? some[0].id : count(some.length, 'shape')),
      h('div', { class: 'tools' }, names.map((name) => button(`Cut from ${name}`, () => assign(shapes, some, name))),
        some.some((s) => s.rule !== null) && button('Not cut at all', () => assign(shapes, some, null))),
      names.length ? null : remark('care', 'Name a cloth first, below.'));
    if (alike) about.append(h('h3', {}, `Rule ${rule + 1}, which picks ${some.length === 1 ? 'it' : 'them'}`), await ruleForm(rule));
  };
  const wrong = drawing.faults.filter((f) => f.level === 'wrong');
  add(side,
    h('h2', {}, 'Drawing'),
    troubles(drawing.troubles),
    choosing(shapes, (some) => { kept.chosen.clear(); for (const s of some) kept.chosen.add(s.id); reopen(); }), list.list, about,
    h('h2', {}, 'Cloths'),
    await Promise.all((state.job.cloths ?? []).map(async (c, k) =>
      h('details', {}, h('summary', {}, swatch(cloths[k]), c.name || `cloth ${k + 1}`), await clothForm(k)))),
    addCloth(),
    h('h2', {}, !drawing.shapes.length ? 'No shapes to cut' : wrong.length ? `${count(wrong.length, 'thing')} to mend` : drawing.faults.length ? `${count(drawing.faults.length, 'thing')} to look at` : drawing.troubles.length ? 'No faults in the drawing' : 'Nothing to mend'),
    drawing.shapes.length ? null : remark('wrong', 'No shape was found in the drawing, so there is nothing to cut. Text, pictures and masks are no shapes: turn them into paths in the drawing program.'),
    drawing.faults.slice(0, 60).map((f) => {
      const r = remark(f.level === 'wrong' ? 'wrong' : 'care', h('b', {}, `${f.n} `), `${f.about}${f.line_no ? ` (line ${f.line_no})` : ''}: ${f.text} ${f.advice ?? ''} `,
        button('Show', () => view.fit([f.at[0] - 60, f.at[1] - 60, f.at[0] + 60, f.at[1] + 60])));
      return r;
    }),
    told(drawing.notes),
    h('h2', {}, 'The job'), await jobForm(),
    h('details', {}, h('summary', {}, 'Another drawing'), dropPlace('Drop a drawing here to take this one’s place')));
  await detail();
  view.fit(whole());
  return { element: made.element, close: () => view.close(), key: (e) => view.key(e, whole()), look: () => view.kept(), restore: (l) => view.restore(l) };
}

/** What else is said of the drawing: cautions in sight, advice folded. @param {{level: string, about: string, text: string}[]} notes */
function told(notes) {
  const line = (level) => (n) => remark(level, h('b', {}, `${n.about}: `), plain(n.text));
  const cautions = notes.filter((n) => n.level === 'caution');
  const advice = notes.filter((n) => n.level !== 'caution' && n.about.startsWith('drawing'));
  if (!cautions.length && !advice.length) return null;
  return h('section', { class: 'told', 'aria-label': 'What is said of the drawing' },
    h('h2', {}, cautions.length ? `${count(cautions.length, 'caution')} about the drawing and the job` : 'Said of the drawing'),
    cautions.map(line('care')),
    advice.length ? h('details', {}, h('summary', {}, `${count(advice.length, 'piece')} of advice`), advice.map(line('note'))) : null);
}

/** Paths of a shape to fill, to stroke and to hit. */
function outlines(s) {
  const regions = s.filled.length ? s.filled : s.band;
  const all = regions.flatMap(rings);
  const line = new Path2D();
  if (s.filled.length) line.addPath(path(all)); else for (const p of s.paths) line.addPath(path([p], s.closed));
  return { all, area: all.length ? path(all) : null, line };
}

function near(s, [x, y], far) {
  if (x < s.box[0] - far || x > s.box[2] + far || y < s.box[1] - far || y > s.box[3] + far) return false;
  return s.paths.some((p) => p.some(([a, b], i) => {
    const q = p[i + 1];
    if (!q) return Math.hypot(a - x, b - y) < far;
    const [vx, vy] = [q[0] - a, q[1] - b];
    const t = Math.max(0, Math.min(1, ((x - a) * vx + (y - b) * vy) / (vx * vx + vy * vy || 1)));
    return Math.hypot(a + t * vx - x, b + t * vy - y) < far;
  }));
}

/** Every piece filled with the very cloth it is cut from, thread for thread as it lies now, in the order of the drawing. */
function sewn(g, view, pieces, byPiece, cloths) {
  for (const p of [...pieces].sort((a, b) => a.order - b.order)) {
    const lies = byPiece.get(p.piece);
    const shape = path(rings(p.drawn));
    const cloth = lies ? cloths[lies.cloth] : null;
    g.save();
    g.clip(shape, 'evenodd');
    if (lies) {
      // From the drawing to the cloth and back: the cloth is drawn where the piece was cut from it.
      const [c, s] = turn(lies.turn_deg);
      const [x, y] = lies.shift;
      g.transform(c, -s, s, c, -(c * x + s * y), s * x - c * y);
      const there = path(rings(p.drawn).map((ring) => ring.map(([u, v]) => [c * u - s * v + x, s * u + c * v + y])));
      g.fillStyle = woven(g, cloth, tile(cloth, 'face', 0, () => view.again()));
      g.fill(there, 'evenodd');
    } else { g.fillStyle = '#b9b1a0'; g.fill(shape, 'evenodd'); }
    g.restore();
    const border = store.state.job.cutter?.border_mm ?? 3.5;
    g.lineWidth = border; g.strokeStyle = 'rgba(250,246,235,.88)'; g.lineJoin = 'round'; g.stroke(shape);
    g.lineWidth = view.px(0.8); g.strokeStyle = 'rgba(40,34,24,.55)'; g.stroke(shape);
  }
}

/** Chooses all shapes of a layer or of a colour. */
function choosing(shapes, chosen) {
  const of = (values) => [...new Set(values.filter(Boolean))].sort();
  const layers = of(shapes.flatMap((s) => s.layers));
  const fills = of(shapes.map((s) => s.fill));
  if (layers.length + fills.length < 2) return null;
  const pick = (e) => { const [kind, value] = JSON.parse(e.target.value); chosen(shapes.filter((s) => (kind === 'layer' ? s.layers.includes(value) : s.fill === value))); };
  const option = (kind) => (value) => h('option', { value: JSON.stringify([kind, value]) }, `${kind} ${value}`);
  return h('div', { class: 'form' }, h('label', {}, h('span', {}, 'Choose a whole layer or colour'),
    h('select', { name: 'choose-all', onchange: pick }, h('option', { value: '', disabled: true, selected: true }, '–'), layers.map(option('layer')), fills.map(option('colour')))));
}

/** A rule or rules that give shapes to a cloth, as a person would write them. */
async function assign(shapes, some, cloth) {
  const ids = new Set(some.map((s) => s.id));
  const exactly = (of) => shapes.filter(of).length === some.length && some.every(of);
  const layer = some[0].layers.find((l) => exactly((s) => s.layers.includes(l)));
  const fill = !layer && some.length > 1 && some[0].fill && exactly((s) => s.fill === some[0].fill) ? some[0].fill : null;
  const well = await put((job) => {
    const old = job.pieces ?? [];
    const like = some[0].rule === null ? {} : { ...old[some[0].rule] };
    job.pieces = old.filter((r) => !(r.select?.id && ids.has(r.select.id)));
    if (cloth === null) {
      // A rule that would pick them by layer, colour or part of a name goes on for the others, named one by one.
      job.pieces = job.pieces.flatMap((r) => (some.some((s) => fits(r.select ?? {}, s))
        ? shapes.filter((s) => !ids.has(s.id) && s.rule !== null && old[s.rule] === r).map((s) => ({ ...r, select: { id: s.id } })) : [r]));
      return;
    }
    const { select, cloth: _, ...rest } = like;
    const line = (s) => (s.closed && s.filled.length ? {} : { shape: 'line' });
    if (layer || fill) {
      const by = layer ? { layer } : { fill };
      job.pieces = job.pieces.filter((r) => JSON.stringify(r.select) !== JSON.stringify(by));
      job.pieces.unshift({ select: by, cloth, ...rest, ...line(some[0]) });
    }
    else job.pieces.unshift(...some.map((s) => ({ select: { id: s.id }, cloth, ...rest, ...line(s) })));
  });
  if (well) say(cloth ? `${count(some.length, 'shape')} cut from ${cloth}` : 'Taken out');
}

/** Whether a selection of the job picks a shape. A star in an id stands for any letters. */
function fits({ id, layer, fill }, s) {
  const like = (pattern) => new RegExp(`^${pattern.replace(/[.+?^${}()|[\]\\]/g, '\\$&').replaceAll('*', '.*')}$`);
  return (id === undefined || like(id).test(s.id)) && (layer === undefined || s.layers.includes(layer)) && (fill === undefined || s.fill === fill);
}

/** Everything that is not yet right with job and drawing. @param {any[]} all */
export const troubles = (all) => (all ?? []).map((t) => {
  const next = /at least one entry/.test(t.what) && NEXT[t.about];
  if (next) return remark('care', next);
  return remark('wrong', t.about ? h('b', {}, `${t.about}: `) : '', plain(t.what), t.hint ? `. ${t.hint}.` : '');
});

/** What is still to be done where a new job has nothing yet. */
const NEXT = { cloths: 'Next: name a cloth, under Drawing.', pieces: 'Next: choose shapes under Drawing and say which cloth they are cut from.' };

function swatch(cloth) {
  const box = h('span', { class: 'swatch', 'aria-hidden': 'true' });
  if (cloth && !cloth.troubles) box.style.background = `${cloth.colour} url("api/cloths/${cloth.cloth}/tile.png?r=${store.state.revision}") 0 0 / 60px auto`;
  return box;
}

function addCloth() {
  const name = h('input', { type: 'text', name: 'new-cloth', placeholder: 'its name', 'aria-label': 'name of a new cloth', onkeydown: (e) => { if (e.key === 'Enter') add().catch((p) => say(words(p), true)); } });
  const add = async () => {
    const called = name.value.trim();
    if (!called) { say('Give the cloth a name first', true); name.focus(); return; }
    if ((store.state.job.cloths ?? []).some((c) => c.name === called)) { say(`There is a cloth ${called} already`, true); name.focus(); return; }
    // Emptied first: the place shown anew would take it for something still being written.
    name.value = '';
    await put((job) => { job.cloths = [...(job.cloths ?? []), newCloth(called)]; });
    say(`${called} is there: give its width and its thread count or measured repeat`);
  };
  return h('div', { class: 'tools' }, name, button('Add a cloth', add));
}
