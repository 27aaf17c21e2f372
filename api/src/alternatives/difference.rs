//! Why two plans differ in floor and carriers, by cause.

use crate::wire::alternatives::{CarrierCauses, ComparedEfficiency, Difference, FloorCauses};
use crate::wire::plan::{Planned, PlannedCircuit};

/// Lengths of one plan, in metres: `straight = zones + queues + unused` exactly, over both straights.
struct Lengths {
    zones: f64,
    queues: f64,
    unused: f64,
    /// Along the floor beside the straight: reach of the ends and clearance.
    ends: f64,
    length: f64,
    width: f64,
}

/// Least length of each section for all SKUs, beyond what the ends in it hold.
fn queues(circuit: &PlannedCircuit) -> f64 {
    let pitch = |id: &str| circuit.skus.iter().find(|s| s.id == id).map_or(0.0, |s| s.pitch_m);
    let of = |section: &crate::wire::plan::PlannedSection| {
        let needed = section.skus.iter().map(|s| f64::from(s.needed_slots) * pitch(&s.id)).fold(0.0, f64::max);
        (needed.min(section.length_m) - section.curve_m).max(0.0)
    };
    circuit.sections.iter().map(of).sum()
}

/// Of several loops, the straights are those of the loop with the longest: it goes with the length of the whole.
fn lengths(planned: &Planned) -> Option<Lengths> {
    let circuit = planned.circuits.iter().reduce(|a, b| if b.straight_m > a.straight_m { b } else { a })?;
    let straight = 2.0 * circuit.straight_m;
    let zones = circuit.stations.iter().map(|s| s.zone_m).sum();
    let queues = queues(circuit);
    let (length, width) = (planned.footprint.length_m, planned.footprint.width_m);
    Some(Lengths { zones, queues, unused: straight - zones - queues, ends: length - circuit.straight_m, length, width })
}

/// Carriers in stations, on the way and waiting, for one SKU, on all loops.
fn carriers(planned: &Planned, sku: &str) -> Option<CarrierCauses> {
    let (mut in_stations, mut on_the_way) = (0.0, 0.0);
    for circuit in &planned.circuits {
        let rate = circuit.skus.iter().find(|s| s.id == sku)?.design_rate_per_min / 60.0;
        let of_station =
            |s: &crate::wire::plan::PlannedStation| s.skus.iter().find(|k| k.id == sku).map_or(0.0, |k| k.residence_s);
        let of_section =
            |s: &crate::wire::plan::PlannedSection| s.skus.iter().find(|k| k.id == sku).map_or(0.0, |k| k.lag_s);
        in_stations += rate * circuit.stations.iter().map(of_station).sum::<f64>();
        on_the_way += rate * circuit.sections.iter().map(of_section).sum::<f64>();
    }
    let total = f64::from(planned.circuits.iter().map(|c| c.carriers).sum::<u32>());
    Some(CarrierCauses {
        sku: sku.to_owned(),
        in_stations,
        on_the_way,
        waiting: total - in_stations - on_the_way,
        total,
    })
}

/// What plan `a` takes more than plan `b`, by cause. None where one of them has no circuit.
#[must_use]
pub fn difference(of: (u32, &str, &Planned), than: (u32, &str, &Planned)) -> Option<Difference> {
    let ((i, a_name, a_plan), (j, b_name, b_plan)) = (of, than);
    let (a, b) = (lengths(a_plan)?, lengths(b_plan)?);
    // A product's difference by the means of its factors: exact.
    let (across, along) = (0.5 * (a.width + b.width), 0.5 * (a.length + b.length));
    let floor = FloorCauses {
        zones: 0.5 * (a.zones - b.zones) * across,
        queues: 0.5 * (a.queues - b.queues) * across,
        unused_straight: 0.5 * (a.unused - b.unused) * across,
        ends: (a.ends - b.ends) * across,
        depth: (a.width - b.width) * along,
        total: a_plan.footprint.area_m2 - b_plan.footprint.area_m2,
    };
    let least = b_plan.circuits.first()?.skus.iter().min_by(|x, y| x.margin.total_cmp(&y.margin))?;
    let (x, y) = (carriers(a_plan, &least.id)?, carriers(b_plan, &least.id)?);
    let carriers = CarrierCauses {
        sku: x.sku,
        in_stations: x.in_stations - y.in_stations,
        on_the_way: x.on_the_way - y.on_the_way,
        waiting: x.waiting - y.waiting,
        total: x.total - y.total,
    };
    let price = a_plan.price - b_plan.price;
    let says = sentence(a_name, b_name, &floor, &carriers, price);
    Some(Difference { of: i, than: j, floor_m2: floor, carriers, price, efficiency: None, says })
}

/// Causes that carry a difference, largest first; those against it are named when they are large.
fn largest(total: f64, causes: &[(&str, f64)], least: f64, digits: usize) -> String {
    let mut sorted: Vec<&(&str, f64)> = causes.iter().filter(|c| c.1.abs() >= least).collect();
    sorted.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let words: Vec<String> = sorted.iter().take(2).map(|(word, by)| format!("{word} {by:+.digits$}")).collect();
    if words.is_empty() || total.abs() < least { String::new() } else { format!(" ({})", words.join(", ")) }
}

/// The efficiency of a plan beside that of another, for a sentence.
pub(super) fn efficiency_says(of: &ComparedEfficiency) -> String {
    let (mean, half_width) = (100.0 * of.gain.mean, 100.0 * of.gain.half_width);
    if of.gain.mean == 0.0 && of.gain.half_width == 0.0 {
        return format!("; simulated, its efficiency for SKU {} is the same", of.sku);
    }
    // What would be shown as nothing is nothing.
    if mean.abs() <= half_width || mean.abs() < 0.05 {
        return format!("; simulated, its efficiency for SKU {} is not surely another", of.sku);
    }
    let more = if mean > 0.0 { "higher" } else { "lower" };
    format!("; simulated, its efficiency for SKU {} is {:.1} ± {half_width:.1} points {more}", of.sku, mean.abs())
}

fn sentence(a: &str, b: &str, floor: &FloorCauses, carriers: &CarrierCauses, price: f64) -> String {
    const SAME: f64 = 0.005;
    let causes = [
        ("zones", floor.zones),
        ("queues", floor.queues),
        ("straight left over", floor.unused_straight),
        ("ends", floor.ends),
        ("depth", floor.depth),
    ];
    let more = |by: f64, less: &'static str| if by > 0.0 { "more" } else { less };
    let area = if floor.total.abs() < SAME {
        format!("{a} takes as much floor as {b}")
    } else {
        let why = largest(floor.total, &causes, SAME, 2);
        format!("{a} takes {:.2} m² {} floor than {b}{why}", floor.total.abs(), more(floor.total, "less"))
    };
    let causes =
        [("in stations", carriers.in_stations), ("on the way", carriers.on_the_way), ("waiting", carriers.waiting)];
    let count = carriers.total.abs();
    let few = if count < 0.5 {
        "as many carriers".to_owned()
    } else {
        let noun = if count < 1.5 { "carrier" } else { "carriers" };
        let why = largest(carriers.total, &causes, 0.05, 1);
        format!("{count:.0} {} {noun}{why}", more(carriers.total, "fewer"))
    };
    let cost = if price.abs() < 0.5 {
        String::new()
    } else {
        format!("; it costs {:.0} {}", price.abs(), more(price, "less"))
    };
    format!("{area}, and {few}{cost}")
}
