// Cloth: the lay on the woven pattern. Pieces are moved where the rules let them, turned, locked, laid anew.

import { add, h, button, say, remark, words } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';
import { board, figures, listbox, several, toggle } from './board.js';
import { Scene, keyOf } from './lay_scene.js';
import { beside, bounds, crossed, shiftKeeping } from './geometry.js';
import { blockForm, put } from './job_forms.js';
import { troubles } from './drawing_place.js';
import { money, metres, mm, named, percent } from './words.js';

const kept = { cloth: 0, chosen: new Set(), back: false, several: false, group: false, seconds: '', buying: null };

/** @returns {Promise<{element: HTMLElement, close: () => void}>} */
export async function clothPlace() {
  const { state } = store;
  const wrong = await store.wrong();
  if (wrong.length) {
    return { element: h('div', { class: 'begin' }, h('h2', {}, 'Nothing to lay yet'), troubles(wrong), h('p', {}, 'Put it right under Drawing.')), close() {} };
  }
  const [cloths, pieces, lay] = await Promise.all(['api/cloths', 'api/pieces', 'api/lay'].map(store.part));
  kept.cloth = Math.min(kept.cloth, cloths.length - 1);
  const scenes = cloths.map((cloth, c) => new Scene(cloth, lay.cloths[c], pieces, lay.breaks.filter((b) => b.cloth === c)));
  let scene = scenes[kept.cloth];
  // All that stands still is drawn once and kept, so that a piece in hand moves as fast as the screen can show.
  const backdrop = document.createElement('canvas');
  let drawnFor = '';
  const stillKey = (view) => [view.still, view.dark(), kept.cloth, [...kept.chosen].join(), scene.held ? keyOf(scene.held) : ''].join('|');
  const draw = (g, view) => {
    const key = stillKey(view);
    if (key !== drawnFor) {
      backdrop.width = view.canvas.width; backdrop.height = view.canvas.height;
      const b = backdrop.getContext('2d');
      view.inMm(b);
      scene.still(b, view, kept.chosen);
      drawnFor = key;
    }
    g.save();
    g.setTransform(1, 0, 0, 1, 0, 0);
    g.drawImage(backdrop, 0, 0);
    g.restore();
    scene.hand(g, view);
    if (pen) penned(g, view, pen);
  };
  let pen = null;
  const pick = h('select', { 'aria-label': 'cloth', onchange: (e) => { kept.cloth = Number(e.target.value); kept.chosen.clear(); store.tell('place'); } },
    cloths.map((c, k) => h('option', { value: k, selected: k === kept.cloth }, c.name)));
  const laying = state.busy === 'lay';
  const made = board(`The lay on ${scene.cloth.name}`, draw, () => scene.whole(), [
    cloths.length > 1 ? pick : null,
    laying ? button('Stop and keep the best', () => api.send('api/lay/stop'), { class: 'main' })
      : button(lay.has_lay ? 'Lay again' : 'Lay the pieces', () => begin(), { class: 'main', disabled: !!state.busy }),
    button('Turn', () => turnChosen(1), { title: 'to the next allowed turn (])' }),
    button('Lock', () => lockChosen(), { title: 'keep the chosen pieces where they are (L)' }),
    toggle('Back', kept.back, (on) => { kept.back = on; made.view.mirror(on); }, { title: 'seen from the back' }),
    button('Draw a flaw', () => startPen('flaw')), button('Draw the edge', () => startPen('edge')),
  ]);
  const penTools = h('div', { class: 'pen', hidden: true }, h('span', {}),
    button('Close the outline', () => endPen(), { class: 'main' }), button('One point back', () => { pen?.points.pop(); view.again(); }), button('Leave it', () => leavePen()));
  made.bar.after(penTools);
  const { view, side, note, sum } = made;
  view.mirrored = kept.back;
  const about = h('div', {});
  const broken = h('div', { 'aria-live': 'polite' });
  const numbers = h('div', {});
  const progress = h('div', {});

  // Judged by what will be seen in the work: a rule may hold on each of two cloths and the pattern break between them.
  const everyRule = () => {
    const { asked = 0, broken: seen = [], text } = lay.sewn ?? {};
    const words = 'Every rule holds: nothing overlaps, the grain runs right';
    return asked && !seen.length ? `${words}, and the ${text}.` : `${words}.`;
  };
  const showFigures = () => {
    const on = scene.on;
    numbers.replaceChildren(figures([['length', metres(on.used_length_mm)], ['of it used', percent(on.efficiency)], ['passes', on.passes ?? '–'],
      ['to buy', scene.cloth.open_length ? metres(on.buy_length_mm) : 'fixed'], ['cost', money(on.cost)], [on.proved ? 'shortest, proved' : 'not below', metres(on.least_length_mm)]]));
    sum.textContent = `${metres(on.used_length_mm)} long, ${percent(on.efficiency)} used, ${on.passes ?? '–'} passes, ${scene.cloth.open_length ? `cost ${money(on.cost)}` : 'fixed length'}`;
    const all = scene.breaks;
    if (laying) { broken.replaceChildren(); return; }
    broken.replaceChildren(...(all.length ? all.map((b) => remark('wrong', h('b', {}, `${b.id ?? ''}: `), b.text)) : [lay.has_lay || on.placed.length ? remark('well', everyRule()) : remark('', 'Not laid yet.')]));
    if (lay.sewn?.broken.length) broken.prepend(remark('care', lay.sewn.text));
    if (lay.stale) broken.prepend(remark('care', 'The job changed since this was laid: lay again, or go on by hand.'));
    if (lay.missing?.length) broken.prepend(remark('care', `${lay.missing.length} of the pieces are not on the cloth yet: lay them.`));
  };
  const chosen = () => [...kept.chosen].map((k) => scene.placed.get(k)).filter(Boolean);
  const showChosen = () => {
    const some = chosen();
    if (some.length !== 1) { about.replaceChildren(h('p', {}, some.length ? `${some.length} pieces chosen.` : 'Drag a piece: it goes only where the rules let it. With Alt, its whole group slides.')); return; }
    const [p] = some;
    const way = p.allowed.lattice === null ? 'anywhere' : p.allowed.lattice.line ? 'along the stripes' : 'where the pattern meets';
    const turns = p.allowed.turns_deg ? p.allowed.turns_deg.map((t) => `${round(t)}°`).join(', ') : p.allowed.ranges.map(([a, b]) => `${round(a)}° to ${round(b)}°`).join(', ');
    about.replaceChildren(h('h3', {}, named(p)), h('p', {}, `${lying(scene, p)}, turned ${round(p.turn_deg)}°. May lie ${way}; turns ${turns}.`, p.match !== 'free' ? ` Group ${p.group}.` : ''),
      p.locked ? remark('', 'Locked: it stays when the others are laid again.') : '',
      h('div', { class: 'tools', role: 'group', 'aria-label': 'to the next allowed place' },
        p.locked ? null : Object.entries(WAYS).map(([name, [sign, way]]) => button(sign, () => nudge(way, false), { 'aria-label': `${name}, to the next allowed place` })),
        button('Show it', () => view.fit(around(scene, p)))));
  };
  const nudge = async (way, far) => {
    const d = view.mirrored ? [-way[0], way[1]] : way;
    const moves = chosen().filter((p) => !p.locked).map((p) => {
      const shift = beside(p.allowed.lattice, p.shift, d, far ? 10 : 1);
      return shift && { piece: p.piece, copy: p.copy, turn_deg: p.turn_deg, shift };
    }).filter(Boolean);
    if (moves.length) await move({ moves }); else say('There is no allowed place that way');
  };

  let ours = state.revision;
  const take = (answer) => {
    ours = answer.revision;
    lay.sewn = answer.sewn;
    for (const p of answer.placed) {
      for (const s of scenes) s.placed.delete(keyOf(p));
      scenes[p.cloth].placed.set(keyOf(p), p);
    }
    answer.figures.forEach((f, c) => { scenes[c].on = { ...scenes[c].on, ...f }; scenes[c].breaks = answer.breaks.filter((b) => b.cloth === c); });
    store.forget('api/lay'); store.forget('api/plan');
    showFigures(); showChosen(); list.follow(); view.changed();
  };
  // In hand: from pointer down to up, and until the table has answered where it lies now. News of the table waits till then.
  let grab = null;
  let sent = 0;
  // What was moved here is on the screen already.
  const holds = (now) => now.revision === ours && now.busy === state.busy;
  const inHand = () => !!grab || sent > 0;
  const letGo = () => {
    if (inHand() || store.state.revision < ours) return;
    store.tell(holds(store.state) ? 'shown' : 'place');
  };
  const move = async (body) => {
    sent += 1;
    try { take(await api.send('api/lay/move', body)); } catch (problem) {
      say(words(problem), true);
      if (problem.status === 409) await store.refresh();
    } finally { sent -= 1; }
    letGo();
  };
  view.tool = {
    down: (at, e) => {
      if (pen) {
        const [first] = pen.points;
        // A click on the first point closes the outline.
        if (pen.points.length > 2 && Math.hypot(first[0] - at[0], first[1] - at[1]) < view.px(12)) endPen().catch((problem) => say(words(problem), true)); else { pen.points.push(at); view.again(); }
        return true;
      }
      const p = scene.at(at);
      if (!p) { if (kept.chosen.size) { kept.chosen.clear(); list.follow(); showChosen(); view.changed(); } return false; }
      if (!(e.shiftKey || e.ctrlKey || kept.several)) kept.chosen.clear();
      kept.chosen.add(keyOf(p));
      list.follow(); showChosen();
      if (p.locked || store.state.busy) { if (p.locked) say(`${named(p)} is locked`); view.changed(); return true; }
      const group = (e.altKey || kept.group) && p.match === 'drawn' ? p.group : null;
      grab = { from: at, piece: p, group, along: group ? [...scene.placed.values()].filter((q) => q.group === group && keyOf(q) !== keyOf(p)) : [] };
      scene.held = { ...p, struck: [] };
      view.again();
      return true;
    },
    drag: (at) => {
      if (!grab) return;
      const { piece, from, group, along } = grab;
      const wish = [piece.shift[0] + at[0] - from[0], piece.shift[1] + at[1] - from[1]];
      const [spot, ...others] = group ? [wish] : scene.allowed(piece, wish, 5);
      scene.held.shift = spot;
      scene.ghosts = piece.allowed.lattice && !group ? others : [];
      scene.along = along.map((q) => ({ ...q, shift: [q.shift[0] + spot[0] - piece.shift[0], q.shift[1] + spot[1] - piece.shift[1]] }));
      scene.held.struck = group ? [] : scene.struck(scene.held);
      scene.held.outside = scene.out(scene.held);
      // Short: a second line would move the picture under the hand.
      note.textContent = `${named(piece)}: ${ends(scene, scene.held).map((v) => v.toFixed(1)).join(', ')}`;
      view.again();
    },
    up: async () => {
      if (!grab) return;
      const { piece, group } = grab;
      const shift = scene.held.shift;
      grab = null;
      const far = Math.hypot(shift[0] - piece.shift[0], shift[1] - piece.shift[1]);
      if (far > 1e-6) {
        scene.placed.set(keyOf(piece), { ...piece, shift });
        await move(group ? { group, by: [shift[0] - piece.shift[0], shift[1] - piece.shift[1]] } : { moves: [{ piece: piece.piece, copy: piece.copy, turn_deg: piece.turn_deg, shift }] });
      }
      // The next one may have been taken up meanwhile.
      if (!grab) { scene.held = null; scene.ghosts = []; scene.along = []; note.textContent = ''; }
      view.changed();
      letGo();
    },
    hover: (at) => { const p = scene.at(at); note.textContent = p ? `${named(p)}${p.locked ? ', locked' : ''}` : ''; },
  };
  const turnChosen = async (by) => {
    const some = chosen().filter((p) => !p.locked);
    if (!some.length) { say('Choose a piece that is not locked'); return; }
    const moves = some.map((p) => {
      const to = nextTurn(p, by);
      const middle = scene.shapes.get(p.piece).middle;
      return { piece: p.piece, copy: p.copy, turn_deg: to, shift: shiftKeeping(middle, p.turn_deg, p.shift, to) };
    });
    if (moves.every((m, k) => m.turn_deg === some[k].turn_deg)) { say('The rules allow it no other turn'); return; }
    await move({ moves });
  };
  const lockChosen = async () => {
    const some = chosen();
    if (!some.length) { say('Choose the pieces to lock'); return; }
    const locked = !some.every((p) => p.locked);
    await api.send('api/lay/lock', { pieces: some.map((p) => [p.piece, p.copy]), locked });
    await store.refresh();
    say(locked ? 'Locked: laying again leaves it where it is' : 'Unlocked');
    store.tell('place');
  };
  const begin = async () => {
    const seconds = Number(kept.seconds);
    if (kept.seconds && !(seconds > 0)) { say('Give the seconds to search as a number above 0, or leave it empty', true); return; }
    // Said first: a refusal that comes at once has the last word.
    say('Laying; it gets better as you watch');
    await api.send('api/lay/start', seconds > 0 ? { seconds } : {});
  };
  const startPen = (kind) => { pen = { kind, points: [] }; penTools.hidden = false; penTools.firstChild.textContent = kind === 'flaw' ? 'Click round the flaw. ' : 'Click round the cloth as it really lies. '; view.again(); };
  const leavePen = () => { pen = null; penTools.hidden = true; view.again(); };
  const endPen = async () => {
    const { kind, points } = pen;
    if (points.length < 3) { say('An outline needs three points at least', true); return; }
    if (crossed(points)) { say('The outline crosses itself: take points back and go round once', true); return; }
    leavePen();
    const ring = points.map((p) => p.map((v) => Number(v.toFixed(1))));
    const well = await put((job) => {
      const c = job.cloths[scene.cloth.cloth];
      if (kind === 'flaw') c.flaws_mm = [...(c.flaws_mm ?? []), ring];
      else { c.outline_mm = ring; delete c.width_mm; delete c.length_mm; }
    });
    if (well) say(kind === 'flaw' ? 'The flaw is marked; nothing is cut from it' : 'The cloth has this edge now');
  };
  const key = (e) => {
    if (pen && e.key === 'Enter') { endPen().catch((p) => say(words(p), true)); return true; }
    if (pen && e.key === 'Escape') { leavePen(); return true; }
    const way = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (way && e.altKey) { nudge(way, e.shiftKey); return true; }
    if (e.key === ']' || e.key === '[') { turnChosen(e.key === ']' ? 1 : -1); return true; }
    if (e.key.toLowerCase() === 'l' && !e.ctrlKey && !e.metaKey) { lockChosen().catch((p) => say(words(p), true)); return true; }
    return view.key(e, scene.whole());
  };
  const list = listbox('Pieces', [...scene.placed.values()].map((p) => ({ key: keyOf(p), content: [h('b', {}, named(p)), ' ', h('small', {}, `${p.match}${p.locked ? ', locked' : ''}`)] })),
    { chosen: kept.chosen, many: true, changed: () => { showChosen(); view.changed(); }, keys: (e) => (e.altKey || '[]lL'.includes(e.key)) && key(e) });
  const time = h('input', { type: 'number', min: '1', step: '1', value: kept.seconds, placeholder: String(state.job.lay?.seconds ?? 5), 'aria-label': 'seconds to search', oninput: (e) => { kept.seconds = e.target.value; } });
  add(side, numbers, progress, broken, h('h2', {}, 'Pieces'), list.list,
    h('div', { class: 'tools' }, several(kept), toggle('Whole group', kept.group, (on) => { kept.group = on; }, { title: 'a piece dragged takes its whole group along (as with Alt)' })), about,
    h('h3', {}, 'In doubt'), button('Check every rule exactly', async () => {
      const answer = await api.send('api/lay/check');
      say(answer.sound ? 'Checked: every rule holds' : answer.faults.join('. '), !answer.sound);
    }),
    h('h3', {}, 'Search'), h('div', { class: 'form' }, h('label', {}, h('span', {}, 'seconds to search'), time)),
    h('details', {}, h('summary', {}, 'Rules of the lay'), await blockForm('lay')),
    flawList(scene, state.job.cloths[scene.cloth.cloth]), buying(scene.cloth.name));
  showFigures(); showChosen();
  view.fit(scene.whole());
  if (laying) progress.replaceChildren(h('label', {}, 'Laying ', h('progress', {})));
  return {
    element: made.element,
    close: () => view.close(),
    key,
    look: () => view.kept(),
    restore: (l) => view.restore(l),
    holds,
    inHand,
    // Watched live: poses come as the search finds them, and are drawn at the next frame.
    heard: (what, data) => {
      if (what === 'done' && data.what === 'buy' && data.ok) kept.buying = data.given;
      if (what === 'progress') progress.replaceChildren(h('label', {}, `${data.now || data.what} `, h('progress', { max: 1, value: data.done })));
      // The passes of a lay moved by hand are counted behind the page.
      if (what === 'passes' && data.revision === ours) {
        data.cloths.forEach((c, k) => { if (scenes[k]) scenes[k].on = { ...scenes[k].on, passes: c.count, passes_why: c.why }; });
        showFigures();
      }
      if (what !== 'better') return;
      const s = scenes[data.cloth];
      const old = s.placed;
      s.placed = new Map(data.poses.map(([piece, copy, x, y, turn_deg]) => {
        const name = `${piece}:${copy}`;
        return [name, { ...(old.get(name) ?? { piece, copy, id: pieces[piece].id, match: pieces[piece].match, allowed: { lattice: null, turns_deg: [turn_deg] } }), shift: [x, y], turn_deg }];
      }));
      for (const p of s.placed.values()) if (!s.shapes.has(p.piece)) Object.assign(s, { shapes: new Scene(s.cloth, { ...s.on, placed: [...s.placed.values()] }, pieces, []).shapes });
      s.breaks = [];
      s.on = { ...s.on, used_length_mm: data.length_mm + (s.cloth.edge_mm ?? 0), efficiency: data.efficiency };
      if (s === scene) { showLive(data); view.changed(); }
    },
  };

  function showLive(data) {
    numbers.replaceChildren(figures([['length', mm(data.length_mm)], ['of it used', percent(data.efficiency)], ['pieces', String(data.poses.length)]]));
  }
}

