//! The judge's answer in print.

use super::table::{Align, Table, heading, paragraph};
use crate::wire::judgement::{Judgement, JudgementStatus};

/// The answer on pages of 100 columns.
#[must_use]
pub fn judgement_text(judgement: &Judgement) -> String {
    let says = match judgement.status {
        JudgementStatus::Holds => "the plan holds",
        JudgementStatus::Fails => "the plan does not hold",
        JudgementStatus::Nothing => "the document holds no plan; there is nothing to judge",
    };
    let mut out = paragraph("", 0, &format!("{}: {says}.", judgement.name));
    for line in &judgement.lines {
        out += &paragraph("-", 2, &format!("{}: {}", line.rule, line.says));
        if !line.pointer.is_empty() {
            out += &format!("  {}\n", line.pointer);
        }
    }
    if judgement.status == JudgementStatus::Nothing {
        return out;
    }
    out += &heading("Rules");
    let mut table = Table::new(&[("Rule", Align::Left), ("Broken", Align::Right)]);
    for rule in &judgement.rules {
        table.row(vec![rule.rule.clone(), if rule.broken == 0 { "no".to_owned() } else { rule.broken.to_string() }]);
    }
    out += &table.print();
    out += &heading("Numbers recomputed");
    let (checked, wrong) = judgement.claims.iter().fold((0, 0), |sum, c| (sum.0 + c.checked, sum.1 + c.wrong));
    out += &format!(
        "{checked} numbers and words under {} keys, {wrong} of them wrong. Bounds and proofs\nare only held against the plan itself.\n",
        judgement.claims.len()
    );
    if wrong > 0 {
        let mut table = Table::new(&[("Key", Align::Left), ("Values", Align::Right), ("Wrong", Align::Right)]);
        for claim in judgement.claims.iter().filter(|c| c.wrong > 0) {
            table.row(vec![claim.key.clone(), claim.checked.to_string(), claim.wrong.to_string()]);
        }
        out += &format!("\n{}", table.print());
    }
    out
}
