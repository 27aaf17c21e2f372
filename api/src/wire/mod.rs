//! The published documents: plain numbers with the unit in the key.

pub mod accumulation;
pub mod adjust;
pub mod alternatives;
pub mod carriers;
pub mod cell;
pub mod chance;
pub mod changeover;
pub mod feed;
pub mod findings;
pub mod judgement;
pub mod pair;
pub mod plan;
pub mod simulation;
pub mod site;
pub mod trace;
mod whole;
