//! Sides, frames that must not overlap (model sections 2 and 5), infeed and discharge (9d).

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::openings::{Hand, Opening, Openings, Spot};
use crate::plan::{Numbers, Plan, Straight};
use crate::track::{CellSide, Side};

const TOLERANCE_M: f64 = 1e-6;

pub(super) fn verdict(cell: &Cell, plan: &Plan, numbers: &Numbers) -> Vec<Breach> {
    let stations = &cell.parts().stations;
    let word = |side: Side| if side == Side::Front { "front" } else { "back" };
    let mut found = Vec::new();
    for (station, placed) in stations.iter().zip(&plan.stations) {
        if let Some(side) = station.side
            && side != placed.stands
        {
            found.push(breach(
                Rule::Stands,
                format!(
                    "station {}: stands at the {}, must stand at the {}",
                    station.id,
                    word(placed.stands),
                    word(side)
                ),
            ));
        }
        let outward = match placed.straight {
            Straight::Front => Some(Side::Front),
            Straight::Back => Some(Side::Back),
            Straight::Top => None,
        };
        if outward.is_some_and(|side| side != placed.stands) {
            found.push(breach(
                Rule::Stands,
                format!(
                    "station {}: on a flat loop its depth is taken outward, on its own straight's side",
                    station.id
                ),
            ));
        }
    }
    let spots = plan.spots();
    let ids: Vec<&str> = stations.iter().map(|s| s.id.as_str()).collect();
    found.extend(closed(&cell.parts().openings, &spots, plan.hand(cell), &ids));
    // Floor along the track, centred on the zone.
    let frame = |i: usize| {
        let zone = numbers.options[i].zone.m();
        let length = stations[i].frame.map_or(zone, |f| f.m());
        let centre = plan.stations[i].start.m() + zone / 2.0;
        (centre - length / 2.0, centre + length / 2.0)
    };
    for i in 0..stations.len() {
        for j in 0..i {
            let (a, b) = (&plan.stations[i], &plan.stations[j]);
            if a.straight != b.straight || a.stands != b.stands {
                continue;
            }
            let (one, two) = (frame(i), frame(j));
            let overlap = one.1.min(two.1) - one.0.max(two.0);
            if overlap > TOLERANCE_M {
                found.push(breach(
                    Rule::Stands,
                    format!(
                        "stations {} and {}: their frames overlap by {:.1} mm",
                        stations[j].id,
                        stations[i].id,
                        overlap * 1e3
                    ),
                ));
            }
        }
    }
    found
}

/// What of infeed and discharge is not open as asked, with this hand.
fn closed(asked: &Openings, spots: &[Spot], hand: Hand, ids: &[&str]) -> Vec<Breach> {
    let way = |hand| if hand == Hand::LeftToRight { "left to right" } else { "right to left" };
    let mut found = Vec::new();
    if asked.hand.is_some_and(|asked| asked != hand) {
        found.push(breach(Rule::Stands, format!("carriers travel {} along the front", way(hand))));
    }
    let each = [("infeed", asked.infeed), ("discharge", asked.discharge)];
    let closed = |o: &Opening| !o.is_free(spots, hand);
    for (what, opening) in each.into_iter().filter_map(|(what, o)| o.filter(closed).map(|o| (what, o))) {
        let id = ids.get(opening.station).copied().unwrap_or_default();
        let why = match opening.side {
            CellSide::Front => "does not stand at the front".to_owned(),
            CellSide::Back => "does not stand at the back".to_owned(),
            CellSide::Left | CellSide::Right => {
                let end = if opening.side == CellSide::Left { "left" } else { "right" };
                format!("is not the outermost of its side at the {end} end, with travel {} along the front", way(hand))
            }
        };
        found.push(breach(Rule::Stands, format!("{what}: station {id} {why}")));
    }
    found
}

/// Least length of the section between two neighbours on the same straight and side, by their frames.
#[must_use]
pub(crate) fn frames_apart(up: (Option<f64>, f64), down: (Option<f64>, f64)) -> f64 {
    let beyond = |(frame, zone): (Option<f64>, f64)| frame.map_or(0.0, |f| (f - zone) / 2.0);
    (beyond(up) + beyond(down)).max(0.0)
}
