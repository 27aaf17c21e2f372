/** One cell under edit: its document, undo and redo, and the draft that outlives a reload. No elements here. */

const split = (pointer) => pointer.split('/').slice(1).map((part) => part.replaceAll('~1', '/').replaceAll('~0', '~'));

/** A JSON pointer (RFC 6901) from a path of keys. */
export const pointerOf = (path) => path.map((part) => `/${String(part).replaceAll('~', '~0').replaceAll('/', '~1')}`).join('');

/** The value at a path, or nothing. */
export const valueAt = (document, path) => path.reduce((at, key) => (at === undefined || at === null ? undefined : at[key]), document);

/** A copy of a document with another value at a path; `undefined` takes the key out. Missing parents are made. */
export function withValue(document, path, value) {
  if (path.length === 0) return value;
  const [key, ...rest] = path;
  const copy = Array.isArray(document) ? [...document] : { ...(document || {}) };
  const inner = withValue(copy[key], rest, value);
  if (inner === undefined) {
    if (Array.isArray(copy)) copy.splice(Number(key), 1);
    else delete copy[key];
  } else copy[key] = inner;
  return copy;
}

/** Other ids everywhere where a station is named: orders, segments, windows. */
export function renameStation(document, old, fresh) {
  const swap = (id) => (id === old ? fresh : id);
  const ends = (list) => list && list.map((one) => ({ ...one, from: swap(one.from), to: swap(one.to) }));
  const copy = { ...document };
  copy.stations = document.stations.map((station) => ({ ...station, id: swap(station.id) }));
  copy.circuits = document.circuits.map((circuit) => ({ ...circuit, order: circuit.order.map(swap) }));
  if (copy.segments) copy.segments = ends(copy.segments);
  if (copy.windows) copy.windows = ends(copy.windows);
  return copy;
}

/** Takes a station out, with what names it. */
export function withoutStation(document, id) {
  const apart = (list) => list && list.filter((one) => one.from !== id && one.to !== id);
  const copy = { ...document, stations: document.stations.filter((station) => station.id !== id) };
  copy.circuits = document.circuits.map((circuit) => ({ ...circuit, order: circuit.order.filter((one) => one !== id) }));
  if (copy.segments) copy.segments = apart(copy.segments);
  if (copy.windows) copy.windows = apart(copy.windows);
  return copy;
}

/** A cell under edit. `changed` is called after each change, with whether it was typed into a field. */
export class Model {
  constructor(key, name, document, changed) {
    Object.assign(this, { key: `loopwright-draft-${key}`, name, document, changed, past: [], future: [], saved: true });
    const draft = localStorage.getItem(this.key);
    if (draft) {
      const kept = JSON.parse(draft);
      Object.assign(this, { name: kept.name, document: kept.document, saved: false });
    }
  }

  /** Puts a new document in the place of the old one. */
  replace(document) {
    this.past.push(this.document);
    if (this.past.length > 200) this.past.shift();
    this.future = [];
    this.take(document);
  }

  /** Changes one value. */
  set(path, value) { this.replace(withValue(this.document, path, value)); }

  /** Changes one value while it is typed: one step of undo until the field is left. */
  type(path, value) {
    const pointer = pointerOf(path);
    if (this.typing !== pointer) {
      this.past.push(this.document);
      this.future = [];
      this.typing = pointer;
    }
    this.take(withValue(this.document, path, value), true);
  }

  /** The field is left. */
  leave() { this.typing = null; }

  /** Takes the last change back. */
  undo() { this.step(this.past, this.future); }

  /** Makes it again. */
  redo() { this.step(this.future, this.past); }

  step(from, to) {
    if (from.length === 0) return;
    to.push(this.document);
    this.take(from.pop());
  }

  rename(name) {
    this.name = name;
    this.take(this.document, true);
  }

  take(document, typed = false) {
    if (!typed) this.typing = null;
    this.document = document;
    this.saved = false;
    localStorage.setItem(this.key, JSON.stringify({ name: this.name, document }));
    this.changed(typed);
  }

  /** What is kept in the store needs no draft. */
  settle() {
    this.saved = true;
    localStorage.removeItem(this.key);
  }
}

/** The path that a pointer names. */
export const pathOf = split;
