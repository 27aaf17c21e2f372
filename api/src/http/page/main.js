/** Begins the page: shows what the address names. */
import { h, notice } from './dom.js';
import { editor, keptPlan, keptTwo } from './editor.js';
import { shelf } from './shelf.js';

let leave = null;

async function show() {
  const place = document.getElementById('main');
  const [what, ...ids] = location.hash.slice(1).split('/');
  if (leave) leave();
  leave = null;
  place.onkeydown = null;
  const pages = { cell: editor, plan: keptPlan, compare: keptTwo };
  try {
    leave = (await (pages[what] || shelf)(place, ...ids)) || null;
  } catch (error) {
    if (error.status !== 401) place.replaceChildren(h('p', { class: 'bad' }, `${error.message} `, h('a', { href: '#' }, 'Back to the cells')));
  }
}

window.addEventListener('hashchange', show);
window.addEventListener('unhandledrejection', (event) => notice(event.reason?.message || 'Something went wrong.'));
show();
