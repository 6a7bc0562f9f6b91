//! One step on the naive bench: what is heated, how hot everything gets, what every rule says of it,
//! and what the metal is afterwards.

use meltstair::alloy::Element;
use meltstair::bench::{Rule, Subject};
use meltstair::job::{
    Adhesive, Coupling, GuardKind, JointIx, PartIx, Step, StepIx, Tool, Way, Where, WireIx, Work,
};
use meltstair::melt::{Contact, Layer};
use meltstair::plan::{Demand, Fault};
use meltstair::quantity::Point;
use meltstair::quantity::{Celsius, Length};

use super::heat::{Heat, up};
use super::metal::{Fate, ball, flow, flow_point, fresh, frozen, together, wicked};
use super::{Act, Naive, carrier, chosen, falls, ties};

/// What a step comes to.
pub struct Done<'a> {
    pub next: Naive<'a>,
    pub faults: Vec<Fault>,
    /// What every joint that counts and every limit keeps.
    pub margins: Vec<(Demand, i32)>,
    pub peak: Option<i32>,
    /// Parts that took a heat, and how hot they got where that is known.
    pub heats: Vec<(usize, Option<i32>)>,
    /// Alloy that was put on.
    pub alloy: Option<String>,
}

impl Done<'_> {
    pub(super) fn known(&mut self, demand: Demand) {
        self.fault(Some(demand), false, false);
    }

    pub(super) fn unknown(&mut self, demand: Demand) {
        self.fault(Some(demand), true, false);
    }

    pub(super) fn close(&mut self, demand: Demand) {
        self.fault(Some(demand), false, true);
    }

    /// What cannot be done whatever is given up.
    fn cannot(&mut self) {
        self.fault(None, false, false);
    }

    fn fault(&mut self, demand: Option<Demand>, unknown: bool, close: bool) {
        let fault = Fault {
            demand,
            unknown,
            close,
        };
        if !self.faults.contains(&fault) {
            self.faults.push(fault);
        }
    }

    /// Metal that may hold no liquid, and is to keep a margin.
    pub(super) fn bears_none(
        &mut self,
        demand: Demand,
        fate: Fate,
        kept: Option<i32>,
        wanted: i32,
    ) {
        match (fate, kept) {
            (Fate::Unknown, _) | (_, None) => self.unknown(demand),
            (Fate::Liquid, _) => self.known(demand),
            (Fate::Trace, _) => self.close(demand),
            (Fate::Solid, Some(kept)) if kept < wanted => self.close(demand),
            (Fate::Solid, _) => {}
        }
    }

    /// What liquid solder does to a thing that bears none.
    pub(super) fn harmed(&mut self, demand: Demand, fate: Fate) {
        match fate {
            Fate::Solid | Fate::Trace => {}
            Fate::Liquid => self.known(demand),
            Fate::Unknown => self.unknown(demand),
        }
    }
}

/// Metal that a step melts: on a group of joints, or on the pads of a part in hand.
pub(super) struct Molten {
    pub spot: Option<usize>,
    /// All that touches, lowest first.
    pub layers: Vec<Layer>,
    pub contact: Contact,
    /// What must flow, each by itself.
    must: Vec<(Vec<Layer>, Contact)>,
    /// Something new is put on: the hand goes for what it makes of the joint.
    is_new: bool,
}

/// What a step aims at.
#[derive(Default)]
pub(super) struct Target {
    pub molten: Vec<Molten>,
    /// Groups of joints under the tool.
    pub at: Vec<usize>,
    /// The part in hand.
    pub part: Option<usize>,
    /// Nothing on the board gets warm.
    pub aside: bool,
    /// All of it must be liquid at once.
    pub lifts: bool,
    /// The wire in hand, if nothing holds it.
    pub loose_wire: Option<WireIx>,
    whole_board: bool,
}

impl Target {
    pub fn melts(&self, j: usize) -> bool {
        self.molten.iter().any(|m| m.spot == Some(j))
    }
}

fn alone(layer: Layer) -> (Vec<Layer>, Contact) {
    (vec![layer], Contact::Layers)
}

/// No metal, or no more than ten micrometres of it on a pad that is known.
fn joins_nothing(metal: &[Layer], area: Option<f64>) -> bool {
    metal.is_empty()
        || area.is_some_and(|area| {
            let all = together(metal);
            let left = wicked(std::slice::from_ref(&all), 0, None, area, None);
            left.is_some_and(|left| left.blend.total() == all.blend.total())
        })
}