/** The four ways a piece may go, with their signs. */
const WAYS = { left: ['←', [-1, 0]], right: ['→', [1, 0]], farther: ['↑', [0, 1]], nearer: ['↓', [0, -1]] };

/** A box round a piece where it lies, with room. */
function around(scene, p) {
  const [a, b, c, d] = bounds(scene.there(p)[0]);
  const room = Math.max(c - a, d - b, 40) * 0.3;
  return [a - room, b - room, c + room, d + room];
}

/** Where a piece's left and near end lie on the cloth. */
const ends = (scene, p) => bounds(scene.there(p, false)[0]).slice(0, 2);

/** Where a piece lies on its cloth, by its left and its near end: what a rule laid on the cloth shows. */
function lying(scene, p) {
  const [x, y] = ends(scene, p);
  // An offcut has no selvedge to count from: the rulers show its own frame.
  return store.state.job.cloths[scene.cloth.cloth]?.outline_mm ? `Its left end lies at ${x.toFixed(1)} mm across, its near end at ${y.toFixed(1)} mm along`
    : `Its left end lies ${x.toFixed(1)} mm from the left selvedge, its near end ${y.toFixed(1)} mm from the cut end`;
}

const round = (v) => Number(v.toFixed(2));

/** The next allowed turn, onward or back. */
function nextTurn(p, by) {
  const now = ((p.turn_deg % 360) + 360) % 360;
  if (!p.allowed.turns_deg) {
    const to = (now + by + 360) % 360;
    const inside = (t) => p.allowed.ranges.some(([a, b]) => { const x = (((t - a) % 360) + 360) % 360; return x <= b - a; });
    return inside(to) ? to : p.turn_deg;
  }
  const all = [...p.allowed.turns_deg].sort((a, b) => a - b);
  const k = all.findIndex((t) => Math.abs(t - now) < 1e-6);
  return all[(k + by + all.length) % all.length] ?? p.turn_deg;
}

