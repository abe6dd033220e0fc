// Cutting: passes step by step, burns played back, measured marks, what is done, all files.

import { add, h, button, say, remark, words } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';
import { board, figures, listbox } from './board.js';
import { Bed, legend, verdict } from './bed_scene.js';
import { blockForm } from './job_forms.js';
import { troubles } from './drawing_place.js';
import { count, metres, mm, named, size, time } from './words.js';

const kept = { pass: 0, readings: {}, reports: {}, recut: null };

const CAUTIONS = [
  'Never leave the cutter running alone; keep a fire blanket and an extinguisher within reach.',
  'Wool and silk give off hydrogen cyanide when burnt: draw the fumes off to the outside. Never cut PVC or an unknown coating (chlorine), nor metallised threads and foils unless the machine’s manual allows it.',
  'Keep the lid shut: the beam blinds. The machine’s manual, local rules and a licensed person go before anything said here.',
];

/** @returns {Promise<any>} */
export async function cuttingPlace() {
  const { state } = store;
  const busy = state.busy;
  if (!state.has_plan) {
    const progress = h('div', { 'aria-live': 'polite' }, busy === 'plan' ? h('label', {}, 'Making the plan ', h('progress', {})) : null);
    const wrong = await store.wrong();
    const lay = wrong.length ? null : await store.part('api/lay');
    const broken = lay?.breaks.length ?? 0;
    const make = async () => {
      try {
        say('Making the plan');
        await api.send('api/plan');
      } catch (problem) {
        // The cloth is half cut: the plan it is cut by is still there.
        if (/are cut already/.test(problem.detail ?? '')) problem.hint = 'Undo what was changed since, and that plan with its cut passes is here again; or, if that work is finished, move its folder elsewhere';
        throw problem;
      }
    };
    return {
      element: h('div', { class: 'begin' }, h('h2', {}, 'Passes and files'),
        h('p', {}, 'From the lay on the table come the passes, their marks and keys, the cut files and the sheets. They are checked again by reading them back.'),
        wrong.length ? troubles(wrong) : !lay.has_lay && remark('care', 'Lay the pieces first, under Cloth.'),
        broken > 0 && remark('wrong', `${count(broken, 'rule is', 'rules are')} broken in the lay: mend that under Cloth first.`),
        button('Make the plan', make, { class: 'main', disabled: !lay?.has_lay || broken > 0 || !!busy }),
        progress,
        h('h3', {}, 'The cutter'), h('p', {}, 'Bed, kerf, feed and the like: they decide the passes.'), await blockForm('cutter'), cautions()),
      close() {},
      heard: (what, data) => { if (what === 'progress') progress.replaceChildren(h('label', {}, `${data.now || data.what} `, h('progress', { max: 1, value: data.done }))); },
    };
  }
  const [plan, files, done] = await Promise.all(['api/plan', 'api/files', 'api/passes'].map(store.part));
  kept.pass = Math.min(kept.pass, plan.passes.length - 1);
  const pass = plan.passes[kept.pass];
  const isDone = (p) => done.some((d) => d.cloth === p.cloth && d.pass === p.number && d.done);
  const bed = new Bed(plan, pass);
  const name = `${pass.cloth}/${pass.number}`;
  bed.report = kept.reports[name] ?? null;
  const made = board(`The bed in pass ${pass.number} of ${pass.cloth}`, (g, view) => bed.draw(g, view), () => bed.whole(), [
    h('select', { 'aria-label': 'pass', onchange: (e) => { kept.pass = Number(e.target.value); store.tell('place'); } },
      plan.passes.map((p, k) => h('option', { value: k, selected: k === kept.pass }, `${p.cloth}, pass ${p.number}${isDone(p) ? ' ✓ cut' : ''}`))),
    button('Before', () => step(-1), { disabled: kept.pass === 0 }), button('Next', () => step(1), { disabled: kept.pass === plan.passes.length - 1 }),
  ]);
  const { view, side, note } = made;
  const step = (by) => { kept.pass += by; store.tell('place'); };
  note.className = 'legends';
  note.append(...legend(view.dark(), pass));

  add(side,
    h('h2', {}, `${pass.cloth}, pass ${pass.number} of ${plan.passes.filter((p) => p.cloth === pass.cloth).length}`),
    figures([['cut', pass.cut_length_mm < 1000 ? mm(pass.cut_length_mm) : metres(pass.cut_length_mm)], ['burns', String(pass.burns.length)], ['on the cutter', time(pass.seconds)], ['handling', time(pass.time?.handling_s)]]),
    isDone(pass) ? remark('well', 'This pass is marked as cut; its files are not changed any more.') : null,
    pass.verdict ? remark(pass.verdict.startsWith('covered') ? 'well' : 'care', `Joints: ${pass.verdict}`) : null,
    playback(bed, view),
    joints(bed, plan, view),
    isDone(pass) ? null : marks(bed, view, name, pass),
    doing(pass, isDone(pass), plan.passes.filter((p) => p.cloth === pass.cloth && p.number < pass.number && !isDone(p)).map((p) => p.number)),
    plan.notes.filter((n) => n.about.startsWith(pass.cloth)).map((n) => remark(n.level === 'caution' ? 'care' : '', h('b', {}, `${n.about}: `), n.text)),
    h('h2', {}, 'Files'), fileList(files),
    h('details', { open: !!kept.recut }, h('summary', {}, 'One piece again'), recut(plan)),
    leftovers(plan, done),
    h('details', {}, h('summary', {}, 'The cutter'), await blockForm('cutter')),
    cautions());
  view.fit(bed.whole());
  return { element: made.element, close: () => { view.close(); clearInterval(bed.timer); }, key: (e) => view.key(e, bed.whole()), look: () => view.kept(), restore: (l) => view.restore(l),
    heard: (what, data) => { if (what === 'done' && data.what === 'recut') kept.recut = data; } };
}

