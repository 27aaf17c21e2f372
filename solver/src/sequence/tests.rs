use super::*;
use crate::sim::tests::Random;
use std::sync::atomic::AtomicBool;
use std::time::Duration;

fn within<T>(seconds: u64, ask: impl FnOnce(&Clock<'_>) -> T) -> T {
    let never = AtomicBool::new(false);
    ask(&Clock::new(Duration::from_secs(seconds), &never))
}

fn random(r: &mut Random, n: usize, most: u64) -> Costs {
    #[allow(clippy::cast_possible_wrap)]
    let values: Vec<i64> = (0..n * n).map(|_| r.below(most) as i64).collect();
    Costs::new(n, |i, j| values[i * n + j])
}

fn cost_of(costs: &Costs, runs: &[usize], shape: Shape) -> i64 {
    let open: i64 = runs.windows(2).map(|w| costs.of(w[0], w[1])).sum();
    open + if shape == Shape::Cyclic && runs.len() > 1 { costs.of(runs[runs.len() - 1], runs[0]) } else { 0 }
}

fn enumerate(costs: &Costs, left: &mut [u32], runs: &mut Vec<usize>, shape: Shape, best: &mut i64) {
    if left.iter().all(|&l| l == 0) {
        if runs.len() < 2 || shape == Shape::Open || runs[0] != runs[runs.len() - 1] {
            *best = (*best).min(cost_of(costs, runs, shape));
        }
        return;
    }
    for k in 0..left.len() {
        if left[k] > 0 && runs.last() != Some(&k) {
            left[k] -= 1;
            runs.push(k);
            enumerate(costs, left, runs, shape, best);
            runs.pop();
            left[k] += 1;
        }
    }
}

fn is_an_order(costs: &Costs, lots: &[u32], shape: Shape, order: &Order) {
    let mut counts = vec![0; lots.len()];
    order.runs.iter().for_each(|&k| counts[k] += 1);
    assert_eq!(counts, lots);
    assert!(order.runs.windows(2).all(|w| w[0] != w[1]));
    assert_eq!(cost_of(costs, &order.runs, shape), order.cost);
    assert!(order.bound <= order.cost);
}

#[test]
fn least_orders_are_least_by_enumeration() {
    let mut r = Random(23);
    let mut asked = 0;
    for round in 0..400 {
        #[allow(clippy::cast_possible_truncation)]
        let n = 1 + r.below(5) as usize;
        let costs = random(&mut r, n, 40);
        #[allow(clippy::cast_possible_truncation)]
        let lots: Vec<u32> = (0..n).map(|_| 1 + (r.below(5) == 0) as u32).collect();
        for shape in [Shape::Cyclic, Shape::Open] {
            let mut best = i64::MAX;
            enumerate(&costs, &mut lots.clone(), &mut Vec::new(), shape, &mut best);
            match within(10, |clock| least_order(&costs, &lots, shape, clock)) {
                Ok(order) => {
                    is_an_order(&costs, &lots, shape, &order);
                    assert_eq!((order.cost, order.bound), (best, best), "round {round}: {costs:?} {lots:?} {shape:?}");
                    asked += 1;
                }
                Err(_) => assert_eq!(best, i64::MAX, "round {round}: {lots:?} {shape:?}"),
            }
        }
    }
    assert!(asked > 500);
}

/// The way for large problems, on problems that the exact one solves too.
#[test]
fn the_bound_of_cuts_holds_and_the_tour_is_good() {
    let mut r = Random(31);
    let mut proven = 0;
    for round in 0..40 {
        #[allow(clippy::cast_possible_truncation)]
        let n = 4 + r.below(8) as usize;
        let most = if round % 2 == 0 { 10 } else { 1000 };
        let costs = random(&mut r, n, most);
        let lots: Vec<u32> = (0..n).map(|k| if k == 0 { 2 } else { 1 }).collect();
        for shape in [Shape::Cyclic, Shape::Open] {
            let (_, least) = exact::order(&costs, &lots, shape).unwrap();
            let nodes: Vec<usize> = (0..n).flat_map(|k| (0..lots[k]).map(move |_| k)).collect();
            let arcs = Arcs::new(&costs, &nodes, shape);
            let (tour, cost, bound) = within(20, |clock| large(&arcs, clock));
            assert_eq!(arcs.along(&tour), cost);
            assert!(bound <= least && least <= cost, "round {round}: {bound} {least} {cost}");
            assert!(cost < arcs.barred);
            proven += u32::from(bound == cost);
        }
    }
    assert!(proven >= 70, "{proven} of 80 proven");
}

#[test]
fn lots_that_cannot_be_apart_are_refused() {
    let costs = Costs::new(2, |_, _| 1);
    let ask = |lots: &[u32], shape| within(1, |clock| least_order(&costs, lots, shape, clock));
    assert_eq!(ask(&[3, 2], Shape::Cyclic), Err(Unorderable::TooManyLots(0, 2)));
    assert_eq!(ask(&[3, 2], Shape::Open).unwrap().runs, [0, 1, 0, 1, 0]);
    assert_eq!(ask(&[2, 4], Shape::Open), Err(Unorderable::TooManyLots(1, 3)));
    assert_eq!(ask(&[0, 1], Shape::Cyclic).unwrap().runs, [1]);
    assert_eq!(ask(&[0, 0], Shape::Open).unwrap().runs, [0usize; 0]);
    assert_eq!(ask(&[300, 300], Shape::Open), Err(Unorderable::TooManyRuns));
}
