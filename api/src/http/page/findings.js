/** Findings of the check, shown at the fields that they are about. */
import { h, button, freshId } from './dom.js';
import { pathOf, pointerOf } from './model.js';

/** Pointers to look for, closest first: a key that is missing has a field, though the pointer names its object. */
export function candidates(finding) {
  const key = /`([a-z0-9_]+)`/.exec(finding.message);
  const path = pathOf(finding.pointer);
  const all = path.map((_, at) => pointerOf(path.slice(0, path.length - at)));
  return key && finding.code === 'LW-MISSING-KEY' ? [`${finding.pointer}/${key[1]}`, ...all] : all;
}

/** The element of the editor that a finding is about. */
export function target(editor, finding) {
  for (const pointer of candidates(finding)) {
    const found = editor.querySelector(`[data-pointer="${CSS.escape(pointer)}"]`);
    if (found) return found;
  }
  return null;
}

/** Goes to a place of the editor, opening what hides it. */
export function goTo(editor, finding) {
  const place = target(editor, finding) || editor;
  for (let around = place; around; around = around.parentElement) if (around.tagName === 'DETAILS') around.open = true;
  const focusable = place.matches('input, select, textarea') ? place : place.querySelector('input, select, textarea, button');
  place.scrollIntoView({ block: 'center' });
  (focusable || place).focus({ preventScroll: true });
}

/** Puts findings at their fields, and all of them into a list. */
export function showFindings(editor, list, findings) {
  editor.querySelectorAll('.finding[id]').forEach((old) => old.remove());
  editor.querySelectorAll('[aria-invalid]').forEach((old) => { old.removeAttribute('aria-invalid'); old.removeAttribute('aria-describedby'); });
  for (const finding of findings) {
    const place = target(editor, finding);
    if (!place) continue;
    const note = h('p', { class: 'finding', id: freshId() }, `${finding.message}. ${finding.what_to_do}`);
    if (place.matches('input, select, textarea')) {
      if (finding.severity === 'error') place.setAttribute('aria-invalid', 'true');
      place.setAttribute('aria-describedby', note.id);
      (place.closest('.field, td, th') || place.parentElement).append(note);
    } else if (place.tagName === 'TR') place.firstElementChild.append(note);
    else place.append(note);
  }
  const errors = findings.filter((one) => one.severity === 'error').length;
  const say = findings.length === 0 ? 'The document is in order.' : `${errors} to correct, ${findings.length - errors} to know`;
  list.replaceChildren(h('p', { class: errors ? 'bad' : 'good' }, say),
    h('ul', {}, findings.slice(0, 20).map((finding) => h('li', {}, button(`${finding.message}`, () => goTo(editor, finding), { class: 'link' })))));
  return errors;
}
