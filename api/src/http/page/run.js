/** Planning as a job: submitted, followed, cancelled; it outlives a restart of the service. */
import { ask, read, Refused } from './api.js';

const pause = (ms) => new Promise((done) => { setTimeout(done, ms); });
const idOf = (place) => (place ? place.split('/')[3] : null);

/** Submits a cell. Gives the id of the job. */
export async function submit(document, limit) {
  const response = await ask('POST', `/v1/plan?wait_s=0&time_limit_s=${limit}`, document);
  return idOf(response.headers.get('Location') || response.headers.get('Content-Location'));
}

/** Cancels a job; the best plan so far is its result. */
export const cancel = (job) => ask('POST', `/v1/jobs/${job}/cancel`);

/** Follows a job to its end and gives its plan document, or null where it has none. `tell` hears how far it is. */
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
