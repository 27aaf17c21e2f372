//! Every exit code, and what goes where.

use super::cells::{TEA, impossible, large, with};
use serde_json::Value;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_loopwright"));
    command.env_remove("RUST_LOG").stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

fn run(args: &[&str], input: &str) -> Output {
    let mut child = program().args(args).stdin(Stdio::piped()).spawn().unwrap();
    child.stdin.take().unwrap().write_all(input.as_bytes()).unwrap();
    child.wait_with_output().unwrap()
}

fn out(output: &Output) -> &str {
    std::str::from_utf8(&output.stdout).unwrap()
}

fn err(output: &Output) -> &str {
    std::str::from_utf8(&output.stderr).unwrap()
}

/// All of standard output is one document.
fn json(output: &Output) -> Value {
    serde_json::from_str(out(output)).unwrap_or_else(|e| panic!("{e}\n{}\n{}", out(output), err(output)))
}

/// A file of the tests' own folder, named for its test.
fn file(name: &str, text: &str) -> PathBuf {
    let path = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&path, text).unwrap();
    path
}

#[test]
fn planned_is_0() {
    let output = run(&["plan", "-"], TEA);
    assert_eq!((output.status.code(), err(&output)), (Some(0), ""));
    assert!(out(&output).starts_with("Tea cartons: plan\n"), "{}", out(&output));
    let output = run(&["plan", "-", "--json"], TEA);
    assert_eq!((output.status.code(), err(&output)), (Some(0), ""));
    assert_eq!(json(&output)["status"], "planned");
}

#[test]
fn a_file_gives_the_same_bytes_as_standard_input() {
    let path = file("same.yaml", TEA);
    let one = program().args(["plan", "--json"]).arg(&path).output().unwrap();
    assert_eq!(out(&one), out(&run(&["plan", "-", "--json"], TEA)));
}

#[test]
fn impossible_is_1() {
    let output = run(&["plan", "-", "--json"], &impossible());
    assert_eq!(output.status.code(), Some(1));
    let answer = json(&output);
    assert_eq!(answer["status"], "impossible");
    assert_eq!(answer["conflict"]["requirements"][0]["pointer"], "/skus/0/net_rate/cases_per_min");
    assert_eq!(answer["conflict"]["requirements"][0]["value"], 320);
    let output = run(&["plan", "-"], &impossible());
    assert_eq!(output.status.code(), Some(1));
    assert!(out(&output).contains("no plan is possible"));
}

/// Changes of the example: every pair of sizes, none longer than it says, and an order of the week with its bound.
#[test]
fn changes_from_size_to_size() {
    let cell = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/pouch-changes.yaml");
    let plan = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/pouch-changes.plan.json");
    let page = run(&["changeover", cell, "--plan", plan], "");
    assert_eq!(page.status.code(), Some(0), "{}", err(&page));
    assert!(out(&page).contains("low-100") && out(&page).contains("low-200"), "{}", out(&page));
    let output = run(&["changeover", cell, "--plan", plan, "--json"], "");
    assert_eq!(output.status.code(), Some(0));
    assert!(json(&output).is_object());
    let wrong = run(&["changeover", cell, "--plan", plan, "--from", "low-100", "--to", "none"], "");
    assert_eq!(wrong.status.code(), Some(2), "{}{}", out(&wrong), err(&wrong));
}

#[test]
fn stopped_is_0() {
    let output = run(&["plan", "-", "--json", "--time-limit", "0"], TEA);
    assert_eq!(output.status.code(), Some(0));
    let answer = json(&output);
    assert_eq!(answer["status"], "stopped");
    assert!(answer["proven_bound_m2"].as_f64().unwrap() >= 0.0);
}

#[test]
fn a_wrong_document_is_2() {
    let wrong = with(TEA, "carries: case", "carries: cake");
    for command in ["plan", "check"] {
        let output = run(&[command, "-", "--json"], &wrong);
        assert_eq!(output.status.code(), Some(2));
        let answer = json(&output);
        assert_eq!((&answer["status"], &answer["findings"][0]["code"]), (&"wrong".into(), &"LW-UNKNOWN-CHOICE".into()));
        let output = run(&[command, "-"], &wrong);
        assert_eq!((output.status.code(), out(&output)), (Some(2), ""));
        assert!(err(&output).contains("standard input:\nerror LW-UNKNOWN-CHOICE"), "{}", err(&output));
    }
}

#[test]
fn a_good_document_is_checked() {
    let output = run(&["check", "-"], TEA);
    assert_eq!((output.status.code(), err(&output)), (Some(0), ""));
    let output = run(&["check", "-", "--json"], TEA);
    assert_eq!(json(&output)["status"], "good");
}

