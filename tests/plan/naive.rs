//! A bench for tests, written a second time from the rules of the design and sharing no code with
//! the program's own: slow, plain, one rule after another. Only when a metal melts is asked of the
//! program, since that is checked elsewhere. This file holds the bench, what may come next, and what
//! must be true at the end; `step.rs` does a step, `heat.rs` says how hot everything gets, `judge.rs`
//! what every rule says of it.

#[path = "heat.rs"]
mod heat;
#[path = "judge.rs"]
mod judge;
#[path = "metal.rs"]
pub mod metal;
#[path = "step.rs"]
mod step;

use meltstair::alloy::Element;
use meltstair::job::{
    Adhesive, Choice, GuardIx, GuardKind, Hang, Job, JointIx, Must, PartIx, Start, Step, StepIx,
    Tool, WireIx, Work, ZoneIx,
};
use meltstair::melt::{Contact, Layer, MeltBook};
use meltstair::plan::Demand;
use meltstair::quantity::Celsius;

use self::metal::{ball, fresh, known};
pub use self::step::Done;

/// A group of joints.
#[derive(Clone, Debug)]
pub struct Spot {
    pub standing: bool,
    pub metal: Vec<Layer>,
    pub contact: Contact,
    /// Parts that stand on it.
    pub parts: Vec<usize>,
    /// Guards that lie over it.
    pub under: Vec<usize>,
    /// Wires tied to it.
    pub wires: Vec<usize>,
    pub closed: bool,
    /// It stands as it was found.
    pub as_found: bool,
}

/// A part: where it stands, and what it carries while it does not.
#[derive(Clone, Debug)]
pub struct Body {
    pub on: Vec<usize>,
    pub metal: Vec<Layer>,
    pub contact: Contact,
    pub balled: bool,
    /// It lies on the board, on no joints.
    pub lies: bool,
    pub zone: Option<ZoneIx>,
    pub dry: bool,
}

/// A step as somebody does it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Act {
    pub step: usize,
    pub way: usize,
    pub solder: usize,
    pub rounds: usize,
}

/// What a whole way costs, in millikelvins and counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cost {
    pub margin: Option<i32>,
    pub heats: u32,
    pub peak: Option<i32>,
    pub changes: u32,
    pub steps: usize,
}

impl Cost {
    const NOTHING: Cost = Cost {
        margin: None,
        heats: 0,
        peak: None,
        changes: 0,
        steps: 0,
    };

    /// Smaller is better.
    pub fn key(&self) -> (i64, u32, Option<i32>, u32, usize) {
        let margin = self.margin.map_or(i64::MIN, |m| -i64::from(m));
        (margin, self.heats, self.peak, self.changes, self.steps)
    }
}

/// How good a way is, best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Everything holds.
    Holds,
    /// Something is a narrow escape.
    Close,
    /// The finished board breaks law or service; every step holds.
    EndOnly,
    /// Nothing known is broken in any step, and something is not known.
    Unknown,
}

#[derive(Clone)]
pub struct Naive<'a> {
    job: &'a Job,
    melts: &'a MeltBook,
    pub spots: Vec<Spot>,
    pub bodies: Vec<Body>,
    pub guards: Vec<bool>,
    pub checked: bool,
    heats: Vec<u32>,
    pub done: Vec<usize>,
    /// Demands that are given up.
    pub given_up: Vec<Demand>,
    pub cost: Cost,
    /// Something on the way here was close.
    close: bool,
    /// Something on the way here was not known.
    unknown: bool,
    tool: Option<Tool>,
    alloy: Option<String>,
}

impl<'a> Naive<'a> {
    pub fn new(job: &'a Job, melts: &'a MeltBook) -> Self {
        let spots = (0..job.joints.len())
            .map(|j| spot_at_start(job, j))
            .collect();
        let bodies = (0..job.parts.len())
            .map(|p| body_at_start(job, p))
            .collect();
        Naive {
            job,
            melts,
            spots,
            bodies,
            guards: (0..job.guards.len()).map(|g| !is_made(job, g)).collect(),
            checked: false,
            heats: vec![0; job.parts.len()],
            done: Vec::new(),
            given_up: Vec::new(),
            cost: Cost::NOTHING,
            close: false,
            unknown: false,
            tool: None,
            alloy: None,
        }
    }

