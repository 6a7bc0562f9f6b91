//! A bench for tests, written a second time from the rules of the design and sharing no code with
//! the program's own: slow, plain, one rule after another. Only when a metal melts is asked of the
//! program, since that is checked elsewhere.

use meltstair::alloy::{Blend, Element};
use meltstair::bench::LimitOf;
use meltstair::job::{
    Amount, Choice, Content, GuardIx, Job, JointIx, Must, PartIx, Solder, Start, Step, StepIx,
    Tool, Way, Where, Work,
};
use meltstair::melt::{Contact, History, Layer, MeltBook};
use meltstair::plan::Demand;
use meltstair::quantity::{Celsius, Mass, Share};

#[derive(Clone, Debug)]
struct Spot {
    standing: bool,
    metal: Vec<Layer>,
    contact: Contact,
    part: Option<usize>,
    closed: bool,
}

#[derive(Clone, Debug)]
struct Loose {
    on: Option<usize>,
    metal: Vec<Layer>,
    contact: Contact,
    balled: bool,
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
    /// Smaller is better.
    pub fn key(&self) -> (i64, u32, Option<i32>, u32, usize) {
        let margin = self.margin.map_or(i64::MIN, |m| -i64::from(m));
        (margin, self.heats, self.peak, self.changes, self.steps)
    }
}

#[derive(Clone)]
pub struct Naive<'a> {
    job: &'a Job,
    melts: &'a MeltBook,
    spots: Vec<Spot>,
    loose: Vec<Loose>,
    guards: Vec<bool>,
    checked: bool,
    heats: Vec<u32>,
    pub done: Vec<usize>,
    /// Demands that are given up.
    pub given_up: Vec<Demand>,
    pub cost: Cost,
    tool: Option<Tool>,
    alloy: Option<String>,
}

impl<'a> Naive<'a> {
    pub fn new(job: &'a Job, melts: &'a MeltBook) -> Self {
        let spots = job.joints.iter().enumerate().map(|(j, joint)| {
            let part = job.parts.iter().position(|p| p.on.contains(&JointIx(j)));
            let mut metal: Vec<Layer> = joint
                .each
                .iter()
                .map(|d| fresh(known(&d.content), d.amount))
                .collect();
            if let Some(balls) = part.and_then(|p| job.parts[p].balls.as_ref()) {
                metal.push(ball(known(&balls.content), balls.diameter.mm()));
            }
            Spot {
                standing: joint.start == Start::Standing || part.is_some(),
                metal,
                contact: Contact::Layers,
                part,
                closed: false,
            }
        });
        let loose = job.parts.iter().map(|part| {
            let metal: Vec<Layer> = match (&part.balls, part.on.first()) {
                (Some(balls), None) => vec![ball(known(&balls.content), balls.diameter.mm())],
                _ => Vec::new(),
            };
            Loose {
                on: part.on.first().map(|on| on.0),
                balled: !metal.is_empty(),
                metal,
                contact: Contact::Layers,
            }
        });
        let made = |g: usize| {
            job.steps
                .iter()
                .any(|s| matches!(&s.work, Work::Cover { guard, .. } if guard.0 == g))
        };
        Naive {
            job,
            melts,
            spots: spots.collect(),
            loose: loose.collect(),
            guards: (0..job.guards.len()).map(|g| !made(g)).collect(),
            checked: false,
            heats: vec![0; job.parts.len()],
            done: Vec::new(),
            given_up: Vec::new(),
            cost: Cost {
                margin: None,
                heats: 0,
                peak: None,
                changes: 0,
                steps: 0,
            },
            tool: None,
            alloy: None,
        }
    }

    fn flow(&self, metal: &[Layer], contact: Contact) -> Option<i32> {
        self.melts
            .of_joint(metal, contact)
            .flow
            .map(Celsius::millidegrees)
    }

    fn flow_point(&self, metal: &[Layer], contact: Contact) -> Option<i32> {
        self.melts
            .of_joint(metal, contact)
            .flow_point
            .map(Celsius::millidegrees)
    }

