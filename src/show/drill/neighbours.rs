//! Level 3: what neighbours see.

use fastrand::Rng;

use super::draft::{Draft, board, coupling, degrees, lines, some_of, whole};
use super::lab::{ALLOYS, BISMUTH, CHIP_BEARS, INDIUM, Known, LEADED, Lab, SAC, readings};
use super::question::{Answer, Question, told};
use crate::bench::{Seen, Verdict, hang_limit};
use crate::job::Hang;
use crate::quantity::{Area, Length, Mass};

/// A chip set down beside a joint.
struct Beside {
    joint: Known,
    peak: i32,
    preheat: i32,
    k: f64,
}

impl Beside {
    fn draw(dice: &mut Rng) -> Self {
        let joints = [SAC, LEADED, BISMUTH, INDIUM];
        Beside {
            joint: joints[dice.usize(..joints.len())],
            peak: whole(dice, 150, 245, 1),
            preheat: whole(dice, 80, 125, 5),
            k: coupling(dice, 2, 18),
        }
    }

    fn job(&self, board: &str) -> String {
        format!(
            "job: {board}\n{}\njoints:\n  - {{id: tails, alloy: {}, must: stay_solid}}\nsteps:\n  - {{id: set, do: heat, tool: air, peak_c: {}, preheat_c: {}, k: {{tails: {}}}}}\n",
            readings(&[self.joint]),
            self.joint.0,
            self.peak,
            self.preheat,
            self.k
        )
    }

    fn told(&self, draft: Draft) -> Draft {
        draft
            .line(format!(
                "The board is preheated to {} °C. Hot air brings a chip to {} °C.",
                self.preheat, self.peak
            ))
            .line(format!(
                "A jumper of {} ends 4 mm away; its coupling is {} (the share of the rise over preheat that arrives).",
                self.joint.told(),
                self.k
            ))
            .alloy("", self.joint)
            .given("peak", self.peak)
            .given("preheat", self.preheat)
            .given("k", self.k)
    }
}

