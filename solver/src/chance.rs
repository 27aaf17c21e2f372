//! Chance: numbers drawn by counter, named distributions, and how a station behaves on a bad day.
//!
//! A draw is a function of (seed, replication, station, purpose, number of the draw) and of nothing else, so that two
//! variants of a cell meet the same luck (common random numbers), on any number of threads.

/// SplitMix64's increment (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014).
const GOLDEN: u64 = 0x9e37_79b9_7f4a_7c15;

/// SplitMix64's output function, from the same paper.
const fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// What a stream of numbers is for; no two purposes share a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// Length of a batch's work.
    Work,
    /// Time until a failure.
    FailureAfter,
    /// Repair of a failure.
    FailureFor,
    /// Time until a short stop.
    ShortStopAfter,
    /// Length of a short stop.
    ShortStopFor,
    /// Gap in what is fed to the station.
    Gap,
    /// Time until the feed stops.
    OutageAfter,
    /// How long it then stops.
    OutageFor,
}

/// One stream of numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stream(u64);

impl Stream {
    /// The stream of one purpose at one station in one replication.
    #[must_use]
    pub const fn new(seed: u64, replication: u32, station: usize, purpose: Purpose) -> Self {
        let of_run = mix(mix(seed).wrapping_add((replication as u64 + 1).wrapping_mul(GOLDEN)));
        let of_station = mix(of_run.wrapping_add((station as u64 + 1).wrapping_mul(GOLDEN)));
        Self(mix(of_station.wrapping_add((purpose as u64 + 1).wrapping_mul(GOLDEN))))
    }

    /// Draw number `n`.
    #[must_use]
    pub const fn draw(self, n: u64) -> Draw {
        Draw(self.0.wrapping_add(n.wrapping_add(1).wrapping_mul(GOLDEN)))
    }
}

/// One draw; a distribution may ask it for several numbers.
#[derive(Clone, Copy, Debug)]
pub struct Draw(u64);

impl Draw {
    /// Above 0 and at most 1.
    #[allow(clippy::cast_precision_loss)]
    fn uniform(&mut self) -> f64 {
        let bits = mix(self.0);
        self.0 = self.0.wrapping_add(mix(GOLDEN));
        ((bits >> 11) + 1) as f64 / (1_u64 << 53) as f64
    }

    /// Mean 0, standard deviation 1 (Box and Muller 1958).
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }

    /// Gamma of this shape, scale 1 (Marsaglia and Tsang, ACM TOMS 26, 2000).
    fn gamma(&mut self, shape: f64) -> f64 {
        if shape < 1.0 {
            let boost = self.uniform().powf(1.0 / shape);
            return self.gamma(shape + 1.0) * boost;
        }
        let d = shape - 1.0 / 3.0;
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let x = self.normal();
            let v = (1.0 + c * x).powi(3);
            if v > 0.0 && self.uniform().ln() < 0.5 * x * x + d - d * v + d * v.ln() {
                return d * v;
            }
        }
    }
}

/// A distribution of times, as a factor with mean 1.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Law {
    /// Always the mean.
    #[default]
    Constant,
    /// Exponential.
    Exponential,
    /// Uniform with this coefficient of variation, at most 1/sqrt(3).
    Uniform(f64),
    /// Symmetric triangle with this coefficient of variation, at most 1/sqrt(6).
    Triangular(f64),
    /// Gamma with this coefficient of variation (Erlang where it is one over the root of a whole number).
    Gamma(f64),
    /// Lognormal with this coefficient of variation.
    Lognormal(f64),
    /// Whole steps until a trial succeeds; the mean is so many steps.
    Geometric(f64),
}

impl Law {
    /// The factor of one draw: mean 1, never negative.
    #[must_use]
    pub fn factor(self, mut draw: Draw) -> f64 {
        match self {
            Self::Constant => 1.0,
            Self::Exponential => -draw.uniform().ln(),
            Self::Uniform(cv) => (1.0 + cv * 3_f64.sqrt() * (2.0 * draw.uniform() - 1.0)).max(0.0),
            Self::Triangular(cv) => (1.0 + cv * 6_f64.sqrt() * (draw.uniform() + draw.uniform() - 1.0)).max(0.0),
            Self::Gamma(cv) if cv > 0.0 => draw.gamma(1.0 / (cv * cv)) * cv * cv,
            Self::Gamma(_) => 1.0,
            Self::Lognormal(cv) => {
                let variance = (cv * cv).ln_1p();
                (variance.sqrt() * draw.normal() - variance / 2.0).exp()
            }
            Self::Geometric(mean) if mean > 1.0 => (draw.uniform().ln() / (-1.0 / mean).ln_1p()).ceil().max(1.0) / mean,
            Self::Geometric(_) => 1.0,
        }
    }

    /// Largest coefficient of variation that the distribution can have; none without a bound.
    #[must_use]
    pub fn most_variation(self) -> Option<f64> {
        match self {
            Self::Uniform(_) => Some(1.0 / 3_f64.sqrt()),
            Self::Triangular(_) => Some(1.0 / 6_f64.sqrt()),
            _ => None,
        }
    }
}

