//! What goes to standard output and what to standard error.

use loopwright_api::Finding;
use std::io::{ErrorKind, Write};

/// All that a command says.
#[derive(Debug, Default)]
pub struct Answer {
    /// For standard output.
    pub out: String,
    /// For standard error.
    pub err: String,
    /// Exit code.
    pub exit: u8,
}

/// Exit code when standard output cannot be written.
const UNWRITABLE: u8 = 74;

/// Writes both and gives the exit code.
pub fn print(answer: &Answer) -> u8 {
    // Nothing is left to tell when standard error is closed.
    let _ = std::io::stderr().lock().write_all(answer.err.as_bytes());
    let mut out = std::io::stdout().lock();
    match out.write_all(answer.out.as_bytes()).and_then(|()| out.flush()) {
        Ok(()) => answer.exit,
        // The reader has seen enough, as `head` does.
        Err(error) if error.kind() == ErrorKind::BrokenPipe => answer.exit,
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "standard output cannot be written: {error}");
            UNWRITABLE
        }
    }
}

/// Findings for people, each a block, under the name of their document.
pub fn findings(name: &str, findings: &[Finding]) -> String {
    let blocks: Vec<String> = findings.iter().map(|f| format!("{f}\n")).collect();
    if blocks.is_empty() { String::new() } else { format!("{name}:\n{}", blocks.join("")) }
}

/// A document as indented JSON with a line's end.
pub fn json<T: serde::Serialize>(document: &T) -> String {
    match serde_json::to_string_pretty(document) {
        Ok(text) => text + "\n",
        // Plain records of numbers and texts always can be written.
        Err(error) => serde_json::json!({ "error": error.to_string() }).to_string() + "\n",
    }
}
