//! A checked plan as the plain data of a staircase picture.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use crate::bench::{Bench, JointNow, LimitOf, Note, Seen, SeenBy, Setting, Verdict};
use crate::job::{GuardIx, JointIx, Work};
use crate::melt;
use crate::plan::{Checked, CheckedStep, Place};
use crate::quantity::{Celsius, Share};

use super::answer::Frame;
use super::chart::{
    Basis, Ceiling, Dot, Drop, LifeLine, Mark, Over, Segment, Staircase, Standing, Tightest, Tread,
    TreadKind,
};
use super::say::{Names, harmless, step_words, tool_word};

/// Everything that the picture needs; `setting` must be that of the check.
pub fn of(setting: &Setting, checked: &Checked, frame: &Frame) -> Staircase {
    let joints = checked.joints_ever();
    let lines: Vec<LifeLine> = joints
        .iter()
        .map(|joint| life_line(setting, checked, *joint))
        .collect();
    let over_joint: BTreeMap<JointIx, usize> = joints
        .iter()
        .enumerate()
        .map(|(i, joint)| (*joint, i))
        .collect();
    let (ceilings, over_limit) = ceilings(setting, checked);
    let over = |place: Place| match place {
        Place::Joint(joint) => over_joint.get(&joint).map(|line| Over::Line(*line)),
        Place::Limit(of) => over_limit.get(&of).map(|ceiling| Over::Ceiling(*ceiling)),
    };
    Staircase {
        title: harmless(&setting.job().title),
        verdict: Some(mark(checked.verdict)),
        line: frame.line.clone(),
        steps: checked
            .steps
            .iter()
            .enumerate()
            .map(|(i, step)| tread(setting, i, step))
            .collect(),
        dots: dots(checked, &over),
        tightest: checked.tightest.and_then(|t| {
            Some(Tightest {
                step: t.step,
                over: over(t.place)?,
            })
        }),
        lines,
        ceilings,
        service: setting.job().want.service,
        notes: Vec::new(),
    }
}

/// The mark of a verdict.
pub const fn mark(verdict: Verdict) -> Mark {
    match verdict {
        Verdict::Holds => Mark::Holds,
        Verdict::Close => Mark::Close,
        Verdict::Softens => Mark::Softens,
        Verdict::Unknown => Mark::Unknown,
        Verdict::DoesNotFlow => Mark::DoesNotFlow,
        Verdict::Limit => Mark::Limit,
        Verdict::Melts => Mark::Melts,
    }
}

fn tread(setting: &Setting, at: usize, checked: &CheckedStep) -> Tread {
    let step = &checked.planned.step;
    let passage = &checked.passage;
    let kind = match (&step.work, passage.peak) {
        (_, None) => TreadKind::NoHeat,
        (Work::Remove { .. }, _) => TreadKind::Removal,
        (Work::WholeBoard { .. }, _) => TreadKind::WholeBoard,
        _ => TreadKind::Heat,
    };
    let tool = step
        .ways
        .get(checked.planned.pick.way)
        .map_or("", |way| tool_word(way.tool));
    Tread {
        number: at + 1,
        id: harmless(&step.id),
        label: harmless(&step_words(setting.job(), step)),
        kind,
        peak: passage.peak,
        must_reach: passage.target.as_ref().and_then(|target| target.must_reach),
        tool: tool.to_owned(),
        mark: match passage.verdict() {
            Verdict::Limit if !passage.refusals.is_empty() => Mark::Refused,
            verdict => mark(verdict),
        },
        done: checked.planned.log.is_some(),
    }
}

/// The states of a joint before each step and at the end.
fn states(checked: &Checked, joint: JointIx) -> Vec<&JointNow> {
    let benches = checked
        .steps
        .iter()
        .map(|step| &step.before)
        .chain([&checked.end]);
    benches
        .map(|bench: &Bench| &bench.joints[joint.0])
        .collect()
}

fn life_line(setting: &Setting, checked: &Checked, joint: JointIx) -> LifeLine {
    let states = states(checked, joint);
    let mut segments: Vec<Segment> = Vec::new();
    let mut drops = Vec::new();
    let mut from = 0;
    for at in 1..=states.len() {
        let ends = at == states.len() || !same_metal(states[at], states[from]);
        if !ends {
            continue;
        }
        if !states[from].layers.is_empty() {
            let to_step = (at < states.len()).then(|| at - 1);
            let segment = segment(setting, states[from], from.checked_sub(1), to_step);
            drops.extend(
                segments
                    .last()
                    .and_then(|last| drop(checked, last, &segment)),
            );
            segments.push(segment);
        }
        from = at;
    }
    LifeLine {
        joint: harmless(Names(setting.job()).joint(joint)),
        segments,
        drops,
    }
}

fn same_metal(a: &JointNow, b: &JointNow) -> bool {
    a.standing == b.standing && a.layers == b.layers && a.contact == b.contact
}

