//! The job that a beginner starts from.

/// A commented job of an invented board; it reads without a fault.
pub fn example() -> String {
    include_str!("example.yaml").to_owned()
}