    /// Does a step; `None` where it breaks a demand, as far as anything is known.
    pub fn act(&self, act: Act) -> Option<Naive<'a>> {
        let done = self.try_act(act);
        let mut next = done.next;
        for fault in &done.faults {
            if fault.demand.is_some_and(|d| self.given_up.contains(&d)) {
                continue;
            }
            if fault.unknown {
                next.unknown = true;
            } else if fault.close {
                next.close = true;
            } else {
                return None;
            }
        }
        for (p, t) in &done.heats {
            let facts = &self.job.parts[*p];
            next.heats[*p] += 1;
            let over = facts.heats_left.is_some_and(|left| next.heats[*p] > left);
            if over && !self.given_up.contains(&Demand::Heats(PartIx(*p))) {
                return None;
            }
            if facts.vital {
                next.cost.heats += 1;
                next.cost.peak = next.cost.peak.max(*t);
            }
        }
        let counted = done
            .margins
            .iter()
            .filter(|(demand, _)| !self.given_up.contains(demand));
        let margins = counted.map(|(_, kept)| *kept);
        next.cost.margin = margins.chain(next.cost.margin).min();
        let step = &self.job.steps[act.step];
        next.count(act, step, done.alloy);
        Some(next)
    }

    fn count(&mut self, act: Act, step: &Step, alloy: Option<String>) {
        let tool = step
            .ways
            .get(act.way)
            .map(|way| way.tool)
            .filter(|tool| *tool != Tool::None);
        if let Some(tool) = tool {
            self.cost.changes += u32::from(self.tool.is_some_and(|last| last != tool));
            self.tool = Some(tool);
        }
        if let Some(alloy) = alloy {
            self.cost.changes += u32::from(self.alloy.as_ref().is_some_and(|last| *last != alloy));
            self.alloy = Some(alloy);
        }
        self.cost.steps += 1;
        self.done.push(act.step);
    }

    /// What was done is done: costs are counted from here.
    pub fn begun_here(mut self) -> Self {
        self.cost = Cost::NOTHING;
        self.tool = None;
        self.alloy = None;
        self.close = false;
        self.unknown = false;
        self
    }

    /// Nothing that is not known was met on the way here.
    pub fn is_known(&self) -> bool {
        !self.unknown
    }

    /// How good the way here is, if everything that must be done is done.
    pub fn standing(&self) -> Option<Standing> {
        if !self.is_finished() {
            return None;
        }
        let end = [self.law(), self.service()].into_iter().max()?;
        let standing = match end {
            _ if self.unknown => Standing::Unknown,
            End::Broken => Standing::EndOnly,
            End::Close => Standing::Close,
            End::Fine if self.close => Standing::Close,
            End::Fine => Standing::Holds,
        };
        Some(standing)
    }

    /// Everything is done, all that is known, and no demand is broken.
    pub fn is_kept(&self) -> bool {
        self.standing()
            .is_some_and(|standing| standing <= Standing::Close)
    }

    /// A lead-free job holds no joint above 0.1 mass% of lead.
    fn law(&self) -> End {
        let fine = !self.job.want.lead_free
            || self.given_up.contains(&Demand::LeadFree)
            || self.spots.iter().all(|spot| {
                let total: u64 = spot.metal.iter().map(|l| l.blend.total().picograms()).sum();
                let lead: u64 = spot
                    .metal
                    .iter()
                    .map(|l| l.blend.mass_of(Element::Pb).picograms())
                    .sum();
                total == 0 || lead as f64 / total as f64 <= 0.001
            });
        if fine { End::Fine } else { End::Broken }
    }

    /// Every standing joint in service: 50 K below its first melt, and at 0.9 of it in kelvin at most,
    /// with more than the wanted margin; a failure where more than 1 mass% is liquid so near, else close.
    fn service(&self) -> End {
        let Some(hottest) = self.job.want.service.map(Celsius::millidegrees) else {
            return End::Fine;
        };
        if self.given_up.contains(&Demand::Service) {
            return End::Fine;
        }
        let bears = |first: f64| {
            let most = (first - 50.0).min(0.9 * (first + 273.15) - 273.15);
            Celsius::nearest(most).millidegrees()
        };
        let mut worst = End::Fine;
        for spot in self
            .spots
            .iter()
            .filter(|s| s.standing && !s.metal.is_empty())
        {
            let melt = self.melts.of_joint(&spot.metal, spot.contact);
            let (Some(first), Some(survival)) = (melt.first_melt, melt.survival) else {
                return End::Broken;
            };
            let first = first.min(survival).degrees();
            let left = bears(first) - hottest;
            if left > self.job.want.margin.millikelvin() {
                continue;
            }
            // All of made-up metal with one melting point is liquid there; of others nobody knows.
            worst = worst.max(if left >= 0 { End::Close } else { End::Broken });
        }
        worst
    }

    /// Every way to do a step next.
    pub fn open(&self) -> Vec<Act> {
        let mut acts = Vec::new();
        for (s, step) in self.job.steps.iter().enumerate() {
            let before = self.earlier(s);
            let ready = before
                .iter()
                .all(|b| self.is_optional(*b) || self.done.contains(b));
            // What must be done is done late rather than never: the log may have gone ahead of an inspection.
            let too_late =
                self.is_optional(s) && self.done.iter().any(|d| self.earlier(*d).contains(&s));
            if self.done.contains(&s) || !ready || too_late {
                continue;
            }
            acts.extend(
                ways_to_do(step)
                    .into_iter()
                    .map(|act| Act { step: s, ..act }),
            );
        }
        acts
    }

    fn is_optional(&self, step: usize) -> bool {
        self.job.steps[step].optional || self.given_up.contains(&Demand::Done(StepIx(step)))
    }

    /// Steps that come before another, through any chain of `after`.
    fn earlier(&self, step: usize) -> Vec<usize> {
        let mut all: Vec<usize> = Vec::new();
        let mut open = vec![step];
        while let Some(at) = open.pop() {
            for (before, _) in &self.job.steps[at].after {
                let pair = Demand::Before(*before, StepIx(at));
                if !all.contains(&before.0) && !self.given_up.contains(&pair) {
                    all.push(before.0);
                    open.push(before.0);
                }
            }
        }
        all
    }

    pub fn is_finished(&self) -> bool {
        (0..self.job.steps.len()).all(|s| self.is_optional(s) || self.done.contains(&s))
    }

    /// An end of a wire is open when power comes: of one that is tied at the other end, or that no later step
    /// solders. A wire that no step ties is there with its joints.
    fn is_loose(&self, power: usize, w: usize) -> bool {
        let wire = &self.job.wires[w];
        let named = ties(self.job, w).next().is_some();
        let wicked = |at: &JointIx| {
            let mut steps = self.job.steps.iter().filter(|step| !step.optional);
            steps.any(|s| matches!(s.work, Work::Clean { joint: Some(j), .. } if j == *at))
        };
        if !named && wicked(&wire.from) && wicked(&wire.to) {
            let tied = |at: JointIx| self.spots[at.0].wires.contains(&w);
            return tied(wire.from) != tied(wire.to);
        }
        let open = |at: &JointIx| {
            let spot = &self.spots[at.0];
            !spot.standing || named && !spot.wires.contains(&w)
        };
        let open: Vec<JointIx> = [wire.from, wire.to].into_iter().filter(open).collect();
        let later = |at: &JointIx| {
            let solders = |s: &usize| match &self.job.steps[*s].work {
                Work::Solder { joint, .. } => joint == at,
                Work::Place { on, .. } => on.contains(at),
                _ => false,
            };
            let mut steps = 0..self.job.steps.len();
            steps.any(|s| solders(&s) && self.comes_after(s, power))
        };
        named && open.len() == 1 || !open.iter().all(later)
    }

    /// The job says that a step comes after another, directly or through others.
    pub(super) fn comes_after(&self, step: usize, other: usize) -> bool {
        let before = self.job.steps[step].after.iter();
        let mut before = before.map(|(before, _)| before.0);
        before.any(|before| before == other || self.comes_after(before, other))
    }

    /// Mask, glue or coat lies over a joint, or mask as the job says: no tool gets there.
    fn is_shut(&self, j: usize) -> bool {
        let shuts = |g: &usize| self.job.guards[*g].kind != GuardKind::Enamel;
        self.job.joints[j].covered || self.spots[j].under.iter().any(shuts)
    }

    /// Anything lies over a joint.
    pub(super) fn is_under(&self, j: usize) -> bool {
        self.job.joints[j].covered || !self.spots[j].under.is_empty()
    }

    /// A joint that may hold no liquid at all.
    fn no_liquid(&self, j: usize) -> bool {
        let joint = &self.job.joints[j];
        let hangs = |p: &usize| self.job.parts[*p].hang.is_some_and(|hang| !hang.supported);
        let glue = |g: &usize| self.job.guards[*g].kind == GuardKind::Glue;
        joint.must == Must::StaySolid
            || self.is_masked(j)
            || self.spots[j].under.iter().any(glue)
            || self.is_in_glue(j)
            || joint.strained
            || self.spots[j].parts.iter().any(hangs)
    }

    /// A part that is glued stands on it.
    pub(super) fn is_in_glue(&self, j: usize) -> bool {
        let glued = |p: &usize| self.job.parts[*p].adhesive != Adhesive::None;
        self.spots[j].parts.iter().any(glued)
    }

    fn is_masked(&self, j: usize) -> bool {
        let mask = |g: &usize| self.job.guards[*g].kind == GuardKind::Mask;
        self.job.joints[j].covered || self.spots[j].under.iter().any(mask)
    }

    /// Nobody needs the joint to survive: it may melt, or it comes off anyway and stands as found. What is
    /// under mask, pulled at or must stay solid is needed all the same.
    fn may_melt(&self, j: usize) -> bool {
        let joint = &self.job.joints[j];
        let spot = &self.spots[j];
        let pulled = joint.strained || !spot.wires.is_empty();
        let needed = pulled || self.is_masked(j) || joint.must == Must::StaySolid;
        joint.must == Must::MayMelt || comes_off(self.job, j) && spot.as_found && !needed
    }
}

