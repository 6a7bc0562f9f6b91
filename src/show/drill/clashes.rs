//! Level 7: no order works; what is in the way, and what opens it?

use std::collections::BTreeSet;

use fastrand::Rng;

use super::draft::{Draft, board, coupling, whole};
use super::lab::{ALLOYS, BISMUTH, INDIUM, Known, LEADED, Lab, SAC, readings};
use super::question::{Answer, Question, told};
use crate::bench::Verdict;

/// A joint that stands, and one that is soldered beside it.
#[derive(Clone, Copy)]
struct Pair {
    stands: Known,
    new: Known,
    preheat: i32,
    k: f64,
    margin: i32,
}

impl Pair {
    fn job(&self, board: &str) -> String {
        format!(
            "job: {board}\nwant: {{margin_c: {}}}\n{}\njoints:\n  - {{id: tails, alloy: {}, must: stay_solid}}\n  - {{id: frame}}\nsteps:\n  - {{id: fence, do: solder, joint: frame, alloy: {}, mg: 1, tool: air, preheat_c: {}, k: {{tails: {}}}}}\n",
            self.margin,
            readings(&[self.stands, self.new]),
            self.stands.0,
            self.new.0,
            self.preheat,
            self.k
        )
    }

    /// What is left beyond the wanted margin, as the engine says.
    fn spare(&self, lab: &Lab) -> Option<f64> {
        let asked = lab.ask(&self.job("drill"))?;
        Some(asked.margin("tails")? - f64::from(self.margin))
    }

    fn told(&self, draft: Draft) -> Draft {
        draft
            .line(format!(
                "A joint of {} must stay solid with {} K left. Beside it {} is soldered, 20 K above the point where it flows;",
                self.stands.told(),
                self.margin,
                self.new.told()
            ))
            .line(format!(
                "preheat {} °C, coupling {}. As it stands, that cannot be done.",
                self.preheat, self.k
            ))
            .alloy(".stands", self.stands)
            .alloy(".new", self.new)
            .given("margin", self.margin)
            .given("preheat", self.preheat)
            .given("k", self.k)
            .given("superheat", 20)
    }
}

fn clash(lab: &Lab, dice: &mut Rng) -> Option<Pair> {
    let stands = [SAC, LEADED, BISMUTH, INDIUM];
    let pair = Pair {
        stands: stands[dice.usize(..stands.len())],
        new: ALLOYS[dice.usize(..ALLOYS.len())],
        preheat: whole(dice, 60, 125, 5),
        k: coupling(dice, 6, 19),
        margin: 5,
    };
    let possible = pair.stands.1 - pair.margin > pair.preheat + 5;
    (possible && pair.spare(lab)? < -2.0).then_some(pair)
}

