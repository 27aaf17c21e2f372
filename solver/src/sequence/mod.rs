//! The order of a run of SKUs with least total change time: an asymmetric travelling salesman problem, closed when the run
//! repeats and open when it does not. Several lots of a SKU are run apart.
//!
//! Small runs are exact by dynamic programming. Beyond, a local search gives the order, and the assignment relaxation with
//! subtour cuts, through the seam of `milp`, the bound.

mod assignment;
mod cuts;
mod exact;
mod improve;

use crate::study::Clock;

/// Most runs in one order.
pub const MOST_RUNS: usize = 400;

/// Costs of following one kind with another, in any whole unit; the diagonal does not count.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Costs {
    n: usize,
    values: Vec<i64>,
}

/// Costs beyond this are cut to it, so that sums stay finite.
const LARGEST: i64 = 1 << 48;

impl Costs {
    /// From the cost of each (from, to); negative ones count as none.
    #[must_use]
    pub fn new(n: usize, cost: impl Fn(usize, usize) -> i64) -> Self {
        let values = (0..n * n).map(|at| if at / n == at % n { 0 } else { cost(at / n, at % n).clamp(0, LARGEST) });
        Self { n, values: values.collect() }
    }

    /// Kinds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.n
    }

    /// Whether there is nothing to put in order.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.n == 0
    }

    /// Of one following another.
    #[must_use]
    pub fn of(&self, from: usize, to: usize) -> i64 {
        self.values[from * self.n + to]
    }
}

/// Whether the run repeats.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// The last is followed by the first again.
    Cyclic,
    /// It begins and ends anywhere.
    Open,
}

/// An order and its proof.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    /// Kinds as they are run.
    pub runs: Vec<usize>,
    /// Sum of what each costs after the one before.
    pub cost: i64,
    /// No order costs less.
    pub bound: i64,
}

impl Order {
    /// Whether no order costs less.
    #[must_use]
    pub fn proven(&self) -> bool {
        self.bound >= self.cost
    }

    /// Share of the cost by which the bound is below it.
    #[must_use]
    #[allow(clippy::cast_precision_loss)]
    pub fn gap(&self) -> f64 {
        if self.proven() { 0.0 } else { (self.cost - self.bound) as f64 / self.cost as f64 }
    }
}

/// Why lots cannot be put in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unorderable {
    /// The lots of this kind cannot all be apart; at most so many.
    TooManyLots(usize, u32),
    /// More than [`MOST_RUNS`].
    TooManyRuns,
}

/// The least order of so many lots of each kind; two lots of one kind never follow one another.
///
/// # Errors
/// [`Unorderable`] when there is no such order, or it would be too long.
pub fn least_order(costs: &Costs, lots: &[u32], shape: Shape, clock: &Clock<'_>) -> Result<Order, Unorderable> {
    let total: u64 = lots.iter().map(|&l| u64::from(l)).sum();
    if total > MOST_RUNS as u64 {
        return Err(Unorderable::TooManyRuns);
    }
    if let Some((kind, most)) = too_many(lots, total, shape) {
        return Err(Unorderable::TooManyLots(kind, most));
    }
    let kinds: Vec<usize> = (0..lots.len().min(costs.len())).filter(|&k| lots[k] > 0).collect();
    if total <= 1 {
        return Ok(Order { runs: kinds, cost: 0, bound: 0 });
    }
    let few = Costs::new(kinds.len(), |a, b| costs.of(kinds[a], kinds[b]));
    let counts: Vec<u32> = kinds.iter().map(|&k| lots[k]).collect();
    if let Some((runs, cost)) = exact::order(&few, &counts, shape) {
        return Ok(Order { runs: runs.into_iter().map(|k| kinds[k]).collect(), cost, bound: cost });
    }
    let nodes: Vec<usize> = (0..kinds.len()).flat_map(|k| (0..counts[k]).map(move |_| k)).collect();
    let arcs = Arcs::new(&few, &nodes, shape);
    let (tour, cost, bound) = large(&arcs, clock);
    // The tour is turned so that the pause of an open run comes first and falls away.
    let pause = tour.iter().position(|&i| i >= nodes.len());
    let turn = pause.map_or(0, |at| at + 1);
    let runs = (0..tour.len()).map(|i| tour[(turn + i) % tour.len()]).filter(|&i| i < nodes.len());
    Ok(Order { runs: runs.map(|i| kinds[nodes[i]]).collect(), cost, bound: bound.clamp(0, cost) })
}

/// A kind whose lots cannot be apart from one another, and the most of its lots that can.
fn too_many(lots: &[u32], total: u64, shape: Shape) -> Option<(usize, u32)> {
    let (kind, &most) = lots.iter().enumerate().max_by_key(|l| l.1)?;
    let others = total - u64::from(most);
    let room = match shape {
        Shape::Cyclic => others.max(1),
        Shape::Open => others + 1,
    };
    #[allow(clippy::cast_possible_truncation)]
    (u64::from(most) > room).then_some((kind, room as u32))
}

/// The closed problem on single runs: an open run gets a pause that costs nothing on either side.
struct Arcs {
    n: usize,
    values: Vec<i64>,
    /// What an arc costs that is not allowed: more than any order of allowed ones.
    barred: i64,
}

impl Arcs {
    fn new(costs: &Costs, nodes: &[usize], shape: Shape) -> Self {
        let runs = nodes.len();
        let n = runs + usize::from(shape == Shape::Open);
        let most = (0..costs.len() * costs.len()).map(|at| costs.values[at]).max().unwrap_or(0);
        #[allow(clippy::cast_possible_wrap)]
        let barred = (most + 1) * (n as i64 + 1);
        let value = |at: usize| {
            let (i, j) = (at / n, at % n);
            if i == j {
                barred
            } else if i >= runs || j >= runs {
                0
            } else if nodes[i] == nodes[j] {
                barred
            } else {
                costs.of(nodes[i], nodes[j])
            }
        };
        Self { n, values: (0..n * n).map(value).collect(), barred }
    }

    fn of(&self, i: usize, j: usize) -> i64 {
        self.values[i * self.n + j]
    }

    fn along(&self, tour: &[usize]) -> i64 {
        (0..tour.len()).map(|i| self.of(tour[i], tour[(i + 1) % tour.len()])).sum()
    }
}

/// A tour, its cost and a bound.
fn large(arcs: &Arcs, clock: &Clock<'_>) -> (Vec<usize>, i64, i64) {
    let assigned = assignment::assign(arcs.n, |i, j| arcs.of(i, j));
    let mut tour = improve::tour(arcs, &assigned, &clock.share(0.3));
    let mut cost = arcs.along(&tour);
    let mut bound = assigned.cost;
    if bound < cost {
        let proof = cuts::bound(arcs, &assigned, cost, clock);
        bound = bound.max(proof.bound);
        if let Some(better) = proof.tour {
            cost = arcs.along(&better);
            tour = better;
        }
    }
    (tour, cost, bound)
}

#[cfg(test)]
mod tests;
