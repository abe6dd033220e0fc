// Elements made in one line, and what is said to the maker.

/**
 * Makes an element. Attributes starting with `on` are listeners; `true` sets an empty attribute, `false`, null and
 * undefined leave it out. Text given as a child is never read as markup.
 * @param {string} name
 * @param {Object<string, any>} [attributes]
 * @param {...(Node|string|number|null|Array)} children
 * @returns {HTMLElement}
 */
export function h(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes ?? {})) {
    if (value === false || value === null || value === undefined) continue;
    if (key.startsWith('on')) element.addEventListener(key.slice(2), value);
    else if (key === 'value') { element.value = value; element.given = value; }
    else if (key === 'checked') element.checked = value;
    else element.setAttribute(key, value === true ? '' : String(value));
  }
  return add(element, children);
}

/**
 * Adds children, lists of them too; null, undefined and false are left out.
 * @param {HTMLElement} element @param {...any} children
 * @returns {HTMLElement}
 */
export function add(element, ...children) {
  for (const child of children.flat(4)) {
    if (child !== null && child !== undefined && child !== false) element.append(child);
  }
  return element;
}

let fading = 0;

/**
 * Says something at the foot of the page and to a screen reader; a problem stays longer.
 * @param {string} text
 * @param {boolean} [wrong]
 */
export function say(text, wrong = false) {
  // What a dialog covers would not be seen.
  const place = document.getElementById('said');
  const dialog = document.querySelector('dialog[open]');
  if (dialog) dialog.append(place); else if (place.parentElement !== document.body) document.body.append(place);
  clearTimeout(fading);
  place.replaceChildren(h('p', { class: wrong ? 'wrong' : null }, text));
  fading = setTimeout(() => place.replaceChildren(), wrong ? 12000 : 5000);
}

/** Takes a dialog away; what is said in it is said on. @param {HTMLDialogElement} dialog */
export function closed(dialog) {
  const place = dialog.querySelector('#said');
  if (place) document.body.append(place);
  dialog.remove();
}

/**
 * A remark with a sign and a word, so that no verdict is told by colour alone.
 * @param {'wrong'|'care'|'well'|''} level
 * @param {...(Node|string)} words
 * @returns {HTMLElement}
 */
export function remark(level, ...words) {
  const sign = { wrong: '✕', care: '▲', well: '✓' }[level] ?? '•';
  return h('p', { class: `said ${level}` }, h('b', { 'aria-hidden': 'true' }, sign), ' ', ...words);
}

/**
 * Runs what a button does, says its problem, and keeps the button from being pressed twice.
 * @param {string} label
 * @param {() => Promise<any>|any} action
 * @param {Object<string, any>} [attributes]
 * @returns {HTMLElement}
 */
export function button(label, action, attributes = {}) {
  const made = h('button', { type: 'button', ...attributes, onclick: async () => {
    made.setAttribute('aria-busy', 'true');
    try { await action(); } catch (problem) { say(words(problem), true); }
    made.removeAttribute('aria-busy');
  } }, label);
  return made;
}

/** Without the place in the job file, which helps only who writes the file. @param {string} text */
export const plain = (text) => text.replace(/ \(line \d+, column \d+\)/g, '');

/**
 * A problem in words.
 * @param {any} problem
 * @returns {string}
 */
export function words(problem) {
  const first = problem?.troubles?.[0];
  const hint = problem?.hint ?? first?.hint;
  const what = plain(problem?.detail ?? problem?.message ?? String(problem));
  const ended = (text) => text.replace(/\.$/, '');
  return hint ? `${ended(what)}. ${hint[0].toUpperCase()}${ended(hint.slice(1))}.` : what;
}