const cautions = () => h('details', { open: true }, h('summary', {}, 'Before the beam is on'), CAUTIONS.map((c) => remark('care', c)));

/** Burns one after another, by a slider and by playing. */
function playback(bed, view) {
  const said = h('p', { 'aria-live': 'off' }, 'All burns');
  const slider = h('input', { type: 'range', min: 0, max: bed.burns.length, value: bed.burns.length, 'aria-label': 'burns made so far', oninput: () => show(Number(slider.value)) });
  const show = (k) => {
    bed.upTo = k;
    const b = bed.burns[k - 1];
    said.textContent = b ? `Burn ${k} of ${bed.burns.length}: ${b.kind}${b.piece ? ` of ${b.piece}` : ''}` : 'Nothing burnt yet';
    view.again();
  };
  const play = button('Play the burns', () => {
    if (bed.timer) { clearInterval(bed.timer); bed.timer = 0; play.textContent = 'Play the burns'; return; }
    if (bed.upTo >= bed.burns.length) bed.upTo = 0;
    play.textContent = 'Stop';
    bed.timer = setInterval(() => {
      slider.value = String(Math.min(bed.burns.length, bed.upTo + 1));
      show(Number(slider.value));
      if (bed.upTo >= bed.burns.length) play.click();
    }, Math.max(60, Math.min(500, 12000 / bed.burns.length)));
  });
  return h('div', {}, h('h3', {}, 'Burn order'), slider, said, play);
}

function joints(bed, plan, view) {
  const all = bed.pass.joints;
  if (!all.length) return null;
  const border = plan.cutter.border_mm;
  const chosen = new Set();
  const { list } = listbox('Joints', all.map((j, k) => ({ key: String(k), content: [h('b', {}, j.piece), ' ', `${verdict(j, border)}: a step of ${(j.expected_step_mm ?? 0).toFixed(2)} mm to expect`] })),
    { chosen, changed: () => { bed.chosen = all[Number([...chosen][0])]; view.again(); } });
  return h('div', {}, h('h3', {}, count(all.length, 'joint')), list);
}

