//! Which alloys can be used next: one question to the transition for each.

use crate::alloy::Element;
use crate::bench::{Breach, Note, Passage, Pick, Service, Setting, Verdict, Window};
use crate::job::{
    Amount, Choice, Content, Coupling, Deposit, Job, Joint, JointIx, Learned, Must, Solder, Start,
    Step, Tool, Want, Way, Where, Work,
};
use crate::melt::{Doubt, MeltBook};
use crate::policy;
use crate::quantity::{Celsius, KelvinStep, Mass, Share};

use super::check::{Checked, Place, Planned, Tightest, check};

/// An alloy that may be used.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Which.
    pub solder: Solder,
    /// On the shelf; `None` where no shelf was named.
    pub in_stock: Option<bool>,
    /// What the table says of it: `lead`, `cadmium`, `gold`, `single_source`, `own`.
    pub flags: Vec<&'static str>,
}

/// What is asked with no job: an alloy for a joint beside others.
#[derive(Clone, Debug, PartialEq)]
pub struct Ask {
    /// What stands already, each on a joint of its own that sees all the heat.
    pub over: Vec<Solder>,
    /// Metal left on the new joint, and its share of the finished joint by mass.
    pub residue: Option<(Solder, Share)>,
    /// Margin, gap, superheat, service, law.
    pub want: Want,
}

/// One alloy, judged.
#[derive(Clone, Debug)]
pub struct Offer {
    /// Which.
    pub candidate: Candidate,
    /// The worst of heat, flow, service and law.
    pub verdict: Verdict,
    /// The tightest margin of what stands while it is soldered.
    pub margin: Option<KelvinStep>,
    /// The tightest margin of the whole job with it; the same where there is no job.
    pub margin_in_job: Option<KelvinStep>,
    /// Lowest first melt of what stands less flow point of the new joint; only warns.
    pub gap: Option<KelvinStep>,
    /// Between what the peak must lie.
    pub window: Window,
    /// First melt of the new joint, residue and all.
    pub first_melt: Option<Celsius>,
    /// The new joint in service, where that was asked.
    pub service: Option<Service>,
    /// Why it cannot be used.
    pub why: Vec<Why>,
    /// What should be known beside it.
    pub notes: Vec<Note>,
}

/// Why an alloy cannot be used, or only with care.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// Cadmium: fume, waste, law.
    Cadmium,
    /// Something that stands keeps too little in a step, or nobody knows what it keeps.
    Margin(Place, String, Option<KelvinStep>),
    /// It does not flow at the peak that the step states.
    DoesNotFlow(String),
    /// Not known when it melts.
    Unknown(String),
    /// A step cannot be done: id, refusal in the job's words is told by `check`.
    Refused(String),
    /// Law: share of the element in the finished joint.
    Law(Breach),
    /// Service temperature.
    Service(Celsius),
    /// Its elements were never looked at together: when the new joint melts is a floor less a distance.
    KnownInParts,
}

/// Every candidate, judged.
#[derive(Clone, Debug)]
pub struct Picked {
    /// The job that was asked: it gives the names.
    pub job: Job,
    /// Best first, refused ones last.
    pub offers: Vec<Offer>,
}

impl Picked {
    /// The best that can be used, and the best of those on the shelf.
    pub fn best(&self) -> (Option<&Offer>, Option<&Offer>) {
        let mut usable = self.offers.iter().filter(|o| o.verdict <= Verdict::Close);
        let best = usable.clone().next();
        (best, usable.find(|o| o.candidate.in_stock == Some(true)))
    }
}

/// Judges every candidate for a joint beside others.
pub fn pick_over(melts: &MeltBook, ask: &Ask, candidates: Vec<Candidate>) -> Picked {
    let mut offers: Vec<Offer> = candidates
        .into_iter()
        .map(|candidate| {
            let job = beside(ask, Some(&candidate.solder));
            let setting = Setting::new(&job, melts);
            let plan = [Planned {
                step: job.steps[0].clone(),
                pick: Pick::default(),
                log: None,
            }];
            judge(&setting, &plan, 0, NEW, candidate)
        })
        .collect();
    rank(&mut offers, ask.want.gap);
    Picked {
        job: beside(ask, None),
        offers,
    }
}

/// The joint that is soldered in [`beside`].
const NEW: JointIx = JointIx(0);

