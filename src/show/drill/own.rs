//! Questions about a job of one's own: each answer is what the planner says of its best order.

use std::collections::{BTreeSet, VecDeque};

use fastrand::Rng;

use super::APART;
use super::draft::Draft;
use super::question::{Answer, Question, told};
use crate::bench::{Verdict, solder_choice};
use crate::job::{Choice, Job, Solder, StepIx, Work};
use crate::plan::{self, Budget, Checked, CheckedStep, Place};
use crate::planner::Case;
use crate::quantity::Celsius;
use crate::show::say::{Names, harmless, step_words};

/// Most options of a choice.
const OPTIONS: usize = 5;
/// What decides must lie so far from the next, in kelvins.
const CLEAR: f64 = 1.0;
/// Benches that are looked at for one alloy.
const A_LOOK: usize = 20_000;
/// Draws without a new question before it is given up.
const MOST_DRAWS: usize = 60;

/// A job, its best order, and what it is as it is written.
struct Own<'a> {
    case: &'a Case<'a>,
    best: &'a Checked,
    written: Verdict,
}

type Form = (&'static str, fn(&Own, &mut Rng) -> Option<Question>);

const FORMS: [Form; 8] = [
    ("own_weakest_at", weakest_at),
    ("own_tightest_step", tightest_step),
    ("own_before", before),
    ("own_melts_at", melts_at),
    ("own_lowest", lowest),
    ("own_heats", heats),
    ("own_alloy", alloy),
    ("own_as_written", as_written),
];

/// So many questions about a job, of which `best` is the best order and `written` the verdict of the order of the
/// file; fewer where the job gives no more, none twice, and no form twice within five.
pub fn about(
    case: &Case,
    best: &Checked,
    written: Verdict,
    seed: u64,
    count: usize,
) -> Vec<Question> {
    let own = Own {
        case,
        best,
        written,
    };
    let mut dice = Rng::with_seed(seed);
    let mut lately: VecDeque<&str> = VecDeque::new();
    let mut asked: Vec<Question> = Vec::new();
    while asked.len() < count {
        let mut forms: Vec<Form> = FORMS.to_vec();
        forms.retain(|(kind, _)| !lately.contains(kind));
        dice.shuffle(&mut forms);
        let is_new = |q: &Question| asked.iter().all(|other| other.text != q.text);
        let found = forms.iter().find_map(|(kind, draw)| {
            let drawn = (0..MOST_DRAWS).find_map(|_| draw(&own, &mut dice).filter(is_new))?;
            Some(Question { kind, ..drawn })
        });
        let Some(question) = found else {
            break;
        };
        if lately.len() + 1 >= APART {
            lately.pop_front();
        }
        lately.push_back(question.kind);
        asked.push(question);
    }
    asked
}

impl Own<'_> {
    fn job(&self) -> &Job {
        self.case.job()
    }

    fn name(&self, place: Place) -> String {
        harmless(&Names(self.job()).place(place))
    }

    /// `step set (place store on site)`.
    fn step(&self, step: &CheckedStep) -> String {
        let step = &step.planned.step;
        let words = harmless(&step_words(self.job(), step));
        format!("step {} ({words})", harmless(&step.id))
    }

    /// Steps that are still to be done.
    fn to_do(&self) -> Vec<&CheckedStep> {
        let steps = self.best.steps.iter();
        steps.filter(|step| step.planned.log.is_none()).collect()
    }

    /// From which temperature on each joint that stands at the end counts as melting.
    fn at_the_end(&self) -> Vec<(String, Celsius)> {
        let setting = self.case.setting();
        let joints = self.best.end.joints.iter().zip(&self.job().joints);
        joints
            .filter(|(now, _)| !now.layers.is_empty())
            .filter_map(|(now, joint)| {
                let melt = setting.melt(&now.layers, now.contact);
                Some((harmless(&joint.id), melt.survival?))
            })
            .collect()
    }
}

fn draft(form: u8, own: &Own) -> Draft {
    Draft::new(0, form).line(format!(
        "{}: the best order is {}.",
        harmless(&own.job().title),
        own.best
            .steps
            .iter()
            .map(|step| harmless(&step.planned.step.id))
            .collect::<Vec<_>>()
            .join(", ")
    ))
}