/** The form for marks as measured, with what they say of the cloth on the bed. */
function marks(bed, view, name, pass) {
  const all = places(bed, pass);
  if (!all.length) return null;
  const sheet = noted(name, all);
  const readings = (kept.readings[name] ??= sheet.read());
  const input = (mark, axis, k) => h('input', { type: 'number', step: '0.01', 'aria-label': `${mark.name} ${axis}, mm`, name: `${mark.name}-${axis}`, value: readings[mark.name]?.[k] ?? '',
    oninput: (e) => { (readings[mark.name] ??= ['', ''])[k] = e.target.value; sheet.write(readings); } });
  const result = h('div', { 'aria-live': 'polite' });
  const given = () => all.filter((m) => readings[m.name]?.[0] !== undefined && readings[m.name][0] !== '' && readings[m.name][1] !== '')
    .map((m) => ({ name: m.name, x_mm: Number(readings[m.name][0]), y_mm: Number(readings[m.name][1]) }));
  const ask = async (only) => {
    if (!given().length) { say(`Write down where at least two ${all[0].pivot ? 'crossings' : 'marks'} really are, both figures of each`, true); return; }
    const answer = await api.send(`api/passes/${pass.number}/realign`, { cloth: pass.cloth, marks: given(), try: only });
    const report = answer.report;
    bed.report = kept.reports[name] = report;
    result.replaceChildren(told(report, only));
    view.again();
    if (!only) { kept.reports[name] = null; await store.refresh(); store.forget(); say('The files of this pass and of those after it are corrected'); store.tell('place'); }
  };
  if (bed.report) result.replaceChildren(told(bed.report, true));
  return h('div', {}, h('h3', {}, 'Marks as measured'),
    h('p', {}, all[0].pivot
      ? 'Nothing is burnt yet, so the pattern itself tells how the cloth lies: drive the head to crossings of pivots with the pointer light and write where they really are. Left empty, the cloth is taken to lie as planned.'
      : 'Put the cloth down, drive the head to each mark with the pointer light and write where it really is. Two marks at least; three or four find a slip of the pen.'),
    h('table', {}, h('thead', {}, h('tr', {}, h('th', { scope: 'col' }, 'mark'), h('th', { scope: 'col' }, 'planned'), h('th', { scope: 'col' }, 'x, mm'), h('th', { scope: 'col' }, 'y, mm'))),
      h('tbody', {}, all.map((m) => h('tr', {}, h('th', { scope: 'row' }, m.name), h('td', {}, m.bed.map((v) => v.toFixed(1)).join(', ')), h('td', {}, input(m, 'x', 0)), h('td', {}, input(m, 'y', 1)))))),
    h('div', { class: 'tools' }, button('See what they say', () => ask(true)), button('Correct the files', () => ask(false), { class: 'main' })),
    result);
}

/** Readings not yet used outlive a reload of the page; they are of no use where the marks were planned elsewhere since. */
function noted(name, all) {
  const key = `readings ${store.state.folder}/${store.state.job_file} ${name}`;
  const planned = JSON.stringify(all.map((m) => m.bed));
  return {
    read: () => { const old = JSON.parse(localStorage.getItem(key) ?? 'null'); return old?.planned === planned ? old.readings : {}; },
    write: (readings) => localStorage.setItem(key, JSON.stringify({ planned, readings })),
  };
}

/** What can be measured before this pass: marks an earlier pass has burnt, else crossings of the pattern's pivots, far apart. */
function places(bed, pass) {
  const burnt = pass.marks.filter((m) => !m.burnt_here);
  if (burnt.length) return burnt;
  const pattern = bed.plan.cloths.find((c) => c.name === pass.cloth).pattern;
  if (!pattern?.a || !pattern?.b) return [];
  const [a, b, c, d, e, f] = pass.cloth_to_bed;
  const [w, t] = pass.bed_mm;
  const m = pass.margin_mm;
  const inside = [];
  for (let i = -400; i <= 400; i++) {
    for (let j = -400; j <= 400 && inside.length < 4000; j++) {
      const [x, y] = [0, 1].map((k) => pattern.origin[k] + i * pattern.a[k] + j * pattern.b[k]);
      const at = [a * x + c * y + e, b * x + d * y + f];
      if (x >= 0 && y >= 0 && at[0] >= m && at[0] <= w - m && at[1] >= m && at[1] <= t - m) inside.push({ name: `pivot ${i} ${j}`, bed: at, pivot: true });
    }
  }
  const corner = (u, v) => inside.reduce((best, p) => (!best || u * p.bed[0] + v * p.bed[1] > u * best.bed[0] + v * best.bed[1] ? p : best), null);
  return [...new Set([corner(-1, -1), corner(1, 1), corner(1, -1), corner(-1, 1)].filter(Boolean))];
}

/** What measured marks say, in words. */
function told(r, only) {
  const marks = r.marks ?? [];
  return h('div', {},
    remark('well', `Moved by ${r.shift_mm?.map((v) => v.toFixed(2)).join(', ')} mm, turned ${r.turn_deg?.toFixed(3)}°, stretched ${r.stretch_percent?.map((v) => `${v.toFixed(2)} %`).join(' across and ')}. ${only ? 'Nothing is written yet.' : ''}`),
    marks.map((m) => h('p', {}, `${m.name}: ${m.off_mm.toFixed(2)} mm off`, m.used ? '' : ', left out: it disagrees with the others')),
    (r.cautions ?? []).map((c) => remark('care', c)));
}

