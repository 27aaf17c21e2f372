//! Jobs and documents in one SQLite file.
//!
//! Write-ahead log with `synchronous = NORMAL`: whatever was answered survives the death of the process. A power cut can
//! take the last moments back, but leaves nothing half written (<https://www.sqlite.org/wal.html>).

use std::fs::File;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use rusqlite::{Connection, OptionalExtension, Params, Row, TransactionBehavior, params};

use super::store::{
    Change, Claimed, Ending, Job, JobState, Kept, NewJob, Page, Shelf, Store, StoreError, Stored, Submitted,
};

/// Each brings a file of the version before it up to the next; `user_version` counts them.
const MIGRATIONS: &[&str] = &[include_str!("migrations.sql")];

/// SQL of the time now, RFC 3339.
const NOW: &str = "strftime('%Y-%m-%dT%H:%M:%fZ', 'now')";

const JOB: &str = "number, id, kind, state, starts, limit_s, created, changed, problem, \
                   EXISTS (SELECT 1 FROM results WHERE job = number)";

const KEPT: &str = "number, id, name, revision, created, changed";

/// The store.
#[derive(Debug)]
pub struct Sqlite {
    path: PathBuf,
    writer: Mutex<Connection>,
    readers: Mutex<Vec<Connection>>,
    // Held for as long as the store is open: two processes would take up each other's jobs.
    _lock: File,
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        Self(error.to_string())
    }
}

