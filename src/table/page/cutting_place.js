// Cutting: passes step by step, burns played back, measured marks, what is done, all files.

import { add, h, button, say, remark, words } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';
import { board, figures, listbox } from './board.js';
import { Bed, legend, verdict } from './bed_scene.js';
import { blockForm } from './job_forms.js';
import { troubles } from './drawing_place.js';
import { marksForm } from './marks_form.js';
import { allSaid } from './measures.js';
import { standing } from './plan_standing.js';
import { area, count, metres, mm, named, size, time } from './words.js';

const kept = { pass: 0, recut: null };

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
      if (!await allSaid()) return;
      say('Making the plan');
      await api.send('api/plan');
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
  const entry = done.find((d) => d.cloth === pass.cloth && d.pass === pass.number);
  const open = plan.passes.filter((p) => p.cloth === pass.cloth && p.number < pass.number && !isDone(p)).map((p) => p.number);
  const bed = new Bed(plan, pass);
  const made = board(`The bed in pass ${pass.number} of ${pass.cloth}`, (g, view) => bed.draw(g, view), () => bed.whole(), [
    h('select', { 'aria-label': 'pass', onchange: (e) => { kept.pass = Number(e.target.value); store.tell('place'); } },
      plan.passes.map((p, k) => h('option', { value: k, selected: k === kept.pass }, `${p.cloth}, pass ${p.number}${isDone(p) ? ' ✓ cut' : ''}`))),
    button('Before', () => step(-1), { disabled: kept.pass === 0 }), button('Next', () => step(1), { disabled: kept.pass === plan.passes.length - 1 }),
  ]);
  const { view, side, note } = made;
  const step = (by) => { kept.pass += by; store.tell('place'); };
  note.className = 'legends';
  note.append(...legend(view.dark(), pass));

  add(side, standing(),
    h('h2', {}, `${pass.cloth}, pass ${pass.number} of ${plan.passes.filter((p) => p.cloth === pass.cloth).length}`),
    figures([['cut', pass.cut_length_mm < 1000 ? mm(pass.cut_length_mm) : metres(pass.cut_length_mm)], ['burns', String(pass.burns.length)], ['on the cutter', time(pass.seconds)], ['handling', time(pass.time?.handling_s)]]),
    isDone(pass) ? remark('well', 'This pass is marked as cut; its files are not changed any more.') : null,
    entry?.may_take_back ? takeBack(pass) : null,
    pass.verdict ? remark(pass.verdict.startsWith('covered') ? 'well' : 'care', `Joints: ${pass.verdict}`) : null,
    playback(bed, view),
    joints(bed, plan, view),
    isDone(pass) ? null : marksForm(bed, view, pass, entry?.measure ?? [], open),
    doing(pass, isDone(pass), open),
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

/** A pass marked as cut that is not: what follows from taking it back is said first. */
function takeBack(pass) {
  return h('div', { class: 'tools' }, button('It is not cut after all', async () => {
    const ask = (only) => api.send(`api/passes/${pass.number}/done`, { cloth: pass.cloth, done: false, try: only });
    const would = await ask(true);
    if (!window.confirm(['Take back that pass', pass.number, 'of', pass.cloth, 'is cut?', ...would.said].join(' '))) return;
    const did = await ask(false);
    await store.refresh(); store.forget();
    say([`Pass ${pass.number} is open again.`, ...did.said].join(' '));
    store.tell('place');
  }));
}

function doing(pass, isDone, open) {
  if (isDone) return null;
  const from = h('input', { type: 'number', min: 1, max: pass.burns.length, step: 1, value: 1, 'aria-label': 'first burn to make' });
  return h('div', {},
    h('div', { class: 'tools' }, button('Mark this pass as cut', async () => {
      if (open.length && !window.confirm(`Pass ${open.join(' and ')} of ${pass.cloth} is not marked as cut yet. Mark pass ${pass.number} all the same? It can be taken back until a later pass is cut.`)) return;
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
    left.map((c) => h('p', {}, `${c.name}: ${count(c.offcuts.length, 'piece')} worth keeping, the largest ${area(c.offcuts[0].area_mm2)}.`)),
    done.every((d) => d.done) ? null : remark('care', 'Not all passes are marked as cut yet.'),
    h('div', { class: 'tools' }, place, button('Put it on the shelf', async () => {
      const answer = await api.send('api/offcuts/add', { place: place.value });
      add(said, answer.added.map((o) => remark('well', o.line)), answer.added.length ? null : remark('', 'It is on the shelf already.'));
    })), said);
}