function doing(pass, isDone, open) {
  if (isDone) return null;
  const from = h('input', { type: 'number', min: 1, max: pass.burns.length, step: 1, value: 1, 'aria-label': 'first burn to make' });
  return h('div', {},
    h('div', { class: 'tools' }, button('Mark this pass as cut', async () => {
      if (open.length && !window.confirm(`Pass ${open.join(' and ')} of ${pass.cloth} is not marked as cut yet. Mark pass ${pass.number} all the same? It cannot be taken back.`)) return;
      await api.send(`api/passes/${pass.number}/done`, { cloth: pass.cloth, done: true });
      await store.refresh(); store.forget(); say(`Pass ${pass.number} is marked as cut`); store.tell('place');
    })),
    h('details', {}, h('summary', {}, 'It broke off in the middle'), h('div', { class: 'form' },
      h('label', {}, h('span', {}, 'Go on from burn'), from, h('small', {}, 'The last whole burn is seen on the cloth; play the burns to find its number.')),
      button('Write the rest of the pass', async () => {
        if (!from.value || !from.checkValidity()) { say(`Give the number of the first burn still to be made, 1 to ${pass.burns.length}`, true); return; }
        await api.send(`api/passes/${pass.number}/rest`, { cloth: pass.cloth, from_burn: Number(from.value) });
        store.forget('api/files'); say('The rest is written'); store.tell('place');
      }))));
}

/** Every file, to be kept or seen. */
function fileList(files) {
  const groups = [['Pieces again', (p) => p.startsWith('again/')], ['For the cutter', (p) => p.startsWith('cut/')], ['To sew', (p) => p.startsWith('sewing/')], ['Sheets and pictures', () => true]];
  const left = new Set(files.map((f) => f.path));
  return groups.map(([title, of]) => {
    const some = files.filter((f) => left.has(f.path) && of(f.path));
    some.forEach((f) => left.delete(f.path));
    if (!some.length) return null;
    return h('details', { open: title === 'For the cutter' }, h('summary', {}, `${title} (${some.length})`),
      h('ul', { class: 'list' }, some.map((f) => h('li', {}, h('a', { href: `files/${f.path}?download=1`, download: f.path.split('/').pop() }, f.path), ' ', h('small', {}, size(f.bytes))))));
  });
}

function recut(plan) {
  const pick = h('select', { 'aria-label': 'piece to cut again' }, plan.pieces.map((p) => h('option', { value: `${p.id} ${p.copy}` }, named(p))));
  return h('div', { class: 'form' }, h('p', {}, 'A spoilt piece is laid once more, from the shelf of offcuts or what is left of its cloth, in the same place of the pattern.'), pick,
    button('Find cloth for it', async () => {
      const at = pick.value.lastIndexOf(' ');
      await api.send('api/recut', { piece: pick.value.slice(0, at), copy: Number(pick.value.slice(at + 1)) });
    }), kept.recut && (kept.recut.ok ? again(kept.recut.given) : remark('wrong', words(kept.recut.problem))));
}

function again(g) {
  const match = g.off_mm > 0.05 ? remark('care', `The pattern falls ${g.off_mm.toFixed(1)} mm off: no nearer place is left.`) : remark('well', 'The pattern falls as it did.');
  return h('div', { 'aria-live': 'polite' }, h('p', {}, `${named({ id: g.piece, copy: g.copy })} again, from ${g.from}. Its files are under “Pieces again”.`), match);
}

/** What the plan leaves goes on the shelf of offcuts. */
function leftovers(plan, done) {
  const left = plan.cloths.filter((c) => c.offcuts.length);
  if (!left.length) return null;
  const place = h('input', { type: 'text', name: 'shelf-place', placeholder: 'box, shelf, drawer', 'aria-label': 'where it is kept' });
  const said = h('div', { 'aria-live': 'polite' });
  return h('details', {}, h('summary', {}, 'What is left over'),
    left.map((c) => h('p', {}, `${c.name}: ${count(c.offcuts.length, 'piece')} worth keeping, the largest ${(c.offcuts[0].area_mm2 / 1e4).toFixed(0)} cm².`)),
    done.every((d) => d.done) ? null : remark('care', 'Not all passes are marked as cut yet.'),
    h('div', { class: 'tools' }, place, button('Put it on the shelf', async () => {
      const answer = await api.send('api/offcuts/add', { place: place.value });
      add(said, answer.added.map((o) => remark('well', o.line)), answer.added.length ? null : remark('', 'It is on the shelf already.'));
    })), said);
}