    /// What metal is after it was at a temperature.
    fn frozen(&self, metal: &[Layer], contact: Contact, t: i32) -> (Vec<Layer>, Contact) {
        if metal.len() <= 1 {
            return (metal.to_vec(), Contact::Layers);
        }
        let melted = |layer: &Layer| {
            self.flow(std::slice::from_ref(layer), Contact::Layers)
                .is_some_and(|flow| flow <= t)
        };
        let one = together(metal);
        if metal.iter().all(melted) {
            return (vec![one], Contact::Layers);
        }
        if metal.iter().any(melted) && melted(&one) {
            return (metal.to_vec(), Contact::Dissolved);
        }
        (metal.to_vec(), contact)
    }

    fn sees(way: &Way, peak: i32, keys: &[Where]) -> Option<i32> {
        let pre = way.preheat.millidegrees();
        for key in keys {
            if let Some((_, t)) = way.sees.iter().find(|(place, _)| place == key) {
                return Some(t.millidegrees());
            }
            if let Some((_, k)) = way.couplings.iter().find(|(place, _)| place == key) {
                let rise = f64::from(peak - pre) * k.factor();
                // A rise is rounded away from zero.
                let rise = if rise < 0.0 {
                    (rise + 1e-6).floor()
                } else {
                    (rise - 1e-6).ceil()
                };
                #[expect(clippy::cast_possible_truncation, reason = "some hundred thousand")]
                return Some(pre + rise as i32);
            }
        }
        None
    }

