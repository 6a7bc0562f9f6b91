//! Judge a job file in the order in which its steps are written.
//!
//! `cargo run --example check_job -- charts/tide_gauge.yaml`

#![expect(
    clippy::print_stdout,
    reason = "a program that answers on standard output"
)]

use std::error::Error;

use meltstair::Planner;

fn main() -> Result<(), Box<dyn Error>> {
    let file = std::env::args()
        .nth(1)
        .ok_or("want a job file, such as charts/tide_gauge.yaml")?;
    // All that is wrong in the file comes back at once, each fault with its line and column.
    let planner = Planner::new(&std::fs::read_to_string(file)?)?;
    let case = planner.written();
    let (_, checked) = case.check();

    for step in &checked.steps {
        let tightest = step.passage.tightest();
        let left = tightest.map_or_else(|| "-".to_owned(), |left| left.to_string());
        let id = &step.planned.step.id;
        println!("{id}: {}, {left} left", step.passage.verdict().word());
    }
    println!("the whole: {}", checked.verdict.word());
    Ok(())
}