/// What the finished board is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum End {
    Fine,
    Close,
    Broken,
}

fn spot_at_start(job: &Job, j: usize) -> Spot {
    let joint = &job.joints[j];
    let parts: Vec<usize> = (0..job.parts.len())
        .filter(|p| job.parts[*p].on.contains(&JointIx(j)))
        .collect();
    let mut metal: Vec<Layer> = joint
        .each
        .iter()
        .map(|d| fresh(known(&d.content), d.amount))
        .collect();
    // One member has one ball, whatever stands on it.
    let balled = parts
        .iter()
        .filter(|p| !job.parts[**p].lugs.contains(&JointIx(j)))
        .find_map(|p| job.parts[*p].balls.as_ref());
    if let Some(balls) = balled {
        metal.push(ball(known(&balls.content), balls.diameter.mm()));
    }
    let standing = joint.start == Start::Standing || !parts.is_empty();
    let under = (0..job.guards.len())
        .filter(|g| !is_made(job, *g) && job.guards[*g].over.contains(&JointIx(j)))
        .collect();
    let ends_here = |w: &usize| {
        let wire = &job.wires[*w];
        wire.from == JointIx(j) || wire.to == JointIx(j)
    };
    // A wire that no step ties is tied, and so is an end that pulls at its joint.
    let tied = |w: &usize| {
        let here = ties(job, *w).any(|at| at == j);
        let untouched = ties(job, *w).next().is_none();
        standing && !here && (untouched || joint.strained)
    };
    Spot {
        standing,
        metal,
        contact: Contact::Layers,
        parts,
        under,
        wires: (0..job.wires.len())
            .filter(ends_here)
            .filter(tied)
            .collect(),
        closed: false,
        as_found: standing,
    }
}

