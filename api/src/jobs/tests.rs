//! The life of a job, walked by breakpoints: a test decides when work begins and ends.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use super::store::{Change, Ending, NewJob, Page, Shelf, Submitted};
use super::*;
use crate::finding::Finding;

const ALL: Page = Page { before: None, most: 100 };

/// Reports that it has begun, then waits for the word to end.
struct Gate {
    begun: Mutex<Sender<String>>,
    word: Mutex<Receiver<Result<&'static str, &'static str>>>,
}

impl Kind for Gate {
    fn name(&self) -> &'static str {
        "gate"
    }

    fn check(&self, _: &[u8]) -> Result<(), Vec<Finding>> {
        Ok(())
    }

    fn run(&self, request: &[u8], _: Duration, cancel: &AtomicBool, sink: &dyn Sink) -> Result<Done, Finding> {
        sink.tell(Progress { round: 1, ..Progress::default() });
        self.begun.lock().unwrap().send(String::from_utf8_lossy(request).into_owned()).unwrap();
        let word = self.word.lock().unwrap();
        loop {
            match word.recv_timeout(Duration::from_millis(1)) {
                Ok(Ok(result)) => return Ok(Done { result: result.to_owned() }),
                Ok(Err("panic")) => panic!("as told"),
                Ok(Err(problem)) => return Err(Finding::new(crate::Code::OwnFault, "", problem)),
                Err(_) if cancel.load(Ordering::Relaxed) => return Ok(Done { result: "so far".to_owned() }),
                Err(_) => {}
            }
        }
    }
}

struct Walk {
    queue: Queue,
    store: Arc<Sqlite>,
    begun: Receiver<String>,
    word: Sender<Result<&'static str, &'static str>>,
}

/// A folder of its own for each test.
fn folder() -> PathBuf {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let name = format!("loopwright-jobs-{}-{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
    let folder = std::env::temp_dir().join(name);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

fn walk(path: &std::path::Path, limits: QueueLimits) -> Walk {
    let ((begun, hear), (word, told)) = (channel(), channel());
    let gate: &'static dyn Kind = Box::leak(Box::new(Gate { begun: Mutex::new(begun), word: Mutex::new(told) }));
    let store = Arc::new(Sqlite::open(path).unwrap());
    let queue = Queue::start(Arc::clone(&store) as Arc<dyn Store>, Box::leak(Box::new([gate])), limits).unwrap();
    Walk { queue, store, begun: hear, word }
}

const LIMITS: QueueLimits = QueueLimits { workers: 1, waiting: 2, finished: 3, starts: 3 };

impl Walk {
    fn submit(&self, request: &str, key: Option<&str>) -> Submitted {
        self.queue.submit(self.queue_kind(), request, Duration::from_secs(1), key).unwrap()
    }

    fn queue_kind(&self) -> &'static dyn Kind {
        struct Name;
        impl Kind for Name {
            fn name(&self) -> &'static str {
                "gate"
            }
            fn check(&self, _: &[u8]) -> Result<(), Vec<Finding>> {
                Ok(())
            }
            fn run(&self, _: &[u8], _: Duration, _: &AtomicBool, _: &dyn Sink) -> Result<Done, Finding> {
                unreachable!("only its name is used")
            }
        }
        &Name
    }

    fn new_job(&self, request: &str) -> String {
        match self.submit(request, None) {
            Submitted::New(job) => job.id,
            other => panic!("{other:?}"),
        }
    }

    /// Waits for the news that a job has ended, and gives what is kept of it.
    fn end(&self, id: &str) -> Job {
        if let Some(mut news) = self.queue.watch(id) {
            let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
            runtime.block_on(async { while news.changed().await.is_ok() {} });
        }
        self.store.job(id).unwrap().unwrap()
    }
}

#[test]
fn queued_running_done() {
    let walk = walk(&folder().join("jobs"), LIMITS);
    let (one, two) = (walk.new_job("one"), walk.new_job("two"));
    assert_eq!(walk.begun.recv().unwrap(), "one");
    let live = walk.queue.watch(&one).unwrap().borrow().clone();
    assert_eq!((live.state, live.progress.unwrap().round), (JobState::Running, 1));
    assert_eq!(walk.store.job(&two).unwrap().unwrap().state, JobState::Queued);
    walk.word.send(Ok("first")).unwrap();
    assert_eq!(walk.begun.recv().unwrap(), "two");
    let job = walk.end(&one);
    assert_eq!((job.state, job.starts, job.has_result), (JobState::Done, 1, true));
    assert_eq!(walk.store.result(&one).unwrap().unwrap(), "first");
    walk.word.send(Err("no good")).unwrap();
    let job = walk.end(&two);
    assert_eq!((job.state, job.has_result), (JobState::Failed, false));
    assert!(job.problem.unwrap().contains("no good"));
}

#[test]
fn a_panic_costs_one_job() {
    let walk = walk(&folder().join("jobs"), LIMITS);
    let (one, two) = (walk.new_job("one"), walk.new_job("two"));
    walk.word.send(Err("panic")).unwrap();
    // The gate's lock is poisoned now, so the second breaks down too: the thread still lives to see it.
    assert_eq!(walk.end(&one).state, JobState::Failed);
    assert_eq!(walk.end(&two).state, JobState::Failed);
}

