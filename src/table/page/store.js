// What the page knows: the table's state and, fetched when asked for, what follows from it.

import * as api from './api.js';

/** @type {any} the state as the table last told it */
export let state = { revision: 0, job: null };

const parts = new Map();
const watchers = new Set();

/** Calls `changed` whenever the state is new. @param {(what: string, data?: any) => void} changed @returns {() => void} */
export function watch(changed) {
  watchers.add(changed);
  return () => watchers.delete(changed);
}

/** Tells all who watch. @param {string} what @param {any} [data] */
export function tell(what, data) {
  for (const w of [...watchers]) w(what, data);
}

/** Reads the state anew, with the job. */
export async function refresh() {
  const now = await api.get('api/state');
  const changed = now.revision !== state.revision;
  state = now;
  if (changed) parts.clear();
  tell('state');
  return state;
}

/** How the plan stands, to be told from before. @param {any} s */
export const planOf = (s) => JSON.stringify([s.has_plan, s.plan_cut, s.plan_changed, s.plan_retold]);

/** Takes what the event stream says of the state; the job is read again where the revision is new. @param {any} news */
export async function take(news) {
  if (news.revision !== state.revision) return refresh();
  const planned = planOf(news) !== planOf(state);
  state = { ...state, ...news };
  if (planned) parts.clear();
  return tell('state');
}

/** Something of the state's revision, fetched once. @param {string} path @returns {Promise<any>} */
export function part(path) {
  if (!parts.has(path)) {
    const asked = api.get(path).catch((problem) => { parts.delete(path); throw problem; });
    parts.set(path, asked);
  }
  return parts.get(path);
}

/** Forgets what was fetched. @param {string} [path] */
export function forget(path) {
  if (path) parts.delete(path); else parts.clear();
}

/**
 * Changes the job and keeps it. `change` gets a copy to work on.
 * @param {(job: any) => void} change
 * @returns {Promise<any>} what the table says of it
 */
export function changeJob(change) {
  const work = async () => {
    const job = structuredClone(state.job);
    change(job);
    const answer = await api.send('api/job', { job }, 'PUT');
    await refresh();
    return answer;
  };
  const next = changing.then(work, work);
  changing = next.catch(() => {});
  return next;
}

// One change of the job after another, each made to the job as the one before left it.
let changing = Promise.resolve();

/** @param {'undo'|'redo'} which */
export async function step(which) {
  await api.send(`api/${which}`);
  await refresh();
}

/** What keeps job and drawing from making sense; empty when pieces can be had of them. @returns {Promise<any[]>} */
export async function wrong() {
  if (!state.drawing) return [{ about: 'drawing', what: 'the job names no drawing yet', hint: 'begin with one under Drawing' }];
  return (await part('api/drawing')).troubles;
}
