//! Rows in, values out: the only file that names a solver library.
//!
//! Every variable has finite bounds, every coefficient is finite, and an answer says whether it is proven: the library
//! would call a program with an unbounded integer, or with a coefficient that is no number, optimal.

use good_lp::{
    Expression, ProblemVariables, ResolutionError, Solution, SolverModel, Variable, WithTimeLimit, constraint, microlp,
    solvers::SolutionStatus, variable,
};
use std::time::{Duration, Instant};

/// Time limits beyond this are cut to it (a year).
const MOST_SECONDS: f64 = 3.2e7;

/// A variable.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Column {
    /// Least value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
    /// Whole numbers only.
    pub whole: bool,
    /// Weight in the objective, which is minimised.
    pub cost: f64,
}

/// `low <= sum <= high`; an infinite side is no limit.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// (column, coefficient).
    pub terms: Vec<(usize, f64)>,
    /// Least value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
}

/// A mixed-integer linear program to be minimised.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Program {
    /// Variables.
    pub columns: Vec<Column>,
    /// Constraints.
    pub rows: Vec<Row>,
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub enum Answer {
    /// Proven least.
    Optimal {
        /// Objective.
        value: f64,
        /// By column.
        values: Vec<f64>,
    },
    /// Proven to have no solution.
    Infeasible,
    /// Time ran out, or the library failed: nothing is proven.
    Unknown,
}

impl Program {
    /// Adds a column and gives its index.
    pub fn column(&mut self, low: f64, high: f64, whole: bool, cost: f64) -> usize {
        self.columns.push(Column { low, high, whole, cost });
        self.columns.len() - 1
    }

    /// Adds a row.
    pub fn row(&mut self, terms: Vec<(usize, f64)>, low: f64, high: f64) {
        self.rows.push(Row { terms, low, high });
    }

    /// Whether every number is one that the library treats right.
    #[must_use]
    pub fn sound(&self) -> bool {
        self.columns.iter().all(|c| c.low.is_finite() && c.high.is_finite() && c.cost.is_finite())
            && self.rows.iter().all(|r| {
                !r.low.is_nan()
                    && !r.high.is_nan()
                    && r.terms.iter().all(|t| t.1.is_finite() && t.0 < self.columns.len())
            })
    }

    /// Solves it within `seconds`.
    #[must_use]
    pub fn solve(&self, seconds: f64) -> Answer {
        if !self.sound() || seconds <= 0.0 {
            return Answer::Unknown;
        }
        if self.columns.iter().any(|c| c.low > c.high) {
            return Answer::Infeasible;
        }
        let end = Instant::now() + Duration::from_secs_f64(seconds.min(MOST_SECONDS));
        // The library's factorisation fails on about one program in two thousand ("singular matrix"). The same program with
        // its columns the other way round starts from another basis.
        for reversed in [false, true] {
            let left = end.saturating_duration_since(Instant::now()).as_secs_f64();
            if left <= 0.0 {
                break;
            }
            if let Some(answer) = self.solve_once(left, reversed) {
                return answer;
            }
        }
        Answer::Unknown
    }

    /// None when the library failed.
    fn solve_once(&self, seconds: f64, reversed: bool) -> Option<Answer> {
        let mut variables = ProblemVariables::new();
        let mut add = |c: &Column| {
            let v = variable().min(c.low).max(c.high);
            variables.add(if c.whole { v.integer() } else { v })
        };
        let handles: Vec<Variable> = if reversed {
            let mut handles: Vec<Variable> = self.columns.iter().rev().map(&mut add).collect();
            handles.reverse();
            handles
        } else {
            self.columns.iter().map(&mut add).collect()
        };
        let objective: Expression =
            self.columns.iter().zip(&handles).filter(|(c, _)| c.cost != 0.0).map(|(c, &v)| c.cost * v).sum();
        let mut model = variables.minimise(objective).using(microlp).with_time_limit(seconds);
        for row in &self.rows {
            let sum = || -> Expression { row.terms.iter().map(|&(i, a)| a * handles[i]).sum() };
            #[allow(clippy::float_cmp)]
            if row.low == row.high {
                model = model.with(constraint!(sum() == row.low));
            } else {
                if row.low.is_finite() {
                    model = model.with(constraint!(sum() >= row.low));
                }
                if row.high.is_finite() {
                    model = model.with(constraint!(sum() <= row.high));
                }
            }
        }
        match model.solve() {
            Ok(solution) if matches!(solution.status(), SolutionStatus::Optimal) => {
                let values: Vec<f64> = handles.iter().map(|&v| solution.value(v)).collect();
                let value = self.columns.iter().zip(&values).map(|(c, x)| c.cost * x).sum();
                Some(Answer::Optimal { value, values })
            }
            Ok(_) => Some(Answer::Unknown),
            Err(ResolutionError::Infeasible) => Some(Answer::Infeasible),
            Err(error) => {
                tracing::debug!(%error, reversed, "the library failed");
                None
            }
        }
    }

