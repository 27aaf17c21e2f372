//! The loop in characters: seen from above when it lies flat, from the front when it stands upright.

use crate::wire::plan::{PlannedCircuit, PlannedPlane, PlannedSide, PlannedStation, PlannedStraight};

/// Columns of a straight.
const WIDE: usize = 84;
/// Columns before it: end and margin.
const BEFORE: usize = 4;

/// The picture, with its caption; mirrored where carriers travel from right to left along the front.
pub(super) fn loop_view(circuit: &PlannedCircuit, mirrored: bool) -> String {
    if circuit.straight_m <= 0.0 {
        return String::new();
    }
    let upright = circuit.plane == PlannedPlane::Upright;
    let upper = if upright { PlannedStraight::Top } else { PlannedStraight::Back };
    let mut lines = Vec::new();
    let (onward, back) = if mirrored { ("left", "right") } else { ("right", "left") };
    let edge = |left: char, track: &str, right: char| format!("{}{left}{track}{right}", " ".repeat(BEFORE - 1));
    let plain = |track: &str| format!("{}{track}", " ".repeat(BEFORE));
    let inside = |text: &str| edge('|', &format!("{text:^WIDE$}"), '|');
    lines.push(plain(&names(circuit, upper, mirrored)));
    lines.push(edge('.', &track(circuit, upper, mirrored), '.'));
    if upright {
        lines.push(inside(&format!("travel to the {onward}, on top")));
        lines.push(inside(""));
        lines.push(edge('\'', &"-".repeat(WIDE), '\''));
    } else {
        lines.push(inside(&format!("back: travel to the {back}")));
        lines.push(inside(&format!("front: travel to the {onward}")));
        lines.push(edge('\'', &track(circuit, PlannedStraight::Front, mirrored), '\''));
        lines.push(plain(&names(circuit, PlannedStraight::Front, mirrored)));
    }
    lines.iter().map(|line| format!("{}\n", line.trim_end())).collect()
}

/// First column and columns of a length on a straight; the back one runs to the left, unless the cell is mirrored.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, clippy::cast_precision_loss)]
fn columns(circuit: &PlannedCircuit, station: &PlannedStation, mirrored: bool) -> (usize, usize) {
    let from = if station.straight == PlannedStraight::Back { circuit.straight_m + circuit.end_m } else { 0.0 };
    let scale = WIDE as f64 / circuit.straight_m;
    let at = |place: f64| ((place - from) * scale).round().clamp(0.0, WIDE as f64) as usize;
    let (start, end) = (at(station.start_m), at(station.start_m + station.zone_m));
    let leftward = (station.straight == PlannedStraight::Back) != mirrored;
    let (start, end) = if leftward { (WIDE - end, WIDE - start) } else { (start, end) };
    let start = start.min(WIDE - 1);
    (start, end.saturating_sub(start).max(1))
}

fn track(circuit: &PlannedCircuit, straight: PlannedStraight, mirrored: bool) -> String {
    let mut line = vec!['-'; WIDE];
    for (i, station) in circuit.stations.iter().enumerate().filter(|(_, s)| s.straight == straight) {
        let (start, width) = columns(circuit, station, mirrored);
        let number = (i + 1).to_string();
        let text = if width >= number.len() + 2 { format!("[{number:=^fill$}]", fill = width - 2) } else { number };
        put(&mut line, start, &text);
    }
    line.into_iter().collect()
}

/// Names centred on their zones, those that find room; on an upright loop with the side.
fn names(circuit: &PlannedCircuit, straight: PlannedStraight, mirrored: bool) -> String {
    let mut line = vec![' '; WIDE];
    for station in circuit.stations.iter().filter(|s| s.straight == straight) {
        let (start, width) = columns(circuit, station, mirrored);
        let name = match (straight, station.stands) {
            (PlannedStraight::Top, PlannedSide::Front) => format!("{} (f)", station.id),
            (PlannedStraight::Top, PlannedSide::Back) => format!("{} (b)", station.id),
            _ => station.id.clone(),
        };
        let long = name.chars().count();
        let at = (start + width / 2).saturating_sub(long / 2).min(WIDE.saturating_sub(long));
        let free = |i: usize| line.get(i).is_none_or(|c| *c == ' ');
        if long <= WIDE && (at.saturating_sub(1)..=at + long).all(free) {
            put(&mut line, at, &name);
        }
    }
    line.into_iter().collect()
}

fn put(line: &mut [char], at: usize, text: &str) {
    for (place, c) in line.iter_mut().skip(at).zip(text.chars()) {
        *place = c;
    }
}