/// A job with one joint to be soldered, and one for each alloy that stands.
fn beside(ask: &Ask, solder: Option<&Solder>) -> Job {
    let residue = ask.residue.as_ref().map(|(solder, _)| Deposit {
        content: Content::Known(solder.clone()),
        amount: Amount::Mass(residue_mass(ask)),
        as_bought: false,
    });
    let mut joints = vec![joint("the new joint", Start::Bare, residue)];
    joints.extend(ask.over.iter().map(|solder| {
        let metal = Deposit {
            content: Content::Known(solder.clone()),
            amount: Amount::Mass(ONE_JOINT),
            as_bought: false,
        };
        joint(&solder.name, Start::Standing, Some(metal))
    }));
    let fresh = Amount::Mass(Mass::from_picograms(
        ONE_JOINT.picograms() - residue_mass(ask).picograms(),
    ));
    let ambient = Celsius::whole(25);
    let step = |solder: &Solder| Step {
        id: "solder".to_owned(),
        work: Work::Solder {
            joint: NEW,
            solder: Choice::Fixed(solder.clone()),
            amount: fresh,
            wire: None,
        },
        ways: vec![Way {
            couplings: vec![(Where::Rest, Coupling::FULL)],
            ..Way::with(Tool::Iron, ambient)
        }],
        after: Vec::new(),
        closes: Vec::new(),
        optional: false,
        minutes: None,
        line: 0,
    };
    Job {
        title: "which alloy next".to_owned(),
        want: ask.want.clone(),
        stock: Vec::new(),
        pins: Vec::new(),
        ambient,
        board: None,
        learned: Learned::default(),
        zones: Vec::new(),
        guards: Vec::new(),
        parts: Vec::new(),
        joints,
        wires: Vec::new(),
        reels: Vec::new(),
        steps: solder.map(step).into_iter().collect(),
        done: Vec::new(),
    }
}

/// 1 mg: only ratios matter.
const ONE_JOINT: Mass = Mass::from_picograms(1_000_000_000);

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a share of one milligram in picograms"
)]
fn residue_mass(ask: &Ask) -> Mass {
    let share = ask.residue.as_ref().map_or(0.0, |(_, s)| s.fraction());
    Mass::from_picograms((ONE_JOINT.picograms() as f64 * share).round() as u64)
}

fn joint(id: &str, start: Start, metal: Option<Deposit>) -> Joint {
    Joint {
        id: id.to_owned(),
        count: 1,
        site_of: None,
        start,
        each: metal.into_iter().collect(),
        pad: None,
        must: Must::StaySolid,
        covered: false,
        strained: false,
        under: false,
        zone: None,
        at: None,
        reach: None,
    }
}

/// Why no alloy can be picked for a joint of a job.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CannotPick {
    /// No step of the job puts solder on it.
    #[error("no step that is still to be done puts solder on `{0}`: there is nothing to pick")]
    NoStep(String),
}

/// Judges every candidate for a joint of a job: the plan as it is, with the alloy of the step that
/// puts solder there exchanged, and its peak following the alloy.
///
/// # Errors
/// [`CannotPick`] where no step of the plan puts solder on the joint.
pub fn pick_joint(
    setting: &Setting,
    plan: &[Planned],
    joint: JointIx,
    candidates: Vec<Candidate>,
) -> Result<Picked, CannotPick> {
    let job = setting.job();
    let at = solder_step(plan, joint)
        .ok_or_else(|| CannotPick::NoStep(job.joints[joint.0].id.clone()))?;
    // Balls are soldered where their part is set down.
    let told = lands(plan, at, joint);
    let mut offers: Vec<Offer> = candidates
        .into_iter()
        .map(|candidate| {
            let mut plan = plan.to_vec();
            exchange(&mut plan[at], &candidate.solder);
            if told != at {
                forget_peak(&mut plan[told]);
            }
            judge(setting, &plan, told, joint, candidate)
        })
        .collect();
    rank(&mut offers, job.want.gap);
    Ok(Picked {
        job: job.clone(),
        offers,
    })
}

/// The first step still to be done that brings solder to a joint: on the board, or on the part that
/// is set down there.
fn solder_step(plan: &[Planned], joint: JointIx) -> Option<usize> {
    let part = plan.iter().find_map(|planned| match &planned.step.work {
        Work::Place { part, on, .. } if on.contains(&joint) => Some(*part),
        _ => None,
    });
    let brings = |planned: &Planned| match &planned.step.work {
        Work::Solder { joint: at, .. } => *at == joint,
        Work::Reball { part: balled, .. } => Some(*balled) == part,
        _ => false,
    };
    let to_do = |planned: &Planned| planned.log.is_none();
    plan.iter()
        .position(|planned| to_do(planned) && brings(planned))
        .or_else(|| {
            plan.iter().position(|planned| {
                to_do(planned)
                    && matches!(&planned.step.work, Work::Place { on, paste: Some(_), .. } if on.contains(&joint))
            })
        })
}

fn lands(plan: &[Planned], at: usize, joint: JointIx) -> usize {
    if !matches!(plan[at].step.work, Work::Reball { .. }) {
        return at;
    }
    let places =
        |p: &Planned| matches!(&p.step.work, Work::Place { on, .. } if on.contains(&joint));
    plan.iter()
        .skip(at)
        .position(places)
        .map_or(at, |later| at + later)
}

