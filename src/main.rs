//! The command line: parse arguments, call the library, print, set the exit code.

fn main() {}