impl<'a> Naive<'a> {
    /// A step, whatever it breaks.
    pub fn try_act(&self, act: Act) -> Done<'a> {
        let step = &self.job.steps[act.step];
        let mut done = Done {
            next: self.clone(),
            faults: Vec::new(),
            margins: Vec::new(),
            peak: None,
            heats: Vec::new(),
            alloy: None,
        };
        let target = self.set_up(act, step, &mut done);
        // Heat alone goes through mask.
        let touched = !matches!(step.work, Work::OtherHeat { strip: false, .. });
        for j in &target.at {
            if self.spots[*j].closed {
                done.known(Demand::Access(JointIx(*j)));
            }
            if touched && self.is_shut(*j) {
                done.known(Demand::Cover(JointIx(*j)));
            }
        }
        // What cannot be done at all is not done.
        if done.faults.iter().any(|fault| fault.demand.is_none()) {
            return done;
        }
        if let Some(way) = step.ways.get(act.way) {
            self.heat(act, step, way, &target, &mut done);
        } else if !target.molten.is_empty() {
            done.unknown(Demand::Flow(StepIx(act.step)));
        }
        for joint in &step.closes {
            done.next.spots[joint.0].closed = true;
        }
        done
    }

    /// What a step works on, and what it sets up before the heat comes.
    #[expect(clippy::too_many_lines, reason = "one kind of step after another")]
    fn set_up(&self, act: Act, step: &Step, done: &mut Done) -> Target {
        let mut target = Target::default();
        if self.body_in_the_way(&step.work) {
            done.cannot();
        }
        let on_board = |p: usize| !self.bodies[p].on.is_empty();
        match &step.work {
            Work::Solder {
                joint,
                solder,
                amount,
                wire,
            } => {
                let used = chosen(solder, act.solder);
                done.alloy = Some(used.name.clone());
                let new = fresh(used, *amount);
                if self.is_below_balls(joint.0) {
                    done.cannot();
                }
                let ends_here = (0..self.job.wires.len()).any(|w| {
                    let ends = [self.job.wires[w].from, self.job.wires[w].to];
                    ends.contains(joint) && ties(self.job, w).all(|j| j != joint.0)
                });
                let all = [self.spots[joint.0].metal.clone(), vec![new.clone()]].concat();
                let pad = self.job.joints[joint.0].pad.map(|pad| pad.area.mm2());
                let ends = self.job.wires.iter();
                let ends = ends.filter(|wire| [wire.from, wire.to].contains(joint));
                let thick = ends.map(|wire| wire.diameter.mm()).fold(0.0, f64::max);
                let wide = (thick > 0.0).then_some(std::f64::consts::PI * thick * thick / 4.0);
                if (wire.is_some() || ends_here)
                    && joins_nothing(&all, pad.or(self.site_area(joint.0)).or(wide))
                {
                    done.cannot();
                }
                target.put_on(
                    self,
                    joint.0,
                    vec![new.clone()],
                    vec![alone(new)],
                    self.spots[joint.0].contact,
                );
                let free = self.spots[joint.0].under.is_empty();
                target.loose_wire = wire.filter(|w| free && !self.job.wires[w.0].held);
                // A chip on its back lies on the board once its pads are wired.
                if let Some(p) = carrier(self.job, joint.0) {
                    let body = &mut done.next.bodies[p];
                    body.lies |= body.on.is_empty();
                }
                let spot = &mut done.next.spots[joint.0];
                spot.standing = true;
                spot.as_found = false;
                // Whoever solders a joint ties what ends there, unless another step is to.
                let ends = (0..self.job.wires.len()).filter(|w| {
                    let ends_here =
                        [self.job.wires[*w].from, self.job.wires[*w].to].contains(joint);
                    wire.is_none() && ends_here && ties(self.job, *w).all(|j| j != joint.0)
                });
                spot.wires.extend(wire.iter().map(|w| w.0).chain(ends));
                spot.wires.sort_unstable();
                spot.wires.dedup();
            }
            Work::Place { part, on, paste } => {
                let p = part.0;
                if on_board(p) {
                    done.cannot();
                }
                let paste = paste.as_ref().map(|(solder, amount)| {
                    let used = chosen(solder, act.solder);
                    done.alloy = Some(used.name.clone());
                    fresh(used, *amount)
                });
                let carried = self.bodies[p].metal.clone();
                // The ball must flow, and what paste makes of it; where there is no ball, the paste. What
                // came off the board with it must flow too.
                let mut must: Vec<(Vec<Layer>, Contact)> =
                    carried.last().cloned().map(alone).into_iter().collect();
                if carried.len() > 1 && !self.bodies[p].balled {
                    must.push((carried[..carried.len() - 1].to_vec(), Contact::Layers));
                }
                must.extend(paste.clone().map(|paste| match carried.last() {
                    Some(ball) => alone(together(&[ball.clone(), paste])),
                    None => alone(paste),
                }));
                for joint in on {
                    let spot = &self.spots[joint.0];
                    let new: Vec<Layer> = paste.iter().cloned().chain(carried.clone()).collect();
                    if spot.parts.iter().any(|other| *other != p) {
                        done.cannot();
                    }
                    // No more than a wick leaves joins nothing.
                    let pad = self.job.joints[joint.0].pad.map(|pad| pad.area.mm2());
                    let pad = pad.or(self.site_area(joint.0));
                    let thin = paste
                        .as_ref()
                        .is_none_or(|paste| joins_nothing(std::slice::from_ref(paste), pad));
                    if thin && self.is_dressed(p) && self.is_bare(joint.0) {
                        done.cannot();
                    }
                    let must = if new.is_empty() {
                        vec![(spot.metal.clone(), spot.contact)]
                    } else {
                        must.clone()
                    };
                    target.put_on(self, joint.0, new, must, spot.contact);
                    let spot = &mut done.next.spots[joint.0];
                    spot.standing = true;
                    spot.as_found = false;
                    spot.parts.push(p);
                    spot.parts.sort_unstable();
                }
                target.part = Some(p);
                let body = &mut done.next.bodies[p];
                body.on = on.iter().map(|j| j.0).collect();
                body.metal = Vec::new();
                body.contact = Contact::Layers;
                body.balled = false;
                body.lies = false;
            }
            Work::Remove { part, flood } => {
                let p = part.0;
                if !on_board(p) || self.others_stand(p) {
                    done.cannot();
                }
                match self.job.parts[p].adhesive {
                    Adhesive::None | Adhesive::Reworkable => {}
                    Adhesive::NotReworkable => done.known(Demand::Glue(*part)),
                    Adhesive::Unknown => done.unknown(Demand::Glue(*part)),
                }
                let flood = flood.as_ref().map(|(solder, amount)| {
                    let used = chosen(solder, act.solder);
                    done.alloy = Some(used.name.clone());
                    fresh(used, *amount)
                });
                for j in &self.bodies[p].on {
                    let spot = &self.spots[*j];
                    let new: Vec<Layer> = flood.iter().cloned().collect();
                    let all = [spot.metal.clone(), new.clone()].concat();
                    let flooded = flood.iter().cloned().map(alone);
                    if all.is_empty() {
                        done.cannot();
                    }
                    // A flood flows and dissolves the old joint: the mixture must flow.
                    let contact = match flood {
                        Some(_) => Contact::Dissolved,
                        None => spot.contact,
                    };
                    // Columns of high-lead solder stay solid: what joins them must flow.
                    let high = |layer: &&Layer| {
                        layer.blend.mass_of(Element::Pb).mg() / layer.blend.total().mg() < 0.8
                    };
                    let joins: Vec<Layer> = all.iter().filter(high).cloned().collect();
                    let own = match contact {
                        Contact::Layers if !joins.is_empty() => joins,
                        _ => all,
                    };
                    let must = flooded.chain([(own, contact)]).collect();
                    target.put_on(self, *j, new, must, contact);
                    let spot = &mut done.next.spots[*j];
                    spot.parts.retain(|other| *other != p);
                    // What stays on the pads still holds wires, and other parts.
                    let pulled = self.job.joints[*j].strained || !spot.wires.is_empty();
                    spot.standing = pulled || !spot.parts.is_empty();
                    spot.as_found = false;
                }
                target.part = Some(p);
                target.lifts = true;
                done.next.bodies[p].on = Vec::new();
            }
            Work::Reball {
                part,
                solder,
                diameter,
            } => {
                let p = part.0;
                if on_board(p) {
                    done.cannot();
                }
                let used = chosen(solder, act.solder);
                done.alloy = Some(used.name.clone());
                let own = self.job.parts[p].balls.as_ref().map(|balls| balls.diameter);
                let body = &self.bodies[p];
                let new = ball(used, diameter.or(own).unwrap().mm());
                let mut must = vec![alone(new.clone())];
                let mut layers = body.metal.clone();
                if body.balled || self.is_torn(p) {
                    // Balls that are on, or what is left of them, must flow, and the wick leaves a film of them below the new ones.
                    must.push((layers.clone(), body.contact));
                    let area = own.map(|d| std::f64::consts::PI * d.mm() * d.mm() / 4.0);
                    layers = wicked(&layers, 0, None, area.unwrap(), None)
                        .into_iter()
                        .collect();
                }
                layers.push(new);
                target.molten.push(Molten {
                    spot: None,
                    layers,
                    contact: Contact::Layers,
                    must,
                    is_new: true,
                });
                (target.part, target.aside) = (Some(p), true);
                done.next.bodies[p].balled = true;
            }
            Work::Clean {
                joint,
                part,
                rounds,
                flood,
                ..
            } => {
                let flooded = *chosen(rounds, act.rounds) > 0;
                let new: Vec<Layer> = flood
                    .iter()
                    .filter(|_| flooded)
                    .map(|(solder, mass)| fresh(solder, meltstair::job::Amount::Mass(*mass)))
                    .collect();
                // The fresh solder must flow, and what it floods.
                let must = |old: &[Layer], contact| {
                    let old = (!old.is_empty()).then(|| (old.to_vec(), contact));
                    new.iter().cloned().map(alone).chain(old).collect()
                };
                if let Some(joint) = joint {
                    let spot = &self.spots[joint.0];
                    if !spot.parts.is_empty() {
                        done.cannot();
                    }
                    let must = must(&spot.metal, spot.contact);
                    target.put_on(self, joint.0, new, must, spot.contact);
                    let spot = &mut done.next.spots[joint.0];
                    // Wires come off with the solder that held them.
                    spot.standing = false;
                    spot.wires.clear();
                    spot.as_found = false;
                } else if let Some(part) = part {
                    if on_board(part.0) {
                        done.cannot();
                    }
                    let body = &self.bodies[part.0];
                    target.molten.push(Molten {
                        spot: None,
                        must: must(&body.metal, body.contact),
                        is_new: !new.is_empty(),
                        layers: [body.metal.clone(), new].concat(),
                        contact: body.contact,
                    });
                    (target.part, target.aside) = (Some(part.0), true);
                    done.next.bodies[part.0].balled = false;
                }
            }
            Work::Cover { guard, over } => {
                done.next.guards[guard.0] = true;
                for j in over.iter().filter(|j| self.spots[j.0].closed) {
                    done.known(Demand::Access(*j));
                }
                let masks = self.job.guards[guard.0].kind == GuardKind::Mask;
                if masks && over.iter().any(|j| self.is_below_balls(j.0)) {
                    done.cannot();
                }
                let own = self.job.guards[guard.0].over.iter();
                for joint in over.iter().chain(own) {
                    let under = &mut done.next.spots[joint.0].under;
                    if !under.contains(&guard.0) {
                        under.push(guard.0);
                        under.sort_unstable();
                    }
                }
            }
            Work::Uncover { guard } => {
                if !self.guards[guard.0] {
                    done.cannot();
                }
                done.next.guards[guard.0] = false;
                done.next.checked = false;
                for spot in &mut done.next.spots {
                    spot.under.retain(|g| *g != guard.0);
                }
            }
            Work::Move { part, zone } => {
                if on_board(part.0) || self.is_leashed(part.0) {
                    done.cannot();
                }
                done.next.bodies[part.0].lies = true;
                done.next.bodies[part.0].zone = *zone;
                done.next.checked = false;
            }
            Work::WholeBoard { part: None, .. } => target.whole_board = true,
            Work::WholeBoard {
                part: Some(part), ..
            } => {
                if on_board(part.0) {
                    done.cannot();
                }
                (target.part, target.aside) = (Some(part.0), true);
            }
            Work::OtherHeat { joint, strip } => {
                if joint.is_some_and(|j| *strip && self.is_below_balls(j.0)) {
                    done.cannot();
                }
                let peak = step.ways.get(act.way).and_then(|way| way.peak);
                match joint.filter(|j| !*strip && self.is_reflowed(j.0, peak)) {
                    Some(j) => {
                        let spot = &self.spots[j.0];
                        let must = vec![(spot.metal.clone(), spot.contact)];
                        target.put_on(self, j.0, Vec::new(), must, spot.contact);
                        done.next.spots[j.0].as_found = false;
                    }
                    None => target.at.extend(joint.map(|j| j.0)),
                }
            }
            Work::Gate { short_check } => done.next.checked |= *short_check,
            Work::Power => {
                if !self.checked {
                    done.known(Demand::Checked);
                }
                for w in (0..self.job.wires.len()).filter(|w| self.is_loose(act.step, *w)) {
                    done.known(Demand::Tied(WireIx(w)));
                }
                for j in (0..self.spots.len()).filter(|j| self.is_open(act.step, *j)) {
                    done.known(Demand::Made(JointIx(j)));
                }
            }
        }
        target.molten.retain(|m| !m.layers.is_empty());
        target
    }

    fn heat(&self, act: Act, step: &Step, way: &Way, target: &Target, done: &mut Done) {
        let everywhere = target.whole_board || matches!(way.tool, Tool::Plate | Tool::Oven);
        let peak = match way.peak {
            Some(peak) => Some(peak.millidegrees()),
            None if matches!(step.work, Work::WholeBoard { .. }) => {
                Some(way.preheat.millidegrees())
            }
            None => self.aim(way, everywhere, target),
        };
        let peak = peak.expect("the naive bench wants a peak for what melts nothing");
        done.peak = Some(peak);
        let heat = Heat {
            way,
            peak,
            everywhere,
        };
        let flows = target.molten.iter().map(|molten| {
            let t = molten
                .spot
                .and_then(|j| self.joint_sees(&heat, target, j))
                .unwrap_or(peak);
            // Nothing gets hotter than the tool is set, unless the board is before it comes.
            let most = way.set.map(|set| set.max(way.preheat).millidegrees());
            match self.must(molten) {
                _ if way.tool == Tool::None => 3,
                None => 2,
                // Ball or paste alone, of both, is part of it.
                Some(must)
                    if t < must
                        && most.is_none_or(|most| most >= must)
                        && self.part_flows(act, step, target, t) =>
                {
                    1
                }
                Some(must) if t < must || most.is_some_and(|most| most < must) => 3,
                Some(must) if t == must => 1,
                // A tool that is set lower than it aims.
                Some(_) if way.peak.is_none() && most.is_some_and(|most| most < peak) => {
                    match way.tool {
                        Tool::Plate | Tool::Oven => 1,
                        _ => 2,
                    }
                }
                Some(_) => 0,
            }
        });
        // Of several groups the one that is farthest from it is told.
        let flow = Demand::Flow(StepIx(act.step));
        match flows.max() {
            Some(3) => done.known(flow),
            Some(2) => done.unknown(flow),
            Some(1) => done.close(flow),
            _ => {}
        }
        self.judge_reach(step, way, target, done);
        if !target.aside {
            self.judge_joints(step, &heat, target, done);
            self.judge_guards(&heat, target, done);
        }
        if matches!(step.work, Work::Place { .. })
            && let Some(p) = target.part.filter(|p| self.is_torn(*p))
        {
            done.unknown(Demand::Safe(Rule::Balls, Subject::Part(PartIx(p))));
        }
        let falls = |p: &usize| self.job.parts[*p].hang.as_ref().is_some_and(falls);
        if matches!(step.work, Work::Place { .. } | Work::Remove { .. })
            && let Some(p) = target.part.filter(falls)
        {
            let demand = Demand::Safe(Rule::Hangs, Subject::Part(PartIx(p)));
            match way.tool {
                Tool::Plate | Tool::Oven => done.known(demand),
                _ => done.close(demand),
            }
        }
        if matches!(step.work, Work::Place { .. }) {
            self.judge_tears(&heat, target, done);
        }
        let strips = matches!(step.work, Work::OtherHeat { strip: true, .. });
        let tip = way.set.map_or(peak, Celsius::millidegrees);
        if strips && way.tool == Tool::Iron && tip < 370_000 {
            done.close(Demand::Safe(Rule::Strips, Subject::Step));
        }
        // Enamel stays on where nothing strips it and no tip is said to be hot enough.
        if let Work::Solder { wire: Some(w), .. } = step.work
            && self.job.wires[w.0].enamel_limit.is_some()
        {
            let mut steps = self.job.steps.iter();
            let stripped = steps.any(|s| matches!(s.work, Work::OtherHeat { strip: true, .. }));
            let iron = way.tool == Tool::Iron;
            let tip = way.set.map_or(peak, Celsius::millidegrees);
            if !stripped && tip < 370_000 && (way.set.is_some() || !iron) {
                done.close(Demand::Safe(Rule::Strips, Subject::Step));
            }
        }
        self.judge_amounts(step, target, done);
        self.judge_parts(step, &heat, target, done);
        self.settle(act, step, &heat, target, done);
        self.judge_members(&heat, target, done);
        if peak > self.job.ambient.millidegrees() {
            done.next.checked = false;
        }
    }

    /// More solder than a ball of three times the pad.
    fn judge_amounts(&self, step: &Step, target: &Target, done: &mut Done) {
        if !matches!(step.work, Work::Solder { .. } | Work::Place { .. }) {
            return;
        }
        for molten in &target.molten {
            let Some(j) = molten.spot else { continue };
            let pad = self.job.joints[j].pad.map(|pad| pad.area.mm2());
            let Some(pad) = pad.or(self.site_area(j)) else {
                continue;
            };
            let volume: f64 = molten
                .layers
                .iter()
                .map(|layer| {
                    let density = layer.blend.composition().unwrap().density().unwrap();
                    layer.blend.total().mg() / density.g_cm3()
                })
                .sum();
            let width = (4.0 * pad / std::f64::consts::PI).sqrt();
            if volume > 4.5 * std::f64::consts::PI * width.powi(3) {
                done.unknown(Demand::Safe(Rule::Amount, Subject::Joint(JointIx(j))));
            }
        }
    }

    /// What is left of balls on a part that came off: more than fifty micrometres on its pads.
    pub(super) fn is_torn(&self, p: usize) -> bool {
        let body = &self.bodies[p];
        let Some(balls) = &self.job.parts[p].balls else {
            return false;
        };
        if body.balled || !body.on.is_empty() || body.metal.is_empty() {
            return false;
        }
        let all = together(&body.metal);
        let area = std::f64::consts::PI * balls.diameter.mm().powi(2) / 4.0;
        let left = wicked(std::slice::from_ref(&all), 0, None, area, Some(50.0));
        left.is_some_and(|left| left.blend.total() < all.blend.total())
    }

    /// A wire between its own pads and something else, soldered at both ends, holds a part where it is.
    fn is_leashed(&self, p: usize) -> bool {
        let mut wires = self.job.wires.iter().enumerate();
        wires.any(|(w, wire)| {
            let ends = [wire.from.0, wire.to.0];
            let own = ends.map(|j| carrier(self.job, j) == Some(p));
            let tied = ends.map(|j| self.spots[j].wires.contains(&w));
            own[0] != own[1] && tied[0] && tied[1]
        })
    }

    /// Pads of a site are as wide as the balls of its part.
    fn site_area(&self, j: usize) -> Option<f64> {
        let part = self.job.joints[j].site_of?;
        let balls = self.job.parts[part.0].balls.as_ref()?;
        Some(std::f64::consts::PI * balls.diameter.mm().powi(2) / 4.0)
    }

    /// No solder on a part in hand that joins anything.
    fn is_dressed(&self, p: usize) -> bool {
        let balls = self.job.parts[p].balls.as_ref();
        let area = balls.map(|balls| std::f64::consts::PI * balls.diameter.mm().powi(2) / 4.0);
        joins_nothing(&self.bodies[p].metal, area)
    }

    /// None on the pads either.
    fn is_bare(&self, j: usize) -> bool {
        let pad = self.job.joints[j].pad.map(|pad| pad.area.mm2());
        joins_nothing(&self.spots[j].metal, pad)
    }

    /// Heat that is said to go as far as a free joint flows is to melt it.
    fn is_reflowed(&self, j: usize, peak: Option<Celsius>) -> bool {
        let spot = &self.spots[j];
        let facts = &self.job.joints[j];
        let free = !spot.closed && !self.is_under(j) && !facts.strained;
        let melts = peak.zip(flow(self.melts, &spot.metal, spot.contact));
        free && spot.standing
            && !spot.metal.is_empty()
            && facts.must != meltstair::job::Must::StaySolid
            && melts.is_some_and(|(peak, flow)| peak.millidegrees() >= flow)
    }

    /// A joint that a step solders, for good, does not hold when power comes.
    fn is_open(&self, power: usize, j: usize) -> bool {
        let at = JointIx(j);
        let mut steps = self.job.steps.iter().enumerate();
        let comes_off = self.job.steps.iter().any(|step| {
            matches!(step.work, Work::Remove { part, .. }
                if self.job.parts[part.0].on.contains(&at) || self.job.joints[j].site_of == Some(part))
        });
        let later = |s: usize| self.comes_after(s, power);
        let solders = |work: &Work| matches!(work, Work::Solder { joint, .. } if *joint == at);
        let sets = |work: &Work| matches!(work, Work::Place { on, .. } if on.contains(&at));
        let made_later = (0..self.job.steps.len()).any(|s| {
            later(s) && (solders(&self.job.steps[s].work) || sets(&self.job.steps[s].work))
        });
        let wanted = steps.any(|(_, step)| !step.optional && solders(&step.work));
        wanted && !comes_off && !made_later && !self.spots[j].standing
    }

    /// Of a ball and paste one flows by itself, and nothing old has to.
    fn part_flows(&self, act: Act, step: &Step, target: &Target, t: i32) -> bool {
        let Work::Place {
            paste: Some((solder, amount)),
            ..
        } = &step.work
        else {
            return false;
        };
        let carried = target.part.map(|p| &self.bodies[p]);
        let old = carried.is_some_and(|body| body.metal.len() > 1 && !body.balled);
        let ball = carried.and_then(|body| body.metal.last().cloned());
        let flows = |layer: &Layer| {
            let flow = flow(self.melts, std::slice::from_ref(layer), Contact::Layers);
            flow.is_some_and(|flow| t >= flow)
        };
        let paste = fresh(chosen(solder, act.solder), *amount);
        !old && ball.iter().any(|ball| flows(ball) || flows(&paste))
    }

    /// Whether a body that stands lies over the place, half a millimetre at least, or half of the smaller side.
    fn body_in_the_way(&self, work: &Work) -> bool {
        let parts = &self.job.parts;
        let homes = |p: usize| -> Vec<usize> {
            let mut all: Vec<usize> = parts[p].on.iter().map(|j| j.0).collect();
            for (j, joint) in self.job.joints.iter().enumerate() {
                let set = self.job.steps.iter().any(|step| {
                    matches!(&step.work, Work::Place { part, on, .. } if part.0 == p && on.contains(&JointIx(j)))
                });
                if set || joint.site_of.is_some_and(|part| part.0 == p) {
                    all.push(j);
                }
            }
            all
        };
        let below = |p: usize| homes(p).iter().any(|j| self.job.joints[*j].under);
        // From left to right, and from bottom to top.
        let span = |p: usize| {
            let ((x, y), (w, h)) = parts[p].at.map(Point::mm).zip(parts[p].size)?;
            let (w, h) = (w.mm(), h.mm());
            Some([(x - w / 2.0, x + w / 2.0), (y - h / 2.0, y + h / 2.0)])
        };
        let common = |(a, b): (f64, f64), (c, d): (f64, f64)| {
            let reach = f64::min(0.5, f64::min(b - a, d - c) / 2.0);
            f64::min(b, d) - f64::max(a, c) > reach
        };
        let standing = (0..parts.len()).filter(|q| !self.bodies[*q].on.is_empty());
        let mut with_body = standing.filter_map(|q| Some((q, span(q)?)));
        match work {
            Work::Place { part, .. } | Work::Remove { part, .. } => {
                let (p, Some(own)) = (part.0, span(part.0)) else {
                    return false;
                };
                with_body.any(|(q, there)| {
                    let lid = parts[p].balls.is_none()
                        && (0..2).all(|i| own[i].0 <= there[i].0 && there[i].1 <= own[i].1);
                    let apart = q == p || homes(q).iter().any(|j| homes(p).contains(j));
                    !apart
                        && !lid
                        && below(p) == below(q)
                        && (0..2).all(|i| common(own[i], there[i]))
                })
            }
            Work::Solder { .. } | Work::Clean { .. } | Work::Cover { .. } => {
                let reached: Vec<usize> = match work {
                    Work::Solder { joint, .. } => vec![joint.0],
                    Work::Clean { joint, .. } => joint.iter().map(|j| j.0).collect(),
                    Work::Cover { over, .. } => over.iter().map(|j| j.0).collect(),
                    _ => Vec::new(),
                };
                let placed = |j: &usize| {
                    let facts = &self.job.joints[*j];
                    let site = facts.site_of.and_then(|part| parts[part.0].at);
                    facts.at.or(site).map(|at| (JointIx(*j), at.mm()))
                };
                let reached: Vec<_> = reached.iter().filter_map(placed).collect();
                let all: Vec<_> = with_body.collect();
                let pairs = reached
                    .iter()
                    .flat_map(|spot| all.iter().map(move |body| (*spot, *body)));
                let mut pairs = pairs.map(|((joint, at), body)| (joint, at, body));
                pairs.any(|(joint, (x, y), (q, [(left, right), (low, high)]))| {
                    !homes(q).contains(&joint.0)
                        && below(q) == self.job.joints[joint.0].under
                        && f64::min(x - left, right - x) > 0.5
                        && f64::min(y - low, high - y) > 0.5
                })
            }
            _ => false,
        }
    }

    /// Pads below a standing part with balls: no tip gets there.
    fn is_below_balls(&self, j: usize) -> bool {
        let balled = |p: &usize| {
            let part = &self.job.parts[*p];
            part.balls.is_some() && !part.lugs.contains(&JointIx(j))
        };
        self.spots[j].parts.iter().any(balled)
    }

    /// Other parts on the same joints, or on joints that lie on this part's own body, unless they hold no data
    /// and a step that must be done takes them off.
    fn others_stand(&self, p: usize) -> bool {
        let comes_off = |other: &usize| {
            !self.job.parts[*other].vital
                && self.job.steps.iter().any(|step| {
                    !step.optional
                        && matches!(step.work, Work::Remove { part, .. } if part.0 == *other)
                })
        };
        let own = (0..self.job.joints.len()).filter(|j| carrier(self.job, *j) == Some(p));
        let mut joints = own.chain(self.bodies[p].on.iter().copied());
        joints.any(|j| {
            let mut others = self.spots[j].parts.iter();
            others.any(|other| *other != p && !comes_off(other))
        })
    }

    /// Iron and tweezers do not reach more than four balls below a body at once, unless it was moved.
    fn judge_reach(&self, step: &Step, way: &Way, target: &Target, done: &mut Done) {
        let Some(p) = target.part else { return };
        // No solder gets below a body that is flooded from beside.
        let flooded = matches!(step.work, Work::Remove { flood: Some(_), .. });
        let local = flooded || matches!(way.tool, Tool::Iron | Tool::Tweezers);
        let at_once = matches!(step.work, Work::Place { .. } | Work::Remove { .. });
        let facts = &self.job.parts[p];
        let moved = self.bodies[p].lies || self.bodies[p].zone != facts.zone;
        let members: u32 = target.at.iter().map(|j| self.job.joints[*j].count).sum();
        let said = |j: &usize| {
            let key = Where::Joint(JointIx(*j));
            way.couplings.iter().any(|(place, _)| *place == key)
                || way.sees.iter().any(|(place, _)| *place == key)
        };
        // Leads must be flooded, or the job says what arrives at each of them.
        let leads =
            way.tool == Tool::Iron && target.lifts && !flooded && !target.at.iter().all(said);
        let out_of_reach = match facts.balls {
            Some(_) => at_once && !moved,
            None => leads,
        };
        if local && out_of_reach && members > 4 {
            done.unknown(Demand::Safe(Rule::AtOnce, Subject::Part(PartIx(p))));
        }
    }

    /// What a group of joints must reach.
    fn must(&self, molten: &Molten) -> Option<i32> {
        let all = molten
            .must
            .iter()
            .map(|(metal, contact)| flow(self.melts, metal, *contact));
        all.max_by_key(|t| t.unwrap_or(i32::MAX)).flatten()
    }

    /// To what peak the hand goes: superheat above where all flows, and what comes of it; each of several
    /// groups at its own share of the rise.
    fn aim(&self, way: &Way, everywhere: bool, target: &Target) -> Option<i32> {
        let superheat = self.job.want.superheat.millikelvin();
        let pre = way.preheat.millidegrees();
        let mut peak = None;
        for molten in &target.molten {
            let mut points: Vec<Option<i32>> = molten
                .must
                .iter()
                .map(|(metal, contact)| flow_point(self.melts, metal, *contact))
                .collect();
            if molten.is_new {
                points.push(flow_point(
                    self.melts,
                    &[together(&molten.layers)],
                    Contact::Layers,
                ));
            }
            let point = points
                .into_iter()
                .try_fold(i32::MIN, |a, t| Some(a.max(t?)))?;
            let asks = (point + superheat).max(self.must(molten)?);
            let share = molten
                .spot
                .filter(|_| target.molten.len() > 1 && !everywhere)
                .and_then(|j| {
                    let here = |(place, _): &&(Where, Coupling)| *place == Where::Joint(JointIx(j));
                    way.couplings.iter().find(here).map(|(_, k)| k.factor())
                });
            let asks = match share {
                Some(k) => pre + up(f64::from(asks - pre) / k),
                None => asks,
            };
            peak = peak.max(Some(asks));
        }
        peak
    }

    /// What the metal has become that the step melts.
    fn settle(&self, act: Act, step: &Step, heat: &Heat, target: &Target, done: &mut Done) {
        for molten in &target.molten {
            let t = molten
                .spot
                .and_then(|j| self.joint_sees(heat, target, j))
                .unwrap_or(heat.peak);
            let (metal, contact) = frozen(self.melts, &molten.layers, molten.contact, t);
            let (metal, contact) = match &step.work {
                Work::Clean {
                    rounds,
                    flood,
                    film,
                    part,
                    ..
                } => {
                    let rounds = *chosen(rounds, act.rounds);
                    let area = match (molten.spot, part) {
                        (Some(j), _) => self.job.joints[j].pad.map(|pad| pad.area.mm2()),
                        (None, Some(part)) => self.job.parts[part.0]
                            .balls
                            .as_ref()
                            .map(|balls| std::f64::consts::PI * balls.diameter.mm().powi(2) / 4.0),
                        (None, None) => None,
                    };
                    let film = film.map(Length::um);
                    let there = match (molten.spot, part) {
                        (Some(j), _) => &self.spots[j].metal,
                        (None, Some(part)) => &self.bodies[part.0].metal,
                        (None, None) => panic!("a clean-up of nothing"),
                    };
                    let mut there = there.clone();
                    if molten.spot.is_none() && rounds > 0 {
                        // Balls come off before pads of a part are dressed.
                        there = wicked(&there, 0, None, area.unwrap(), film)
                            .into_iter()
                            .collect();
                    }
                    let left = wicked(&there, rounds, flood.as_ref(), area.unwrap(), film);
                    (left.into_iter().collect(), Contact::Layers)
                }
                _ => (metal, contact),
            };
            if let Some(j) = molten.spot {
                let spot = &mut done.next.spots[j];
                (spot.metal, spot.contact) = (metal.clone(), contact);
            }
            let goes_along = molten.spot.is_none() || matches!(step.work, Work::Remove { .. });
            if let Some(p) = target.part.filter(|_| goes_along) {
                // Off several groups it carries what each of them was.
                let body = &mut done.next.bodies[p];
                if molten.spot.is_none() || body.metal.is_empty() {
                    (body.metal, body.contact) = (metal, contact);
                } else {
                    for layer in metal {
                        if !body.metal.contains(&layer) {
                            body.metal.push(layer);
                            body.contact = Contact::Layers;
                        }
                    }
                }
            }
        }
    }
}

impl Target {
    /// A group of joints with new metal on it, or none.
    fn put_on(
        &mut self,
        bench: &Naive,
        j: usize,
        new: Vec<Layer>,
        must: Vec<(Vec<Layer>, Contact)>,
        contact: Contact,
    ) {
        self.at.push(j);
        self.molten.push(Molten {
            spot: Some(j),
            is_new: !new.is_empty(),
            layers: [bench.spots[j].metal.clone(), new].concat(),
            contact,
            must,
        });
    }
}
