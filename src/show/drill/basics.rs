//! Levels 1 and 2: reading a staircase, and two alloys on clean pads.

use fastrand::Rng;

use super::draft::{Draft, board, coupling, degrees, kelvins, lines, some_of, whole};
use super::lab::{ALLOYS, Known, Lab, bearable, readings};
use super::question::{Answer, Question, told};
use crate::bench::{ServiceLimit, Verdict};

/// The highest-melting first; none if two of them leave no clear order.
fn in_order(dice: &mut Rng, count: usize) -> Option<Vec<Known>> {
    let mut alloys = some_of(dice, &ALLOYS, count);
    alloys.sort_by_key(|alloy| std::cmp::Reverse(alloy.1));
    let clear = alloys.windows(2).all(|pair| pair[0].1 - pair[1].2 >= 3);
    clear.then_some(alloys)
}

/// Form 1: three alloys in the order of use, and the gap at a stair.
pub(super) fn stairs(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloys = in_order(dice, 3)?;
    let stair = dice.usize(..2);
    let (earlier, later) = (lab.melt(alloys[stair])?, lab.melt(alloys[stair + 1])?);
    let gap = (earlier.first_melt? - later.flow_point?).kelvin();
    let mut mixed = alloys.clone();
    dice.shuffle(&mut mixed);
    let shelf: Vec<String> = mixed.iter().map(|alloy| alloy.told()).collect();
    let which = ["first", "second"][stair];
    let [a, b, c] = [alloys[0], alloys[1], alloys[2]];
    let job = format!(
        "job: three stairs on the {}\n{}\njoints:\n  - {{id: one}}\n  - {{id: two}}\n  - {{id: three}}\nsteps:\n  - {{id: a, do: solder, joint: one, alloy: {}, mg: 1, tool: iron, k: {{rest: 0.1}}}}\n  - {{id: b, do: solder, joint: two, alloy: {}, mg: 1, tool: iron, k: {{rest: 0.1}}, after: a}}\n  - {{id: c, do: solder, joint: three, alloy: {}, mg: 1, tool: iron, k: {{rest: 0.1}}, after: b}}\n",
        board(dice),
        readings(&alloys),
        a.0,
        b.0,
        c.0
    );
    let asked = lab.ask(&job)?;
    let other = alloys[1 - stair];
    let mut question = Draft::new(1, 1)
        .line(format!("On the shelf: {}.", shelf.join(", ")))
        .line(format!(
            "All three are used on one board, in the best order. How wide is the gap at the {which} stair: \
             solidus of the earlier less liquidus of the later?"
        ))
        .alloy(".0", mixed[0])
        .alloy(".1", mixed[1])
        .alloy(".2", mixed[2])
        .given("stair", u32::try_from(stair).ok()?)
        .slip(
            f64::from(other.1 - alloys[2 - stair].2).abs(),
            "that is the other stair",
        )
        .slip(
            f64::from(alloys[stair].2 - alloys[stair + 1].1),
            "the other way about: the later alloy must be all liquid while the earlier has not begun to melt",
        )
        .slip(
            f64::from(alloys[stair].1 - alloys[stair + 1].1),
            "two solidus temperatures: the later alloy must be all liquid, its liquidus counts",
        )
        .done(
            dice,
            kelvins(gap),
            &[
                "highest melting first: what stands must stay solid",
                "lowest melting first: it needs the least heat",
                "any order will do, as long as each joint is cold before the next",
            ],
            format!(
                "{}, then {}, then {}; {} − {} = {} K",
                a.0,
                b.0,
                c.0,
                alloys[stair].1,
                alloys[stair + 1].2,
                told(gap)
            ),
        );
    question.given.remove("stair");
    question.given.insert("nth".to_owned(), stair as f64);
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Reading a staircase: the smallest of what is left.
pub(super) fn weakest(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloys = some_of(dice, &ALLOYS, 3);
    let ids = ["rim", "tails", "plug"];
    let seen: Vec<i32> = alloys
        .iter()
        .map(|alloy| alloy.1 - whole(dice, 6, 70, 1))
        .collect();
    let left = |at: usize| alloys[at].1 - seen[at];
    let mut order = [0, 1, 2];
    order.sort_by_key(|at| left(*at));
    if left(order[1]) - left(order[0]) < 3 {
        return None;
    }
    let joints =
        lines((0..3).map(|at| format!("  - {{id: {}, alloy: {}}}\n", ids[at], alloys[at].0)));
    let sees: Vec<String> = (0..3)
        .map(|at| format!("{}: {}", ids[at], seen[at]))
        .collect();
    let job = format!(
        "job: {}\n{}\njoints:\n{joints}steps:\n  - {{id: warm, do: heat, tool: air, peak_c: {}, sees_c: {{{}}}}}\n",
        board(dice),
        readings(&alloys),
        seen.iter().max()?,
        sees.join(", ")
    );
    let asked = lab.ask(&job)?;
    let tightest = asked.checked.tightest?.margin.kelvin();
    let mut draft = Draft::new(1, 0).line("While one step heats the board, three joints see:");
    for at in 0..3 {
        draft = draft
            .line(format!(
                "  {}: {}, sees {} °C",
                ids[at],
                alloys[at].told(),
                seen[at]
            ))
            .alloy(&format!(".{at}"), alloys[at])
            .given(format!("sees.{at}"), seen[at]);
    }
    let hottest = (0..3).max_by_key(|at| seen[*at])?;
    let lowest = (0..3).min_by_key(|at| alloys[*at].1)?;
    let mut question = draft
        .line("How much is left at the weakest of them?")
        .slip(f64::from(left(hottest)), "that is the hottest joint: what counts is the distance from what a joint sees up to its own first melt")
        .slip(f64::from(left(lowest)), "that is the lowest-melting joint: it may stay the coolest, too")
        .done(
            dice,
            kelvins(tightest),
            &[
                "first melt less what it sees decides",
                "the joint that gets hottest is the weakest",
                "the alloy that melts lowest is the weakest",
            ],
            format!("{} less {} = {} K, at {}", alloys[order[0]].1, seen[order[0]], told(tightest), ids[order[0]]),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 12: a listing with one number, and where the alloy is really liquid.
pub(super) fn pasty(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let ranged: Vec<Known> = ALLOYS.iter().copied().filter(|a| a.1 < a.2).collect();
    let alloy = ranged[dice.usize(..ranged.len())];
    let superheat = whole(dice, 15, 30, 5);
    let job = format!(
        "job: {}\nwant: {{superheat_c: {superheat}}}\n{}\njoints:\n  - {{id: pad}}\nsteps:\n  - {{id: one, do: solder, joint: pad, alloy: {}, mg: 1, tool: iron}}\n",
        board(dice),
        readings(&[alloy]),
        alloy.0
    );
    let asked = lab.ask(&job)?;
    let peak = bearable(asked.last()?.passage.peak?)?;
    let mut question = Draft::new(1, 12)
        .line(format!(
            "A list calls {} \"eutectic, {} °C\". Another gives {} to {} °C for the same alloy.",
            alloy.0, alloy.1, alloy.1, alloy.2
        ))
        .line(format!(
            "You want {superheat} K above the point where it flows. What peak does the joint need?"
        ))
        .alloy("", alloy)
        .given("superheat", superheat)
        .slip(
            f64::from(alloy.1 + superheat),
            "at the lower number it only begins to melt: between the two it is pasty",
        )
        .slip(
            f64::from(alloy.2),
            "that is where it is all liquid; wetting needs more",
        )
        .slip(
            f64::from(alloy.1),
            "there the first drop appears, nothing flows yet",
        )
        .done(
            dice,
            degrees(peak),
            &[
                "between the two it is pasty; it flows at the upper",
                "an alloy that is called eutectic melts at one number, the lower one",
                "lists differ, so the mean of both is the best guess",
            ],
            format!("{} + {superheat} = {} °C", alloy.2, told(peak)),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// The limit in use by both rules, stricter first.
fn limits(lab: &Lab, alloy: Known) -> Option<(f64, f64)> {
    let limit = ServiceLimit::of(lab.melt(alloy)?.first_melt?);
    let stricter = limit.stricter().degrees();
    let kinder = limit.minus_50.max(limit.ninety_percent).degrees();
    Some((stricter, kinder))
}

const RULES: &str = "Two rules hold: first melt less 50 K, and 0.9 of the first melt in kelvin.";

/// Form 7, as a number: how warm the finished board may get.
pub(super) fn service(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloy = ALLOYS[dice.usize(..ALLOYS.len())];
    let (stricter, kinder) = limits(lab, alloy)?;
    Some(
        Draft::new(2, 7)
            .line(format!(
                "A joint of {} stands on a clean pad. {RULES}",
                alloy.told()
            ))
            .line("How warm may it get in use?")
            .alloy("", alloy)
            .slip(kinder, "that is the kinder rule: the stricter counts")
            .slip(
                0.9 * f64::from(alloy.1),
                "0.9 of °C means nothing: the rule is in kelvin",
            )
            .slip(
                f64::from(alloy.1),
                "there it melts; solder creeps and tires long before",
            )
            .done(
                dice,
                degrees(stricter),
                &[
                    "solder creeps while it is solid: the stricter rule",
                    "anything below the first melt is solid and therefore strong",
                    "the two rules are averaged",
                ],
                format!(
                    "{} − 50 = {}; 0.9 × {:.2} K − 273.15 = {}; the lower is {} °C",
                    alloy.1,
                    alloy.1 - 50,
                    f64::from(alloy.1) + 273.15,
                    told(0.9 * (f64::from(alloy.1) + 273.15) - 273.15),
                    told(stricter)
                ),
            ),
    )
}

/// Form 7, as a decision: may this alloy be used there?
pub(super) fn may_serve(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloy = ALLOYS[dice.usize(..ALLOYS.len())];
    let (stricter, kinder) = limits(lab, alloy)?;
    let hottest = whole(dice, 40, 200, 5);
    let melt = lab.melt(alloy)?;
    let verdict = crate::bench::service_verdict(
        crate::quantity::KelvinStep::whole(5),
        &melt,
        crate::quantity::Celsius::whole(hottest),
    );
    // Neither within the margin, nor so clear that nobody need reckon.
    let near = (f64::from(hottest) - stricter).abs() <= 40.0;
    let right = match verdict {
        Verdict::Holds if near => 0,
        Verdict::Limit if near && stricter < f64::from(hottest) - 2.0 => 1,
        _ => return None,
    };
    Some(
        Draft::new(2, 7)
            .line(format!(
                "The {} gets up to {hottest} °C in use. {RULES}",
                board(dice)
            ))
            .line(format!(
                "May you use {} on clean pads there, with 5 K to spare?",
                alloy.told()
            ))
            .options(["yes", "no"])
            .alloy("", alloy)
            .given("service", hottest)
            .given("margin", 5)
            .slip_option(
                1 - right,
                if right == 1 {
                    format!(
                        "solid is not strong: the stricter rule ends at {} °C",
                        told(stricter)
                    )
                } else {
                    "both rules leave room: reckon them before you refuse a good alloy".to_owned()
                },
            )
            .done(
                dice,
                Answer::One(right),
                &[
                    "the stricter of the two rules decides",
                    "it only has to stay below the first melt",
                    "lead-free alloys always stand more heat than leaded ones",
                ],
                format!(
                    "the rules give {} and {} °C; the stricter is {}, in use it is {hottest}",
                    told(stricter),
                    told(kinder),
                    told(stricter)
                ),
            ),
    )
}

/// Two alloys, and a neighbour that sees the whole peak.
pub(super) fn sees_all(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloys = in_order(dice, 2)?;
    let (earlier, later) = (alloys[0], alloys[1]);
    let superheat = whole(dice, 15, 30, 5);
    let k = coupling(dice, 20, 20);
    let job = format!(
        "job: {}\nwant: {{superheat_c: {superheat}}}\n{}\njoints:\n  - {{id: first, alloy: {}}}\n  - {{id: second}}\nsteps:\n  - {{id: later, do: solder, joint: second, alloy: {}, mg: 1, tool: air, k: {{first: {k}}}}}\n",
        board(dice),
        readings(&alloys),
        earlier.0,
        later.0
    );
    let asked = lab.ask(&job)?;
    let margin = asked.margin("first")?;
    let gap = f64::from(earlier.1 - later.2);
    let mut question = Draft::new(2, 0)
        .line(format!("A joint of {} stands. Close to it you solder {}, {superheat} K above the point where that flows.", earlier.told(), later.told()))
        .line("The old joint sees all of it. How much is left there? (Below zero: it melts.)")
        .alloy(".0", earlier)
        .alloy(".1", later)
        .given("superheat", superheat)
        .slip(gap, "that is the gap between the two alloys; the joint sees the peak, which lies above the liquidus")
        .slip(-margin, "the sign: what is left is first melt less what it sees")
        .slip(f64::from(earlier.1 - later.1 - superheat), "the later alloy flows at its liquidus, not at its solidus")
        .done(
            dice,
            kelvins(margin),
            &[
                "the peak that the neighbour sees decides",
                "a gap between the two alloys is enough, however small",
                "the iron or air setting is what the neighbour sees",
            ],
            format!("{} − ({} + {superheat}) = {} K", earlier.1, later.2, told(margin)),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}