fn open(path: &Path) -> Stored<Connection> {
    let connection = Connection::open(path)?;
    connection.busy_timeout(Duration::from_secs(10))?;
    connection.pragma_update(None, "journal_mode", "WAL")?;
    connection.pragma_update(None, "synchronous", "NORMAL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    Ok(connection)
}

fn migrate(connection: &mut Connection) -> Stored<()> {
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let version: i64 = transaction.pragma_query_value(None, "user_version", |row| row.get(0))?;
    let done = usize::try_from(version).unwrap_or(usize::MAX);
    if done > MIGRATIONS.len() {
        return Err(StoreError("the file was written by a newer version of the program".to_owned()));
    }
    for step in &MIGRATIONS[done..] {
        transaction.execute_batch(step)?;
    }
    transaction.pragma_update(None, "user_version", i64::try_from(MIGRATIONS.len()).unwrap_or(i64::MAX))?;
    Ok(transaction.commit()?)
}

impl Sqlite {
    /// Opens the file, and makes it if it isn't there.
    ///
    /// # Errors
    /// The file cannot be opened, is no store, or is open in another process.
    pub fn open(path: &Path) -> Stored<Self> {
        let lock_path = path.with_added_extension("lock");
        let lock = File::create(&lock_path).map_err(|e| StoreError(format!("{}: {e}", lock_path.display())))?;
        lock.try_lock().map_err(|e| StoreError(format!("{} is open in another process ({e})", path.display())))?;
        let mut writer = open(path)?;
        migrate(&mut writer)?;
        Ok(Self { path: path.to_owned(), writer: Mutex::new(writer), readers: Mutex::default(), _lock: lock })
    }

    fn writer(&self) -> MutexGuard<'_, Connection> {
        // A panic leaves no transaction open: dropping it rolls it back.
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// All or nothing.
    fn write<T>(&self, work: impl FnOnce(&Connection) -> Stored<T>) -> Stored<T> {
        let mut connection = self.writer();
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let done = work(&transaction)?;
        transaction.commit()?;
        Ok(done)
    }

    /// On a connection of its own, since readers don't wait for the writer.
    fn read<T>(&self, work: impl FnOnce(&Connection) -> Stored<T>) -> Stored<T> {
        let idle = self.readers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let connection = match idle {
            Some(connection) => connection,
            None => open(&self.path)?,
        };
        let done = work(&connection);
        self.readers.lock().unwrap_or_else(PoisonError::into_inner).push(connection);
        done
    }
}

fn one<T>(
    connection: &Connection,
    sql: &str,
    with: impl Params,
    read: impl FnOnce(&Row<'_>) -> rusqlite::Result<T>,
) -> Stored<Option<T>> {
    Ok(connection.prepare_cached(sql)?.query_row(with, read).optional()?)
}

fn many<T>(
    connection: &Connection,
    sql: &str,
    with: impl Params,
    read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
) -> Stored<Vec<T>> {
    let mut statement = connection.prepare_cached(sql)?;
    let rows = statement.query_map(with, read)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

fn run(connection: &Connection, sql: &str, with: impl Params) -> Stored<usize> {
    Ok(connection.prepare_cached(sql)?.execute(with)?)
}

fn job(row: &Row<'_>) -> rusqlite::Result<Job> {
    let state: String = row.get(3)?;
    Ok(Job {
        number: row.get(0)?,
        id: row.get(1)?,
        kind: row.get(2)?,
        // The table's CHECK lets nothing else in.
        state: JobState::ALL.into_iter().find(|s| s.word() == state).unwrap_or(JobState::Failed),
        starts: row.get(4)?,
        limit_s: row.get(5)?,
        created: row.get(6)?,
        changed: row.get(7)?,
        problem: row.get(8)?,
        has_result: row.get(9)?,
    })
}

fn head(row: &Row<'_>) -> rusqlite::Result<Kept> {
    Ok(Kept {
        number: row.get(0)?,
        id: row.get(1)?,
        name: row.get(2)?,
        revision: row.get(3)?,
        created: row.get(4)?,
        changed: row.get(5)?,
        cell: String::new(),
        plan: None,
    })
}

fn whole(row: &Row<'_>) -> rusqlite::Result<Kept> {
    Ok(Kept { cell: row.get(6)?, plan: row.get(7)?, ..head(row)? })
}

fn count(connection: &Connection, sql: &str, with: impl Params) -> Stored<u32> {
    Ok(one(connection, sql, with, |row| row.get(0))?.unwrap_or_default())
}

fn kept(connection: &Connection, shelf: Shelf, id: &str) -> Stored<Option<Kept>> {
    let sql = format!("SELECT {KEPT}, cell, plan FROM documents WHERE shelf = ? AND id = ? AND NOT deleted");
    one(connection, &sql, params![shelf.word(), id], whole)
}

impl Store for Sqlite {
    fn submit(&self, new: &NewJob<'_>, most_waiting: u32) -> Stored<Submitted> {
        self.write(|c| {
            if let Some(key) = new.key {
                let sql = format!("SELECT {JOB}, digest FROM jobs WHERE key = ?");
                let earlier = one(c, &sql, [key], |row| Ok((job(row)?, row.get::<_, String>(10)?)))?;
                if let Some((job, digest)) = earlier {
                    return Ok(if digest == new.digest { Submitted::Same(job) } else { Submitted::Clash });
                }
            }
            if count(c, "SELECT count(*) FROM jobs WHERE state = 'queued'", [])? >= most_waiting {
                return Ok(Submitted::Full);
            }
            let sql = format!(
                "INSERT INTO jobs (id, kind, state, limit_s, key, digest, request, created, changed)
                 VALUES (lower(hex(randomblob(16))), ?, 'queued', ?, ?, ?, ?, {NOW}, {NOW}) RETURNING {JOB}"
            );
            let with = params![new.kind, new.limit_s, new.key, new.digest, new.request];
            one(c, &sql, with, job)?.map(Submitted::New).ok_or_else(|| StoreError("nothing was written".to_owned()))
        })
    }

    fn claim(&self) -> Stored<Option<Claimed>> {
        let sql = format!(
            "UPDATE jobs SET state = 'running', starts = starts + 1, changed = {NOW}
             WHERE number = (SELECT min(number) FROM jobs WHERE state = 'queued')
             RETURNING id, kind, request, limit_s, starts"
        );
        self.write(|c| {
            one(c, &sql, [], |row| {
                Ok(Claimed {
                    id: row.get(0)?,
                    kind: row.get(1)?,
                    request: row.get(2)?,
                    limit_s: row.get(3)?,
                    start: row.get(4)?,
                })
            })
        })
    }

    fn finish(&self, id: &str, start: u32, ending: &Ending<'_>) -> Stored<bool> {
        let sql = format!(
            "UPDATE jobs SET state = ?, problem = ?, changed = {NOW}
             WHERE id = ? AND state = 'running' AND starts = ? RETURNING number"
        );
        self.write(|c| {
            let with = params![ending.state.word(), ending.problem, id, start];
            let Some(number) = one(c, &sql, with, |row| row.get::<_, i64>(0))? else { return Ok(false) };
            if let Some(result) = ending.result {
                run(c, "INSERT INTO results (job, result) VALUES (?, ?)", params![number, result])?;
            }
            Ok(true)
        })
    }

    fn hand_back(&self, id: &str, start: u32) -> Stored<bool> {
        let sql = format!(
            "UPDATE jobs SET state = 'queued', starts = starts - 1, changed = {NOW}
             WHERE id = ? AND state = 'running' AND starts = ?"
        );
        self.write(|c| Ok(run(c, &sql, params![id, start])? == 1))
    }

    fn cancel_queued(&self, id: &str) -> Stored<bool> {
        let sql = format!("UPDATE jobs SET state = 'cancelled', changed = {NOW} WHERE id = ? AND state = 'queued'");
        self.write(|c| Ok(run(c, &sql, [id])? == 1))
    }

    fn recover(&self, most_starts: u32, problem: &str) -> Stored<()> {
        let failed = format!(
            "UPDATE jobs SET state = 'failed', problem = ?, changed = {NOW} WHERE state = 'running' AND starts >= ?"
        );
        let again = format!("UPDATE jobs SET state = 'queued', changed = {NOW} WHERE state = 'running'");
        self.write(|c| {
            run(c, &failed, params![problem, most_starts])?;
            run(c, &again, [])?;
            Ok(())
        })
    }

    fn waiting(&self) -> Stored<Vec<String>> {
        self.read(|c| many(c, "SELECT id FROM jobs WHERE state = 'queued' ORDER BY number", [], |row| row.get(0)))
    }

    fn forget(&self, most: u32) -> Stored<usize> {
        let ended = "SELECT number FROM jobs WHERE state IN ('done', 'failed', 'cancelled')";
        let sql = format!("DELETE FROM jobs WHERE number IN ({ended} ORDER BY number DESC LIMIT -1 OFFSET ?)");
        self.write(|c| run(c, &sql, [most]))
    }

    fn job(&self, id: &str) -> Stored<Option<Job>> {
        self.read(|c| one(c, &format!("SELECT {JOB} FROM jobs WHERE id = ?"), [id], job))
    }

    fn jobs(&self, state: Option<JobState>, page: Page) -> Stored<Vec<Job>> {
        let sql = format!(
            "SELECT {JOB} FROM jobs WHERE number < ? AND (?2 IS NULL OR state = ?2) ORDER BY number DESC LIMIT ?3"
        );
        let with = params![page.before.unwrap_or(i64::MAX), state.map(JobState::word), page.most];
        self.read(|c| many(c, &sql, with, job))
    }

    fn result(&self, id: &str) -> Stored<Option<String>> {
        let sql = "SELECT result FROM results JOIN jobs ON job = number WHERE id = ?";
        self.read(|c| one(c, sql, [id], |row| row.get(0)))
    }

    fn request(&self, id: &str) -> Stored<Option<String>> {
        self.read(|c| one(c, "SELECT request FROM jobs WHERE id = ?", [id], |row| row.get(0)))
    }

    fn keep(&self, shelf: Shelf, name: &str, cell: &str, plan: Option<&str>, most: u32) -> Stored<Change> {
        self.write(|c| {
            // What was deleted can be put back for a month.
            let old = "DELETE FROM documents WHERE deleted AND julianday(changed) < julianday('now') - 30";
            run(c, old, [])?;
            if count(c, "SELECT count(*) FROM documents WHERE shelf = ?", [shelf.word()])? >= most {
                return Ok(Change::Full);
            }
            let sql = format!(
                "INSERT INTO documents (id, shelf, name, cell, plan, created, changed)
                 VALUES (lower(hex(randomblob(16))), ?, ?, ?, ?, {NOW}, {NOW}) RETURNING {KEPT}, cell, plan"
            );
            let made = one(c, &sql, params![shelf.word(), name, cell, plan], whole)?;
            Ok(made.map_or(Change::Missing, |kept| Change::Made(Box::new(kept))))
        })
    }

    fn kept(&self, shelf: Shelf, id: &str) -> Stored<Option<Kept>> {
        self.read(|c| kept(c, shelf, id))
    }

    fn list(&self, shelf: Shelf, page: Page) -> Stored<Vec<Kept>> {
        let sql = format!(
            "SELECT {KEPT} FROM documents WHERE shelf = ? AND NOT deleted AND number < ?
             ORDER BY number DESC LIMIT ?"
        );
        let with = params![shelf.word(), page.before.unwrap_or(i64::MAX), page.most];
        self.read(|c| many(c, &sql, with, head))
    }

    fn change(&self, shelf: Shelf, id: &str, revision: Option<i64>, name: &str, cell: Option<&str>) -> Stored<Change> {
        let sql = format!(
            "UPDATE documents SET name = ?, cell = coalesce(?, cell), revision = revision + 1, changed = {NOW}
             WHERE shelf = ? AND id = ? RETURNING {KEPT}, cell, plan"
        );
        self.write(|c| {
            let Some(now) = kept(c, shelf, id)? else { return Ok(Change::Missing) };
            if revision.is_some_and(|r| r != now.revision) {
                return Ok(Change::Stale);
            }
            let made = one(c, &sql, params![name, cell, shelf.word(), id], whole)?;
            Ok(made.map_or(Change::Missing, |kept| Change::Made(Box::new(kept))))
        })
    }

    fn set_deleted(&self, shelf: Shelf, id: &str, revision: Option<i64>, deleted: bool) -> Stored<Change> {
        let find = "SELECT revision FROM documents WHERE shelf = ? AND id = ? AND deleted = ?";
        let sql = format!(
            "UPDATE documents SET deleted = ?, revision = revision + 1, changed = {NOW}
             WHERE shelf = ? AND id = ? RETURNING {KEPT}, cell, plan"
        );
        self.write(|c| {
            let Some(now) = one(c, find, params![shelf.word(), id, !deleted], |row| row.get::<_, i64>(0))? else {
                return Ok(Change::Missing);
            };
            if revision.is_some_and(|r| r != now) {
                return Ok(Change::Stale);
            }
            let made = one(c, &sql, params![deleted, shelf.word(), id], whole)?;
            Ok(made.map_or(Change::Missing, |kept| Change::Made(Box::new(kept))))
        })
    }
}
