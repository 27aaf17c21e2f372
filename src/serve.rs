//! The command that serves over HTTP.

use crate::output::{Answer, findings};
use loopwright_api::http::{Settings, serve as run};
use loopwright_api::jobs::QueueLimits;
use loopwright_api::{Code, Finding};
use std::net::SocketAddr;
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::time::Duration;

/// The token may stand in the environment variable `LOOPWRIGHT_TOKEN` or in a file. Log lines are chosen with `RUST_LOG`.
#[derive(Debug, clap::Args)]
pub struct ServeArgs {
    /// Where to listen. Port 0 takes a free one. Other than loopback addresses need a token.
    #[arg(long, value_name = "ADDRESS:PORT", default_value = "127.0.0.1:8080")]
    pub listen: SocketAddr,
    /// File of the store; it is made if it isn't there.
    #[arg(long, value_name = "FILE", default_value = "loopwright.db")]
    pub store: PathBuf,
    /// File that holds the token which clients must send.
    #[arg(long, value_name = "FILE")]
    pub token_file: Option<PathBuf>,
    /// Jobs that are worked on at once; as many as there are cores where it is left out.
    #[arg(long, value_name = "JOBS", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub workers: Option<u16>,
    /// Most jobs that wait.
    #[arg(long, value_name = "JOBS", default_value_t = 1000)]
    pub most_waiting: u32,
    /// Most ended jobs that are kept.
    #[arg(long, value_name = "JOBS", default_value_t = 10_000)]
    pub most_ended: u32,
    /// Most saved plans, and most saved cells.
    #[arg(long, value_name = "DOCUMENTS", default_value_t = 100_000)]
    pub most_documents: u32,
    /// Longest time limit of a job in seconds.
    #[arg(long, value_name = "SECONDS", default_value_t = 600, value_parser = clap::value_parser!(u16).range(1..=600))]
    pub longest: u16,
    /// Largest body in bytes.
    #[arg(long, value_name = "BYTES", default_value_t = 8 << 20)]
    pub most_bytes: usize,
    /// Requests a second and client.
    #[arg(long, value_name = "REQUESTS", default_value = "10000")]
    pub most_requests: NonZeroU32,
    /// Pages of this origin may use the service; may be given several times.
    #[arg(long, value_name = "ORIGIN")]
    pub allow_origin: Vec<String>,
    /// Write logs as JSON, a line each.
    #[arg(long)]
    pub json_logs: bool,
}

/// A job that a crash has broken off so many times is given up.
const STARTS: u32 = 3;
/// Longer than the longest wait for an answer.
const TIMEOUT: Duration = Duration::from_secs(60);

fn token(args: &ServeArgs) -> Result<Option<String>, Finding> {
    let Some(path) = &args.token_file else { return Ok(std::env::var("LOOPWRIGHT_TOKEN").ok()) };
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(Some(text.trim().to_owned())),
        Err(error) => Err(Finding::new(Code::File, "", format!("{} cannot be read: {error}", path.display()))),
    }
}

fn settings(args: &ServeArgs) -> Result<Settings, Finding> {
    let cores = || std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get);
    Ok(Settings {
        address: args.listen,
        store: args.store.clone(),
        queue: QueueLimits {
            workers: args.workers.map_or_else(cores, usize::from),
            waiting: args.most_waiting,
            finished: args.most_ended,
            starts: STARTS,
        },
        documents: args.most_documents,
        longest: Duration::from_secs(args.longest.into()),
        body: args.most_bytes,
        rate: args.most_requests,
        timeout: TIMEOUT,
        token: token(args)?,
        origins: args.allow_origin.clone(),
    })
}

/// Serves until it is interrupted.
pub fn serve(args: &ServeArgs) -> Answer {
    let served = settings(args).and_then(|settings| {
        run(settings, |address| eprintln!("Loopwright serves on http://{address}/ (Ctrl-C ends it)"))
    });
    match served {
        Ok(()) => Answer::default(),
        Err(finding) => {
            let exit = finding.code.entry().kind.exit;
            Answer { out: String::new(), err: findings("serve", &[finding]), exit }
        }
    }
}
