//! Runs jobs on threads of its own, and tells who asks how far they are.

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use sha2::{Digest, Sha256};
use tokio::sync::watch;

use super::kind::{Kind, Progress, Sink};
use super::store::{Claimed, Ending, JobState, NewJob, Store, Stored, Submitted};
use crate::codes::Code;
use crate::finding::Finding;

/// What bounds a queue.
#[derive(Clone, Copy, Debug)]
pub struct QueueLimits {
    /// Threads that work; none leaves all jobs waiting.
    pub workers: usize,
    /// Most jobs that wait.
    pub waiting: u32,
    /// Most finished jobs that are kept; looked at now and then.
    pub finished: u32,
    /// A job whose work was broken off by a crash so many times is given up.
    pub starts: u32,
}

/// What can be seen of a job that has not ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Live {
    /// Where it stands.
    pub state: JobState,
    /// How far it has come.
    pub progress: Option<Progress>,
}

struct Seen {
    cancel: Arc<AtomicBool>,
    news: watch::Sender<Live>,
}

struct Shared {
    store: Arc<dyn Store>,
    kinds: &'static [&'static dyn Kind],
    limits: QueueLimits,
    live: Mutex<HashMap<String, Seen>>,
    /// Whether somebody should look for work.
    bell: Mutex<bool>,
    rung: Condvar,
    stopping: AtomicBool,
    /// How many jobs have ended.
    ends: AtomicUsize,
}

/// The queue. Dropping it hands running jobs back.
pub struct Queue {
    shared: Arc<Shared>,
    workers: Mutex<Vec<JoinHandle<()>>>,
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Digest of what must be the same under one idempotency key.
fn digest(kind: &str, limit_s: f64, request: &str) -> String {
    let mut hash = Sha256::new();
    hash.update(kind);
    hash.update([0]);
    hash.update(limit_s.to_bits().to_le_bytes());
    hash.update(request);
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

impl Queue {
    /// Takes up what a store holds, and begins to work.
    ///
    /// # Errors
    /// The store failed.
    pub fn start(store: Arc<dyn Store>, kinds: &'static [&'static dyn Kind], limits: QueueLimits) -> Stored<Self> {
        let given_up = Finding::new(
            Code::GivenUp,
            "",
            format!("the program ended {} times in the middle of this job", limits.starts),
        );
        store.recover(limits.starts, &serde_json::json!(given_up).to_string())?;
        let live = store.waiting()?.into_iter().map(|id| (id, Seen::queued())).collect();
        let shared = Arc::new(Shared {
            store,
            kinds,
            limits,
            live: Mutex::new(live),
            bell: Mutex::new(true),
            rung: Condvar::new(),
            stopping: AtomicBool::new(false),
            ends: AtomicUsize::new(0),
        });
        let workers = (0..limits.workers)
            .map(|_| {
                let shared = Arc::clone(&shared);
                std::thread::spawn(move || shared.work())
            })
            .collect();
        Ok(Self { shared, workers: Mutex::new(workers) })
    }

    /// Submits a job that its kind has checked. Blocks on the store.
    ///
    /// # Errors
    /// The store failed.
    pub fn submit(&self, kind: &dyn Kind, request: &str, limit: Duration, key: Option<&str>) -> Stored<Submitted> {
        let limit_s = limit.as_secs_f64();
        let digest = digest(kind.name(), limit_s, request);
        let new = NewJob { kind: kind.name(), request, limit_s, key, digest: &digest };
        // Held until the job can be seen: a worker must not end it before.
        let mut live = locked(&self.shared.live);
        let submitted = self.shared.store.submit(&new, self.shared.limits.waiting)?;
        if let Submitted::New(job) = &submitted {
            live.insert(job.id.clone(), Seen::queued());
            drop(live);
            *locked(&self.shared.bell) = true;
            self.shared.rung.notify_one();
        }
        Ok(submitted)
    }

    /// News of a job; none once it has ended.
    #[must_use]
    pub fn watch(&self, id: &str) -> Option<watch::Receiver<Live>> {
        locked(&self.shared.live).get(id).map(|seen| seen.news.subscribe())
    }

    /// Cancels a job. One that runs ends soon after. False if it has ended already.
    ///
    /// # Errors
    /// The store failed.
    pub fn cancel(&self, id: &str) -> Stored<bool> {
        let cancelled = self.shared.store.cancel_queued(id)?;
        if cancelled {
            self.shared.ended(id, JobState::Cancelled);
        } else if let Some(seen) = locked(&self.shared.live).get(id) {
            seen.cancel.store(true, Ordering::Relaxed);
            return Ok(true);
        }
        Ok(cancelled)
    }

    /// How many jobs wait or run.
    #[must_use]
    pub fn live(&self) -> usize {
        locked(&self.shared.live).len()
    }

    /// Stops: running jobs go back into the queue of the store. Returns when no thread works any more.
    pub fn stop(&self) {
        self.shared.stopping.store(true, Ordering::Relaxed);
        locked(&self.shared.live).values().for_each(|seen| seen.cancel.store(true, Ordering::Relaxed));
        *locked(&self.shared.bell) = true;
        self.shared.rung.notify_all();
        for worker in std::mem::take(&mut *locked(&self.workers)) {
            if worker.join().is_err() {
                tracing::error!("a working thread had panicked");
            }
        }
    }
}

impl Drop for Queue {
    fn drop(&mut self) {
        self.stop();
    }
}

impl Seen {
    fn queued() -> Self {
        Self {
            cancel: Arc::new(AtomicBool::new(false)),
            news: watch::Sender::new(Live { state: JobState::Queued, progress: None }),
        }
    }
}

struct Teller<'a>(&'a watch::Sender<Live>);

