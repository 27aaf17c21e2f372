//! What was decided beforehand is kept: form, modules and carriers of the loop, ways of working and heads of stations.

use super::{Breach, Rule, breach};
use crate::cell::Cell;
use crate::plan::Plan;

pub(super) fn verdict(cell: &Cell, plan: &Plan) -> Vec<Breach> {
    let parts = cell.parts();
    let fixed = parts.circuit.fixed;
    let mut says = Vec::new();
    if let Some(form) = fixed.form.filter(|&form| form != plan.form) {
        let forms = &parts.circuit.track.forms;
        let id = |form: usize| forms.get(form).map_or("unknown", |f| &f.id);
        says.push(format!("form {}; {} was fixed", id(plan.form), id(form)));
    }
    if let Some(modules) = fixed.modules.filter(|&modules| modules != plan.modules) {
        says.push(format!("{} modules in a straight; {modules} were fixed", plan.modules));
    }
    if let Some(carriers) = fixed.carriers.filter(|&carriers| carriers != plan.carriers) {
        says.push(format!("{} carriers; {carriers} were fixed", plan.carriers));
    }
    for (station, placed) in parts.stations.iter().zip(&plan.stations) {
        if let Some(mode) = station.fixed.mode.filter(|&mode| mode != placed.mode) {
            says.push(format!("station {}: {}; {} was fixed", station.id, placed.mode.word(), mode.word()));
        }
        if let Some(heads) = station.fixed.heads.filter(|&heads| heads != placed.heads) {
            says.push(format!("station {}: {} heads; {heads} were fixed", station.id, placed.heads));
        }
    }
    says.into_iter().map(|says| breach(Rule::Fixed, says)).collect()
}