/// Warnings do not stand in the way, and stay off standard output unless they are the answer.
#[test]
fn warnings_are_told() {
    let odd = with(TEA, "stations:\n", "stations:\n  - { id: spare, intermittent: { base_s: 1 } }\n");
    let output = run(&["plan", "-", "--json"], &odd);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(json(&output)["status"], "planned");
    assert!(err(&output).contains("LW-UNUSED-STATION"), "{}", err(&output));
    let output = run(&["check", "-", "--json"], &odd);
    assert_eq!(json(&output)["findings"][0]["severity"], "warning");
}

#[test]
fn a_file_that_is_not_there_is_74() {
    for command in [&["plan", "no-such-file"][..], &["check", "no-such-file"], &["judge", "no-such-file", "other"]] {
        let output = program().args(command).output().unwrap();
        assert_eq!((output.status.code(), out(&output)), (Some(74), ""));
        assert!(err(&output).contains("no-such-file cannot be read"), "{}", err(&output));
        let output = program().args(command).arg("--json").output().unwrap();
        assert_eq!(output.status.code(), Some(74));
        let answer = json(&output);
        assert_eq!((&answer["status"], &answer["findings"][0]["code"]), (&"failed".into(), &"LW-FILE".into()));
    }
}

#[test]
fn judge_is_0_1_or_2() {
    let cell = file("judged.yaml", TEA);
    let plan = out(&run(&["plan", "-", "--json"], TEA)).to_owned();
    let cell = cell.to_str().unwrap();
    let output = run(&["judge", cell, "-"], &plan);
    assert_eq!((output.status.code(), err(&output)), (Some(0), ""));
    assert!(out(&output).starts_with("Tea cartons: the plan holds."), "{}", out(&output));
    assert_eq!(json(&run(&["judge", cell, "-", "--json"], &plan))["status"], "holds");

    let mut worse: Value = serde_json::from_str(&plan).unwrap();
    worse["footprint"]["area_m2"] = 1.0.into();
    let output = run(&["judge", cell, "-", "--json"], &worse.to_string());
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(json(&output)["status"], "fails");
    let output = run(&["judge", cell, "-"], &worse.to_string());
    assert_eq!(output.status.code(), Some(1));
    assert!(out(&output).contains("/footprint/area_m2"), "{}", out(&output));

    worse["circuits"][0]["carriers"] = Value::Null;
    let output = run(&["judge", cell, "-", "--json"], &worse.to_string());
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(json(&output)["findings"][0]["pointer"], "/circuits/0");

    let nothing = run(&["judge", cell, "-", "--json"], r#"{ "status": "impossible" }"#);
    assert_eq!((nothing.status.code(), &json(&nothing)["status"]), (Some(1), &"nothing".into()));
    let both = run(&["judge", "-", "-"], "");
    assert_eq!(both.status.code(), Some(2));
    assert!(err(&both).contains("give a file name for one of them"), "{}", err(&both));
}

#[test]
fn wrong_arguments_are_2() {
    for args in
        [&[][..], &["plan"], &["plan", "-", "--time-limit", "-1"], &["plan", "-", "--time-limit", "nan"], &["draw"]]
    {
        assert_eq!(run(args, "").status.code(), Some(2), "{args:?}");
    }
    let output = run(&["plan", "-", "--time-limit", "-1"], "");
    assert!(err(&output).contains("give a number of seconds from 0 to"), "{}", err(&output));
}

/// The traces go to standard error, whatever they are.
#[test]
fn traces_stay_off_the_answer() {
    let mut child = program();
    let path = file("traced.yaml", TEA);
    let output = child.env("RUST_LOG", "trace").args(["plan", "--json"]).arg(path).output().unwrap();
    assert_eq!(json(&output)["status"], "planned");
}

/// An interrupt gives what was found so far instead of nothing: before the proof no plan, after it reasons that may be
/// more than needed.
#[cfg(unix)]
#[test]
fn an_interrupt_ends_the_search() {
    use std::time::{Duration, Instant};
    let path = file("interrupted.yaml", &large());
    let child = program().args(["plan", "--json", "--time-limit", "600"]).arg(path).spawn().unwrap();
    std::thread::sleep(Duration::from_millis(500));
    let start = Instant::now();
    assert!(Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap().success());
    let output = child.wait_with_output().unwrap();
    assert!(start.elapsed() < Duration::from_secs(60));
    let answer = json(&output);
    let both = (answer["status"].as_str().unwrap(), output.status.code());
    assert!([("stopped", Some(0)), ("impossible", Some(1))].contains(&both), "{answer:#}");
}

/// A full disk is told; a reader that has seen enough is none of our business.
#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_cannot_be_written_is_74() {
    let path = file("full.yaml", TEA);
    let full = std::fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
    let output = program().arg("plan").arg(&path).stdout(full).output().unwrap();
    assert_eq!(output.status.code(), Some(74));
    assert!(err(&output).contains("standard output cannot be written"), "{}", err(&output));

    let mut child = program().args(["plan", "--json"]).arg(&path).spawn().unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}
