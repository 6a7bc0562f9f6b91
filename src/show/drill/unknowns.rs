//! Level 8: what is not known, and the test that would tell.

use fastrand::Rng;

use super::draft::{Draft, board, coupling, some_of, whole};
use super::lab::{ALLOYS, BEARS, BISMUTH, LEADED, Lab, SAC, bearable, readings};
use super::question::{Answer, Question, told};
use crate::alloy::NameFault;
use crate::bench::{Seen, Verdict};

/// Labels of spools, and what has to be asked of those that fit several alloys.
const LABELS: [(&str, &str); 11] = [
    ("63/37", ""),
    ("60/40", ""),
    ("sac305", ""),
    ("42/58", ""),
    ("62/36/2", ""),
    ("37/63", "which number is the tin"),
    ("90/10", "which number is the tin"),
    ("183", "which of the alloys that melt there"),
    ("low melt", "which of the low-melting alloys"),
    ("lead free", "which of the lead-free alloys"),
    ("silver solder", "which alloy: soft solder or braze"),
];

/// Form 10: a spool with a label.
pub(super) fn spool(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let (label, ask) = LABELS[dice.usize(..LABELS.len())];
    let right = match lab.book().find(label) {
        Ok(_) => 0,
        Err(NameFault::Ask { .. }) => 1,
        Err(_) => return None,
    };
    if (right == 1) == ask.is_empty() {
        return None;
    }
    Some(
        Draft::new(8, 10)
            .line(format!(
                "On the bench of the {} lies a spool. Its label says: {label}",
                board(dice)
            ))
            .line("Is that enough to plan with?")
            .options(["yes, it is one alloy", "no, it must be asked about first"])
            .slip_option(
                1 - right,
                if right == 1 {
                    format!("the label fits several alloys: ask {ask}")
                } else {
                    "this label fits one common solder only".to_owned()
                },
            )
            .done(
                dice,
                Answer::One(right),
                if right == 1 {
                    &[
                        "several solders fit that label, and they melt far apart",
                        "a label is a label: the first alloy that fits is meant",
                        "all solders of one label melt alike",
                    ]
                } else {
                    &[
                        "by custom it names one solder, and no other fits",
                        "no label can ever be trusted",
                        "the colour of the solder tells the rest",
                    ]
                },
                if right == 1 {
                    format!("ask {ask}")
                } else {
                    format!("{label} is one alloy")
                },
            ),
    )
}

