//! The best order of a job that a program writes itself.
//!
//! `cargo run --example best_order`

#![expect(
    clippy::print_stdout,
    reason = "a program that answers on standard output"
)]

use std::error::Error;

use meltstair::Planner;
use meltstair::plan::Budget;

/// Invented: two joints beside each other, one soldered with a low-melting alloy, one open between two.
const JOB: &str = "\
job: bell buoy
stock: [Bi58Sn42, Sn63Pb37, SAC305]
joints:
- {id: lamp, pad_um: 400}
- {id: horn, pad_um: 400}
steps:
- {id: tin_lamp, do: solder, joint: lamp, alloy: Bi58Sn42, mg: 0.2, tool: iron, k: {horn: 0.6}}
- {id: tin_horn, do: solder, joint: horn, alloy: [Sn63Pb37, SAC305], mg: 0.2, tool: iron, k: {lamp: 0.6}}
";

fn main() -> Result<(), Box<dyn Error>> {
    let planner = Planner::new(JOB)?;
    let case = planner.sorted();
    // The closure is asked now and then: `false` ends the search with the best found so far.
    let best = case.order(Budget::default(), &mut |_| true)?;
    let Some(checked) = &best.checked else {
        println!("no order holds");
        return Ok(());
    };
    for step in &checked.steps {
        let planned = &step.planned.step;
        println!("{}: {}", planned.id, step.passage.verdict().word());
    }
    let tightest = checked.tightest.as_ref();
    let margin = tightest.map_or_else(|| "nothing at risk".to_owned(), |t| t.margin.to_string());
    println!("{}, {margin} left", checked.verdict.word());
    Ok(())
}
