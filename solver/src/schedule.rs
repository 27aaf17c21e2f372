//! The least finish time of tasks with precedence that share limited resources, exact by branch and bound.
//!
//! The resource-constrained project scheduling problem: resources are people and places here, machines in a job shop. A node
//! fixes who goes before whom; earliest and latest starts follow, and pairs that cannot run at once and have one order left
//! are fixed (immediate selection, Carlier and Pinson 1989). Where the earliest starts overload a resource, the search
//! branches over the orders of a least set that cannot run at once (Bartusch, Möhring and Radermacher 1988).

/// One piece of work, not interrupted once begun.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Task {
    /// How long it takes, in any whole unit.
    pub time: i64,
    /// (resource, how much of it) while it runs.
    pub uses: Vec<(usize, u32)>,
    /// Tasks that must be finished before.
    pub after: Vec<usize>,
}

/// Tasks and what they share.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Work {
    /// The tasks.
    pub tasks: Vec<Task>,
    /// How much there is of each resource.
    pub capacity: Vec<u32>,
}

/// Starts and finish.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// Start of each task.
    pub start: Vec<i64>,
    /// When the last task is finished.
    pub finish: i64,
    /// No schedule finishes sooner.
    pub bound: i64,
}

impl Schedule {
    /// Whether no schedule finishes sooner.
    #[must_use]
    pub fn proven(&self) -> bool {
        self.bound == self.finish
    }
}

/// Why work cannot be done at all.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unworkable {
    /// The task waits for itself, directly or through others, or for one that is not there.
    Circular(usize),
    /// The task uses more of a resource than there is.
    TooMuch(usize),
}

/// Nodes of a search that is to be exact for all that a cell has.
pub const MOST_NODES: u32 = 200_000;

/// The least finish time; after `most_nodes` the best so far, with the bound that is known.
///
/// # Errors
/// [`Unworkable`] when no schedule exists.
pub fn least_finish(work: &Work, most_nodes: u32) -> Result<Schedule, Unworkable> {
    let problem = Problem::new(work)?;
    if work.tasks.is_empty() {
        return Ok(Schedule { start: Vec::new(), finish: 0, bound: 0 });
    }
    let bound = problem.least();
    let mut search = Search { best: problem.listed(), problem: &problem, bound, nodes: most_nodes };
    if search.best.1 > bound {
        let node = Node { start: problem.heads.clone(), before: problem.before.clone() };
        search.branch(node);
    }
    let (start, finish) = search.best;
    let bound = if search.nodes > 0 { finish } else { bound };
    Ok(Schedule { start, finish, bound })
}

struct Problem<'a> {
    work: &'a Work,
    n: usize,
    order: Vec<usize>,
    /// `[i * n + j]`: i is finished before j begins.
    before: Vec<bool>,
    /// Pairs that cannot run at once.
    apart: Vec<bool>,
    /// Earliest starts by precedence alone.
    heads: Vec<i64>,
    /// Least time from the start of a task to the end of all.
    tails: Vec<i64>,
}

impl<'a> Problem<'a> {
    fn new(work: &'a Work) -> Result<Self, Unworkable> {
        let tasks = &work.tasks;
        let n = tasks.len();
        let needs = |i: usize, r: usize| -> u32 {
            tasks[i].uses.iter().filter(|u| u.0 == r).fold(0, |sum, u| sum.saturating_add(u.1))
        };
        let mut before = vec![false; n * n];
        for (j, task) in tasks.iter().enumerate() {
            if task.uses.iter().any(|&(r, _)| work.capacity.get(r).is_none_or(|&most| needs(j, r) > most)) {
                return Err(Unworkable::TooMuch(j));
            }
            for &i in &task.after {
                *before.get_mut(i * n + j).filter(|_| i < n).ok_or(Unworkable::Circular(j))? = true;
            }
        }
        let mut order = Vec::with_capacity(n);
        let mut placed = vec![false; n];
        while order.len() < n {
            let free = (0..n).find(|&j| !placed[j] && (0..n).all(|i| placed[i] || !before[i * n + j]));
            let Some(j) = free else {
                return Err(Unworkable::Circular(placed.iter().position(|p| !p).unwrap_or_default()));
            };
            placed[j] = true;
            order.push(j);
        }
        let (mut heads, mut tails) = (vec![0; n], vec![0; n]);
        for &j in &order {
            heads[j] = (0..n).filter(|i| before[i * n + j]).map(|i| heads[i] + tasks[i].time).max().unwrap_or(0);
        }
        for &i in order.iter().rev() {
            tails[i] = tasks[i].time + (0..n).filter(|j| before[i * n + j]).map(|j| tails[j]).max().unwrap_or(0);
        }
        let clash = |i: usize, j: usize| {
            tasks[i].uses.iter().any(|&(r, _)| needs(i, r).saturating_add(needs(j, r)) > work.capacity[r])
        };
        let apart = (0..n * n).map(|at| at / n != at % n && clash(at / n, at % n)).collect();
        Ok(Self { work, n, order, before, apart, heads, tails })
    }

