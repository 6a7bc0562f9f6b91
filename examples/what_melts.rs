//! What is this joint made of now, and from where does it melt?
//!
//! `cargo run --example what_melts`

#![expect(
    clippy::print_stdout,
    reason = "a program that answers on standard output"
)]

use std::error::Error;

use meltstair::alloy::{AlloyBook, Blend};
use meltstair::melt::{History, MeltBook};
use meltstair::quantity::Mass;

fn main() -> Result<(), Box<dyn Error>> {
    let book = AlloyBook::shipped();
    let melts = MeltBook::new(std::sync::Arc::new(book.clone()), Vec::new());

    // A ball of tin-bismuth, 0.3 mm wide, on what wicking left of old leaded solder.
    let ball = Blend::of(&book.find("Bi58Sn42")?.composition, Mass::from_mg(0.121)?);
    let film = Blend::of(&book.find("63/37")?.composition, Mass::from_mg(0.006)?);

    for (what, blend) in [
        ("the ball alone", ball),
        ("ball and film", ball.with(&film)),
    ] {
        let melt = melts.of(&blend, History::Frozen);
        match (melt.survival, melt.flow) {
            (Some(from), Some(flow)) => println!("{what}: solid below {from}, flows at {flow}"),
            _ => println!("{what}: not known, so it is not safe at any temperature"),
        }
    }
    Ok(())
}