#[test]
fn cancelled_while_queued_and_while_running() {
    let walk = walk(&folder().join("jobs"), LIMITS);
    let (one, two) = (walk.new_job("one"), walk.new_job("two"));
    walk.begun.recv().unwrap();
    assert!(walk.queue.cancel(&two).unwrap());
    assert_eq!(walk.end(&two).state, JobState::Cancelled);
    assert!(walk.queue.cancel(&one).unwrap());
    let job = walk.end(&one);
    assert_eq!((job.state, job.has_result), (JobState::Cancelled, true));
    assert!(!walk.queue.cancel(&one).unwrap());
    assert!(walk.begun.try_recv().is_err(), "a cancelled job was begun");
}

#[test]
fn the_queue_is_bounded_and_keys_are_kept() {
    let walk = walk(&folder().join("jobs"), LIMITS);
    let Submitted::New(one) = walk.submit("one", Some("k")) else { panic!() };
    walk.begun.recv().unwrap();
    walk.new_job("two");
    walk.new_job("three");
    assert_eq!(walk.submit("four", None), Submitted::Full);
    let Submitted::Same(same) = walk.submit("one", Some("k")) else { panic!() };
    assert_eq!(same.id, one.id);
    assert_eq!(walk.submit("other", Some("k")), Submitted::Clash);
}

#[test]
fn stopping_hands_jobs_back() {
    let path = folder().join("jobs");
    let first = walk(&path, LIMITS);
    let one = first.new_job("one");
    first.begun.recv().unwrap();
    first.queue.stop();
    let job = first.store.job(&one).unwrap().unwrap();
    assert_eq!((job.state, job.starts), (JobState::Queued, 0));
    drop(first);
    let again = walk(&path, LIMITS);
    assert_eq!(again.begun.recv().unwrap(), "one");
    again.word.send(Ok("done")).unwrap();
    assert_eq!(again.end(&one).state, JobState::Done);
}

#[test]
fn broken_off_three_times_is_given_up() {
    let path = folder().join("jobs");
    let new = NewJob { kind: "gate", request: "one", limit_s: 1.0, key: None, digest: "" };
    let Submitted::New(job) = Sqlite::open(&path).unwrap().submit(&new, 1).unwrap() else { panic!() };
    for start in 1..=3 {
        // Each round is a process that dies with the job in its hands.
        let store = Sqlite::open(&path).unwrap();
        store.recover(3, "{}").unwrap();
        assert_eq!(store.claim().unwrap().unwrap().start, start);
    }
    let last = walk(&path, LIMITS);
    let job = last.store.job(&job.id).unwrap().unwrap();
    assert_eq!((job.state, job.starts), (JobState::Failed, 3));
    assert!(job.problem.unwrap().contains("LW-GIVEN-UP"));
}

#[test]
fn only_the_present_start_ends_a_job() {
    let store = Sqlite::open(&folder().join("jobs")).unwrap();
    let new = NewJob { kind: "gate", request: "one", limit_s: 1.0, key: None, digest: "" };
    store.submit(&new, 1).unwrap();
    let old = store.claim().unwrap().unwrap();
    store.recover(3, "{}").unwrap();
    let now = store.claim().unwrap().unwrap();
    let ending = Ending { state: JobState::Done, result: Some("r"), problem: None };
    assert!(!store.finish(&old.id, old.start, &ending).unwrap());
    assert!(store.finish(&now.id, now.start, &ending).unwrap());
    assert!(!store.finish(&now.id, now.start, &ending).unwrap());
}

#[test]
fn one_process_a_file_and_old_jobs_are_forgotten() {
    let path = folder().join("jobs");
    let store = Sqlite::open(&path).unwrap();
    assert!(Sqlite::open(&path).unwrap_err().0.contains("another process"));
    for _ in 0..5 {
        let new = NewJob { kind: "gate", request: "one", limit_s: 1.0, key: None, digest: "" };
        store.submit(&new, 9).unwrap();
        let now = store.claim().unwrap().unwrap();
        let ending = Ending { state: JobState::Done, result: Some("r"), problem: None };
        store.finish(&now.id, now.start, &ending).unwrap();
    }
    assert_eq!(store.forget(3).unwrap(), 2);
    let left: Vec<i64> = store.jobs(Some(JobState::Done), ALL).unwrap().iter().map(|j| j.number).collect();
    assert_eq!(left, [5, 4, 3]);
    assert_eq!(store.jobs(None, Page { before: Some(5), most: 1 }).unwrap()[0].number, 4);
}

#[test]
fn documents_are_kept_changed_deleted_and_put_back() {
    let store = Sqlite::open(&folder().join("jobs")).unwrap();
    let shelf = Shelf::Cells;
    let Change::Made(made) = store.keep(shelf, "a", "{}", None, 1).unwrap() else { panic!() };
    assert_eq!(store.keep(shelf, "b", "{}", None, 1).unwrap(), Change::Full);
    assert_eq!(store.change(shelf, &made.id, Some(7), "b", None).unwrap(), Change::Stale);
    let Change::Made(changed) = store.change(shelf, &made.id, Some(1), "b", Some("[]")).unwrap() else { panic!() };
    assert_eq!((changed.name.as_str(), changed.cell.as_str(), changed.revision), ("b", "[]", 2));
    assert!(matches!(store.set_deleted(shelf, &made.id, Some(2), true).unwrap(), Change::Made(_)));
    assert_eq!(store.kept(shelf, &made.id).unwrap(), None);
    assert_eq!(store.kept(Shelf::Plans, &made.id).unwrap(), None);
    assert!(store.list(shelf, ALL).unwrap().is_empty());
    assert!(matches!(store.set_deleted(shelf, &made.id, None, false).unwrap(), Change::Made(_)));
    assert_eq!(store.kept(shelf, &made.id).unwrap().unwrap().revision, 4);
}
