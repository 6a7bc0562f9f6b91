//! Level 6: taking off, and planning again.

use std::collections::BTreeSet;

use fastrand::Rng;

use crate::job::Want;

use super::draft::{Draft, board, coupling, degrees, lines, some_of, whole};
use super::lab::{ALLOYS, BISMUTH, Known, Lab, bearable, readings};
use super::question::{Answer, Question, told};

/// Form 4: to what a chip is heated to come off.
pub(super) fn comes_off(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let ranged: Vec<Known> = ALLOYS.iter().copied().filter(|a| a.1 < a.2).collect();
    let alloy = ranged[dice.usize(..ranged.len())];
    let superheat = whole(dice, 15, 30, 5);
    let job = format!(
        "job: {}\nwant: {{superheat_c: {superheat}}}\n{}\nparts:\n  - {{id: chip, on: site}}\njoints:\n  - {{id: site, alloy: {}}}\nsteps:\n  - {{id: off, do: remove, part: chip, tool: air}}\n",
        board(dice),
        readings(&[alloy]),
        alloy.0
    );
    let asked = lab.ask(&job)?;
    let peak = bearable(asked.last()?.passage.peak?)?;
    let mut question = Draft::new(6, 4)
        .line(format!(
            "A chip stands on joints of {}; it must come off again.",
            alloy.told()
        ))
        .line(format!(
            "To what do you heat the joints, {superheat} K above the point that counts?"
        ))
        .alloy("", alloy)
        .given("superheat", superheat)
        .slip(
            f64::from(alloy.1 + superheat),
            "at the first melt part of each ball is still solid: lifting then tears pads off",
        )
        .slip(
            f64::from(alloy.1),
            "that is the first drop; pads tear when a chip is lifted before all is liquid",
        )
        .slip(
            f64::from(alloy.2),
            "all is liquid there and only just: the coolest corner is not",
        )
        .done(
            dice,
            degrees(peak),
            &[
                "every ball must be all liquid, the coolest one too",
                "removal needs less heat than placing: the first melt is enough",
                "the hotter the better: what comes off is scrap anyway",
            ],
            format!("{} + {superheat} = {} °C", alloy.2, told(peak)),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 15: the thermocouple read more than planned.
pub(super) fn too_hot(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let planned = whole(dice, 155, 215, 5);
    let read = planned + whole(dice, 10, 35, 1);
    let preheat = whole(dice, 80, 120, 10);
    let ids = ["rim", "tails", "plug", "choke"];
    let alloys = some_of(dice, &ALLOYS, 4);
    let couplings: Vec<f64> = (0..4).map(|_| coupling(dice, 4, 18)).collect();
    let joints = lines((0..4).map(|at| {
        format!(
            "  - {{id: {}, alloy: {}, must: stay_solid}}\n",
            ids[at], alloys[at].0
        )
    }));
    let ks: Vec<String> = (0..4)
        .map(|at| format!("{}: {}", ids[at], couplings[at]))
        .collect();
    let job = format!(
        "job: {}\n{}\njoints:\n{joints}  - {{id: pad}}\nsteps:\n  - {{id: set, do: solder, joint: pad, alloy: {}, mg: 1, tool: air, peak_c: {planned}, preheat_c: {preheat}, k: {{{}}}}}\ndone:\n  - {{step: set, peak_c: {read}}}\n",
        board(dice),
        readings(&alloys),
        BISMUTH.0,
        ks.join(", ")
    );
    let asked = lab.ask(&job)?;
    let mut distrusted = BTreeSet::new();
    for (at, id) in ids.iter().enumerate() {
        let margin = asked.margin(id)?;
        if margin.abs() < 1.0 {
            return None;
        }
        if margin < 0.0 {
            distrusted.insert(at);
        }
    }
    let seen: Vec<String> = (0..4)
        .map(|at| {
            let sees = f64::from(preheat) + couplings[at] * f64::from(read - preheat);
            format!("{} {} of {}", ids[at], told(sees), alloys[at].1)
        })
        .collect();
    let by_plan: BTreeSet<usize> = (0..4)
        .filter(|at| {
            let seen = f64::from(preheat) + couplings[*at] * f64::from(planned - preheat);
            f64::from(alloys[*at].1) < seen
        })
        .collect();
    let mut draft = Draft::new(6, 15)
        .line(format!("Hot air was planned to {planned} °C at the chip, preheat {preheat} °C. The thermocouple there read {read} °C."))
        .line("Which joints must you take for molten, and inspect?")
        .options((0..4).map(|at| format!("{}: {}, coupling {}", ids[at], alloys[at].told(), couplings[at])))
        .given("planned", planned)
        .given("read", read)
        .given("preheat", preheat);
    for at in 0..4 {
        draft = draft
            .alloy(&format!(".{at}"), alloys[at])
            .given(format!("k.{at}"), couplings[at]);
    }
    let mut question = draft.done(
        dice,
        Answer::Some(distrusted),
        &[
            "what was read happened: reckon from the reading",
            "the plan said that they hold, so they hold",
            "one reading above plan makes every joint of the board suspect",
        ],
        format!(
            "each sees {preheat} + k × ({read} − {preheat}): {}; those above their first melt",
            seen.join(", ")
        ),
    );
    let slip = super::question::Given::Options(by_plan);
    if !question.is_right(&slip) {
        question.slips.push(super::question::Slip {
            given: slip,
            why: "that is reckoned from the plan: write down the reading and reckon from it"
                .to_owned(),
        });
    }
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// The ledger: how many heats a chip has left when it must come off and go on again.
pub(super) fn heats_left(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let allowed = whole(dice, 6, 9, 1);
    let neighbour = whole(dice, 100, 200, 5);
    let fails = dice.bool();
    if (neighbour - 150).abs() < 5 {
        return None;
    }
    let mut words = vec![
        "set with hot air".to_owned(),
        format!("a wire soldered beside it: its body sees {neighbour} °C"),
        "checked for shorts".to_owned(),
    ];
    let mut steps = format!(
        "  - {{id: set, do: place, part: chip, on: site, tool: air, k: {{rest: 0.3}}}}\n  - {{id: wire, do: solder, joint: pad, alloy: Sn63Pb37, mg: 1, tool: iron, sees_c: {{chip: {neighbour}, site: 60}}, after: set}}\n  - {{id: meter, do: gate, after: wire}}\n"
    );
    if fails {
        for word in [
            "dead: taken off with hot air",
            "its pads wicked with hot air",
            "new balls melted on",
            "set again with hot air",
        ] {
            words.push(word.to_owned());
        }
        steps += "  - {id: off, do: remove, part: chip, tool: air, k: {rest: 0.3}, after: meter}\n  - {id: wick, do: clean, part: chip, tool: air, after: off}\n  - {id: ball, do: reball, part: chip, alloy: Bi58Sn42, tool: air, after: wick}\n  - {id: again, do: place, part: chip, on: site, tool: air, k: {rest: 0.3}, after: ball}\n";
    }
    let job = format!(
        "job: {}\n{}\nparts:\n  - {{id: chip, balls: {{count: 4, diameter_um: 300, alloy: Bi58Sn42}}, heats_left: {allowed}, vital: true}}\njoints:\n  - {{id: site, at: chip, pad_um: 300}}\n  - {{id: pad}}\nsteps:\n{steps}",
        board(dice),
        readings(&[BISMUTH])
    );
    let asked = lab.ask(&job)?;
    let left = asked.checked.ledgers.first()?.left?;
    let counts = Want::default().counts_from.degrees();
    let mut draft = Draft::new(6, 0)
        .line(format!("The chip that holds the data may take {allowed} more heats. A heat counts when the work is on the chip itself, or its body sees {counts} °C or more. It was:"))
        .given("allowed", allowed)
        .given("counts", counts)
        .given("neighbour", neighbour)
        .given("on_chip", if fails { 5 } else { 1 });
    for word in words {
        draft = draft.line(format!("  - {word}"));
    }
    let left = i32::try_from(left).ok()?;
    let mut question = draft
        .line("How many heats has it left?")
        .slip(f64::from(allowed - 1), "taking off, wicking, new balls and setting down again are heats, each of them")
        .slip(f64::from(left + 1), "a heat is missing: go through the list line by line")
        .slip(f64::from(left - 1), "one of these is no heat: look at the temperature that the body sees")
        .done(
            dice,
            Answer::Number { value: f64::from(left), tolerance: 0.1, unit: "heats" },
            &[
                "every time the chip itself is worked on with heat counts, and neighbours' heats count when they reach it hot enough",
                "only setting it down counts",
                "heats count only above the melting point of its balls",
            ],
            format!("{allowed} less every heat in the list: {left}"),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}
