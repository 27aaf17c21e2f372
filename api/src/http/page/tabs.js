/** Views of one thing, one at a time. */
import { h, button, freshId } from './dom.js';

/** Tabs: a list of `[name, fill]`, where `fill` makes the content when a tab is first opened; it may give back an act that stops it. */
export function tabs(label, list) {
  const stops = [];
  const parts = list.map(([name, fill]) => {
    const [tab, panel] = [freshId(), freshId()];
    const view = h('div', { id: panel, role: 'tabpanel', 'aria-labelledby': tab, hidden: true, class: 'panel' });
    const head = button(name, () => choose(name), { id: tab, role: 'tab', 'aria-controls': panel, 'aria-selected': 'false', tabindex: '-1' });
    return { name, fill, view, head, filled: false };
  });
  function choose(name, focus = false) {
    for (const part of parts) {
      const on = part.name === name;
      part.head.setAttribute('aria-selected', String(on));
      part.head.tabIndex = on ? 0 : -1;
      part.view.hidden = !on;
      if (on && !part.filled) {
        part.filled = true;
        const stop = part.fill(part.view);
        if (typeof stop === 'function') stops.push(stop);
      }
      if (on && focus) part.head.focus();
    }
  }
  const line = h('div', { role: 'tablist', 'aria-label': label, class: 'tabs' }, parts.map((part) => part.head));
  line.addEventListener('keydown', (event) => {
    const at = parts.findIndex((part) => part.head === document.activeElement);
    const step = { ArrowRight: 1, ArrowLeft: -1, Home: -at, End: parts.length - 1 - at }[event.key];
    if (at < 0 || step === undefined) return;
    event.preventDefault();
    choose(parts[(at + step + parts.length) % parts.length].name, true);
  });
  choose(list[0][0]);
  return { element: h('div', { class: 'tabbed' }, line, parts.map((part) => part.view)), stop: () => stops.forEach((act) => act()) };
}
