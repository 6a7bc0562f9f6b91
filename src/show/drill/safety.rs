//! Level 9: what can hurt people, boards and data. What a job calls for is asked of the planner; the rest are the
//! cautions that it prints, each turned into what somebody does at a bench.

use std::collections::BTreeSet;

use fastrand::Rng;

use super::draft::{Draft, board, lines};
use super::lab::Lab;
use super::question::{Answer, Question};
use crate::show::cautions::{all_cautions, cautions_of};

/// Something that happens, what may be done (the right one first), and why (likewise).
struct Scene {
    /// The caution that it comes from, which must be one that is printed.
    topic: &'static str,
    happens: &'static str,
    does: [&'static str; 4],
    reasons: [&'static str; 3],
}

/// A scene as a question; its rule is the caution as it is printed.
fn scene(dice: &mut Rng, scene: &Scene) -> Option<Question> {
    let caution = all_cautions()
        .into_iter()
        .find(|c| c.topic == scene.topic)?;
    let mut does: Vec<(usize, &str)> = scene.does.iter().copied().enumerate().collect();
    dice.shuffle(&mut does);
    let right = does.iter().position(|(at, _)| *at == 0)?;
    Some(
        Draft::new(9, 24)
            .line(format!(
                "At the bench of the {}: {}",
                board(dice),
                scene.happens
            ))
            .line("What do you do?")
            .options(does.iter().map(|(_, words)| *words))
            .done(
                dice,
                Answer::One(right),
                &scene.reasons,
                format!("{}: {}", caution.topic, caution.say),
            ),
    )
}

pub(super) fn cell(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Cells and capacitors",
            happens: "the cell beside the target is swollen.",
            does: [
                "stop: no heat, no pressure; out of doors, into dry sand",
                "cover it with foil and an air gap, and keep the heat short",
                "prick it on the far side so that it cannot burst over the board",
                "cool it with spray while somebody else heats",
            ],
            reasons: [
                "it may catch fire by itself",
                "foil keeps enough heat off any cell if the heat is short",
                "gas is the danger: a cell without it is harmless",
            ],
        },
    )
}

pub(super) fn capacitor(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Cells and capacitors",
            happens: "a large capacitor stands beside the joints. The board was unplugged a minute ago.",
            does: [
                "discharge it through a resistor, then measure",
                "short it with a screwdriver and listen for the snap",
                "leave it: what is unplugged holds nothing after a minute",
                "heat first and measure when the board is cold again",
            ],
            reasons: [
                "it holds its charge, and only a meter shows it",
                "unplugging takes the charge out of everything",
                "a short is the quickest way, so it is the safest",
            ],
        },
    )
}

pub(super) fn hands(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Lead",
            happens: "you have wicked leaded solder all morning; now there is lunch.",
            does: [
                "wash hands with soap, eat elsewhere",
                "wipe hands on the bench cloth and eat beside the fume extractor",
                "nothing more: the extractor has taken the lead away",
                "blow the dust off the bench and eat there",
            ],
            reasons: [
                "lead gets in by hands and mouth",
                "lead only harms as vapour, and there is none at 350 °C",
                "a morning's work is too little lead to matter",
            ],
        },
    )
}

pub(super) fn oven(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Food oven",
            happens: "the chip must be baked, and the only oven is the one in the kitchen.",
            does: [
                "not in it, unless it never heats food again",
                "bake in it, then run it empty at full heat for an hour",
                "bake in it with the chip wrapped in foil",
                "bake in it once: a single bake leaves nothing behind",
            ],
            reasons: [
                "flux and lead stay in it",
                "full heat burns away whatever a board leaves behind",
                "a chip in foil gives nothing off",
            ],
        },
    )
}

pub(super) fn solvent(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Solvent",
            happens: "flux was washed off with alcohol; the board is still wet, the bottle open, and the air comes next.",
            does: [
                "let it dry, close the bottle, then heat",
                "heat at once: the hot air dries it in a moment",
                "heat from the dry side, the wet side dries meanwhile",
                "start on low air until nothing is wet, then go on",
            ],
            reasons: [
                "alcohol gives a vapour that burns at room temperature",
                "alcohol burns only when a flame touches the liquid",
                "hot air blows any vapour away before it can burn",
            ],
        },
    )
}

pub(super) fn lamp(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Lamp",
            happens: "mask is to be cured under the ultraviolet lamp, and you must hold the wire meanwhile.",
            does: [
                "clamp the wire, shield the lamp, wear its goggles",
                "hold it and look away: the light only harms when stared at",
                "hold it with sunglasses on and a hand over the lamp",
                "hold it: a lamp that hardly glows cannot harm",
            ],
            reasons: [
                "most of what harms eye and skin is not seen",
                "what hardly glows has no strength to harm anything",
                "only staring into a lamp harms, skin bears it all day",
            ],
        },
    )
}

