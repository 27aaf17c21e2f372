//! How fast the service answers: `cargo bench --bench service`. Loopback only; raw sockets, so that the client costs little.

#![allow(clippy::unwrap_used, clippy::expect_used)]

#[cfg(feature = "serve")]
mod measured {
    use std::io::{BufRead, BufReader, Read, Write};
    use std::net::TcpStream;
    use std::path::Path;
    use std::process::{Child, Command, Stdio};
    use std::time::{Duration, Instant};

    /// A connection that is kept.
    struct Connection(BufReader<TcpStream>);

    impl Connection {
        fn open(address: &str) -> Self {
            let stream = TcpStream::connect(address).unwrap();
            stream.set_nodelay(true).unwrap();
            Self(BufReader::new(stream))
        }

        /// Status and body.
        fn ask(&mut self, method: &str, path: &str, media: &str, body: &str) -> (u16, String) {
            let length = body.len();
            let text = format!(
                "{method} {path} HTTP/1.1\r\nHost: localhost\r\nContent-Type: {media}\r\nContent-Length: {length}\r\n\r\n{body}"
            );
            self.0.get_mut().write_all(text.as_bytes()).unwrap();
            let (mut line, mut length, mut status) = (String::new(), 0, 0);
            loop {
                line.clear();
                self.0.read_line(&mut line).unwrap();
                let low = line.trim_end().to_ascii_lowercase();
                if low.is_empty() {
                    break;
                }
                if let Some(rest) = low.strip_prefix("http/1.1 ") {
                    status = rest[..3].parse().unwrap();
                } else if let Some(rest) = low.strip_prefix("content-length: ") {
                    length = rest.parse().unwrap();
                }
            }
            let mut answer = vec![0; length];
            self.0.read_exact(&mut answer).unwrap();
            (status, String::from_utf8(answer).unwrap())
        }
    }

    struct Serving(Child, String);

    impl Drop for Serving {
        fn drop(&mut self) {
            let _ = self.0.kill();
            let _ = self.0.wait();
        }
    }

