//! Random moves and their least times, for a check by another library:
//! `cargo run --release -p loopwright-solver --example moves -- SEED COUNT`.
//!
//! One move a line: distance, speed, acceleration, jerk (`inf`: no limit), time; SI units.

use loopwright_solver::motion::Limits;
use loopwright_solver::units::{Acceleration, Jerk, Metres, Speed};
use std::io::Write;
use std::process::ExitCode;

/// A small generator of our own (splitmix64, Steele, Lea and Flood 2014): the same seed gives the same moves for ever.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 up to 1.
    #[allow(clippy::cast_precision_loss)]
    fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn log(&mut self, low: f64, high: f64) -> f64 {
        (low.ln() + self.unit() * (high.ln() - low.ln())).exp()
    }
}

fn main() -> ExitCode {
    let numbers: Vec<u64> = std::env::args().skip(1).filter_map(|word| word.parse().ok()).collect();
    let [seed, count] = numbers[..] else {
        eprintln!("usage: moves SEED COUNT");
        return ExitCode::from(2);
    };
    let mut random = Random(seed);
    let mut out = std::io::BufWriter::new(std::io::stdout().lock());
    for _ in 0..count {
        let (v, a, j) = (random.log(0.01, 6.0), random.log(0.1, 80.0), random.log(1.0, 2e4));
        // A third so short that neither speed nor acceleration is likely to be reached.
        let s = if random.unit() < 1.0 / 3.0 { random.log(1e-6, 1e-2) } else { random.log(1e-3, 30.0) };
        let jerk = (random.unit() < 0.9).then_some(j);
        let limits = Limits {
            speed: Speed::from_m_s(v),
            acceleration: Acceleration::from_m_s2(a),
            jerk: jerk.map(Jerk::from_m_s3),
        };
        let time = limits.time(Metres::from_m(s)).s();
        let j = jerk.unwrap_or(f64::INFINITY);
        if writeln!(out, "{s:e} {v:e} {a:e} {j:e} {time:e}").is_err() {
            return ExitCode::from(74);
        }
    }
    if out.flush().is_err() { ExitCode::from(74) } else { ExitCode::SUCCESS }
}