/// Which time brings a station nearer to its next stop.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Counts {
    /// Time at work.
    #[default]
    Operation,
    /// All time, also while it waits.
    Calendar,
}

/// How often something stops, and for how long.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stops {
    /// Mean time until it stops, in seconds.
    pub between_s: f64,
    /// Its distribution.
    pub between: Law,
    /// Mean time that it stands, in seconds.
    pub repair_s: f64,
    /// Its distribution.
    pub repair: Law,
    /// Which time counts.
    pub counts: Counts,
}

impl Stops {
    /// Share of time that it runs when nothing else holds it up: 1 / (1 + repair / between).
    #[must_use]
    pub fn availability(&self) -> f64 {
        1.0 / (1.0 + self.repair_s / self.between_s)
    }
}

/// What is fed to a station from outside: product, blanks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Supply {
    /// Mean rate while it comes, over the net rate.
    pub over_net_rate: f64,
    /// Distribution of the gaps.
    pub gap: Law,
    /// How often the feed stops.
    pub outages: Option<Stops>,
    /// At times it comes faster.
    pub surge: Option<Surge>,
    /// How many carriers' worth can wait before the station; when they do, the feed is held.
    pub room: u32,
}

/// A feed that comes faster at times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surge {
    /// So many times faster.
    pub factor: f64,
    /// From one surge's start to the next, in seconds.
    pub every_s: f64,
    /// How long one lasts, in seconds.
    pub for_s: f64,
}

/// How a station behaves on a bad day. Nothing of it enters the plan's exact rate.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Behaviour {
    /// Distribution of the time that the work takes.
    pub work: Law,
    /// Failures.
    pub failures: Option<Stops>,
    /// Short stops.
    pub short_stops: Option<Stops>,
    /// What is fed to it.
    pub supply: Option<Supply>,
}

impl Behaviour {
    /// Share of time that it is able to work: one over one and all its stops' repair / between.
    #[must_use]
    pub fn availability(&self) -> f64 {
        1.0 / (1.0 + self.lost())
    }

    /// Time stood still for each unit of time at work.
    #[must_use]
    pub fn lost(&self) -> f64 {
        [self.failures, self.short_stops].iter().flatten().map(|s| s.repair_s / s.between_s).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The generator's published first numbers for the seed 1234567 (from memory; the reference program prints them).
    #[test]
    fn the_generator_is_the_published_one() {
        let mut state = 1_234_567_u64;
        let first: Vec<u64> = (0..3)
            .map(|_| {
                state = state.wrapping_add(GOLDEN);
                mix(state)
            })
            .collect();
        assert_eq!(first, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[allow(clippy::cast_precision_loss)]
    fn moments(law: Law, seed: u64) -> (f64, f64) {
        const DRAWS: u64 = 200_000;
        let stream = Stream::new(seed, 3, 2, Purpose::Work);
        let (mut sum, mut squares) = (0.0, 0.0);
        for n in 0..DRAWS {
            let x = law.factor(stream.draw(n));
            assert!(x >= 0.0 && x.is_finite(), "{law:?}: {x}");
            sum += x;
            squares += x * x;
        }
        let mean = sum / DRAWS as f64;
        (mean, (squares / DRAWS as f64 - mean * mean).sqrt())
    }

    /// Mean 1 and the coefficient of variation that was asked, within six standard errors or two per cent.
    #[test]
    fn distributions_have_their_mean_and_spread() {
        let laws = [
            (Law::Constant, 0.0),
            (Law::Exponential, 1.0),
            (Law::Uniform(0.3), 0.3),
            (Law::Triangular(0.2), 0.2),
            (Law::Gamma(0.5), 0.5),
            (Law::Gamma(1.5), 1.5),
            (Law::Lognormal(0.4), 0.4),
            (Law::Geometric(4.0), 0.75_f64.sqrt()),
        ];
        for (law, cv) in laws {
            let (mean, deviation) = moments(law, 17);
            assert!((mean - 1.0).abs() <= 6.0 * cv / 200_000_f64.sqrt() + 1e-12, "{law:?}: mean {mean}");
            assert!((deviation - cv).abs() <= 0.02 * cv + 1e-9, "{law:?}: deviation {deviation}, asked {cv}");
        }
    }

    /// Streams that differ in one part of their key have nothing to do with each other.
    #[test]
    #[allow(clippy::cast_precision_loss)]
    fn streams_are_independent() {
        let base = Stream::new(1, 1, 1, Purpose::Work);
        let others = [
            Stream::new(2, 1, 1, Purpose::Work),
            Stream::new(1, 2, 1, Purpose::Work),
            Stream::new(1, 1, 2, Purpose::Work),
            Stream::new(1, 1, 1, Purpose::Gap),
        ];
        const DRAWS: u64 = 100_000;
        for other in others {
            let mut product = 0.0;
            for n in 0..DRAWS {
                product += (base.draw(n).uniform() - 0.5) * (other.draw(n).uniform() - 0.5);
            }
            // The product of two independent ones has deviation 1/12.
            assert!((product / DRAWS as f64).abs() < 5.0 / 12.0 / (DRAWS as f64).sqrt());
        }
    }
}
