//! Bytes of a document, from a file or from standard input.

use loopwright_api::{Code, Finding};
use std::io::Read;
use std::path::Path;

/// Whether it stands for standard input.
pub fn is_standard(path: &Path) -> bool {
    path.as_os_str() == "-"
}

/// How the document is called in messages.
pub fn name(path: &Path) -> String {
    if is_standard(path) { "standard input".to_owned() } else { path.display().to_string() }
}

/// Reads at most `most` bytes and one, which the reader then refuses.
pub fn read(path: &Path, most: usize) -> Result<Vec<u8>, Finding> {
    let limit = u64::try_from(most).unwrap_or(u64::MAX).saturating_add(1);
    let mut bytes = Vec::new();
    let done = if is_standard(path) {
        std::io::stdin().lock().take(limit).read_to_end(&mut bytes)
    } else {
        std::fs::File::open(path).and_then(|file| file.take(limit).read_to_end(&mut bytes))
    };
    match done {
        Ok(_) => Ok(bytes),
        Err(error) => Err(Finding::new(Code::File, "", format!("{} cannot be read: {error}", name(path)))),
    }
}