    /// What precedence alone, and each resource alone, ask for.
    fn least(&self) -> i64 {
        let tasks = &self.work.tasks;
        let mut least = (0..self.n).map(|i| self.heads[i] + self.tails[i]).max().unwrap_or(0);
        for (r, &capacity) in self.work.capacity.iter().enumerate() {
            let users: Vec<usize> =
                (0..self.n).filter(|&i| tasks[i].uses.iter().any(|u| u.0 == r && u.1 > 0)).collect();
            let used = |i: usize| tasks[i].uses.iter().filter(|u| u.0 == r).map(|u| i64::from(u.1)).sum::<i64>();
            let effort: i64 = users.iter().map(|&i| used(i) * tasks[i].time).sum();
            let head = users.iter().map(|&i| self.heads[i]).min().unwrap_or(0);
            let tail = users.iter().map(|&i| self.tails[i] - tasks[i].time).min().unwrap_or(0);
            let capacity = i64::from(capacity.max(1));
            least = least.max(head + (effort + capacity - 1) / capacity + tail);
        }
        least
    }

    /// The best of some schedules made by lists: each task as early as it can, in the order of a rule.
    fn listed(&self) -> (Vec<i64>, i64) {
        let tasks = &self.work.tasks;
        let work_behind = |i: usize| -> i64 {
            (0..self.n).filter(|j| self.before[i * self.n + j]).map(|j| tasks[j].time).sum::<i64>() + tasks[i].time
        };
        let rules: [&dyn Fn(usize) -> i64; 5] =
            [&|i| -self.tails[i], &|i| -tasks[i].time, &|i| tasks[i].time, &|i| self.heads[i] - self.tails[i], &|i| {
                -work_behind(i)
            }];
        let mut best = (Vec::new(), i64::MAX);
        for rule in rules {
            let start = self.by_list(rule);
            let finish = (0..self.n).map(|i| start[i] + tasks[i].time).max().unwrap_or(0);
            if finish < best.1 {
                best = (start, finish);
            }
        }
        best
    }

    fn by_list(&self, rule: &dyn Fn(usize) -> i64) -> Vec<i64> {
        let tasks = &self.work.tasks;
        let mut start = vec![i64::MIN; self.n];
        for _ in 0..self.n {
            let ready = self.order.iter().copied().filter(|&j| {
                start[j] == i64::MIN && (0..self.n).all(|i| !self.before[i * self.n + j] || start[i] > i64::MIN)
            });
            let Some(j) = ready.min_by_key(|&j| (rule(j), j)) else { break };
            let earliest = (0..self.n)
                .filter(|i| self.before[i * self.n + j])
                .map(|i| start[i] + tasks[i].time)
                .max()
                .unwrap_or(0);
            // A task fits at the earliest moment, or when some other one ends.
            let mut moments: Vec<i64> = (0..self.n)
                .filter(|&i| start[i] > i64::MIN)
                .map(|i| start[i] + tasks[i].time)
                .filter(|&t| t > earliest)
                .collect();
            moments.push(earliest);
            moments.sort_unstable();
            start[j] = moments.into_iter().find(|&t| self.fits(&start, j, t)).unwrap_or(earliest);
        }
        start
    }

    /// Whether a task can run from `at` beside those that have a start.
    fn fits(&self, start: &[i64], j: usize, at: i64) -> bool {
        let tasks = &self.work.tasks;
        let end = at + tasks[j].time;
        let beside: Vec<usize> = (0..self.n)
            .filter(|&i| i != j && start[i] > i64::MIN && start[i] < end && start[i] + tasks[i].time > at)
            .collect();
        // Use only rises where a task begins.
        let rises = beside.iter().map(|&i| start[i].max(at)).chain([at]);
        rises.into_iter().all(|t| {
            let running = beside.iter().copied().filter(|&i| start[i] <= t && start[i] + tasks[i].time > t).chain([j]);
            self.overload(&running.collect::<Vec<_>>()).is_none()
        })
    }

    /// A resource of which these use more than there is.
    fn overload(&self, running: &[usize]) -> Option<usize> {
        (0..self.work.capacity.len()).find(|&r| {
            let uses = running.iter().flat_map(|&i| &self.work.tasks[i].uses).filter(|u| u.0 == r);
            uses.map(|u| u64::from(u.1)).sum::<u64>() > u64::from(self.work.capacity[r])
        })
    }
}

