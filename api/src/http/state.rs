//! What all requests share.

use std::net::{IpAddr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use sha2::{Digest, Sha256};
use tokio::sync::watch;

use super::problem::Problem;
use crate::jobs::{KINDS, Kind, Queue, QueueLimits, Store, StoreError};

/// How the service is set up.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where to listen.
    pub address: SocketAddr,
    /// The store's file.
    pub store: PathBuf,
    /// What bounds the queue.
    pub queue: QueueLimits,
    /// Most saved plans, and most saved cells.
    pub documents: u32,
    /// Longest time limit of a job.
    pub longest: Duration,
    /// Largest body in bytes.
    pub body: usize,
    /// Requests a second and client.
    pub rate: std::num::NonZeroU32,
    /// A request is broken off after so long.
    pub timeout: Duration,
    /// What clients must show.
    pub token: Option<String>,
    /// Pages of these origins may use the service.
    pub origins: Vec<String>,
}

/// What all requests share.
pub struct Service {
    /// The store.
    pub store: Arc<dyn Store>,
    /// The queue.
    pub queue: Queue,
    /// The kinds of jobs.
    pub kinds: &'static [&'static dyn Kind],
    /// How it is set up.
    pub settings: Settings,
    /// Requests a client.
    pub rates: DefaultKeyedRateLimiter<IpAddr>,
    /// True once the service is to stop.
    pub stopping: watch::Sender<bool>,
}

impl Service {
    /// Opens the queue over a store.
    ///
    /// # Errors
    /// The store failed.
    pub fn new(store: Arc<dyn Store>, settings: Settings) -> Result<Self, StoreError> {
        Self::with_kinds(store, settings, KINDS)
    }

    /// [`Service::new`] with other kinds of jobs.
    ///
    /// # Errors
    /// The store failed.
    pub fn with_kinds(
        store: Arc<dyn Store>,
        settings: Settings,
        kinds: &'static [&'static dyn Kind],
    ) -> Result<Self, StoreError> {
        Ok(Self {
            queue: Queue::start(Arc::clone(&store), kinds, settings.queue)?,
            store,
            kinds,
            rates: RateLimiter::keyed(Quota::per_second(settings.rate)),
            settings,
            stopping: watch::Sender::new(false),
        })
    }

    /// Whether a token is the one that was asked for. Digests are compared, so that time tells nothing.
    #[must_use]
    pub fn lets_in(&self, shown: Option<&str>) -> bool {
        match &self.settings.token {
            None => true,
            Some(token) => shown.is_some_and(|shown| Sha256::digest(shown) == Sha256::digest(token)),
        }
    }
}

/// Work on the store off the threads that answer requests.
///
/// # Errors
/// The store failed.
pub async fn off<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, StoreError> + Send + 'static,
) -> Result<T, Problem> {
    match actix_web::web::block(work).await {
        Ok(done) => Ok(done?),
        Err(error) => Err(StoreError(error.to_string()).into()),
    }
}