/// All places with a number of kelvins left in a step, the weakest first.
fn left(step: &CheckedStep) -> Vec<(Place, f64)> {
    let passage = &step.passage;
    let joints = passage
        .sights
        .iter()
        .filter(|sight| !sight.may_melt)
        .filter_map(|sight| Some((Place::Joint(sight.joint), sight.margin?.kelvin())));
    let limits = passage
        .limits
        .iter()
        .filter_map(|sight| Some((Place::Limit(sight.of), sight.margin?.kelvin())));
    let mut all: Vec<(Place, f64)> = joints.chain(limits).collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    all
}

/// Whether the first is weaker than the second by enough to ask about it.
fn stands_out(all: &[(impl Sized, f64)]) -> bool {
    matches!(all, [(_, first), (_, second), ..] if second - first >= CLEAR)
}

fn one_of<T>(dice: &mut Rng, mut all: Vec<T>) -> Option<T> {
    (!all.is_empty()).then(|| all.swap_remove(dice.usize(..all.len())))
}

/// Options in the order of dice, and where the right one of them is.
fn mixed(
    dice: &mut Rng,
    right: &str,
    wrong: impl IntoIterator<Item = String>,
) -> (Vec<String>, usize) {
    let mut all: Vec<String> = wrong.into_iter().filter(|wrong| wrong != right).collect();
    all.sort_unstable();
    all.dedup();
    dice.shuffle(&mut all);
    all.truncate(OPTIONS - 1);
    let at = dice.usize(..=all.len());
    all.insert(at, right.to_owned());
    (all, at)
}

fn weakest_at(own: &Own, dice: &mut Rng) -> Option<Question> {
    let steps = own.to_do();
    let fit = steps.into_iter().filter(|step| stands_out(&left(step)));
    let step = one_of(dice, fit.collect())?;
    let all = left(step);
    let (weakest, margin) = *all.first()?;
    let names = all.iter().map(|(place, _)| own.name(*place));
    let (options, right) = mixed(dice, &own.name(weakest), names);
    Some(
        draft(30, own)
            .line(format!("What has least left in {}?", own.step(step)))
            .options(options)
            .done(
                dice,
                Answer::One(right),
                &[
                    "first melt less what it sees decides",
                    "the joint that gets hottest is the weakest",
                    "the alloy that melts lowest is the weakest",
                ],
                format!("{}: {} K left", own.name(weakest), told(margin)),
            ),
    )
}

fn tightest_step(own: &Own, dice: &mut Rng) -> Option<Question> {
    let mut steps: Vec<(&CheckedStep, f64)> = own
        .to_do()
        .into_iter()
        .filter_map(|step| Some((step, left(step).first()?.1)))
        .collect();
    steps.sort_by(|a, b| a.1.total_cmp(&b.1));
    if !stands_out(&steps) {
        return None;
    }
    let (step, margin) = *steps.first()?;
    let others = steps.iter().map(|(step, _)| own.step(step));
    let (options, right) = mixed(dice, &own.step(step), others);
    Some(
        draft(31, own)
            .line("Which of these steps leaves least?")
            .options(options)
            .done(
                dice,
                Answer::One(right),
                &[
                    "the least left at any place decides",
                    "the hottest heat of a job is always its weakest step",
                    "the last heat is the weakest: the joints are tired by then",
                ],
                format!("{}: {} K left", own.step(step), told(margin)),
            ),
    )
}

/// All that must be done before a step, as the job says, directly or through others.
fn must_come_before(job: &Job, step: StepIx) -> BTreeSet<StepIx> {
    let mut found = BTreeSet::new();
    let mut open = vec![step];
    while let Some(at) = open.pop() {
        let after = job.steps.get(at.0).map_or(&[][..], |step| &step.after);
        for (before, _) in after {
            if found.insert(*before) {
                open.push(*before);
            }
        }
    }
    found
}

