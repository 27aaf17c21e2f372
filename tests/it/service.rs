//! The service as a process: killed in mid-job, started again; and every command line of its README section.

use serde_json::Value;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};

/// A running service; killed when dropped.
struct Serving {
    child: Child,
    address: String,
}

impl Serving {
    fn start(store: &Path) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_loopwright"))
            .args(["serve", "--listen", "127.0.0.1:0", "--workers", "1", "--store"])
            .arg(store)
            .env_remove("RUST_LOG")
            .env_remove("LOOPWRIGHT_TOKEN")
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stderr.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.split("http://").nth(1).unwrap_or_else(|| panic!("{line}"));
        let address = address.split('/').next().unwrap().to_owned();
        Self { child, address }
    }

    /// One request on a connection of its own: status and body.
    fn ask(&self, method: &str, path: &str, head: &str, body: &str) -> std::io::Result<(u16, String)> {
        let mut stream = TcpStream::connect(&self.address)?;
        let length = body.len();
        let text = format!(
            "{method} {path} HTTP/1.0\r\nContent-Type: application/yaml\r\n{head}Content-Length: {length}\r\n\r\n{body}"
        );
        stream.write_all(text.as_bytes())?;
        let mut answer = String::new();
        stream.read_to_string(&mut answer)?;
        let broken = || std::io::Error::other(format!("no answer: {answer}"));
        let (head, body) = answer.split_once("\r\n\r\n").ok_or_else(broken)?;
        let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).ok_or_else(broken)?;
        Ok((status, body.to_owned()))
    }

    fn json(&self, path: &str) -> Value {
        let (status, body) = self.ask("GET", path, "", "").unwrap();
        assert_eq!(status, 200, "{path}: {body}");
        serde_json::from_str(&body).unwrap()
    }
}

impl Drop for Serving {
    fn drop(&mut self) {
        // SIGKILL on Unix: nothing is tidied up.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn store(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder.join("store")
}

fn example(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name)).unwrap()
}

/// Killed at twenty random moments while jobs are submitted and worked on: every job that was accepted ends, once.
#[test]
fn no_job_is_lost_or_done_twice() {
    let store = store("killed");
    let (quick, slow) = (example("wraparound-glue.yaml"), example("fifty-skus.yaml"));
    // A small generator (xorshift64); the moments are random, the rest of the test isn't.
    let mut chance = 0x9E37_79B9_7F4A_7C15_u64;
    let mut accepted = Vec::new();
    for round in 0..20 {
        let serving = Serving::start(&store);
        chance ^= chance << 13;
        chance ^= chance >> 7;
        chance ^= chance << 17;
        let (pid, until) = (serving.child.id(), std::time::Duration::from_micros(chance % 300_000));
        let killer = std::thread::spawn(move || {
            // The random moment itself, not a wait for something.
            std::thread::sleep(until);
            Command::new("kill").args(["-9", &pid.to_string()]).status().unwrap();
        });
        for job in 0..30 {
            // Every other round leaves one behind that takes longer than a process lives.
            let cell = if job == 0 && round % 2 == 0 { &slow } else { &quick };
            let key = format!("Idempotency-Key: {round}-{job}\r\n");
            match serving.ask("POST", "/v1/plan?wait_s=0", &key, cell) {
                Ok((status, _)) if status == 200 || status == 202 => accepted.push((key, cell)),
                Ok((503, _)) => {}
                Ok((status, body)) => panic!("{status}: {body}"),
                Err(_) => break,
            }
        }
        killer.join().unwrap();
    }
    let serving = Serving::start(&store);
    // A key that was answered still stands for its job; its result comes from that job alone.
    for (key, cell) in &accepted {
        let (status, body) = serving.ask("POST", "/v1/plan?wait_s=30", key, cell).unwrap();
        assert!(body.contains("\"status\": \"planned\"") || body.contains("LW-GIVEN-UP"), "{key}: {status} {body}");
    }
    let mut ids = std::collections::BTreeSet::new();
    let (mut before, mut ended, mut again, mut open) = (String::new(), 0, 0, 0);
    loop {
        let part = serving.json(&format!("/v1/jobs?limit=100{before}"));
        for job in part["items"].as_array().unwrap() {
            assert!(ids.insert(job["id"].as_str().unwrap().to_owned()), "listed twice: {job}");
            let state = job["state"].as_str().unwrap();
            open += usize::from(!["done", "failed"].contains(&state));
            ended += usize::from(state == "done");
            again += usize::from(job["starts"].as_u64() > Some(1));
        }
        match part["next_before"].as_i64() {
            Some(next) => before = format!("&before={next}"),
            None => break,
        }
    }
    // Those that were accepted have ended; one whose answer was cut off may still be waited for.
    assert!(open + accepted.len() <= ids.len(), "{open} of {} have not ended", ids.len());
    // One more a round at most: written, but the answer was cut off.
    assert!(ids.len() >= accepted.len() && ids.len() <= accepted.len() + 20, "{} {}", ids.len(), accepted.len());
    assert!(ended > 0 && again > 0, "{} accepted, {ended} done, {again} begun again", accepted.len());
    println!("{} accepted, {ended} done, {again} begun again", accepted.len());
}

