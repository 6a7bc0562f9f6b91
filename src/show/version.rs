//! Which data an answer rests on.

use crate::alloy::{TABLE_FILES, limits};
use crate::melt::phase_files;

/// Version of the program and check sum (CRC-32) of all data that is shipped with it:
/// `meltstair 0.1.0, data 5f2a9c01`. Two sheets with the same words rest on the same numbers.
pub fn data_version() -> String {
    let mut sum = crc32fast::Hasher::new();
    let limits = limits::FILES.iter().map(|(_, text)| *text);
    for text in TABLE_FILES.into_iter().chain(limits).chain(phase_files()) {
        sum.update(text.as_bytes());
    }
    let version = env!("CARGO_PKG_VERSION");
    format!("meltstair {version}, data {:08x}", sum.finalize())
}
