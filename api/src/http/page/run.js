/** Jobs: submitted, followed, cancelled; they outlive a restart of the service. */
import { ask, read, Refused } from './api.js';
import { h, button, freshId } from './dom.js';

const pause = (ms) => new Promise((done) => { setTimeout(done, ms); });
const idOf = (place) => (place ? place.split('/')[3] : null);

/** Submits work to a route of jobs, `plan` where none is named. Gives the id of the job. */
export async function submit(body, limit, route = 'plan') {
  const response = await ask('POST', `/v1/${route}?wait_s=0&time_limit_s=${limit}`, body);
  return idOf(response.headers.get('Location') || response.headers.get('Content-Location'));
}

/** Cancels a job; the best so far is its result. */
export const cancel = (job) => ask('POST', `/v1/jobs/${job}/cancel`);

/** Follows a job to its end and gives its result, or null where it has none. `tell` hears how far it is. */
export async function follow(job, tell) {
  for (;;) {
    try {
      const now = await read(`/v1/jobs/${job}`);
      tell(now);
      if (now.state === 'failed') throw new Refused(500, { detail: now.problem ? now.problem.message : 'The job failed.' });
      if (now.state === 'done' || now.state === 'cancelled') return now.result ? await read(now.result) : null;
    } catch (error) {
      // A service that is away comes back, and the job with it; a refusal is an answer.
      if (error instanceof Refused) throw error;
    }
    await pause(150);
  }
}

function far(now) {
  if (now.state === 'queued') return 'Waiting for its turn.';
  const { round, rounds } = now.progress || {};
  if (rounds) return `At work: ${round} of ${rounds} parts done.`;
  return round ? `At work: ${round} parts done.` : 'At work.';
}

/** A line with a button that runs a job of a route, its progress and cancel. `body` makes the request, `show` takes the result. */
export function task(text, route, body, show, limit = 60) {
  const id = freshId();
  const field = h('input', { id, type: 'number', min: '1', max: '600', value: String(limit), class: 'number' });
  const state = h('span', { role: 'status', class: 'quiet' });
  let job = null;
  const stop = button('Cancel', () => job && cancel(job), { hidden: true, 'aria-label': `Cancel: ${text}` });
  const run = button(text, async () => {
    run.disabled = true;
    state.className = 'quiet';
    state.textContent = 'Sent.';
    try {
      job = await submit(body(), Number(field.value) || limit, route);
      stop.hidden = false;
      const answer = await follow(job, (now) => { state.textContent = far(now); });
      state.textContent = answer ? '' : 'Cancelled before there was an answer.';
      if (answer) await show(answer);
    } catch (error) {
      state.className = 'bad';
      state.textContent = [error.message, ...(error.findings || []).map((one) => `${one.message}. ${one.what_to_do}`)].join(' ');
    }
    job = null;
    stop.hidden = true;
    run.disabled = false;
  });
  return h('div', { class: 'bar task' }, run, h('label', { for: id }, 'Time limit s'), field, stop, state);
}
