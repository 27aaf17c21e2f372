//! Least closed orders of cost matrices in files, for checks against published optima: each line of a file is a row of
//! whole numbers, from the row to the column; lines that begin with `#` are remarks. Prints for each file its name, the
//! cost found, the proven bound and the seconds taken. `random N SEED` stands for a matrix of N SKUs whose change times
//! follow tool groups, formats and sizes as a packaging cell's do.

use loopwright_solver::sequence::{Costs, Shape, least_order};
use loopwright_solver::study::Clock;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

fn read(path: &str) -> Result<Costs, String> {
    let text = std::fs::read_to_string(path).map_err(|error| format!("{path}: {error}"))?;
    let rows: Result<Vec<Vec<i64>>, _> = text
        .lines()
        .filter(|line| !line.trim().is_empty() && !line.starts_with('#'))
        .map(|line| line.split_whitespace().map(str::parse).collect())
        .collect();
    let rows = rows.map_err(|error| format!("{path}: {error}"))?;
    if rows.iter().any(|row| row.len() != rows.len()) {
        return Err(format!("{path}: not square"));
    }
    Ok(Costs::new(rows.len(), |i, j| rows[i][j]))
}

/// Change times in milliseconds: by hand for tool groups and formats, a little for sizes, more upwards than downwards.
fn invented(n: usize, seed: u64) -> Costs {
    let mut state = seed;
    let mut below = |n: u64| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        i64::try_from((state >> 33) % n).unwrap_or_default()
    };
    let skus: Vec<[i64; 4]> = (0..n).map(|_| [below(4), below(6), below(3), 150 + below(200)]).collect();
    Costs::new(n, |i, j| {
        let (a, b) = (skus[i], skus[j]);
        let by_hand = [240_000, 150_000, 90_000].iter().zip(0..3).filter(|&(_, g)| a[g] != b[g]).map(|(t, _)| t);
        let size = (b[3] - a[3]).max(0) * 60 + (a[3] - b[3]).max(0) * 20;
        45_000 + by_hand.sum::<i64>() + size
    })
}

fn main() -> Result<(), String> {
    let args: Vec<String> = std::env::args().skip(1).collect();
    let mut rest = args.iter();
    while let Some(arg) = rest.next() {
        let (name, costs) = if arg == "random" {
            let mut number = || rest.next().and_then(|n| n.parse::<u64>().ok()).ok_or("random N SEED");
            let (n, seed) = (number()?, number()?);
            (format!("random-{n}-{seed}"), invented(usize::try_from(n).map_err(|e| e.to_string())?, seed))
        } else {
            (arg.clone(), read(arg)?)
        };
        let never = AtomicBool::new(false);
        let start = Instant::now();
        let lots = vec![1; costs.len()];
        let order = least_order(&costs, &lots, Shape::Cyclic, &Clock::new(Duration::from_secs(5), &never))
            .map_err(|error| format!("{name}: {error:?}"))?;
        println!("{name} {} {} {:.3}", order.cost, order.bound, start.elapsed().as_secs_f64());
    }
    Ok(())
}
