// Calls to the table behind the page. Every change carries the revision it was made in sight of.

/** The revision the page last heard of. */
let revision = 0;

/** @param {number} r */
export function heard(r) {
  if (Number.isFinite(r)) revision = r;
}

/** @returns {number} */
export const seen = () => revision;

/** What the table refused, with what would help. */
export class Problem extends Error {
  constructor(body, status) {
    super(body.detail ?? body.title ?? `The table answered ${status}`);
    Object.assign(this, body, { status, detail: body.detail ?? body.title });
  }
}

async function call(method, path, body, headers = {}) {
  const changes = method !== 'GET';
  let answer;
  try {
    answer = await fetch(path, {
      method, body, cache: 'no-store',
      headers: { ...(changes ? { 'If-Match': String(revision) } : {}), ...headers },
    });
  } catch {
    throw new Problem({ detail: 'The table does not answer', hint: 'is settlay table still running? Your work is kept beside the job' }, 0);
  }
  const type = answer.headers.get('content-type') ?? '';
  const given = type.includes('json') ? await answer.json() : await answer.blob();
  if (!answer.ok) throw new Problem(given instanceof Blob ? {} : given, answer.status);
  heard(given.revision);
  // What the table came upon on the way and nobody asked for.
  if (given.found?.length) document.dispatchEvent(new CustomEvent('found', { detail: given.found.join('. ') }));
  return given;
}

// Changes go one after another, each in sight of the one before.
let last = Promise.resolve();
function after(work) {
  const next = last.then(work, work);
  last = next.catch(() => {});
  return next;
}

/** @param {string} path */
export const get = (path) => call('GET', path);

/** @param {string} path @param {any} [body] @param {'POST'|'PUT'} [method] */
export const send = (path, body = {}, method = 'POST') =>
  after(() => call(method, path, JSON.stringify(body), { 'Content-Type': 'application/json' }));

/** @param {string} path @param {Blob} file */
export const raw = (path, file) =>
  after(() => call('POST', path, file, { 'Content-Type': 'application/octet-stream' }));

/**
 * What happens on the table, from now on. Says when the line is lost and when it is there again.
 * @param {Object<string, (data: any) => void>} listeners by the event's name; `lost` and `found` too
 */
export function listen(listeners) {
  const stream = new EventSource('api/events');
  let lost = false;
  for (const [name, heardOf] of Object.entries(listeners)) {
    stream.addEventListener(name, (event) => heardOf(event.data ? JSON.parse(event.data) : null));
  }
  stream.onerror = () => { if (!lost) listeners.lost?.(); lost = true; };
  stream.onopen = () => { if (lost) listeners.found?.(); lost = false; };
  return stream;
}