pub(super) fn first_power(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "First power",
            happens: "the last joint is cold, the board cleaned and dry.",
            does: [
                "check for shorts, then power through a limit of 50 mA",
                "power from its own supply, a finger on the switch",
                "power through a limit of 2 A: below that a board may not start",
                "power first: a short shows itself by the heat",
            ],
            reasons: [
                "a short that is found by current has burnt something by then",
                "a quick finger is faster than a short",
                "a supply limits itself to what the board needs",
            ],
        },
    )
}

pub(super) fn ceramic(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Beryllium",
            happens: "a white ceramic lid is in the way by half a millimetre, and nobody knows of what it is.",
            does: [
                "leave it whole: move it or plan around it",
                "grind it slowly under the fume extractor",
                "file it wet so that no dust flies",
                "break the edge off with pliers and sweep up",
            ],
            reasons: [
                "it may hold beryllium, and its dust harms lungs for life",
                "ceramic is inert, and so its dust harms nobody",
                "a fume extractor holds back any dust there is",
            ],
        },
    )
}

pub(super) fn cadmium(_: &Lab, dice: &mut Rng) -> Option<Question> {
    scene(
        dice,
        &Scene {
            topic: "Cadmium on the board",
            happens: "a note in the case says that the fusible alloy on the board holds cadmium.",
            does: [
                "stop: no heat; ask who is trained for it",
                "go on below 100 °C: that melts it without fume",
                "go on outdoors and hold your breath at the joint",
                "flood it with leaded solder until little cadmium is left",
            ],
            reasons: [
                "its fume and dust are poisonous in traces",
                "a metal gives fume only when it boils",
                "thinned with other solder it becomes harmless",
            ],
        },
    )
}

/// What a job may do, and the line of it.
const DOES: [(&str, &str, &str); 5] = [
    (
        "a wire is soldered with Sn63Pb37",
        "  - {id: s, do: solder, joint: one, alloy: Sn63Pb37, mg: 1, tool: iron}\n",
        "",
    ),
    (
        "a frame is soldered with In52Sn48",
        "  - {id: i, do: solder, joint: two, alloy: In52Sn48, mg: 1, tool: iron}\n",
        "",
    ),
    (
        "mask is cured over a joint",
        "  - {id: m, do: cure, guard: mask, over: three}\n",
        "guards:\n  - {id: mask, kind: mask}\n",
    ),
    (
        "hot air warms the board",
        "  - {id: a, do: preheat, tool: air, peak_c: 80}\n",
        "",
    ),
    (
        "it is switched on after its check",
        "  - {id: g, do: gate}\n  - {id: p, do: power, after: g}\n",
        "",
    ),
];

/// Topics that are asked about, each called for by one of these only.
const TOPICS: [&str; 5] = ["Lead", "Indium", "Lamp", "Hot air", "First power"];

/// Which cautions a job calls for, as the planner says.
pub(super) fn called_for(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let does: Vec<usize> = (0..DOES.len()).filter(|_| dice.bool()).collect();
    if does.is_empty() {
        return None;
    }
    let guards = lines(does.iter().map(|at| DOES[*at].2.to_owned()));
    let steps = lines(does.iter().map(|at| DOES[*at].1.to_owned()));
    let job = format!(
        "job: {}\n{guards}joints:\n  - {{id: one}}\n  - {{id: two}}\n  - {{id: three}}\nsteps:\n{steps}",
        board(dice)
    );
    let asked = lab.ask(&job)?;
    let said: BTreeSet<String> = cautions_of(&asked.job, &asked.checked)
        .into_iter()
        .map(|caution| caution.topic)
        .collect();
    let right: BTreeSet<usize> = (0..TOPICS.len())
        .filter(|at| said.contains(TOPICS[*at]))
        .collect();
    let words: Vec<&str> = does.iter().map(|at| DOES[*at].0).collect();
    let mut draft = Draft::new(9, 23)
        .line(format!("In a job {}.", words.join(", ")))
        .line("Which of these cautions belong to it?")
        .options(TOPICS.map(str::to_lowercase));
    for at in 0..DOES.len() {
        draft = draft.given(format!("does.{at}"), u8::from(does.contains(&at)));
    }
    Some(draft.done(
        dice,
        Answer::Some(right),
        &[
            "a caution belongs to what the job does",
            "all cautions belong to every job",
            "cautions are for beginners: one for each job is enough",
        ],
        words.join(", "),
    ))
}
