/** Requests to the public API; says when the service cannot be reached, and when it answers again. */
import { h, button, freshId } from './dom.js';

const TOKEN = 'loopwright-token';

/** What the service answered when it refused: its problem document. */
export class Refused extends Error {
  constructor(status, problem) {
    super(problem.detail || problem.title || `The service answered ${status}.`);
    this.status = status;
    this.findings = problem.findings || [];
  }
}

const state = () => document.getElementById('link-state');

function away() {
  if (state().dataset.away) return;
  state().dataset.away = 'yes';
  state().textContent = 'The service does not answer. What you type is kept here; the page goes on by itself when it is back.';
  const look = async () => {
    try {
      if ((await fetch('/livez')).ok) return back();
    } catch { /* It is still away. */ }
    return setTimeout(look, 500);
  };
  setTimeout(look, 500);
}

function back() {
  if (!state().dataset.away) return;
  delete state().dataset.away;
  state().textContent = 'The service answers again.';
  window.dispatchEvent(new Event('service-back'));
}

function askToken() {
  if (document.getElementById('token-form')) return;
  const id = freshId();
  const field = h('input', { id, type: 'password', autocomplete: 'off' });
  const use = () => { sessionStorage.setItem(TOKEN, field.value.trim()); location.reload(); };
  document.getElementById('main').prepend(h('section', { id: 'token-form', 'aria-label': 'Token' },
    h('p', {}, 'This service needs the token that it was started with. It is kept until this tab is closed.'),
    h('label', { for: id }, 'Token'), field, button('Use token', use)));
}

/** One request. Gives the response; throws `Refused`, or the error of a connection that is broken. */
export async function ask(method, path, body, headers = {}) {
  const token = sessionStorage.getItem(TOKEN);
  const typed = body === undefined ? {} : { 'Content-Type': 'application/json' };
  let response;
  try {
    response = await fetch(path, {
      method,
      headers: { ...typed, ...(token ? { Authorization: `Bearer ${token}` } : {}), ...headers },
      body: body === undefined || typeof body === 'string' ? body : JSON.stringify(body),
    });
  } catch (error) {
    away();
    throw error;
  }
  back();
  if (response.status === 401) askToken();
  if (!response.ok) throw new Refused(response.status, await response.json().catch(() => ({})));
  return response;
}

/** The JSON that a GET gives. */
export const read = async (path) => (await ask('GET', path)).json();

/** Every part of a list. */
export async function readAll(path) {
  const items = [];
  let before = null;
  do {
    const part = await read(`${path}?limit=100${before ? `&before=${before}` : ''}`);
    items.push(...part.items);
    before = part.next_before;
  } while (before);
  return items;
}
