//! Level 1: questions whose numbers stand in a staircase that is shown with them.

use std::collections::BTreeSet;

use fastrand::Rng;

use super::draft::{Draft, board, lines, some_of, whole};
use super::lab::{ALLOYS, Asked, Known, Lab, readings};
use super::question::{Answer, Question, told};
use crate::bench::Verdict;

const IDS: [&str; 3] = ["rim", "tails", "plug"];
const STEPS: usize = 3;

/// Three joints that stand, and what each of them sees in three steps.
struct Seen {
    alloys: Vec<Known>,
    sees: Vec<[i32; 3]>,
}

impl Seen {
    fn draw(dice: &mut Rng) -> Option<Seen> {
        let alloys = some_of(dice, &ALLOYS, IDS.len());
        let apart = |a: &Known, b: &Known| a == b || (a.1 - b.1).abs() >= 12;
        if alloys.iter().any(|a| !alloys.iter().all(|b| apart(a, b))) {
            return None;
        }
        let below = |dice: &mut Rng, alloy: &Known| alloy.1 - whole(dice, 8, 70, 1);
        let sees = (0..STEPS).map(|_| {
            let all = [0, 1, 2].map(|at| alloys.get(at).map_or(0, |alloy| below(dice, alloy)));
            all.map(|sees| sees.max(40))
        });
        let sees = sees.collect();
        Some(Seen { alloys, sees })
    }

    fn left(&self, step: usize, joint: usize) -> i32 {
        self.alloys[joint].1 - self.sees[step][joint]
    }

    fn weakest(&self, step: usize) -> i32 {
        let all = (0..IDS.len()).map(|joint| self.left(step, joint));
        all.min().unwrap_or(0)
    }

    fn job(&self, board: &str, more: &str) -> String {
        let joints = lines(
            IDS.iter()
                .zip(&self.alloys)
                .map(|(id, alloy)| format!("  - {{id: {id}, alloy: {}}}\n", alloy.0)),
        );
        let steps = lines(self.sees.iter().enumerate().map(|(at, sees)| {
            let after = if at > 0 {
                format!(", after: s{at}")
            } else {
                String::new()
            };
            let peak = sees.iter().max().copied().unwrap_or(0) + 5;
            let told: Vec<String> = (0..IDS.len())
                .map(|j| format!("{}: {}", IDS[j], sees[j]))
                .collect();
            format!(
                "  - {{id: s{}, do: heat, tool: air, peak_c: {peak}, sees_c: {{{}}}{after}}}\n",
                at + 1,
                told.join(", ")
            )
        }));
        let pins = readings(&self.alloys);
        format!("job: {board}\n{pins}\njoints:\n{joints}steps:\n{steps}{more}")
    }

    /// Numbers that are read from the picture.
    fn given(&self, mut draft: Draft) -> Draft {
        for (at, alloy) in self.alloys.iter().enumerate() {
            draft = draft.given(format!("line.{at}"), alloy.1);
            for (step, sees) in self.sees.iter().enumerate() {
                draft = draft.given(format!("dot.{step}.{at}"), sees[at]);
            }
        }
        draft
    }
}

/// In which step the weakest joint has least left.
pub(super) fn tightest_step(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let seen = Seen::draw(dice)?;
    let mut order = [0, 1, 2];
    order.sort_by_key(|step| seen.weakest(*step));
    // Rows of the picture are some kelvins apart.
    if seen.weakest(order[1]) - seen.weakest(order[0]) < 15 {
        return None;
    }
    let asked = lab.ask(&seen.job(board(dice), ""))?;
    let tightest = asked.checked.tightest?;
    let hottest = (0..STEPS).max_by_key(|step| seen.sees[*step].iter().max().copied())?;
    let draft = Draft::new(1, 21)
        .line("The staircase shows three heats. In which of them has a joint least left?")
        .options((1..=STEPS).map(|step| format!("step {step}")))
        .slip_option(
            hottest,
            "that is the hottest heat: what counts is how near a dot comes to the line of its own joint",
        );
    Some(with_picture(
        lab,
        &asked,
        seen.given(draft).done(
            dice,
            Answer::One(tightest.step),
            &[
                "the shortest way up from a dot to its own line",
                "the hottest heat of a job is always its weakest step",
                "the last heat is the weakest: the joints are tired by then",
            ],
            format!(
                "step {}: {} K left, at {}",
                tightest.step + 1,
                told(tightest.margin.kelvin()),
                match tightest.place {
                    crate::plan::Place::Joint(joint) => *IDS.get(joint.0)?,
                    crate::plan::Place::Limit(_) => return None,
                }
            ),
        ),
    ))
}

/// Which joints a warm board melts.
pub(super) fn would_melt(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let seen = Seen::draw(dice)?;
    let plate = whole(dice, 110, 230, 5);
    if seen.alloys.iter().any(|alloy| (alloy.1 - plate).abs() < 15) {
        return None;
    }
    let title = board(dice);
    let more = format!("  - {{id: warm, do: preheat, tool: plate, peak_c: {plate}, after: s3}}\n");
    let warmed = lab.ask(&seen.job(title, &more))?;
    let molten: BTreeSet<usize> = warmed
        .last()?
        .passage
        .sights
        .iter()
        .filter(|sight| sight.verdict == Verdict::Melts)
        .map(|sight| sight.joint.0)
        .collect();
    let asked = lab.ask(&seen.job(title, ""))?;
    let draft = Draft::new(1, 22)
        .line(format!(
            "After the heats of this staircase a preheater brings the whole board to {plate} °C."
        ))
        .line("Which joints melt?")
        .options(IDS)
        .given("plate", plate);
    Some(with_picture(
        lab,
        &asked,
        seen.given(draft).done(
            dice,
            Answer::Some(molten),
            &[
                "those whose line lies below that",
                "those whose dots came nearest to their lines before",
                "none: a joint that stood three heats stands a fourth",
            ],
            format!("every line below {plate} °C"),
        ),
    ))
}

fn with_picture(lab: &Lab, asked: &Asked, question: Question) -> Question {
    let stairs = lab.stairs(asked);
    Question {
        shown: Some(stairs.clone()),
        stairs: Some(stairs),
        ..question
    }
}