    /// The program in the plain-text LP format that mixed-integer solvers read, for checks by another one.
    #[must_use]
    pub fn to_lp_text(&self) -> String {
        use std::fmt::Write as _;
        let sum = |terms: &[(usize, f64)]| {
            terms.iter().fold(String::new(), |mut text, &(i, a)| {
                let _ = write!(text, " {} {:e} x{i}", if a < 0.0 { "-" } else { "+" }, a.abs());
                text
            })
        };
        let costs: Vec<(usize, f64)> =
            self.columns.iter().enumerate().filter(|(_, c)| c.cost != 0.0).map(|(i, c)| (i, c.cost)).collect();
        let mut text =
            format!("minimize\n obj:{}\nsubject to\n", if costs.is_empty() { " 0 x0".into() } else { sum(&costs) });
        for (i, row) in self.rows.iter().enumerate() {
            #[allow(clippy::float_cmp)]
            if row.low == row.high {
                let _ = writeln!(text, " r{i}:{} = {:e}", sum(&row.terms), row.low);
            } else {
                if row.low.is_finite() {
                    let _ = writeln!(text, " r{i}l:{} >= {:e}", sum(&row.terms), row.low);
                }
                if row.high.is_finite() {
                    let _ = writeln!(text, " r{i}h:{} <= {:e}", sum(&row.terms), row.high);
                }
            }
        }
        text.push_str("bounds\n");
        for (i, c) in self.columns.iter().enumerate() {
            let _ = writeln!(text, " {:e} <= x{i} <= {:e}", c.low, c.high);
        }
        text.push_str("general\n");
        for (i, _) in self.columns.iter().enumerate().filter(|(_, c)| c.whole) {
            let _ = writeln!(text, " x{i}");
        }
        text.push_str("end\n");
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Wyndor: Hillier & Lieberman, *Introduction to Operations Research* (from memory): max 3x + 5y, x <= 4, 2y <= 12,
    /// 3x + 2y <= 18 gives 36 at (2, 6).
    #[test]
    fn wyndor() {
        let mut p = Program::default();
        let x = p.column(0.0, 100.0, false, -3.0);
        let y = p.column(0.0, 100.0, false, -5.0);
        p.row(vec![(x, 1.0)], f64::NEG_INFINITY, 4.0);
        p.row(vec![(y, 2.0)], f64::NEG_INFINITY, 12.0);
        p.row(vec![(x, 3.0), (y, 2.0)], f64::NEG_INFINITY, 18.0);
        let Answer::Optimal { value, values } = p.solve(5.0) else { panic!("no optimum") };
        assert!((value + 36.0).abs() < 1e-9 && (values[x] - 2.0).abs() < 1e-9 && (values[y] - 6.0).abs() < 1e-9);
    }

    /// 0-1 knapsack P01 of a public collection (from memory): 309.
    #[test]
    fn knapsack() {
        let weights = [23.0, 31.0, 29.0, 44.0, 53.0, 38.0, 63.0, 85.0, 89.0, 82.0];
        let profits = [92.0, 57.0, 49.0, 68.0, 60.0, 43.0, 67.0, 84.0, 87.0, 72.0];
        let mut p = Program::default();
        let terms: Vec<(usize, f64)> =
            weights.iter().zip(profits).map(|(&w, v)| (p.column(0.0, 1.0, true, -v), w)).collect();
        p.row(terms, f64::NEG_INFINITY, 165.0);
        let Answer::Optimal { value, .. } = p.solve(5.0) else { panic!("no optimum") };
        assert!((value + 309.0).abs() < 1e-6);
    }

    #[test]
    fn what_the_library_would_miscall_is_refused() {
        let mut p = Program::default();
        let x = p.column(0.0, f64::INFINITY, true, 1.0);
        assert_eq!(p.solve(1.0), Answer::Unknown);
        p.columns[x].high = 4.0;
        p.row(vec![(x, f64::NAN)], 1.0, 2.0);
        assert_eq!(p.solve(1.0), Answer::Unknown);
        p.rows[0].terms[0].1 = 1.0;
        p.rows[0].low = 5.0;
        p.rows[0].high = 6.0;
        assert_eq!(p.solve(1.0), Answer::Infeasible);
    }
}
