//! What every rule says of everything in a step on the naive bench.

use meltstair::alloy::Element;
use meltstair::bench::{LimitOf, Rule, Subject};
use meltstair::job::{GuardIx, JointIx, Must, PartIx, Step, Where, WireIx, Work};
use meltstair::melt::{Contact, Layer};
use meltstair::plan::Demand;
use meltstair::quantity::Celsius;

use super::heat::Heat;
use super::metal::{Fate, fate, frozen};
use super::step::{Done, Target};
use super::{Naive, falls};

impl Naive<'_> {
    /// Every standing joint that is not molten on purpose, and what hangs on its solder.
    pub(super) fn judge_joints(&self, step: &Step, heat: &Heat, target: &Target, done: &mut Done) {
        let wanted = self.job.want.margin.millikelvin();
        for (j, spot) in self.spots.iter().enumerate() {
            if !spot.standing || spot.metal.is_empty() {
                continue;
            }
            let wires = spot.wires.iter().filter(|w| !self.job.wires[**w].held);
            let loose: Vec<usize> = wires.filter(|_| spot.under.is_empty()).copied().collect();
            let hanging: Vec<usize> = spot
                .parts
                .iter()
                .copied()
                .filter(|p| self.job.parts[*p].hang.as_ref().is_some_and(falls))
                .collect();
            // Something pulls at it that is no wire of the job.
            let pulled =
                self.job.joints[j].strained && spot.wires.is_empty() && spot.under.is_empty();
            let pulled =
                pulled.then_some(Demand::Safe(Rule::WireStays, Subject::Joint(JointIx(j))));
            if target.melts(j) {
                if matches!(step.work, Work::OtherHeat { .. }) && self.is_in_glue(j) {
                    done.unknown(Demand::Safe(Rule::UnderCover, Subject::Joint(JointIx(j))));
                }
                // In reach of a hand.
                if let Some(demand) = pulled {
                    done.close(demand);
                }
                // What is soldered now is in the hand; on a group of several each wire has its own member.
                let in_hand = match step.work {
                    Work::Solder {
                        wire: Some(wire), ..
                    } => Some(wire.0),
                    _ => None,
                };
                let own_member = in_hand.is_some() && self.job.joints[j].count > 1;
                for w in loose
                    .into_iter()
                    .filter(|w| !own_member && in_hand != Some(*w))
                {
                    done.close(Demand::Safe(Rule::WireStays, Subject::Wire(WireIx(w))));
                }
                for p in hanging.into_iter().filter(|p| target.part != Some(*p)) {
                    done.known(Demand::Safe(Rule::Hangs, Subject::Part(PartIx(p))));
                }
                continue;
            }
            let t = self.joint_sees(heat, target, j);
            let (kept, fate) = fate(self.melts, &spot.metal, spot.contact, t);
            if self.may_melt(j) {
                if self.is_under(j) {
                    let of = Subject::Joint(JointIx(j));
                    done.harmed(Demand::Safe(Rule::UnderCover, of), fate);
                } else if self.is_in_glue(j) && matches!(fate, Fate::Liquid | Fate::Unknown) {
                    let of = Subject::Joint(JointIx(j));
                    done.unknown(Demand::Safe(Rule::UnderCover, of));
                }
            } else {
                let demand = Demand::Keep(JointIx(j));
                match kept {
                    None => done.unknown(demand),
                    Some(kept) if kept < wanted => done.known(demand),
                    // Without a wanted margin it must be solid all the same.
                    Some(_) if fate == Fate::Liquid => done.known(demand),
                    Some(_) => {}
                }
                done.margins.extend(kept.map(|kept| (demand, kept)));
            }
            if let Some(demand) = pulled {
                done.harmed(demand, fate);
            }
            for w in loose {
                done.harmed(
                    Demand::Safe(Rule::WireStays, Subject::Wire(WireIx(w))),
                    fate,
                );
            }
            for p in hanging {
                done.harmed(Demand::Safe(Rule::Hangs, Subject::Part(PartIx(p))), fate);
            }
            if let Some(t) = t.filter(|_| fate != Fate::Solid || kept.is_none()) {
                let (metal, contact) = frozen(self.melts, &spot.metal, spot.contact, t);
                let next = &mut done.next.spots[j];
                (next.metal, next.contact) = (metal, contact);
            }
        }
    }

    /// Iron and tweezers do the members of a group one by one: those that are done see the next one.
    pub(super) fn judge_members(&self, heat: &Heat, target: &Target, done: &mut Done) {
        if !self.goes_round(heat.way, target) {
            return;
        }
        let wanted = self.job.want.margin.millikelvin();
        for molten in &target.molten {
            let Some(j) = molten.spot else { continue };
            let t = heat.stated(&[Where::Joint(JointIx(j))]);
            let stands = done.next.spots[j].standing && !molten.layers.is_empty();
            let needed = self.job.joints[j].must != Must::MayMelt;
            // Whoever says what arrives around the group has looked there.
            let looked = self.is_named(heat, j);
            if !stands
                || !needed
                || t.is_none() && (looked || !(self.no_liquid(j) || target.loose_wire.is_some()))
            {
                continue;
            }
            let spot = &done.next.spots[j];
            let (kept, fate) = fate(self.melts, &spot.metal, spot.contact, t);
            let demand = Demand::Safe(Rule::Members, Subject::Joint(JointIx(j)));
            done.bears_none(demand, fate, kept, wanted);
        }
    }

    /// Guards that are there, as hot as the hottest joint below them at least.
    pub(super) fn judge_guards(&self, heat: &Heat, target: &Target, done: &mut Done) {
        for (g, guard) in self.job.guards.iter().enumerate() {
            if !self.guards[g] {
                continue;
            }
            let over = (0..self.spots.len()).filter(|j| self.spots[*j].under.contains(&g));
            let mut seen: Vec<Option<i32>> =
                over.map(|j| self.joint_sees(heat, target, j)).collect();
            let own = [Where::Guard(GuardIx(g))].into_iter();
            let own: Vec<Vec<Where>> = own
                .chain(guard.zone.map(Where::Zone))
                .map(|key| vec![key])
                .collect();
            match heat.said(&own) {
                None if seen.is_empty() => seen.push(heat.at(&[Where::Rest])),
                None => {}
                named => seen.push(named),
            }
            let t = seen.into_iter().try_fold(i32::MIN, |a, t| Some(a.max(t?)));
            self.limit(LimitOf::Guard(GuardIx(g)), guard.limit, t, done);
        }
    }

    pub(super) fn limit(&self, of: LimitOf, limit: Celsius, t: Option<i32>, done: &mut Done) {
        let demand = Demand::Limit(of);
        let Some(t) = t else {
            done.unknown(demand);
            return;
        };
        let kept = limit.millidegrees() - t;
        if kept < 0 {
            done.known(demand);
        } else if kept < self.job.want.margin.millikelvin() {
            done.close(demand);
        }
        done.margins.push((demand, kept));
    }

    /// Bodies: limits, moisture, and the ledger of heats.
    pub(super) fn judge_parts(&self, step: &Step, heat: &Heat, target: &Target, done: &mut Done) {
        let next = done.next.clone();
        for (p, facts) in self.job.parts.iter().enumerate() {
            let Some(t) = self.body_sees(heat, target, &next, p) else {
                continue;
            };
            if let Some(limit) = facts.limit {
                // Beside hot air a body that nobody speaks of may get as hot as the target.
                let may_be =
                    limit.millidegrees() < heat.peak && self.is_open_to_air(heat, target, p);
                let t = t.filter(|_| !may_be);
                self.limit(LimitOf::Part(PartIx(p)), limit, t, done);
            }
            let of = Subject::Part(PartIx(p));
            // Of what holds the data nobody may be silent.
            let silent = facts.dry.is_none() && facts.vital;
            if (facts.dry == Some(false) || silent) && !self.bodies[p].dry {
                match t {
                    Some(t) if silent && t >= 200_000 => {
                        done.unknown(Demand::Safe(Rule::Dry, of));
                    }
                    None => done.unknown(Demand::Safe(Rule::Dry, of)),
                    Some(t) if t >= 200_000 => done.known(Demand::Safe(Rule::Dry, of)),
                    Some(_) => {}
                }
            }
            self.judge_balls(target, p, t, done);
            let counts = t.is_none_or(|t| t >= self.job.want.counts_from.millidegrees());
            if t.is_none_or(|t| t >= 200_000) && facts.vital && facts.limit.is_none() {
                done.unknown(Demand::Safe(Rule::LimitStated, of));
            }
            if counts {
                done.heats.push((p, t));
            }
            if let Work::WholeBoard {
                hours: Some(hours),
                bake: true,
                ..
            } = &step.work
                && hours.minutes() >= 24.0 * 60.0
                && t.is_some_and(|t| t >= 125_000)
            {
                done.next.bodies[p].dry = true;
            }
        }
    }

    /// Balls on a part that is off the board see what its body sees, and may hold no liquid.
    fn judge_balls(&self, target: &Target, p: usize, t: Option<i32>, done: &mut Done) {
        let body = &self.bodies[p];
        let in_hand = target.part == Some(p) && !target.molten.is_empty();
        if body.metal.is_empty() || !body.on.is_empty() || in_hand {
            return;
        }
        let wanted = self.job.want.margin.millikelvin();
        let (kept, fate) = fate(self.melts, &body.metal, body.contact, t);
        let demand = Demand::Safe(Rule::Balls, Subject::Part(PartIx(p)));
        done.bears_none(demand, fate, kept, wanted);
    }

    /// Bismuth solder that freezes last, beside metal that stays solid, may tear.
    pub(super) fn judge_tears(&self, heat: &Heat, target: &Target, done: &mut Done) {
        for molten in &target.molten {
            let Some(j) = molten.spot else { continue };
            let (metal, contact) = frozen(self.melts, &molten.layers, molten.contact, heat.peak);
            let bismuth = |layer: &Layer| {
                let share = layer.blend.mass_of(Element::Bi).mg() / layer.blend.total().mg();
                share >= 0.1
            };
            let some = metal.iter().filter(|layer| bismuth(layer)).count();
            if contact == Contact::Layers && some > 0 && some < metal.len() {
                done.close(Demand::Safe(Rule::HotTear, Subject::Joint(JointIx(j))));
            }
        }
    }
}