/// Form 6: what the jumper sees.
pub(super) fn sees(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let beside = Beside::draw(dice);
    let asked = lab.ask(&beside.job(board(dice)))?;
    let Seen::At(seen, _) = asked.sight("tails")?.seen else {
        return None;
    };
    let seen = seen.degrees();
    let (peak, preheat, k) = (f64::from(beside.peak), f64::from(beside.preheat), beside.k);
    let mut question = beside
        .told(Draft::new(3, 6))
        .line("What does the jumper see?")
        .slip(
            k * peak,
            "the coupling counts from preheat up, not from zero",
        )
        .slip(preheat + k * peak, "only the rise over preheat is shared")
        .slip(
            25.0 + k * (peak - 25.0),
            "the board is not at room temperature: the preheater is on",
        )
        .slip(peak, "that is what the chip sees")
        .slip(preheat, "the air reaches it, too")
        .done(
            dice,
            degrees(seen),
            &[
                "preheat in full, and a share of the rise",
                "the coupling is a share of the peak itself",
                "4 mm away nothing but the preheat arrives",
            ],
            format!(
                "{preheat} + {k} × ({peak} − {preheat}) = {} °C; {} K left",
                told(seen),
                told(f64::from(beside.joint.1) - seen)
            ),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 6 backwards: the highest peak that keeps the margin.
pub(super) fn highest(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let beside = Beside::draw(dice);
    let asked = lab.ask(&beside.job(board(dice)))?;
    let highest = asked.last()?.passage.window.to?.degrees();
    let (preheat, k) = (f64::from(beside.preheat), beside.k);
    let solidus = f64::from(beside.joint.1);
    if !(130.0..=CHIP_BEARS).contains(&highest) {
        return None;
    }
    let mut question = Draft::new(3, 6)
        .line(format!(
            "The board is preheated to {} °C. Hot air heats a chip.",
            beside.preheat
        ))
        .line(format!(
            "A jumper of {} ends 4 mm away; its coupling is {} (the share of the rise over preheat that arrives).",
            beside.joint.told(),
            beside.k
        ))
        .line("How hot may the chip get at most if the jumper is to keep 5 K?")
        .alloy("", beside.joint)
        .given("preheat", beside.preheat)
        .given("k", k)
        .given("margin", 5)
        .slip(preheat + (solidus - preheat) / k, "that leaves no margin at all")
        .slip((solidus - 5.0) / k, "the coupling counts from preheat up, not from zero")
        .slip(solidus - 5.0, "the jumper may see that, the chip more")
        .done(
            dice,
            Answer::Number { value: highest, tolerance: 1.0, unit: "°C" },
            &[
                "only a share of the rise reaches the jumper",
                "the chip must stay below the first melt of the jumper",
                "the margin is kept at the chip, not at the jumper",
            ],
            format!(
                "{preheat} + ({solidus} − 5 − {preheat}) / {k} = {} °C",
                told(highest)
            ),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 8: which joints the preheater alone endangers.
pub(super) fn plate(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let alloys = some_of(dice, &ALLOYS, 4);
    let plate = whole(dice, 90, 190, 1);
    if alloys.iter().any(|a| (a.1 - 5 - plate).abs() < 2) {
        return None;
    }
    let ids = ["rim", "tails", "plug", "choke"];
    let joints = lines(
        ids.iter()
            .zip(&alloys)
            .map(|(id, alloy)| format!("  - {{id: {id}, alloy: {}}}\n", alloy.0)),
    );
    let job = format!(
        "job: {}\n{}\njoints:\n{joints}steps:\n  - {{id: warm, do: preheat, tool: plate, peak_c: {plate}}}\n",
        board(dice),
        readings(&alloys)
    );
    let asked = lab.ask(&job)?;
    let sights = &asked.last()?.passage.sights;
    if sights.iter().any(|s| s.verdict == Verdict::Unknown) {
        return None;
    }
    let endangered = sights
        .iter()
        .filter(|sight| sight.verdict != Verdict::Holds)
        .map(|sight| sight.joint.0)
        .collect();
    let mut draft = Draft::new(3, 8)
        .line(format!(
            "The preheater brings the whole board to {plate} °C."
        ))
        .line("Which joints have less than 5 K left before you even pick up the hot air?")
        .options(
            ids.iter()
                .zip(&alloys)
                .map(|(id, alloy)| format!("{id}: {}", alloy.told())),
        )
        .given("plate", plate)
        .given("margin", 5);
    for (at, alloy) in alloys.iter().enumerate() {
        draft = draft.alloy(&format!(".{at}"), *alloy);
    }
    let mut question = draft.done(
        dice,
        Answer::Some(endangered),
        &[
            "a preheater heats the whole board alike",
            "a preheater is harmless, it never melts anything",
            "only joints beside the chip are heated",
        ],
        format!(
            "every joint whose first melt is below {plate} + 5 = {} °C",
            plate + 5
        ),
    );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Form 9: how heavy a part may be that hangs below.
pub(super) fn hangs(_: &Lab, dice: &mut Rng) -> Option<Question> {
    let area = f64::from(whole(dice, 4, 30, 1)) / 2.0;
    let edge = f64::from(whole(dice, 20, 300, 5));
    let hang = Hang {
        weight: Mass::ZERO,
        area: Area::from_mm2(area).ok()?,
        edge: Some(Length::from_mm(edge).ok()?),
        supported: false,
    };
    let holds = hang_limit(&hang).mg();
    let (by_area, by_edge) = (area * 46.5, edge * 4.0);
    if (by_area - by_edge).abs() < 0.06 * holds {
        return None;
    }
    Some(
        Draft::new(3, 9)
            .line(format!(
                "A choke hangs below the board on {area} mm² of wetted pad; the edge of its joints is {edge} mm long."
            ))
            .line("Molten solder holds 46.5 mg per mm² of pad and 4 mg per mm of edge; the stricter counts.")
            .line("How heavy may the choke be and still stay up once its solder is liquid?")
            .given("area", area)
            .given("edge", edge)
            .given("per_area", 46.5)
            .given("per_edge", 4.0)
            .slip(by_area.max(by_edge), "that is the kinder of the two")
            .slip(by_area + by_edge, "the two do not add up")
            .done(
                dice,
                Answer::Number { value: holds, tolerance: 0.02 * holds, unit: "mg" },
                &[
                    "two numbers decide: whether its solder gets liquid, and pad area and edge against its weight",
                    "surface tension holds anything that is soldered",
                    "its weight alone decides",
                ],
                format!(
                    "{area} × 46.5 = {} mg, {edge} × 4 = {} mg; the lower is {} mg",
                    told(by_area),
                    told(by_edge),
                    told(holds)
                ),
            ),
    )
}