/// How much a shield must take off.
pub(super) fn coupling_wanted(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let pair = clash(lab, dice)?;
    let peak = f64::from(pair.new.2 + 20);
    let preheat = f64::from(pair.preheat);
    let may_see = f64::from(pair.stands.1 - pair.margin);
    let wanted = (may_see - preheat) / (peak - preheat);
    // The engine must agree on either side of the line.
    let at = |k: f64| Pair { k, ..pair }.spare(lab);
    if wanted < 0.05 || at(wanted - 0.01)? < 0.0 || at(wanted + 0.01)? >= 0.0 {
        return None;
    }
    let asked = lab.ask(&pair.job(board(dice)))?;
    let mut question = pair
        .told(Draft::new(7, 16))
        .line("A shield or more distance lowers the coupling. To what, at most, must it come?")
        .slip(
            may_see / peak,
            "the coupling is a share of the rise over preheat, not of the peak",
        )
        .slip(
            (may_see + 5.0 - preheat) / (peak - preheat),
            "that leaves no margin at all",
        )
        .slip(
            (may_see - preheat) / (f64::from(pair.new.2) - preheat),
            "the peak lies above the point where it flows",
        )
        .done(
            dice,
            Answer::Number {
                value: wanted,
                tolerance: 0.015,
                unit: "",
            },
            &[
                "what it may see over preheat, over the rise",
                "half of what it is now: a shield halves the heat",
                "first melt over peak",
            ],
            format!(
                "({may_see} − {preheat}) / ({peak} − {preheat}) = {}",
                told(wanted)
            ),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Which one thing, given up, opens the job.
pub(super) fn give_up(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let pair = clash(lab, dice)?;
    let margin = whole(dice, 0, 3, 1);
    let preheat = pair.preheat - whole(dice, 10, 40, 5);
    let k = pair.k - f64::from(whole(dice, 2, 8, 1)) / 20.0;
    let k = (k * 20.0).round() / 20.0;
    let new = ALLOYS[dice.usize(..ALLOYS.len())];
    if k < 0.05 || preheat < 40 || new.2 >= pair.new.2 {
        return None;
    }
    let changes = [
        Pair { margin, ..pair },
        Pair { preheat, ..pair },
        Pair { k, ..pair },
        Pair { new, ..pair },
    ];
    let mut opens = Vec::new();
    for (at, change) in changes.iter().enumerate() {
        let spare = change.spare(lab)?;
        if spare.abs() < 1.0 {
            return None;
        }
        if spare > 0.0 {
            opens.push(at);
        }
    }
    let [right] = opens[..] else {
        return None;
    };
    let asked = lab.ask(&changes[right].job(board(dice)))?;
    let left = asked.margin("tails")?;
    let mut question = pair
        .told(Draft::new(7, 16))
        .line("You may give up one thing. Which opens the job?")
        .options([
            format!("be content with {margin} K left"),
            format!("preheat to {preheat} °C only"),
            format!("shield it: coupling {k}"),
            format!("use {} instead", new.told()),
        ])
        .given("margin.new", margin)
        .given("preheat.new", preheat)
        .given("k.new", k)
        .alloy(".other", new)
        .done(
            dice,
            Answer::One(right),
            &[
                "only what leaves enough at the old joint opens it",
                "the margin is only caution: give it up first",
                "the preheater is the culprit whenever a neighbour melts",
            ],
            format!("with that {} K are left", told(left)),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}

/// Four wishes: two joints that keep their margin, a step that is done, and a service temperature.
struct Wishes {
    title: &'static str,
    tails: (Known, f64),
    plug: (Known, f64),
    new: Known,
    service: i32,
}

impl Wishes {
    /// The job of all wishes but one.
    fn job(&self, dropped: Option<usize>) -> String {
        let Wishes {
            title,
            tails: (tails, k_tails),
            plug: (plug, k_plug),
            new,
            service,
        } = self;
        let may = |at: usize| {
            if dropped == Some(at) {
                "may_melt"
            } else {
                "stay_solid"
            }
        };
        let step = if dropped == Some(2) {
            "steps: []\n".to_owned()
        } else {
            format!(
                "steps:\n  - {{id: fence, do: solder, joint: frame, alloy: {}, mg: 1, tool: air, k: {{tails: {k_tails}, plug: {k_plug}}}}}\n",
                new.0
            )
        };
        let wanted = if dropped == Some(3) {
            String::new()
        } else {
            format!("want: {{service_c: {service}}}\n")
        };
        format!(
            "job: {title}\n{wanted}{}\njoints:\n  - {{id: tails, alloy: {}, must: {}}}\n  - {{id: plug, alloy: {}, must: {}}}\n  - {{id: frame}}\n{step}",
            readings(&[*new, *tails, *plug]),
            tails.0,
            may(0),
            plug.0,
            may(1)
        )
    }
}

/// Form 16: the smallest set of wishes that cannot hold together.
pub(super) fn smallest_set(lab: &Lab, dice: &mut Rng) -> Option<Question> {
    let new = ALLOYS[dice.usize(..ALLOYS.len())];
    let (tails, plug) = (
        ALLOYS[dice.usize(..ALLOYS.len())],
        ALLOYS[dice.usize(..ALLOYS.len())],
    );
    let (k_tails, k_plug) = (coupling(dice, 4, 18), coupling(dice, 4, 18));
    let service = whole(dice, 40, 120, 5);
    let wishes = Wishes {
        title: board(dice),
        tails: (tails, k_tails),
        plug: (plug, k_plug),
        new,
        service,
    };
    let job = |dropped: Option<usize>| wishes.job(dropped);
    let asked = lab.ask(&job(None))?;
    let near = |value: f64| value.abs() < 2.0;
    if near(asked.margin("tails")? - 5.0) || near(asked.margin("plug")? - 5.0) {
        return None;
    }
    let holds = |checked: &crate::plan::Checked| checked.verdict == Verdict::Holds;
    let too_warm = |alloy: Known| -> Option<f64> {
        let limit = crate::bench::ServiceLimit::of(lab.melt(alloy)?.first_melt?).stricter();
        Some(limit.degrees() - f64::from(service))
    };
    // Far enough from the line between holding and not.
    for alloy in [new, tails, plug] {
        if (-1.0..6.0).contains(&too_warm(alloy)?) {
            return None;
        }
    }
    if holds(&asked.checked) {
        return None;
    }
    let mut set = BTreeSet::new();
    for at in 0..4 {
        if holds(&lab.ask(&job(Some(at)))?.checked) {
            set.insert(at);
        }
    }
    // One clash of two wishes: dropping either opens the job.
    if set.len() != 2 {
        return None;
    }
    let left = [asked.margin("tails")?, asked.margin("plug")?];
    let limits = [too_warm(new)?, too_warm(tails)?, too_warm(plug)?];
    let spare = limits.into_iter().fold(f64::INFINITY, f64::min);
    let mut question = Draft::new(7, 16)
        .line("The board is at 25 °C; hot air without preheat goes 20 K above the point where the new alloy flows. Rules in use: first melt less 50 K, and 0.9 of it in kelvin.")
        .line("All four wishes together cannot be kept. Which is the smallest set that clashes?")
        .options([
            format!("tails ({}, coupling {k_tails}) keep 5 K", tails.told()),
            format!("plug ({}, coupling {k_plug}) keeps 5 K", plug.told()),
            format!("the frame is soldered with {}", new.told()),
            format!("in use the board gets to {service} °C, with 5 K to spare by both rules"),
        ])
        .alloy(".0", tails)
        .alloy(".1", plug)
        .alloy(".2", new)
        .given("k.0", k_tails)
        .given("k.1", k_plug)
        .given("service", service)
        .given("superheat", 20)
        .given("ambient", 25)
        .given("margin", 5)
        .done(
            dice,
            Answer::Some(set.clone()),
            &[
                "a wish belongs to the clash only if the others can be kept without it",
                "all wishes of a job that cannot be done clash with each other",
                "the wish that was made last is the one to blame",
            ],
            format!(
                "tails have {} K left and plug {} K; in use {} K are left at the weakest of the three. What has less than 5 K clashes with what heats it",
                told(left[0]),
                told(left[1]),
                told(spare)
            ),
        );
    question.stairs = Some(lab.stairs(&asked));
    Some(question)
}
