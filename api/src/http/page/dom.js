/** Small helpers to build elements. */

let count = 0;

/** An id that no other element has. */
export const freshId = () => `f${count += 1}`;

/** Makes an element: `on…` keys are listeners, other keys attributes; false and null are left out. */
export function h(tag, keys = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(keys)) {
    if (key.startsWith('on')) element.addEventListener(key.slice(2), value);
    else if (value === true) element.setAttribute(key, '');
    else if (value !== false && value !== null && value !== undefined) element.setAttribute(key, value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return element;
}

/** A button that does something. */
export const button = (text, act, keys = {}) => h('button', { type: 'button', onclick: act, ...keys }, text);

/** A table with a caption, heads, and rows of texts or elements; the first cell of a row is its head. */
export function table(caption, heads, rows, keys = {}) {
  const cell = (value, at) => (at === 0
    ? h('th', { scope: 'row' }, value)
    // A number with a word or two behind it is one still; a sentence that begins with one is not.
    : h('td', { class: typeof value === 'string' && /^[-+]?\d\S*( \S+){0,3}$/.test(value) ? 'number' : null }, value));
  return h('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': caption }, h('table', keys,
    h('caption', {}, caption),
    h('thead', {}, h('tr', {}, heads.map((head) => h('th', { scope: 'col' }, head)))),
    h('tbody', {}, rows.map((row) => h('tr', {}, row.map(cell))))));
}

/** A number with so many decimals, or a dash. */
export const fixed = (value, digits) => (typeof value === 'number' ? value.toFixed(digits) : '–');

/** A sum of money: whole, in groups of three. */
export const money = (value) => (typeof value === 'number' ? value.toFixed(0).replace(/\B(?=(\d{3})+$)/g, '\u202f') : '–');

/** Says something to everybody, with an act that takes it back where there is one. */
export function notice(text, undoText, undo) {
  const place = document.getElementById('notice');
  const close = () => place.replaceChildren();
  const act = undo && button(undoText, () => { close(); undo(); });
  place.replaceChildren(h('span', {}, text), ...(act ? [act] : []), button('Close', close));
}

/** Hands bytes to the browser as a file. */
export function download(blob, name) {
  const link = h('a', { href: URL.createObjectURL(blob), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