fn body_at_start(job: &Job, p: usize) -> Body {
    let part = &job.parts[p];
    let metal: Vec<Layer> = match &part.balls {
        Some(balls) if part.on.is_empty() => vec![ball(known(&balls.content), balls.diameter.mm())],
        _ => Vec::new(),
    };
    Body {
        on: part.on.iter().map(|j| j.0).collect(),
        balled: !metal.is_empty(),
        metal,
        contact: Contact::Layers,
        lies: part.on.is_empty() && !is_handled(job, p) && !is_spare(job, p),
        zone: part.zone,
        dry: part.dry == Some(true),
    }
}

/// The joints at which steps tie a wire.
fn ties(job: &Job, w: usize) -> impl Iterator<Item = usize> + '_ {
    job.steps.iter().filter_map(move |step| match step.work {
        Work::Solder {
            joint,
            wire: Some(wire),
            ..
        } if wire == WireIx(w) => Some(joint.0),
        _ => None,
    })
}

fn is_made(job: &Job, g: usize) -> bool {
    let makes =
        |step: &Step| matches!(&step.work, Work::Cover { guard, .. } if *guard == GuardIx(g));
    // What the planner adds puts it on anew; so does what the job has over joints already, where each step
    // names its own, or one takes it off.
    let written = || job.steps.iter().filter(|step| !step.is_added());
    let own = |step: &&Step| matches!(&step.work, Work::Cover { over, .. } if !over.is_empty());
    let off = |step: &Step| matches!(step.work, Work::Uncover { guard } if guard == GuardIx(g));
    let anew = written().filter(|step| makes(step)).all(|step| own(&step)) || written().any(off);
    let lies = !job.guards[g].over.is_empty();
    written().any(makes) && !(lies && anew)
}

