//! What is said of a joint, a limit or a whole job.

use std::fmt;

use serde::Serialize;

/// From best to worst; the worst of many is their maximum.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// No liquid, with the wanted margin.
    Holds,
    /// No liquid or a trace of it, with less than the wanted margin.
    Close,
    /// Some liquid, within what the joint may bear.
    Softens,
    /// Not known; never to be read as safe.
    Unknown,
    /// The target does not get hot enough to flow.
    DoesNotFlow,
    /// A part, a guard or a rule would be broken.
    Limit,
    /// More liquid than the joint may bear.
    Melts,
}

impl Verdict {
    /// As written in every output.
    pub const fn word(self) -> &'static str {
        match self {
            Verdict::Holds => "holds",
            Verdict::Close => "close",
            Verdict::Softens => "softens",
            Verdict::Unknown => "unknown",
            Verdict::DoesNotFlow => "does not flow",
            Verdict::Limit => "limit broken",
            Verdict::Melts => "melts",
        }
    }

    /// Exit code of a verb that ends with this verdict: 0 holds, 1 anything worse, 3 an unknown
    /// decides.
    pub const fn exit_code(self) -> u8 {
        match self {
            Verdict::Holds => 0,
            Verdict::Unknown => 3,
            _ => 1,
        }
    }
}

impl fmt::Display for Verdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.word())
    }
}