/// Form 11: a number without its scale.
pub(super) fn scale(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloy = ALLOYS[dice.usize(..ALLOYS.len())];
    let fahrenheit = (f64::from(alloy.2 + whole(dice, 20, 40, 1)) * 1.8 + 32.0).round();
    let job = format!(
        "job: {}\n{}\njoints:\n  - {{id: pad}}\nsteps:\n  - {{id: one, do: solder, joint: pad, alloy: {}, mg: 1, tool: air, peak_c: {fahrenheit}F}}\n",
        board(dice),
        readings(&[alloy]),
        alloy.0
    );
    let asked = lab.ask(&job)?;
    let peak = bearable(asked.last()?.passage.peak?)?;
    let mut question = Draft::new(8, 11)
        .line(format!(
            "A profile sheet for {} says \"peak {fahrenheit}\", without a scale.",
            alloy.told()
        ))
        .line("What is that in °C, read in the scale that makes sense?")
        .alloy("", alloy)
        .given("sheet", fahrenheit)
        .slip(
            fahrenheit,
            format!(
                "as °C that is {} K above the point where it flows: no board and no chip bears that",
                fahrenheit - f64::from(alloy.2)
            ),
        )
        .slip((fahrenheit - 32.0) / 2.0, "a degree of that scale is 5/9 of a kelvin, not half")
        .slip(fahrenheit / 1.8, "the scales do not begin at the same point: take 32 off first")
        .done(
            dice,
            Answer::Number { value: peak, tolerance: 1.0, unit: "°C" },
            &[
                "only one reading lies 20 to 40 K above the liquidus",
                "a number without a scale is always °C",
                "sheets state the setting of the oven, so it is right as it is",
            ],
            format!("({fahrenheit} − 32) / 1.8 = {} °C", told(peak)),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 17: a touch that tells two alloys apart.
pub(super) fn test(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let mut alloys = some_of(dice, &ALLOYS, 2);
    alloys.sort_by_key(|alloy| alloy.1);
    let exact = whole(dice, 2, 8, 1);
    let lower = lab.melt(alloys[0])?.flow_point?.degrees() + f64::from(exact);
    let upper = lab.melt(alloys[1])?.first_melt?.degrees() - f64::from(exact);
    if upper - lower < 4.0 || upper > BEARS {
        return None;
    }
    let mut named = alloys.clone();
    dice.shuffle(&mut named);
    Some(
        Draft::new(8, 17)
            .line(format!(
                "Old joints are either {} or {}, nobody knows which. Your tip holds its temperature to {exact} K.",
                named[0].told(),
                named[1].told()
            ))
            .line("At what temperature do you touch one of them, so that one alloy surely flows and the other surely stays solid?")
            .alloy(".0", alloys[0])
            .alloy(".1", alloys[1])
            .given("exact", exact)
            .slip(f64::from(alloys[1].1), "there the higher one begins to melt, too: both may show a mark")
            .slip(f64::from(alloys[0].1), "there the lower one only just begins: with the error of the tip it may not show")
            .done(
                dice,
                Answer::Between { low: lower, high: upper, unit: "°C" },
                &[
                    "a test must come out differently for the two: above the liquidus of one, below the solidus of the other",
                    "the hotter the surer: what melts is solder",
                    "shine tells leaded from lead-free without any heat",
                ],
                format!("from {} + {exact} to {} − {exact} °C", alloys[0].2, alloys[1].1),
            ),
    )
}

/// What may be said before any test; here "unknown" can be the right answer.
pub(super) fn before_any_test(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let count = dice.usize(2..=3);
    let candidates = some_of(dice, &[SAC, LEADED, BISMUTH, ALLOYS[4], ALLOYS[8]], count);
    let (peak, preheat) = (whole(dice, 150, 260, 5), whole(dice, 80, 120, 10));
    let k = coupling(dice, 6, 18);
    let names: Vec<&str> = candidates.iter().map(|alloy| alloy.0).collect();
    let job = format!(
        "job: {}\n{}\njoints:\n  - {{id: old, alloy: [{}], must: stay_solid}}\nsteps:\n  - {{id: set, do: heat, tool: air, peak_c: {peak}, preheat_c: {preheat}, k: {{old: {k}}}}}\n",
        board(dice),
        readings(&candidates),
        names.join(", ")
    );
    let asked = lab.ask(&job)?;
    let Seen::At(seen, _) = asked.sight("old")?.seen else {
        return None;
    };
    let seen = seen.degrees();
    let near = |solidus: i32| (-1.0..6.0).contains(&(f64::from(solidus) - seen));
    if candidates.iter().any(|alloy| near(alloy.1)) {
        return None;
    }
    let right = match asked.checked.verdict {
        Verdict::Holds => 0,
        Verdict::Melts => 1,
        Verdict::Unknown => 2,
        _ => return None,
    };
    let told_names: Vec<String> = candidates.iter().map(|alloy| alloy.told()).collect();
    let mut draft = Draft::new(8, 0)
        .line(format!("Old joints are one of {}. Beside them a chip is heated to {peak} °C, preheat {preheat} °C, coupling {k}.", told_names.join(", ")))
        .line("The old joints must keep 5 K. What can you say before any test?")
        .options(["it holds, whichever it is", "it melts, whichever it is", "unknown: a test must decide"])
        .given("peak", peak)
        .given("preheat", preheat)
        .given("k", k)
        .given("margin", 5);
    for (at, alloy) in candidates.iter().enumerate() {
        draft = draft.alloy(&format!(".{at}"), *alloy);
    }
    if right == 2 {
        draft = draft.slip_option(
            0,
            "the likely alloy is not the only one: the worst candidate melts",
        );
    } else {
        draft = draft.slip_option(
            2,
            "a test would not change anything here: all candidates agree",
        );
    }
    let mut question = draft.done(
        dice,
        Answer::One(right),
        &[
            "only where all candidates agree is it known",
            "the most likely alloy decides",
            "what is not known is taken as the highest-melting candidate",
        ],
        format!(
            "it sees {} °C; compare that with each first melt",
            told(seen)
        ),
    );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}