/// A spare: a part with balls or with a site of its own, whose joints do not stand.
fn is_spare(job: &Job, p: usize) -> bool {
    let sites: Vec<bool> = job
        .joints
        .iter()
        .filter(|joint| joint.site_of == Some(PartIx(p)))
        .map(|joint| joint.start == Start::Standing)
        .collect();
    (job.parts[p].balls.is_some() || !sites.is_empty()) && !sites.contains(&true)
}

/// A step takes the part in hand.
fn is_handled(job: &Job, p: usize) -> bool {
    job.steps.iter().any(|step| {
        let in_hand = match &step.work {
            Work::Place { part, .. }
            | Work::Remove { part, .. }
            | Work::Reball { part, .. }
            | Work::Move { part, .. } => Some(*part),
            Work::Clean { part, .. } | Work::WholeBoard { part, .. } => *part,
            _ => None,
        };
        in_hand == Some(PartIx(p))
    })
}

/// The part on whose own body a joint is: its site, where it neither stands nor is ever set.
fn carrier(job: &Job, j: usize) -> Option<usize> {
    let p = job.joints[j].site_of?.0;
    let stands = job.parts[p].on.contains(&JointIx(j));
    let is_set = job.steps.iter().any(|step| {
        matches!(&step.work, Work::Place { part, on, .. } if part.0 == p && on.contains(&JointIx(j)))
    });
    (!stands && !is_set).then_some(p)
}

/// A step that must be done takes the solder off: with every part that stands on it, none of which
/// holds data or hangs, or with the wick. A joint with a wire stays needed.
fn comes_off(job: &Job, j: usize) -> bool {
    let at = JointIx(j);
    if job
        .wires
        .iter()
        .any(|wire| wire.from == at || wire.to == at)
    {
        return false;
    }
    let must = || job.steps.iter().filter(|step| !step.optional);
    let parts: Vec<usize> = (0..job.parts.len())
        .filter(|p| job.parts[*p].on.contains(&at))
        .collect();
    if parts.is_empty() {
        return must().any(|s| matches!(s.work, Work::Clean { joint: Some(j), .. } if j == at));
    }
    parts.iter().all(|p| {
        let part = &job.parts[*p];
        let removed = |s: &Step| matches!(s.work, Work::Remove { part, .. } if part.0 == *p);
        !part.vital && part.hang.is_none() && must().any(removed)
    })
}

/// Molten solder holds 46.5 mg on a square millimetre (30 g/in², S29, S67) and 4 mg on a millimetre of
/// edge (S30); what is heavier falls.
pub(super) fn falls(hang: &Hang) -> bool {
    let area = 46.5 * hang.area.mm2();
    let most = hang.edge.map_or(area, |edge| area.min(4.0 * edge.mm()));
    !hang.supported && hang.weight.mg() > most
}

fn ways_to_do(step: &Step) -> Vec<Act> {
    let (solders, rounds) = match &step.work {
        Work::Solder { solder, .. }
        | Work::Reball { solder, .. }
        | Work::Place {
            paste: Some((solder, _)),
            ..
        }
        | Work::Remove {
            flood: Some((solder, _)),
            ..
        } => (many(solder), 1),
        Work::Clean { rounds, .. } => (1, many(rounds)),
        _ => (1, 1),
    };
    let mut acts = Vec::new();
    for way in 0..step.ways.len().max(1) {
        for solder in 0..solders {
            acts.extend((0..rounds).map(|rounds| Act {
                step: 0,
                way,
                solder,
                rounds,
            }));
        }
    }
    acts
}

fn many<T>(choice: &Choice<T>) -> usize {
    match choice {
        Choice::Fixed(_) => 1,
        Choice::OneOf(all) => all.len(),
    }
}

fn chosen<T>(choice: &Choice<T>, at: usize) -> &T {
    match choice {
        Choice::Fixed(only) => only,
        Choice::OneOf(all) => &all[at],
    }
}