impl Sink for Teller<'_> {
    fn tell(&self, progress: Progress) {
        self.0.send_replace(Live { state: JobState::Running, progress: Some(progress) });
    }
}

impl Shared {
    fn work(&self) {
        while !self.stopping.load(Ordering::Relaxed) {
            match self.store.claim() {
                Ok(Some(claimed)) => self.run(&claimed),
                Ok(None) => self.sleep(),
                Err(error) => {
                    tracing::error!(%error, "no job can be taken up");
                    self.sleep();
                }
            }
        }
    }

    /// Until the bell rings. Looks for itself now and then, so that a store that failed is tried again.
    fn sleep(&self) {
        const LOOK: Duration = Duration::from_secs(5);
        let bell = locked(&self.bell);
        let wait = self.rung.wait_timeout_while(bell, LOOK, |rung| !*rung);
        let (mut bell, _) = wait.unwrap_or_else(PoisonError::into_inner);
        // Stays up while stopping, for the other threads.
        *bell = self.stopping.load(Ordering::Relaxed);
    }

    fn run(&self, claimed: &Claimed) {
        let (cancel, news) = {
            let mut live = locked(&self.live);
            let seen = live.entry(claimed.id.clone()).or_insert_with(Seen::queued);
            (Arc::clone(&seen.cancel), seen.news.clone())
        };
        if self.stopping.load(Ordering::Relaxed) {
            return self.hand_back(claimed);
        }
        news.send_replace(Live { state: JobState::Running, progress: None });
        let limit = Duration::try_from_secs_f64(claimed.limit_s).unwrap_or_default();
        let done = self.kinds.iter().find(|kind| kind.name() == claimed.kind).map(|kind| {
            // A panic must cost one job, not the service.
            let run = || kind.run(claimed.request.as_bytes(), limit, &cancel, &Teller(&news));
            catch_unwind(AssertUnwindSafe(run))
                .unwrap_or_else(|_| Err(Finding::new(Code::OwnFault, "", "the work on this job broke down")))
        });
        if self.stopping.load(Ordering::Relaxed) {
            return self.hand_back(claimed);
        }
        let cancelled = cancel.load(Ordering::Relaxed);
        let unknown = || Finding::new(Code::OwnFault, "", format!("no kind of job is called {}", claimed.kind));
        match done.unwrap_or_else(|| Err(unknown())) {
            Ok(done) => {
                let state = if cancelled { JobState::Cancelled } else { JobState::Done };
                self.finish(claimed, &Ending { state, result: Some(&done.result), problem: None });
            }
            Err(finding) => {
                let problem = serde_json::json!(finding).to_string();
                self.finish(claimed, &Ending { state: JobState::Failed, result: None, problem: Some(&problem) });
            }
        }
    }

    fn finish(&self, claimed: &Claimed, ending: &Ending<'_>) {
        match self.store.finish(&claimed.id, claimed.start, ending) {
            Ok(true) => {}
            Ok(false) => tracing::warn!(job = claimed.id, "somebody else has ended this job"),
            Err(error) => tracing::error!(job = claimed.id, %error, "the end of a job is not kept; it will run again"),
        }
        self.ended(&claimed.id, ending.state);
        // Now and then only, since all ended jobs are counted.
        const EVERY: usize = 64;
        if self.ends.fetch_add(1, Ordering::Relaxed).is_multiple_of(EVERY)
            && let Err(error) = self.store.forget(self.limits.finished)
        {
            tracing::error!(%error, "old jobs are not forgotten");
        }
    }

    fn hand_back(&self, claimed: &Claimed) {
        if let Err(error) = self.store.hand_back(&claimed.id, claimed.start) {
            tracing::error!(job = claimed.id, %error, "a job is not handed back; the next start takes it up");
        }
    }

    fn ended(&self, id: &str, state: JobState) {
        if let Some(seen) = locked(&self.live).remove(id) {
            seen.news.send_modify(|live| live.state = state);
        }
    }
}
