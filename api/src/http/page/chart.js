/** Pictures that the service draws, put on the page. */
import { ask } from './api.js';

const known = new Set();

/** The policy of the page takes no styles inside of elements; rules of a picture are adopted by the document instead, once. */
function adopt(rules) {
  if (known.has(rules)) return;
  known.add(rules);
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(rules);
  document.adoptedStyleSheets.push(sheet);
}

/** The text of a picture as an element; `prefix` takes the place of `lw-` in its ids, so that a page can hold two. */
export function picture(text, prefix = null) {
  const bare = text.replace(/<style>([\s\S]*?)<\/style>/g, (_, rules) => { adopt(rules); return ''; });
  const own = prefix ? bare.replace(/ id="lw-/g, ` id="${prefix}`).replace(/#lw-/g, `#${prefix}`).replace(/aria-labelledby="[^"]*"/g, '') : bare;
  const svg = document.importNode(new DOMParser().parseFromString(own, 'image/svg+xml').documentElement, true);
  svg.removeAttribute('width');
  svg.removeAttribute('height');
  return svg;
}

/** Asks for a picture: its name under `/v1/print`, and the request. */
export const printed = async (name, request, prefix) => picture(await (await ask('POST', `/v1/print/${name}`, request)).text(), prefix);

/** An element of a picture of one's own. */
export function s(tag, keys = {}, ...children) {
  const element = document.createElementNS('http://www.w3.org/2000/svg', tag);
  for (const [key, value] of Object.entries(keys)) {
    if (key.startsWith('on')) element.addEventListener(key.slice(2), value);
    else if (value !== null && value !== undefined && value !== false) element.setAttribute(key, value);
  }
  element.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined));
  return element;
}