fn before(own: &Own, dice: &mut Rng) -> Option<Question> {
    let job = own.job();
    let at = dice.usize(..own.best.steps.len().max(1));
    let step = own.best.steps.get(at)?;
    let ix = |id: &str| job.steps.iter().position(|step| step.id == id).map(StepIx);
    let needed = must_come_before(job, ix(&step.planned.step.id)?);
    let is_needed =
        |other: &&CheckedStep| ix(&other.planned.step.id).is_some_and(|ix| needed.contains(&ix));
    let needed: Vec<&CheckedStep> = own.best.steps[..at].iter().filter(is_needed).collect();
    let right = own.step(one_of(dice, needed)?);
    // What comes later in an order that is kept need not come before.
    let later: Vec<String> = own.best.steps[at + 1..]
        .iter()
        .map(|other| own.step(other))
        .collect();
    if later.len() < 2 {
        return None;
    }
    let (options, at) = mixed(dice, &right, later);
    Some(
        draft(32, own)
            .line(format!(
                "Which of these must be done before {}?",
                own.step(step)
            ))
            .options(options)
            .done(
                dice,
                Answer::One(at),
                &[
                    "it needs what that step leaves behind",
                    "the step that stands later in the file comes later",
                    "steps that heat come last",
                ],
                format!("{right}: the job asks for it (`after`)"),
            ),
    )
}

fn melts_at(own: &Own, dice: &mut Rng) -> Option<Question> {
    let all = own.at_the_end();
    if all.len() < 2 {
        return None;
    }
    let board = 90 + 5 * dice.i32(0..=30);
    let over = |at: Celsius| f64::from(board) - at.degrees();
    if all.iter().any(|(_, at)| over(*at).abs() < 5.0) {
        return None;
    }
    let mut some = dice.choose_multiple(all, OPTIONS);
    dice.shuffle(&mut some);
    let molten: BTreeSet<usize> = some
        .iter()
        .enumerate()
        .filter(|(_, (_, at))| over(*at) > 0.0)
        .map(|(at, _)| at)
        .collect();
    let how: Vec<String> = some
        .iter()
        .map(|(id, at)| format!("{id} {} °C", told(at.degrees())))
        .collect();
    Some(
        draft(33, own)
            .line(format!(
                "When all is done a plate brings the whole board to {board} °C. Which of these joints melt?"
            ))
            .options(some.into_iter().map(|(id, _)| id))
            .done(
                dice,
                Answer::Some(molten),
                &[
                    "those that stay solid less far than that",
                    "those whose dots came nearest to their lines before",
                    "none: a joint that stood three heats stands a fourth",
                ],
                format!("solid up to: {}", how.join(", ")),
            ),
    )
}

fn lowest(own: &Own, dice: &mut Rng) -> Option<Question> {
    let all = own.at_the_end();
    let mut by_melt: Vec<(&str, f64)> = all
        .iter()
        .map(|(id, at)| (id.as_str(), at.degrees()))
        .collect();
    by_melt.sort_by(|a, b| a.1.total_cmp(&b.1));
    if !stands_out(&by_melt) {
        return None;
    }
    let (id, at) = *by_melt.first()?;
    let (options, right) = mixed(dice, id, by_melt.iter().map(|(id, _)| (*id).to_owned()));
    Some(
        draft(34, own)
            .line("When all is done, which of these joints melts first on a warming board?")
            .options(options)
            .done(
                dice,
                Answer::One(right),
                &[
                    "what the joint has become by then",
                    "the joint is what the ball was bought as",
                    "a mixture melts between its parents",
                ],
                format!("{id}: solid up to {} °C", told(at)),
            ),
    )
}