fn segment(
    setting: &Setting,
    now: &JointNow,
    from_step: Option<usize>,
    to_step: Option<usize>,
) -> Segment {
    let melt = setting.melt(&now.layers, now.contact);
    Segment {
        from_step,
        to_step,
        alloy: metal_words(now),
        first_melt: melt.survival,
        flow: melt.flow,
        kind: if now.standing {
            Standing::Joint
        } else {
            Standing::Residue
        },
        basis: match melt.basis {
            melt::Basis::Measured => Basis::Measured,
            melt::Basis::Computed => Basis::Computed,
            melt::Basis::Floor => Basis::Floor,
            melt::Basis::Unknown => Basis::Unknown,
        },
    }
}

/// What a joint is made of: one name, or the layers that touch.
fn metal_words(now: &JointNow) -> String {
    let names: Vec<String> = now
        .layers
        .iter()
        .map(|layer| {
            layer
                .blend
                .composition()
                .map_or_else(|| "not known".to_owned(), |c| metal_name(&c))
        })
        .collect();
    names.join(" + ")
}

/// Elements of at least 0.5 mass%, whole per cents: enough for a label.
pub(super) fn metal_name(composition: &crate::alloy::Composition) -> String {
    let mut name = String::new();
    for (element, share) in composition.parts_by_share() {
        if share >= Share::nearest(0.005) {
            name.push_str(element.symbol());
            let percent = share.percent();
            let whole = (percent - percent.round()).abs() < 0.05;
            let figures = usize::from(!whole);
            let _ = write!(name, "{percent:.figures$}");
        }
    }
    name
}

fn drop(checked: &Checked, before: &Segment, after: &Segment) -> Option<Drop> {
    let at_step = after.from_step?;
    let taken_off = before.kind == Standing::Joint && after.kind == Standing::Residue;
    if taken_off || before.first_melt <= after.first_melt || before.to_step != after.from_step {
        return None;
    }
    let notes = &checked.steps.get(at_step)?.passage.notes;
    let lead = notes
        .iter()
        .any(|note| matches!(note, Note::BismuthMeetsLead(..)));
    let reason = if lead { "bismuth meets lead" } else { "mixes" };
    Some(Drop {
        at_step,
        from: before.first_melt,
        to: after.first_melt,
        reason: reason.to_owned(),
    })
}

/// Limits that anything comes near to: those that a step looked at.
fn ceilings(setting: &Setting, checked: &Checked) -> (Vec<Ceiling>, BTreeMap<LimitOf, usize>) {
    let names = Names(setting.job());
    let mut ceilings = Vec::new();
    let mut places = BTreeMap::new();
    for sight in checked.steps.iter().flat_map(|step| &step.passage.limits) {
        if places.contains_key(&sight.of) {
            continue;
        }
        places.insert(sight.of, ceilings.len());
        ceilings.push(Ceiling {
            name: harmless(&names.limit(sight.of)),
            limit: sight.limit,
            from_step: made_by(checked, sight.of),
            to_step: None,
        });
    }
    (ceilings, places)
}

fn made_by(checked: &Checked, of: LimitOf) -> Option<usize> {
    let LimitOf::Guard(guard) = of else {
        return None;
    };
    let exists = |bench: &Bench| bench.guards.get(guard.0).is_some_and(|g| g.exists);
    let first = checked.steps.iter().position(|step| exists(&step.before))?;
    first
        .checked_sub(1)
        .filter(|_| guard_is_made(checked, guard))
}

fn guard_is_made(checked: &Checked, guard: GuardIx) -> bool {
    checked
        .steps
        .first()
        .is_some_and(|step| !step.before.guards[guard.0].exists)
}

fn dots(checked: &Checked, over: &impl Fn(Place) -> Option<Over>) -> Vec<Dot> {
    let mut dots = Vec::new();
    for (step, checked_step) in checked.steps.iter().enumerate() {
        let passage = &checked_step.passage;
        let joints = passage.sights.iter().map(|sight| {
            (
                Place::Joint(sight.joint),
                sight.seen,
                sight.margin,
                sight.verdict,
            )
        });
        let limits = passage.limits.iter().map(|limit| {
            (
                Place::Limit(limit.of),
                limit.seen,
                limit.margin,
                limit.verdict,
            )
        });
        for (place, seen, margin, verdict) in joints.chain(limits) {
            let (Some(over), Some(at)) = (over(place), drawn_at(seen, passage.peak)) else {
                continue;
            };
            let band = match seen {
                Seen::At(t, SeenBy::Computed { low: Some(low), .. }) => Some((low, t)),
                Seen::UpTo(Some(top)) => Some((at, top)),
                _ => None,
            };
            dots.push(Dot {
                step,
                over,
                at,
                band,
                margin,
                mark: mark(verdict),
            });
        }
    }
    dots
}

/// Where a dot is drawn: what is not known is drawn as high as it may be, or at the peak.
fn drawn_at(seen: Seen, peak: Option<Celsius>) -> Option<Celsius> {
    match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => peak,
    }
}
