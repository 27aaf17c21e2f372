//! Many plans at once: over the cores, in order, within one time limit.

use std::collections::BTreeMap;
use std::num::NonZero;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Who hears how many parts are done.
pub trait Report: Sync {
    /// So many parts of so many are done. Called from the working threads.
    fn done(&self, parts: usize, of: usize);
}

/// Nobody listens.
pub struct Nobody;

impl Report for Nobody {
    fn done(&self, _: usize, _: usize) {}
}

/// How long there is, and who may stop it or listens.
#[derive(Clone, Copy)]
pub struct Doing<'a> {
    end: Instant,
    /// Ends the work soon after it is set.
    pub cancel: &'a AtomicBool,
    report: &'a dyn Report,
    threads: usize,
}

/// Part of a work that hears how far it is itself: it is told as so many parts, after those before it, of all.
pub(crate) struct Stage<'a> {
    pub(crate) whole: &'a Doing<'a>,
    /// Parts that were done before it.
    pub(crate) before: usize,
    /// Parts that it stands for.
    pub(crate) parts: usize,
    /// Parts of the whole.
    pub(crate) of: usize,
}

impl Report for Stage<'_> {
    fn done(&self, parts: usize, of: usize) {
        self.whole.tell(self.before + self.parts * parts.min(of) / of.max(1), self.of);
    }
}

/// A year: clocks do not count much further.
const LONGEST: Duration = Duration::from_secs(365 * 86_400);

impl<'a> Doing<'a> {
    /// Starts now.
    #[must_use]
    pub fn new(limit: Duration, cancel: &'a AtomicBool, report: &'a dyn Report) -> Self {
        let threads = std::thread::available_parallelism().map_or(1, NonZero::get);
        Self { end: Instant::now() + limit.min(LONGEST), cancel, report, threads }
    }

    /// A part of the work, with a limit of its own within that of the whole, and somebody else who listens.
    pub(crate) fn part<'b>(&'b self, limit: Duration, report: &'b dyn Report) -> Doing<'b> {
        Doing { end: self.end.min(Instant::now() + limit.min(LONGEST)), report, ..*self }
    }

    /// The same on so many threads.
    #[cfg(test)]
    pub(crate) fn on(self, threads: usize) -> Self {
        Self { threads, ..self }
    }

    /// Threads for each of so many parts that are worked on at once.
    pub(crate) fn threads_each(&self, parts: usize) -> usize {
        self.threads / parts.clamp(1, self.threads.max(1))
    }

    /// Time left.
    #[must_use]
    pub fn left(&self) -> Duration {
        if self.cancel.load(Ordering::Relaxed) {
            return Duration::ZERO;
        }
        self.end.saturating_duration_since(Instant::now())
    }

    /// Whether to stop.
    #[must_use]
    pub fn over(&self) -> bool {
        self.left().is_zero()
    }

    /// Tells that so many parts of so many are done.
    pub(crate) fn tell(&self, parts: usize, of: usize) {
        self.report.done(parts, of);
    }

    /// Works on every item, on as many threads as there are cores. Each item may take an even part of the time that is left
    /// when it begins; the results come in the order of the items, whatever the order of work.
    pub(crate) fn each<T: Sync, R: Send>(&self, items: &[T], work: impl Fn(&T, Duration) -> R + Sync) -> Vec<R> {
        self.each_of(items, (0, items.len()), work)
    }

    /// As [`Self::each`] for items that are some of many: so many of all were worked on before, the others come later.
    pub(crate) fn each_of<T: Sync, R: Send>(
        &self,
        items: &[T],
        (before, all): (usize, usize),
        work: impl Fn(&T, Duration) -> R + Sync,
    ) -> Vec<R> {
        let threads = self.threads.min(items.len()).max(1);
        let next = AtomicUsize::new(0);
        let results: Mutex<BTreeMap<usize, R>> = Mutex::new(BTreeMap::new());
        let turn = || {
            loop {
                let at = next.fetch_add(1, Ordering::Relaxed);
                let Some(item) = items.get(at) else { return };
                let rounds = (all - before - at).div_ceil(threads);
                let share = self.left() / u32::try_from(rounds).unwrap_or(u32::MAX);
                let result = work(item, share);
                // Told while nobody else can, so that what is heard never goes back.
                let mut results = results.lock().unwrap_or_else(PoisonError::into_inner);
                results.insert(at, result);
                self.report.done(before + results.len(), all);
            }
        };
        std::thread::scope(|scope| {
            for _ in 1..threads {
                scope.spawn(turn);
            }
            turn();
        });
        results.into_inner().unwrap_or_else(PoisonError::into_inner).into_values().collect()
    }
}