function penned(g, view, pen) {
  g.lineWidth = view.px(2.5); g.strokeStyle = pen.kind === 'flaw' ? '#9c2f17' : '#1d5570';
  g.beginPath();
  pen.points.forEach(([x, y], k) => (k ? g.lineTo(x, y) : g.moveTo(x, y)));
  g.stroke();
  for (const [x, y] of pen.points) { g.beginPath(); g.arc(x, y, view.px(4), 0, 7); g.stroke(); }
}

function flawList(scene, spec) {
  const flaws = spec.flaws_mm ?? [];
  if (!flaws.length && !spec.outline_mm) return null;
  return h('div', {}, h('h3', {}, 'Flaws'), flaws.map((_, k) => h('p', {}, `Flaw ${k + 1} `, button('Take it out', () => put((job) => job.cloths[scene.cloth.cloth].flaws_mm.splice(k, 1))))));
}

/** What to buy of this cloth, by the widths it is sold in, and what letting go of a rule would save. */
function buying(name) {
  const widths = h('input', { type: 'text', name: 'widths', placeholder: 'e.g. 1200, 1500', 'aria-label': 'other widths it is sold in, mm' });
  const ask = () => api.send('api/buy', { savings: true, widths_mm: widths.value.split(/[ ,;]+/).map(Number).filter((w) => w > 0) });
  const found = kept.buying?.find((b) => b.cloth === name);
  return h('details', { open: !!found }, h('summary', {}, 'What to buy'),
    h('div', { class: 'form' }, h('label', {}, h('span', {}, 'Other widths (mm)'), widths, h('small', {}, 'Each is laid for, not guessed: it takes a while.')), button('Work it out', ask)),
    found && h('div', {}, h('table', {}, h('thead', {}, h('tr', {}, ['width', 'to buy', 'cost', 'used'].map((t) => h('th', { scope: 'col' }, t)))),
      h('tbody', {}, found.widths.map((w) => h('tr', {}, h('th', { scope: 'row' }, mm(w.width_mm), w.width_mm === found.best_width_mm ? ' ✓ best' : ''),
        w.buy_mm === null ? h('td', { colspan: '3' }, w.why) : [h('td', {}, metres(w.buy_mm)), h('td', {}, money(w.cost)), h('td', {}, percent(w.efficiency))])))),
    found.savings.map((s) => h('p', {}, `${s.change}: ${s.saves_mm > 0 ? `saves ${metres(s.saves_mm)}` : 'saves nothing'}`))));
}