    /// Does a step; `None` where it breaks a demand.
    #[expect(
        clippy::too_many_lines,
        reason = "one rule after another, to be read from top to bottom"
    )]
    pub fn act(&self, act: Act) -> Option<Naive<'a>> {
        let job = self.job;
        let gives_up = |demand: Demand| self.given_up.contains(&demand);
        let step = &job.steps[act.step];
        let way = step.ways.get(act.way);
        let mut next = self.clone();
        // What is heated: a joint, a loose part, or nothing that melts.
        let (mut at, mut part, mut new, mut metal, mut contact) = (
            None::<usize>,
            None::<usize>,
            None::<Layer>,
            Vec::new(),
            Contact::Layers,
        );
        let mut alloy = None;
        let mut whole_board = false;
        match &step.work {
            Work::Solder {
                joint,
                solder,
                amount,
                ..
            } => {
                let spot = &mut next.spots[joint.0];
                let used = chosen(solder, act.solder);
                let layer = fresh(used, *amount);
                metal.clone_from(&spot.metal);
                metal.push(layer.clone());
                contact = spot.contact;
                spot.standing = true;
                if spot.closed && !gives_up(Demand::Access(*joint)) {
                    return None;
                }
                (at, part, new, alloy) = (
                    Some(joint.0),
                    spot.part,
                    Some(layer),
                    Some(used.name.clone()),
                );
            }
            Work::Place { part: p, on, .. } => {
                let on = &on[0];
                let balls = next.loose[p.0].metal.clone();
                let spot = &mut next.spots[on.0];
                let closed = spot.closed && !gives_up(Demand::Access(*on));
                if self.loose[p.0].on.is_some() || closed || spot.part.is_some() {
                    return None;
                }
                metal.clone_from(&spot.metal);
                metal.extend(balls.clone());
                if metal.is_empty() {
                    return None;
                }
                contact = spot.contact;
                spot.standing = true;
                spot.part = Some(p.0);
                next.loose[p.0] = Loose {
                    on: Some(on.0),
                    metal: Vec::new(),
                    contact: Contact::Layers,
                    balled: false,
                };
                (at, part, new) = (Some(on.0), Some(p.0), balls.last().cloned());
            }
            Work::Remove { part: p, .. } => {
                let on = self.loose[p.0].on?;
                let spot = &mut next.spots[on];
                let closed = spot.closed && !gives_up(Demand::Access(JointIx(on)));
                if closed || spot.metal.is_empty() {
                    return None;
                }
                metal.clone_from(&spot.metal);
                contact = spot.contact;
                spot.part = None;
                spot.standing = false;
                next.loose[p.0].on = None;
                (at, part) = (Some(on), Some(p.0));
            }
            Work::Reball {
                part: p, solder, ..
            } => {
                if self.loose[p.0].on.is_some() {
                    return None;
                }
                let used = chosen(solder, act.solder);
                let mm = job.parts[p.0].balls.as_ref().unwrap().diameter.mm();
                let layer = ball(used, mm);
                metal.clone_from(&self.loose[p.0].metal);
                if self.loose[p.0].balled {
                    let pad_mm2 = std::f64::consts::PI * mm * mm / 4.0;
                    metal = vec![wicked(&metal, 0, None, pad_mm2, None)];
                }
                metal.push(layer.clone());
                next.loose[p.0].balled = true;
                (part, new, alloy) = (Some(p.0), Some(layer), Some(used.name.clone()));
            }
            Work::Clean { joint, .. } => {
                let joint = joint.unwrap();
                let spot = &mut next.spots[joint.0];
                let closed = spot.closed && !gives_up(Demand::Access(joint));
                if closed || spot.part.is_some() {
                    return None;
                }
                metal.clone_from(&spot.metal);
                contact = spot.contact;
                spot.standing = false;
                at = Some(joint.0);
            }
            Work::Cover { guard, .. } => next.guards[guard.0] = true,
            Work::WholeBoard { .. } => whole_board = true,
            Work::Gate { short_check } => next.checked |= *short_check,
            Work::Power => {
                if !self.checked && !gives_up(Demand::Checked) {
                    return None;
                }
            }
            other => panic!("the naive bench does not know {other:?}"),
        }
        for joint in &step.closes {
            next.spots[joint.0].closed = true;
        }
        let reballs = matches!(step.work, Work::Reball { .. });
        let hot = way.filter(|_| at.is_some() || part.is_some() || whole_board);
        if let Some(way) = hot {
            let superheat = job.want.superheat.millikelvin();
            let must = match &new {
                Some(layer) => self.flow(std::slice::from_ref(layer), Contact::Layers),
                None if metal.is_empty() => None,
                None => self.flow(&metal, contact),
            };
            let usual = match &new {
                Some(layer) => {
                    let own = self.flow_point(std::slice::from_ref(layer), Contact::Layers)?;
                    let mix = self.flow_point(&[together(&metal)], Contact::Layers)?;
                    Some((own.max(mix) + superheat).max(must?))
                }
                None if metal.is_empty() => None,
                None => Some((self.flow_point(&metal, contact)? + superheat).max(must?)),
            };
            let preheat = way.preheat.millidegrees();
            let usual = if whole_board { Some(preheat) } else { usual };
            let peak = way.peak.map(Celsius::millidegrees).or(usual);
            // A clean-up of clean pads with no stated peak heats nothing.
            if let Some(peak) = peak {
                if must.is_some_and(|must| peak < must) && !gives_up(Demand::Flow(StepIx(act.step)))
                {
                    return None;
                }
                let mut margins = Vec::new();
                for (j, spot) in self.spots.iter().enumerate() {
                    if reballs
                        || !spot.standing
                        || spot.metal.is_empty()
                        || (at == Some(j) && !metal.is_empty())
                    {
                        continue;
                    }
                    let mut keys = vec![Where::Joint(JointIx(j))];
                    keys.extend(
                        spot.part
                            .or(job.joints[j].site_of.map(|p| p.0))
                            .map(|p| Where::Part(PartIx(p))),
                    );
                    keys.push(Where::Rest);
                    let mut t = Self::sees(way, peak, &keys).or(whole_board.then_some(peak));
                    if at == Some(j) {
                        t = Some(peak);
                    }
                    let melt = self.melts.of_joint(&spot.metal, spot.contact);
                    let survival = melt.survival.map(Celsius::millidegrees);
                    if let Some(t) = t.filter(|t| survival.is_none_or(|s| *t >= s)) {
                        let (metal, contact) = self.frozen(&spot.metal, spot.contact, t);
                        next.spots[j].metal = metal;
                        next.spots[j].contact = contact;
                    }
                    let may = job.joints[j].must == Must::MayMelt;
                    if may || gives_up(Demand::Keep(JointIx(j))) {
                        continue;
                    }
                    let kept = survival? - t?;
                    if kept < job.want.margin.millikelvin() {
                        return None;
                    }
                    margins.push(kept);
                }
                for (p, facts) in job.parts.iter().enumerate() {
                    let on = self.loose[p].on;
                    let body = if part == Some(p) || (on.is_some() && on == at) {
                        Some(Some(peak))
                    } else if let (Some(on), false) = (on, reballs) {
                        let keys = [
                            Where::Part(PartIx(p)),
                            Where::Joint(JointIx(on)),
                            Where::Rest,
                        ];
                        Some(Self::sees(way, peak, &keys).or(whole_board.then_some(peak)))
                    } else {
                        None
                    };
                    let Some(body) = body else { continue };
                    let of = LimitOf::Part(PartIx(p));
                    if let Some(limit) = facts.limit.filter(|_| !gives_up(Demand::Limit(of))) {
                        let kept = limit.millidegrees() - body?;
                        if kept < 0 {
                            return None;
                        }
                        margins.push(kept);
                    }
                    if part == Some(p) || body.is_none_or(|t| t >= 150_000) {
                        next.heats[p] += 1;
                        let over = facts.heats_left.is_some_and(|left| next.heats[p] > left);
                        if over && !gives_up(Demand::Heats(PartIx(p))) {
                            return None;
                        }
                        if facts.vital {
                            next.cost.heats += 1;
                            next.cost.peak = next.cost.peak.max(Some(body.unwrap_or(peak)));
                        }
                    }
                }
                for (g, guard) in job.guards.iter().enumerate() {
                    let of = LimitOf::Guard(GuardIx(g));
                    if reballs || !self.guards[g] || gives_up(Demand::Limit(of)) {
                        continue;
                    }
                    let mut over: Vec<usize> = guard.over.iter().map(|j| j.0).collect();
                    for other in &job.steps {
                        if let Work::Cover {
                            guard: made,
                            over: by,
                        } = &other.work
                            && made.0 == g
                        {
                            over.extend(by.iter().map(|j| j.0));
                        }
                    }
                    let t = match Self::sees(way, peak, &[Where::Guard(GuardIx(g))]) {
                        Some(t) => Some(t),
                        None if over.is_empty() => {
                            Self::sees(way, peak, &[Where::Rest]).or(whole_board.then_some(peak))
                        }
                        None => over
                            .into_iter()
                            .map(|j| {
                                if at == Some(j) {
                                    return Some(peak);
                                }
                                let part =
                                    self.spots[j].part.or(job.joints[j].site_of.map(|p| p.0));
                                let mut keys = vec![Where::Joint(JointIx(j))];
                                keys.extend(part.map(|p| Where::Part(PartIx(p))));
                                keys.push(Where::Rest);
                                Self::sees(way, peak, &keys).or(whole_board.then_some(peak))
                            })
                            .try_fold(i32::MIN, |hottest, t| Some(hottest.max(t?))),
                    };
                    let kept = guard.limit.millidegrees() - t?;
                    if kept < 0 {
                        return None;
                    }
                    margins.push(kept);
                }
                if !metal.is_empty() {
                    let (settled, contact) = self.frozen(&metal, contact, peak);
                    match (&step.work, at, part) {
                        (
                            Work::Clean {
                                rounds,
                                flood,
                                film,
                                ..
                            },
                            Some(j),
                            _,
                        ) => {
                            let rounds = *chosen(rounds, act.rounds);
                            let area = job.joints[j].pad.map(|pad| pad.area.mm2());
                            let film = film.map(meltstair::quantity::Length::um);
                            let residue =
                                wicked(&settled, rounds, flood.as_ref(), area.unwrap(), film);
                            next.spots[j].metal = vec![residue];
                            next.spots[j].contact = Contact::Layers;
                        }
                        (Work::Remove { .. }, Some(j), Some(p)) => {
                            next.spots[j].metal.clone_from(&settled);
                            next.spots[j].contact = contact;
                            next.loose[p].metal = settled;
                            next.loose[p].contact = contact;
                        }
                        (_, Some(j), _) => {
                            next.spots[j].metal = settled;
                            next.spots[j].contact = contact;
                        }
                        (_, None, Some(p)) => {
                            next.loose[p].metal = settled;
                            next.loose[p].contact = contact;
                        }
                        (_, None, None) => {}
                    }
                }
                if peak > job.ambient.millidegrees() {
                    next.checked = false;
                }
                next.cost.margin = margins.into_iter().chain(next.cost.margin).min();
            } else if !metal.is_empty() {
                return None;
            }
        } else if !metal.is_empty() {
            return None;
        }
        next.count(act, step, alloy);
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
        self.cost = Cost {
            margin: None,
            heats: 0,
            peak: None,
            changes: 0,
            steps: 0,
        };
        self.tool = None;
        self.alloy = None;
        self
    }

    /// Law: a lead-free job holds no joint above 0.1 mass% of lead.
    pub fn is_lawful(&self) -> bool {
        !self.job.want.lead_free
            || self.given_up.contains(&Demand::LeadFree)
            || self.spots.iter().all(|spot| {
                let total: u64 = spot.metal.iter().map(|l| l.blend.total().picograms()).sum();
                let lead: u64 = spot
                    .metal
                    .iter()
                    .map(|l| l.blend.mass_of(Element::Pb).picograms())
                    .sum();
                total == 0 || lead as f64 / total as f64 <= 0.001
            })
    }

    /// Every way to do a step next.
    pub fn open(&self) -> Vec<Act> {
        let mut acts = Vec::new();
        for (s, step) in self.job.steps.iter().enumerate() {
            let before = self.earlier(s);
            let ready = before
                .iter()
                .all(|b| self.is_optional(*b) || self.done.contains(b));
            let too_late = self.done.iter().any(|d| self.earlier(*d).contains(&s));
            if self.done.contains(&s) || !ready || too_late {
                continue;
            }
            let (solders, rounds) = match &step.work {
                Work::Solder { solder, .. } | Work::Reball { solder, .. } => (many(solder), 1),
                Work::Clean { rounds, .. } => (1, many(rounds)),
                _ => (1, 1),
            };
            for way in 0..step.ways.len().max(1) {
                for solder in 0..solders {
                    acts.extend((0..rounds).map(|rounds| Act {
                        step: s,
                        way,
                        solder,
                        rounds,
                    }));
                }
            }
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

fn known(content: &Content) -> &Solder {
    match content {
        Content::Known(solder) => solder,
        Content::Reel(_) => panic!("the naive bench knows no reels"),
    }
}

fn fresh(solder: &Solder, amount: Amount) -> Layer {
    let Amount::Mass(mass) = amount else {
        panic!("the naive bench wants masses");
    };
    Layer {
        blend: Blend::of(&solder.composition, mass),
        history: History::Frozen,
        unstated: false,
        unknown: false,
    }
}

fn ball(solder: &Solder, diameter_mm: f64) -> Layer {
    let volume = std::f64::consts::PI * diameter_mm.powi(3) / 6.0;
    let density = solder.composition.density().unwrap().g_cm3();
    fresh(
        solder,
        Amount::Mass(Mass::from_mg(volume * density).unwrap()),
    )
}

fn together(metal: &[Layer]) -> Layer {
    let blend = metal
        .iter()
        .skip(1)
        .fold(metal[0].blend, |sum, layer| sum.with(&layer.blend));
    Layer {
        blend,
        ..metal[0].clone()
    }
}

/// Wicked, then flooded and wicked again as often as said.
fn wicked(
    metal: &[Layer],
    rounds: u32,
    flood: Option<&(Solder, Mass)>,
    area_mm2: f64,
    film_um: Option<f64>,
) -> Layer {
    let film = |layer: &Layer, um: f64| {
        let density = layer
            .blend
            .composition()
            .unwrap()
            .density()
            .unwrap()
            .g_cm3();
        let kept = Mass::from_mg(density * area_mm2 * um / 1000.0)
            .unwrap()
            .mg();
        let share = Share::nearest(kept / layer.blend.total().mg());
        Layer {
            blend: layer.blend.part(share),
            ..layer.clone()
        }
    };
    let mut left = film(&together(metal), film_um.unwrap_or(10.0));
    if let Some((solder, mass)) = flood {
        for _ in 0..rounds {
            let puddle = left.blend.with(&Blend::of(&solder.composition, *mass));
            left = film(
                &Layer {
                    blend: puddle,
                    ..left
                },
                film_um.unwrap_or(2.0),
            );
        }
    }
    left
}