fn exchange(planned: &mut Planned, with: &Solder) {
    match &mut planned.step.work {
        Work::Solder { solder, .. }
        | Work::Reball { solder, .. }
        | Work::Place {
            paste: Some((solder, _)),
            ..
        } => *solder = Choice::Fixed(with.clone()),
        _ => {}
    }
    planned.pick.solder = 0;
    forget_peak(planned);
}

/// A peak that was stated for another alloy says nothing about this one.
fn forget_peak(planned: &mut Planned) {
    for way in &mut planned.step.ways {
        way.peak = None;
    }
}

fn judge(
    setting: &Setting,
    plan: &[Planned],
    at: usize,
    joint: JointIx,
    candidate: Candidate,
) -> Offer {
    let checked = check(setting, plan);
    let told = &checked.steps[at];
    let served = checked.service.iter().find(|s| s.joint == joint).copied();
    let after = &told.passage.next.joints[joint.0];
    let melt = setting.melt(&after.layers, after.contact);
    let in_parts = melt.doubts.contains(&Doubt::FloorOfSubset);
    let cadmium = candidate.flags.contains(&"cadmium") && !setting.job().want.cadmium_accepted;
    let mut why = reasons(setting, &checked, joint);
    if cadmium {
        why.insert(0, Why::Cadmium);
    }
    if in_parts {
        why.push(Why::KnownInParts);
    }
    let checked_verdict = if in_parts {
        checked.verdict.max(Verdict::Close)
    } else {
        checked.verdict
    };
    Offer {
        verdict: if cadmium {
            Verdict::Limit.max(checked_verdict)
        } else {
            checked_verdict
        },
        margin: told.passage.tightest(),
        margin_in_job: checked.tightest.map(|Tightest { margin, .. }| margin),
        gap: gap(&told.passage),
        window: told.passage.window,
        first_melt: melt.first_melt,
        service: served,
        why,
        notes: told.passage.notes.clone(),
        candidate,
    }
}

/// Lowest first melt of what stands less flow point of the new metal.
fn gap(passage: &Passage) -> Option<KelvinStep> {
    let flow = passage.target.as_ref()?.flow_point?;
    let stands = passage.sights.iter().filter(|sight| !sight.may_melt);
    let melts = stands.map(|sight| sight.melt.first_melt);
    let lowest = melts.collect::<Option<Vec<Celsius>>>()?.into_iter().min()?;
    Some(lowest - flow)
}

fn reasons(setting: &Setting, checked: &Checked, joint: JointIx) -> Vec<Why> {
    let job = setting.job();
    let mut why = Vec::new();
    for step in checked.steps.iter().filter(|s| s.planned.log.is_none()) {
        let id = &step.planned.step.id;
        let passage = &step.passage;
        if let Some(target) = &passage.target {
            match target.verdict() {
                Verdict::Unknown => why.push(Why::Unknown(id.clone())),
                Verdict::Holds => {}
                _ => why.push(Why::DoesNotFlow(id.clone())),
            }
        }
        if !passage.refusals.is_empty() {
            why.push(Why::Refused(id.clone()));
        }
        for sight in passage.sights.iter().filter(|s| !s.may_melt) {
            if sight.margin.is_none_or(|kept| kept < job.want.margin) {
                why.push(Why::Margin(
                    Place::Joint(sight.joint),
                    id.clone(),
                    sight.margin,
                ));
            }
        }
        for limit in &passage.limits {
            if limit.margin.is_none_or(|kept| kept < KelvinStep::ZERO) {
                why.push(Why::Margin(
                    Place::Limit(limit.of),
                    id.clone(),
                    limit.margin,
                ));
            }
        }
    }
    why.extend(checked.breaches.iter().copied().map(Why::Law));
    let serves = checked.service.iter().find(|s| s.joint == joint);
    if let Some(s) = serves.filter(|s| s.verdict > Verdict::Close) {
        why.extend(s.limit.map(|limit| Why::Service(limit.stricter())));
    }
    why
}

impl Candidate {
    /// Mostly indium: soft, and weaker than solders of tin or bismuth (common practice, no source).
    pub fn is_soft(&self) -> bool {
        self.solder.composition.share(Element::In) >= policy::SOFT_FROM
    }
}

/// Best first: by verdict, then those that keep an ample margin, then those that keep the gap, then those that more than one source
/// vouches for, then those that are not soft, then the highest first melt (which leaves the most
/// room below for what comes next, and in service), then by name.
fn rank(offers: &mut [Offer], gap: KelvinStep) {
    offers.sort_by(|a, b| {
        let key = |offer: &Offer| {
            (
                offer.verdict,
                offer.margin.is_some_and(|left| left < policy::AMPLE),
                offer.gap.is_none_or(|kept| kept < gap),
                offer.candidate.flags.contains(&"single_source"),
                offer.candidate.is_soft(),
                std::cmp::Reverse(offer.first_melt),
            )
        };
        key(a)
            .cmp(&key(b))
            .then_with(|| a.candidate.solder.name.cmp(&b.candidate.solder.name))
    });
}
