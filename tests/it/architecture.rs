//! The floors of the engine, as DEVELOPERS.md draws them: every `use crate::` line leads down.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Modules of the solver by floor, lowest first. A module may use its own floor only inside itself.
const FLOORS: &[&[&str]] = &[
    &["units"],
    &["motion", "track", "schedule", "chance"],
    &["option", "load", "power", "ground"],
    &["section", "station", "ring", "adjust", "stream", "openings"],
    &["net"],
    &["cell", "throughput", "sim"],
    &["plan"],
    &["changeover", "operation"],
    &["rules"],
    &["milp"],
    &["study"],
    &["explain", "sequence"],
    &["coupled"],
    &["relief"],
];

fn floor(module: &str) -> Option<usize> {
    FLOORS.iter().position(|floor| floor.contains(&module))
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// Text before its tests: they may look at whatever they hold against each other.
fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    text.split("#[cfg(test)]\nmod tests {").next().unwrap_or_default().to_owned()
}

#[test]
fn imports_lead_down() {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("solver/src");
    let mut all = Vec::new();
    files(&root, &mut all);
    let (mut seen, mut wrong) = (0, BTreeSet::new());
    for path in all.iter().filter(|p| p.file_name().is_none_or(|n| n != "lib.rs" && n != "tests.rs")) {
        let within = path.strip_prefix(&root).unwrap().components().next().unwrap().as_os_str().to_string_lossy();
        let own = within.trim_end_matches(".rs").to_owned();
        let own_floor = floor(&own).unwrap_or_else(|| panic!("{own} stands on no floor: add it to FLOORS"));
        for line in code(path).lines().filter(|l| !l.trim_start().starts_with("//")) {
            for used in line.split("crate::").skip(1) {
                let name: String = used.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                let Some(target) = floor(&name) else { continue };
                seen += 1;
                if name != own && target >= own_floor {
                    wrong.insert(format!("{own} uses {name}"));
                }
            }
        }
    }
    assert!(seen > 10, "only {seen} imports seen: does the test still read the files?");
    assert!(wrong.is_empty(), "{wrong:?}");
}

#[test]
fn one_file_names_a_solver_library() {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("solver/src");
    let mut all = Vec::new();
    files(&root, &mut all);
    let naming: Vec<_> = all
        .iter()
        .filter(|p| code(p).lines().any(|l| l.trim_start().starts_with("use ") && l.contains("good_lp")))
        .map(|p| p.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    assert_eq!(naming, ["milp.rs"]);
}