    fn serve() -> Serving {
        let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("service-bench");
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_loopwright"))
            .args(["serve", "--listen", "127.0.0.1:0", "--most-requests", "1000000", "--store"])
            .arg(folder.join("store"))
            .env_remove("RUST_LOG")
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stderr.take().unwrap()).read_line(&mut line).unwrap();
        let address = line.split("http://").nth(1).unwrap().split('/').next().unwrap().to_owned();
        Serving(child, address)
    }

    fn text(path: &str) -> String {
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap()
    }

    fn percentile(times: &mut [Duration], share: f64) -> Duration {
        times.sort_unstable();
        #[allow(clippy::cast_precision_loss, clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let at = ((times.len() - 1) as f64 * share) as usize;
        times[at]
    }

    fn of(answer: &str, key: &str) -> String {
        let value: serde_json::Value = serde_json::from_str(answer).unwrap_or_else(|e| panic!("{e}: {answer:?}"));
        value[key].as_str().unwrap_or_else(|| panic!("no {key}: {answer}")).to_owned()
    }

    const YAML: &str = "application/yaml";

    pub fn all() {
        let serving = serve();
        let address = serving.1.as_str();
        let cell = text("examples/wraparound-glue.yaml");
        overhead(address, &cell);
        reads(address, &cell);
        burst(&serving, &cell);
    }

    /// Planning over HTTP against planning alone, in turns.
    fn overhead(address: &str, cell: &str) {
        let document = loopwright_api::read_cell(cell.as_bytes()).unwrap();
        let cancel = std::sync::atomic::AtomicBool::new(false);
        let mut connection = Connection::open(address);
        let (mut alone, mut over) = (Vec::new(), Vec::new());
        for _ in 0..200 {
            let began = Instant::now();
            let answer = loopwright_api::plan_document(&document, Duration::from_secs(10), &cancel);
            alone.push(began.elapsed());
            assert_eq!(answer.exit(), 0);
            let began = Instant::now();
            assert_eq!(connection.ask("POST", "/v1/plan?wait_s=30", YAML, cell).0, 200);
            over.push(began.elapsed());
        }
        for share in [0.5, 0.99] {
            let (alone, over) = (percentile(&mut alone, share), percentile(&mut over, share));
            println!("plan, {:.0}th percentile: alone {alone:.2?}, over HTTP {over:.2?}", share * 100.0);
        }
    }

    /// A kept plan is read on eight connections while two large plans are being solved.
    fn reads(address: &str, cell: &str) {
        let mut connection = Connection::open(address);
        connection.ask("POST", "/v1/plan?wait_s=30", YAML, cell);
        let list = connection.ask("GET", "/v1/jobs?state=done&limit=1", YAML, "").1;
        let list: serde_json::Value = serde_json::from_str(&list).unwrap();
        let new = serde_json::json!({"name": "bench", "job": list["items"][0]["id"]}).to_string();
        let (status, kept) = connection.ask("POST", "/v1/plans", "application/json", &new);
        assert_eq!(status, 201, "{kept}");
        let path = format!("/v1/plans/{}", of(&kept, "id"));
        let large = text("benches/cells/s16-k48-h8-both-1.json");
        let jobs: Vec<String> = (0..2)
            .map(|_| of(&connection.ask("POST", "/v1/plan?wait_s=0&time_limit_s=60", YAML, &large).1, "id"))
            .collect();
        let began = Instant::now();
        let threads: Vec<_> = (0..8)
            .map(|_| {
                let (address, path) = (address.to_owned(), path.clone());
                std::thread::spawn(move || {
                    let mut connection = Connection::open(&address);
                    let mut times = Vec::new();
                    while began.elapsed() < Duration::from_secs(8) {
                        let begun = Instant::now();
                        assert_eq!(connection.ask("GET", &path, YAML, "").0, 200);
                        times.push(begun.elapsed());
                    }
                    times
                })
            })
            .collect();
        let mut times: Vec<Duration> = threads.into_iter().flat_map(|t| t.join().unwrap()).collect();
        #[allow(clippy::cast_precision_loss)]
        let rate = times.len() as f64 / began.elapsed().as_secs_f64();
        let (half, most) = (percentile(&mut times, 0.5), percentile(&mut times, 0.99));
        println!("reads of a kept plan: {rate:.0} a second; half within {half:.2?}, 99 % within {most:.2?}");
        // The first connection has been idle for longer than the service keeps one.
        let mut connection = Connection::open(address);
        for job in jobs {
            let before = connection.ask("GET", &format!("/v1/jobs/{job}"), YAML, "").1;
            println!("  beside them a job that was {}", of(&before, "state"));
            connection.ask("POST", &format!("/v1/jobs/{job}/cancel"), "application/json", "");
        }
    }

    /// A thousand submissions at once.
    fn burst(serving: &Serving, cell: &str) {
        let began = Instant::now();
        let threads: Vec<_> = (0..1000)
            .map(|_| {
                let (address, cell) = (serving.1.clone(), cell.to_owned());
                let ask = move || Connection::open(&address).ask("POST", "/v1/plan?wait_s=30", YAML, &cell).0;
                std::thread::Builder::new().stack_size(256 << 10).spawn(ask).unwrap()
            })
            .collect();
        let statuses: Vec<u16> = threads.into_iter().map(|t| t.join().unwrap()).collect();
        let count = |status: u16| statuses.iter().filter(|s| **s == status).count();
        let memory = std::fs::read_to_string(format!("/proc/{}/status", serving.0.id())).unwrap_or_default();
        let peak = memory.lines().find(|l| l.starts_with("VmHWM")).unwrap_or("VmHWM unknown").to_owned();
        println!(
            "1000 at once: {} planned, {} refused with 503, {} other, in {:.2?}; peak {peak}",
            count(200),
            count(503),
            1000 - count(200) - count(503),
            began.elapsed()
        );
    }
}

fn main() {
    #[cfg(feature = "serve")]
    measured::all();
}