fn heats(own: &Own, dice: &mut Rng) -> Option<Question> {
    let limited = own
        .best
        .ledgers
        .iter()
        .filter(|ledger| ledger.left.is_some());
    let ledger = one_of(dice, limited.collect())?;
    let left = i32::try_from(ledger.left?).ok()?;
    let part = harmless(Names(own.job()).part(ledger.part));
    let counts = own.job().want.counts_from.degrees();
    Some(
        draft(35, own)
            .line(format!(
                "How many heats has {part} left when all is done? (A heat counts when the work is on it, or it sees {} °C or more.)",
                told(counts)
            ))
            .given("counts", counts)
            .slip(f64::from(left + 1), "a heat is missing: go through the steps one by one")
            .slip(f64::from(left - 1), "one of these is no heat of this part")
            .done(
                dice,
                Answer::Number { value: f64::from(left), tolerance: 0.1, unit: "heats" },
                &[
                    "work on it, and all that heats it enough",
                    "only setting it down counts",
                    "heats count only above the melting point of its balls",
                ],
                format!("{} in this plan, {} before: {left} left", ledger.heats, ledger.before),
            ),
    )
}

/// What the best order keeps when a step has to take this alloy; none where it has none.
fn with_alloy(own: &Own, step: usize, solder: &Solder) -> Option<f64> {
    let mut job = own.job().clone();
    let work = &mut job.steps.get_mut(step)?.work;
    let (Work::Solder { solder: choice, .. }
    | Work::Reball { solder: choice, .. }
    | Work::Place {
        paste: Some((choice, _)),
        ..
    }
    | Work::Remove {
        flood: Some((choice, _)),
        ..
    }) = work
    else {
        return None;
    };
    *choice = Choice::OneOf(vec![solder.clone()]);
    let setting = own.case.setting();
    let setting = setting.with_job(&job);
    let budget = Budget {
        nodes: A_LOOK,
        ..Budget::default()
    };
    let answer = plan::order(&setting, budget, &mut |_| true).ok()?;
    match answer {
        plan::Answer::Proven { worth, .. } => Some(worth.margin?.kelvin()),
        _ => None,
    }
}

fn alloy(own: &Own, dice: &mut Rng) -> Option<Question> {
    let open = own.to_do().into_iter().filter_map(|step| {
        let choice = solder_choice(&step.planned.step.work)?;
        match choice {
            Choice::OneOf(many) if many.len() > 1 => Some((step, many)),
            _ => None,
        }
    });
    let (step, many) = one_of(dice, open.collect())?;
    let jobs = &own.job().steps;
    let at = jobs
        .iter()
        .position(|other| other.id == step.planned.step.id)?;
    let mut all: Vec<(&Solder, f64)> = many
        .iter()
        .map(|solder| {
            (
                solder,
                with_alloy(own, at, solder).unwrap_or(f64::NEG_INFINITY),
            )
        })
        .collect();
    all.sort_by(|a, b| b.1.total_cmp(&a.1));
    let (best, keeps) = *all.first()?;
    let second = all.get(1)?.1;
    if !keeps.is_finite() || keeps - second < CLEAR {
        return None;
    }
    let name = |solder: &Solder| harmless(&solder.name);
    let (options, right) = mixed(
        dice,
        &name(best),
        all.iter().map(|(solder, _)| name(solder)),
    );
    Some(
        draft(36, own)
            .line(format!(
                "Which alloy in {} leaves the job most?",
                own.step(step)
            ))
            .options(options)
            .done(
                dice,
                Answer::One(right),
                &[
                    "it leaves most where least is left",
                    "the alloy that melts lowest always leaves most",
                    "the first alloy of the shelf is taken",
                ],
                format!("with {} the best order keeps {} K", name(best), told(keeps)),
            ),
    )
}

fn as_written(own: &Own, dice: &mut Rng) -> Option<Question> {
    let words = [
        Verdict::Holds,
        Verdict::Close,
        Verdict::Melts,
        Verdict::Limit,
        Verdict::Unknown,
    ];
    let right = words.iter().position(|verdict| *verdict == own.written)?;
    Some(
        draft(37, own)
            .line("The steps are done in the order in which the file has them. What does `meltstair check` say of that?")
            .options(words.map(|verdict| verdict.to_string()))
            .done(
                dice,
                Answer::One(right),
                &[
                    "the worst of all that is judged decides",
                    "any order will do, as long as each joint is cold before the next",
                    "the order does not matter as long as every joint cools down in between",
                ],
                format!("the worst of all findings: {}", own.written),
            ),
    )
}