#[derive(Clone)]
struct Node {
    start: Vec<i64>,
    before: Vec<bool>,
}

struct Search<'a> {
    problem: &'a Problem<'a>,
    best: (Vec<i64>, i64),
    bound: i64,
    nodes: u32,
}

impl Search<'_> {
    fn branch(&mut self, mut node: Node) {
        if self.nodes == 0 || self.best.1 <= self.bound {
            return;
        }
        self.nodes -= 1;
        let Some(latest) = self.narrow(&mut node) else { return };
        let (problem, tasks, n) = (self.problem, &self.problem.work.tasks, self.problem.n);
        let Some(clash) = self.clash(&node) else {
            let finish = (0..n).map(|i| node.start[i] + tasks[i].time).max().unwrap_or(0);
            if finish < self.best.1 {
                self.best = (node.start, finish);
            }
            return;
        };
        // Of the orders that resolve it, the one that leaves most room first.
        let mut ways: Vec<(i64, usize, usize)> = Vec::new();
        for &i in &clash {
            for &j in clash.iter().filter(|&&j| j != i) {
                let room = latest[j] - node.start[i] - tasks[i].time;
                if room >= 0 && !node.before[j * n + i] {
                    ways.push((-room, i, j));
                }
            }
        }
        ways.sort_unstable();
        for (_, i, j) in ways {
            let mut next = node.clone();
            next.before[i * problem.n + j] = true;
            self.branch(next);
        }
    }

    /// Earliest and latest starts for a finish sooner than the best, and the orders that they force; none when there is none.
    fn narrow(&self, node: &mut Node) -> Option<Vec<i64>> {
        let (tasks, n) = (&self.problem.work.tasks, self.problem.n);
        let end = self.best.1 - 1;
        let mut latest: Vec<i64> = (0..n).map(|i| end - self.problem.tails[i]).collect();
        loop {
            let mut changed = true;
            while changed {
                changed = false;
                for i in 0..n {
                    for j in (0..n).filter(|j| node.before[i * n + j]) {
                        let ready = node.start[i] + tasks[i].time;
                        if ready > node.start[j] {
                            node.start[j] = ready;
                            changed = true;
                        }
                        let must = latest[j] - tasks[i].time;
                        if must < latest[i] {
                            latest[i] = must;
                            changed = true;
                        }
                    }
                    if node.start[i] > latest[i] {
                        return None;
                    }
                }
            }
            let mut fixed = false;
            for i in 0..n {
                for j in i + 1..n {
                    if !self.problem.apart[i * n + j] || node.before[i * n + j] || node.before[j * n + i] {
                        continue;
                    }
                    let first = node.start[i] + tasks[i].time <= latest[j];
                    let second = node.start[j] + tasks[j].time <= latest[i];
                    match (first, second) {
                        (false, false) => return None,
                        (true, true) => {}
                        (first, _) => {
                            let (a, b) = if first { (i, j) } else { (j, i) };
                            node.before[a * n + b] = true;
                            fixed = true;
                        }
                    }
                }
            }
            if !fixed {
                return Some(latest);
            }
        }
    }

    /// At the first moment at which the earliest starts overload a resource, a least set that cannot run at once: a pair
    /// where there is one.
    fn clash(&self, node: &Node) -> Option<Vec<usize>> {
        let (tasks, n) = (&self.problem.work.tasks, self.problem.n);
        let mut moments: Vec<i64> = node.start.clone();
        moments.sort_unstable();
        moments.dedup();
        for t in moments {
            let running: Vec<usize> =
                (0..n).filter(|&i| node.start[i] <= t && node.start[i] + tasks[i].time > t).collect();
            if self.problem.overload(&running).is_none() {
                continue;
            }
            for (at, &i) in running.iter().enumerate() {
                if let Some(&j) = running[at + 1..].iter().find(|&&j| self.problem.apart[i * n + j]) {
                    return Some(vec![i, j]);
                }
            }
            let mut least = running;
            let mut at = 0;
            while at < least.len() {
                let mut fewer = least.clone();
                fewer.remove(at);
                if self.problem.overload(&fewer).is_some() {
                    least = fewer;
                } else {
                    at += 1;
                }
            }
            return Some(least);
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sim::tests::Random;

    fn holds(work: &Work, schedule: &Schedule) {
        let n = work.tasks.len();
        let end = |i: usize| schedule.start[i] + work.tasks[i].time;
        for (j, task) in work.tasks.iter().enumerate() {
            assert!(task.after.iter().all(|&i| end(i) <= schedule.start[j]));
        }
        for t in &schedule.start {
            for (r, &most) in work.capacity.iter().enumerate() {
                let running = (0..n).filter(|&i| schedule.start[i] <= *t && end(i) > *t);
                let used: u32 = running.flat_map(|i| &work.tasks[i].uses).filter(|u| u.0 == r).map(|u| u.1).sum();
                assert!(used <= most);
            }
        }
        assert_eq!(schedule.finish, (0..n).map(end).max().unwrap_or(0));
    }

    /// Job shop 6 x 6 of Fisher and Thompson, in Muth and Thompson (eds.), *Industrial Scheduling*, 1963: optimum 55.
    /// (machine, time) by job; the table from memory.
    #[test]
    fn fisher_and_thompson_six_by_six() {
        let jobs = [
            [(2, 1), (0, 3), (1, 6), (3, 7), (5, 3), (4, 6)],
            [(1, 8), (2, 5), (4, 10), (5, 10), (0, 10), (3, 4)],
            [(2, 5), (3, 4), (5, 8), (0, 9), (1, 1), (4, 7)],
            [(1, 5), (0, 5), (2, 5), (3, 3), (4, 8), (5, 9)],
            [(2, 9), (1, 3), (4, 5), (5, 4), (0, 3), (3, 1)],
            [(1, 3), (3, 3), (5, 9), (0, 10), (4, 4), (2, 1)],
        ];
        let mut work = Work { tasks: Vec::new(), capacity: vec![1; 6] };
        for job in jobs {
            for (step, (machine, time)) in job.into_iter().enumerate() {
                let after = if step == 0 { Vec::new() } else { vec![work.tasks.len() - 1] };
                work.tasks.push(Task { time, uses: vec![(machine, 1)], after });
            }
        }
        let schedule = least_finish(&work, MOST_NODES).unwrap();
        holds(&work, &schedule);
        assert!(schedule.proven());
        assert_eq!(schedule.finish, 55);
    }

    /// Every order of starting each task as early as it can holds a least schedule (active schedules).
    fn by_enumeration(problem: &Problem<'_>, start: &mut Vec<i64>, best: &mut i64) {
        let tasks = &problem.work.tasks;
        let left: Vec<usize> = (0..problem.n).filter(|&i| start[i] == i64::MIN).collect();
        if left.is_empty() {
            *best = (*best).min((0..problem.n).map(|i| start[i] + tasks[i].time).max().unwrap());
        }
        for j in left {
            if tasks[j].after.iter().any(|&i| start[i] == i64::MIN) {
                continue;
            }
            let mut t = tasks[j].after.iter().map(|&i| start[i] + tasks[i].time).max().unwrap_or(0);
            while !problem.fits(start, j, t) {
                t += 1;
            }
            start[j] = t;
            by_enumeration(problem, start, best);
            start[j] = i64::MIN;
        }
    }

    #[test]
    fn least_is_least_by_enumeration() {
        let mut r = Random(11);
        let mut longer_than_bound = 0;
        for round in 0..300 {
            #[allow(clippy::cast_possible_truncation, clippy::cast_possible_wrap)]
            let mut below = |n: u64| r.below(n) as i64;
            let capacity = vec![u32::try_from(1 + below(3)).unwrap(), 1];
            let n = usize::try_from(2 + below(5)).unwrap();
            let mut work = Work { tasks: Vec::new(), capacity };
            for j in 0..n {
                let people = u32::try_from(1 + below(i64::from(work.capacity[0]).unsigned_abs())).unwrap();
                let mut uses = vec![(0, people)];
                if below(3) == 0 {
                    uses.push((1, 1));
                }
                let after = (0..j).filter(|_| below(4) == 0).collect();
                work.tasks.push(Task { time: below(9), uses, after });
            }
            let schedule = least_finish(&work, MOST_NODES).unwrap();
            holds(&work, &schedule);
            let problem = Problem::new(&work).unwrap();
            let mut best = i64::MAX;
            by_enumeration(&problem, &mut vec![i64::MIN; n], &mut best);
            assert_eq!((schedule.finish, schedule.proven()), (best, true), "round {round}: {work:?}");
            longer_than_bound += u32::from(problem.least() < best);
        }
        assert!(longer_than_bound > 10, "the bound alone decided nearly all");
    }

    #[test]
    fn what_cannot_be_done_is_said() {
        let task = |people, after| Task { time: 1, uses: vec![(0, people)], after };
        let work = |tasks| Work { tasks, capacity: vec![2] };
        let circle = work(vec![task(1, vec![1]), task(1, vec![0])]);
        assert!(matches!(least_finish(&circle, 10), Err(Unworkable::Circular(_))));
        let crowd = work(vec![task(1, vec![]), task(3, vec![])]);
        assert_eq!(least_finish(&crowd, 10), Err(Unworkable::TooMuch(1)));
        assert_eq!(least_finish(&work(vec![]), 10).unwrap().finish, 0);
    }
}
