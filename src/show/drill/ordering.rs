//! Level 5: order, with access.

use std::collections::BTreeSet;

use fastrand::Rng;

use super::draft::{Draft, board, coupling, kelvins, lines, some_of};
use super::lab::{ALLOYS, Lab, readings};
use super::question::{Answer, Question, told};
use crate::bench::Refusal;
use crate::job::Work;
use crate::plan;

/// The order of three joints that leaves most at the weakest of them.
pub(super) fn best(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloys = some_of(dice, &ALLOYS, 3);
    let ids = ["rim", "tails", "plug"];
    let couplings: Vec<f64> = (0..3).map(|_| coupling(dice, 4, 16)).collect();
    let joints = lines(ids.iter().map(|id| format!("  - {{id: {id}}}\n")));
    let steps = lines((0..3)
        .map(|at| {
            format!(
                "  - {{id: {0}_on, do: solder, joint: {0}, alloy: {1}, mg: 1, tool: air, k: {{rest: {2}}}}}\n",
                ids[at], alloys[at].0, couplings[at]
            )
        }));
    let job = format!(
        "job: {}\n{}\njoints:\n{joints}steps:\n{steps}",
        board(dice),
        readings(&alloys)
    );
    let asked = lab.ask(&job)?;
    let (checked, margin) = lab.best_margin(&asked.job)?;
    let margin = margin.kelvin();
    let order: Vec<&str> = checked
        .steps
        .iter()
        .filter_map(|step| match step.planned.step.work {
            Work::Solder { joint, .. } => ids.get(joint.0).copied(),
            _ => None,
        })
        .collect();
    let mut draft = Draft::new(5, 0)
        .line("Three joints are soldered with hot air, each 20 K above the point where its alloy flows, the board at 25 °C.")
        .line("Each heat reaches the two others with the coupling that stands beside it:")
        .given("superheat", 20)
        .given("ambient", 25);
    for at in 0..3 {
        draft = draft
            .line(format!(
                "  {}: {}, coupling {}",
                ids[at],
                alloys[at].told(),
                couplings[at]
            ))
            .alloy(&format!(".{at}"), alloys[at])
            .given(format!("k.{at}"), couplings[at]);
    }
    let stairs = lab.stairs(&super::lab::Asked {
        job: asked.job,
        checked,
    });
    let mut question = draft
        .line("In the best order, how much is left at the weakest joint?")
        .done(
            dice,
            kelvins(margin),
            &[
                "what stands first is there for all later heats",
                "the melting points alone decide, the couplings do not matter",
                "the order does not matter as long as every joint cools down in between",
            ],
            format!("{}: {} K left", order.join(", then "), told(margin)),
        );
    question.stairs = Some(stairs);
    Some(question)
}