#[test]
fn others_are_not_served_without_a_token() {
    let output = Command::new(env!("CARGO_BIN_EXE_loopwright"))
        .args(["serve", "--listen", "0.0.0.0:0", "--store"])
        .arg(store("open"))
        .env_remove("LOOPWRIGHT_TOKEN")
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(74));
    assert!(String::from_utf8_lossy(&output.stderr).contains("Give a token"), "{output:?}");
}

#[test]
fn a_served_plan_has_the_bytes_of_the_printed_one() {
    let serving = Serving::start(&store("bytes"));
    for name in ["wraparound-glue.yaml", "no-room-to-wait.yaml"] {
        let (status, body) = serving.ask("POST", "/v1/plan?wait_s=30", "", &example(name)).unwrap();
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples").join(name);
        let printed =
            Command::new(env!("CARGO_BIN_EXE_loopwright")).args(["plan", "--json"]).arg(path).output().unwrap();
        assert_eq!((status, body), (200, String::from_utf8(printed.stdout).unwrap()), "{name}");
    }
}

/// Runs the `curl` lines of the README's section about the service, as they stand, in their order.
#[test]
fn the_readme_lines_work() {
    let there = |tool: &str| Command::new(tool).arg("--version").output().is_ok_and(|o| o.status.success());
    let missing: Vec<&str> = ["bash", "curl", "python3"].into_iter().filter(|tool| !there(tool)).collect();
    if !missing.is_empty() {
        // Somebody's own machine need not have them; where the project is checked they must be there.
        assert!(std::env::var_os("CI").is_none(), "missing: {missing:?}");
        eprintln!("not run, for want of {missing:?}");
        return;
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let section = readme.split("\n## Over HTTP\n").nth(1).unwrap().split("\n## ").next().unwrap();
    let serving = Serving::start(&store("readme"));
    let blocks: Vec<&str> = section
        .split("```sh\n")
        .skip(1)
        .map(|b| b.split("```").next().unwrap())
        .filter(|b| b.contains("curl"))
        .collect();
    assert!(blocks.len() >= 3, "only {} blocks: does the test still read the section?", blocks.len());
    let script = format!("set -eu\n{}", blocks.join("\n"))
        .replace("http://127.0.0.1:8080", &format!("http://{}", serving.address))
        .replace("curl ", "curl --fail-with-body --silent --show-error ");
    let output = Command::new("bash").arg("-c").arg(&script).current_dir(root).output().unwrap();
    let out = String::from_utf8_lossy(&output.stdout);
    assert!(output.status.success(), "{script}\n{out}\n{}", String::from_utf8_lossy(&output.stderr));
    for part in ["\"status\":\"good\"", "\"status\": \"planned\"", "event: end", "Offer 17", "\"status\": \"holds\""] {
        assert!(out.contains(part), "no {part} in:\n{out}");
    }
}
