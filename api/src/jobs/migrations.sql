-- Version 1.
CREATE TABLE jobs (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    kind TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('queued', 'running', 'done', 'failed', 'cancelled')),
    starts INTEGER NOT NULL DEFAULT 0,
    limit_s REAL NOT NULL,
    key TEXT UNIQUE,
    digest TEXT NOT NULL,
    request TEXT NOT NULL,
    problem TEXT,
    created TEXT NOT NULL,
    changed TEXT NOT NULL
);
CREATE INDEX jobs_by_state ON jobs (state, number);
-- One result a job: the primary key sees to it.
CREATE TABLE results (
    job INTEGER PRIMARY KEY REFERENCES jobs (number) ON DELETE CASCADE,
    result TEXT NOT NULL
);
CREATE TABLE documents (
    number INTEGER PRIMARY KEY AUTOINCREMENT,
    id TEXT NOT NULL UNIQUE,
    shelf TEXT NOT NULL CHECK (shelf IN ('cells', 'plans')),
    name TEXT NOT NULL,
    revision INTEGER NOT NULL DEFAULT 1,
    cell TEXT NOT NULL,
    plan TEXT,
    deleted INTEGER NOT NULL DEFAULT 0,
    created TEXT NOT NULL,
    changed TEXT NOT NULL
);
CREATE INDEX documents_by_shelf ON documents (shelf, deleted, number);