/// Form 14: the frame stands; what is out of reach?
pub(super) fn closed_off(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let ids = ["rim", "tails", "plug", "choke"];
    let by = |dice: &mut Rng| -> Vec<usize> { (0..4).filter(|_| dice.bool()).collect() };
    let (frame, lid) = (by(dice), by(dice));
    if frame.is_empty() || lid.is_empty() {
        return None;
    }
    let named = |all: &[usize]| {
        let all: Vec<&str> = all.iter().map(|at| ids[*at]).collect();
        all.join(", ")
    };
    let joints = lines(ids.iter().map(|id| format!("  - {{id: {id}}}\n")));
    let solder = |id: &str, more: &str| {
        format!(
            "  - {{id: {id}_on, do: solder, joint: {id}, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{rest: 0.1}}{more}}}\n"
        )
    };
    let mut steps = lines(ids.iter().map(|id| solder(id, "")));
    steps += &solder("frame", &format!(", closes: [{}]", named(&frame)));
    steps += &solder("lid", &format!(", closes: [{}]", named(&lid)));
    let job = format!(
        "job: {}\njoints:\n{joints}  - {{id: frame}}\n  - {{id: lid}}\nsteps:\n{steps}done:\n  - {{step: frame_on}}\n",
        board(dice)
    );
    let asked = lab.ask(&job)?;
    let out: BTreeSet<usize> = asked
        .checked
        .steps
        .iter()
        .flat_map(|step| &step.passage.refusals)
        .filter_map(|refusal| match refusal {
            Refusal::OutOfReach(joint) => Some(joint.0),
            _ => None,
        })
        .collect();
    let mut draft = Draft::new(5, 14)
        .line(format!(
            "Once the frame is soldered on it covers {}; the lid covers {}.",
            named(&frame),
            named(&lid)
        ))
        .line("The frame went on first; the lid still lies on the bench.")
        .line("Which joints can you no longer solder?")
        .options(ids);
    for at in 0..4 {
        draft = draft
            .given(format!("frame.{at}"), u8::from(frame.contains(&at)))
            .given(format!("lid.{at}"), u8::from(lid.contains(&at)));
    }
    let mut question = draft.done(
        dice,
        Answer::Some(out),
        &[
            "what stands closes the way to what it covers; what lies on the bench closes nothing",
            "a longer tip reaches below any frame",
            "both count: they will both be there in the end",
        ],
        format!("the frame covers {}", named(&frame)),
    );
    let both: BTreeSet<usize> = frame.iter().chain(&lid).copied().collect();
    if !question.is_right(&super::question::Given::Options(both.clone())) {
        question.slips.push(super::question::Slip {
            given: super::question::Given::Options(both),
            why: "the lid is not on yet".to_owned(),
        });
    }
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Work round a wire, in the only order that holds.
const CHAIN: [(&str, &str); 8] = [
    ("strip", "strip the enamel off the wire end"),
    ("tin", "tin the wire end"),
    ("wire", "solder the wire to its pad"),
    ("paint", "paint mask over the joint"),
    ("lamp", "harden the mask under the lamp"),
    ("chip", "set the chip with hot air"),
    ("check", "check for shorts"),
    ("power", "switch the power on"),
];

/// Form 19: which comes when.
pub(super) fn chain(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let mut drawn = some_of(dice, &[0, 1, 2, 3, 4, 5, 6, 7], 4);
    dice.shuffle(&mut drawn);
    let nth = dice.usize(1..3);
    // The engine puts them in order by what each must follow.
    let steps = lines(drawn.iter().map(|at| {
        let before = drawn
            .iter()
            .filter(|other| *other < at)
            .map(|other| CHAIN[*other].0);
        let before: Vec<&str> = before.collect();
        let after = if before.is_empty() {
            String::new()
        } else {
            format!(", after: [{}]", before.join(", "))
        };
        format!("  - {{id: {}, do: inspect{after}}}\n", CHAIN[*at].0)
    }));
    let job = format!("job: {}\nsteps:\n{steps}", board(dice));
    let asked = lab.ask(&job)?;
    let ordered: Vec<&str> = plan::as_written(&asked.job)
        .plan
        .iter()
        .filter_map(|planned| {
            CHAIN
                .iter()
                .map(|(id, _)| *id)
                .find(|id| *id == planned.step.id)
        })
        .collect();
    let right = drawn.iter().position(|at| CHAIN[*at].0 == ordered[nth])?;
    Some(
        Draft::new(5, 19)
            .line(format!("A wire is tied on, covered, and a chip is set beside it. Put these four in order; which comes as number {}?", nth + 1))
            .options(drawn.iter().map(|at| CHAIN[*at].1))
            .given("nth", u32::try_from(nth + 1).ok()?)
            .done(
                dice,
                Answer::One(right),
                &[
                    "each needs the one before: bare end, tin, joint, cover, then the heat of the chip, then the meter, then power",
                    "the chip first: it is the most important",
                    "the order is a matter of taste",
                ],
                ordered.join(", "),
            ),
    )
}

/// Form 20: from where on the short check counts.
pub(super) fn short_check(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let count = dice.usize(4..=7);
    let heats: Vec<bool> = (0..count).map(|_| dice.bool()).collect();
    let last = heats.iter().rposition(|heat| *heat)?;
    let warm = ["solder a wire", "set a part with air", "touch up a joint"];
    let cold = ["paint mask", "look at it", "wash the flux off"];
    let words: Vec<&str> = heats
        .iter()
        .map(|heat| if *heat { warm } else { cold }[dice.usize(..3)])
        .collect();
    let title = board(dice);
    let refused = |check_after: usize| -> Option<bool> {
        let joints = lines((0..count).map(|at| format!("  - {{id: j{at}}}\n")));
        let mut steps = String::new();
        for (at, heat) in heats.iter().enumerate() {
            let step = if *heat {
                format!(
                    "  - {{id: s{at}, do: solder, joint: j{at}, alloy: Sn63Pb37, mg: 1, tool: iron, k: {{rest: 0.1}}}}\n"
                )
            } else {
                format!("  - {{id: s{at}, do: inspect}}\n")
            };
            steps.push_str(&step);
            if at == check_after {
                steps += "  - {id: meter, do: gate}\n";
            }
        }
        let job =
            format!("job: {title}\njoints:\n{joints}steps:\n{steps}  - {{id: on, do: power}}\n");
        let asked = lab.ask(&job)?;
        let refusals = &asked.last()?.passage.refusals;
        Some(refusals.contains(&Refusal::NotChecked))
    };
    if refused(last)? || (last > 0 && !refused(last - 1)?) {
        return None;
    }
    let mut draft =
        Draft::new(5, 20).line("Between taking the board out of the bag and power, you:");
    for (at, word) in words.iter().enumerate() {
        draft = draft
            .line(format!("  {}. {word}", at + 1))
            .given(format!("heat.{at}"), u8::from(heats[at]));
    }
    let first = heats.iter().position(|heat| *heat)? + 1;
    Some(
        draft
            .line("After which step at the earliest is a short check worth anything?")
            .slip(first as f64, "a later heat can bridge what was checked")
            .slip(
                count as f64,
                "it may be done earlier: steps without heat open nothing",
            )
            .done(
                dice,
                Answer::Number {
                    value: (last + 1) as f64,
                    tolerance: 0.1,
                    unit: "step",
                },
                &[
                    "any heat can make a short: after the last one",
                    "one check at the start shows that the board is sound",
                    "a check counts until the power has been on",
                ],
                format!("the last heat is step {}", last + 1),
            ),
    )
}
