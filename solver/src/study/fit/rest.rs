//! Time to drive the track that the lowest lengths of a node leave over.

use super::{Fit, Node};
use crate::ring::Ring;
use crate::units::{Metres, Micros};

/// Sections that can grow by less are not looked at closely, m.
const SHORT: f64 = 1e-6;

/// SKUs that missed last, for each of which one order is tried.
const SOONEST_ORDERS: usize = 2;

impl Fit<'_, '_> {
    /// Least time that SKU `k` takes to drive what the lowest lengths leave over, whichever sections take it, when these are
    /// its lags at the lowest lengths, with this share of the acceleration.
    ///
    /// Up to full speed each further metre takes less time than the one before, so that no part of a section's growth is
    /// driven at less than the mean pace of all of it. A least time of a section may hide its growth.
    pub(super) fn rest_time(&self, low: &[f64], high: &[f64], lags: &[f64], (k, share): (usize, f64)) -> f64 {
        let mut rest = self.total - low.iter().sum::<f64>();
        if rest <= 0.0 {
            return 0.0;
        }
        let mut time = 0.0;
        for (pace, i) in self.paces(low, lags, (k, share)) {
            let taken = (high[i] - low[i]).clamp(0.0, rest);
            time += pace * taken;
            rest -= taken;
        }
        time
    }

    /// Least time for each metre that a section grows, and the section; what takes least comes first.
    fn paces(&self, low: &[f64], lags: &[f64], (k, share): (usize, f64)) -> Vec<(f64, usize)> {
        // Ramps that are less steep end further on, and there too the last of them takes less than at full speed.
        let limits = self.space.cell.rides()[k].limits_at(share);
        let full = 1.0 / limits.speed.m_s();
        let sections = &self.space.cell.parts().sections;
        let pace = |(i, &far): (usize, &f64)| {
            let grows = self.high[i] - low[i];
            if sections[i].min_time.s() > 0.0 && lags[i] <= sections[i].min_time.s() {
                (0.0, i)
            } else if grows > SHORT && far - lags[i] > full * grows {
                ((far - lags[i]) / grows, i)
            } else {
                (limits.least_pace(Metres::from_m(low[i] + self.chosen[i].skus[k].tail.m())), i)
            }
        };
        let mut paces: Vec<(f64, usize)> = self.far(k).iter().enumerate().map(pace).collect();
        paces.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        paces
    }

    /// Orders in which sections take the track that is left over so that the SKUs that missed last drive it soonest.
    pub(super) fn soonest_orders(&self, node: &Node) -> Vec<Vec<usize>> {
        let pace = self.pace(node.share.1);
        let of = |k: usize| {
            let lags = self.lags(&node.low, k, &pace);
            self.paces(&node.low, &lags, (k, pace.share)).into_iter().map(|(_, i)| i).collect()
        };
        self.skus().into_iter().take(SOONEST_ORDERS).map(of).collect()
    }

    /// Lags of SKU `k` at the largest lengths of any sharing.
    fn far(&self, k: usize) -> &[f64] {
        self.far_lags[k].get_or_init(|| self.lags(&self.high, k, &self.pace(1.0)))
    }

    /// A ring at the lowest lengths when what is left over takes `rest` seconds to drive, in whichever section; none when it
    /// takes no time to speak of.
    ///
    /// Waits that go round the loop take that much longer, whoever has the track; waits within a part of it need not. So one
    /// section's drive takes it on, and its slots are free so much earlier, which takes it off again for whatever does not go
    /// round. (Waits that go round backwards lose it: they are looked at more kindly than need be.)
    pub(super) fn driving(ring: &Ring, rest: f64) -> Option<Ring> {
        // Times are rounded to microseconds, section by section.
        let rest = Micros::nearest_s(rest).us() - 2 * i64::try_from(ring.sections.len()).unwrap_or(0);
        if rest <= 0 {
            return None;
        }
        let mut longer = ring.clone();
        let (drive, slots) = (&mut longer.sections[0].lag, &mut longer.stations[ring.next(0)].move_in);
        (*drive, *slots) = (Micros::from_us(drive.us() + rest), Micros::from_us(slots.us() - rest));
        Some(longer)
    }
}
