//! The job with everything in the order of ids, so that no answer hangs on the order of lines.

use std::cmp::Ordering;

use crate::job::{
    Choice, Content, GuardIx, Job, JointIx, PartIx, Probe, ReelIx, Solder, StepIx, Way, Where,
    WireIx, Work, ZoneIx,
};

/// The same job with joints, parts, guards, wires, zones, unknown alloys, steps, and alloys to choose
/// from sorted by their ids and names. The log stays as it is.
pub fn sorted(job: &Job) -> Job {
    let mut job = job.clone();
    let moved = Moved {
        joints: sort_by_id(&mut job.joints, |joint| &joint.id),
        parts: sort_by_id(&mut job.parts, |part| &part.id),
        guards: sort_by_id(&mut job.guards, |guard| &guard.id),
        wires: sort_by_id(&mut job.wires, |wire| &wire.id),
        zones: sort_by_id(&mut job.zones, |zone| &zone.id),
        reels: sort_by_id(&mut job.reels, |reel| &reel.id),
        steps: sort_by_id(&mut job.steps, |step| &step.id),
    };
    job.stock.sort_by(|a, b| a.name.cmp(&b.name));
    job.pins.sort_by(|a, b| a.solder.name.cmp(&b.solder.name));
    for reel in &mut job.reels {
        reel.candidates.sort_by(|a, b| a.name.cmp(&b.name));
    }
    moved.board(&mut job);
    moved.plan(&mut job);
    job
}

/// Ids as people count: `w2` before `w10`.
pub fn natural(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a, b);
    while !left.is_empty() && !right.is_empty() {
        let ((one, after), (other, then)) = (piece(left), piece(right));
        let order = match (number(one), number(other)) {
            (Some(one), Some(other)) => (one.len(), one).cmp(&(other.len(), other)),
            _ => one.cmp(other),
        };
        if order.is_ne() {
            return order;
        }
        (left, right) = (after, then);
    }
    // `w1` and `w01` are two ids: which comes first must not hang on the order of lines.
    left.len().cmp(&right.len()).then_with(|| a.cmp(b))
}

/// The digits or the letters that a text begins with, and the rest.
fn piece(text: &str) -> (&str, &str) {
    let digits = text.starts_with(|c: char| c.is_ascii_digit());
    let end = text.find(|c: char| c.is_ascii_digit() != digits);
    text.split_at(end.unwrap_or(text.len()))
}

/// Digits without the noughts before them.
fn number(piece: &str) -> Option<&str> {
    let is_number = piece.starts_with(|c: char| c.is_ascii_digit());
    is_number.then(|| piece.trim_start_matches('0'))
}

/// Sorts and tells where each thing went.
fn sort_by_id<T>(all: &mut Vec<T>, id: impl Fn(&T) -> &str) -> Vec<usize> {
    let mut indexed: Vec<(usize, T)> = std::mem::take(all).into_iter().enumerate().collect();
    indexed.sort_by(|(_, a), (_, b)| natural(id(a), id(b)));
    let mut to = vec![0; indexed.len()];
    for (now, (before, _)) in indexed.iter().enumerate() {
        to[*before] = now;
    }
    all.extend(indexed.into_iter().map(|(_, thing)| thing));
    to
}

/// New positions by old ones.
struct Moved {
    joints: Vec<usize>,
    parts: Vec<usize>,
    guards: Vec<usize>,
    wires: Vec<usize>,
    zones: Vec<usize>,
    reels: Vec<usize>,
    steps: Vec<usize>,
}

impl Moved {
    fn joint(&self, at: &mut JointIx) {
        at.0 = self.joints[at.0];
    }

    fn part(&self, at: &mut PartIx) {
        at.0 = self.parts[at.0];
    }

    fn guard(&self, at: &mut GuardIx) {
        at.0 = self.guards[at.0];
    }

    fn wire(&self, at: &mut WireIx) {
        at.0 = self.wires[at.0];
    }

    fn zone(&self, at: &mut ZoneIx) {
        at.0 = self.zones[at.0];
    }

    fn step(&self, at: &mut StepIx) {
        at.0 = self.steps[at.0];
    }

    fn joints(&self, all: &mut [JointIx]) {
        for at in &mut *all {
            self.joint(at);
        }
        all.sort();
    }

    fn content(&self, content: &mut Content) {
        if let Content::Reel(ReelIx(at)) = content {
            *at = self.reels[*at];
        }
    }

    fn place(&self, place: &mut Where) {
        match place {
            Where::Joint(at) => self.joint(at),
            Where::Part(at) => self.part(at),
            Where::Guard(at) => self.guard(at),
            Where::Zone(at) => self.zone(at),
            Where::Rest => {}
        }
    }

    fn board(&self, job: &mut Job) {
        for guard in &mut job.guards {
            if let Some(at) = &mut guard.zone {
                self.zone(at);
            }
            self.joints(&mut guard.over);
        }
        for part in &mut job.parts {
            self.joints(&mut part.on);
            self.joints(&mut part.lugs);
            if let Some(at) = &mut part.zone {
                self.zone(at);
            }
            if let Some(balls) = &mut part.balls {
                self.content(&mut balls.content);
            }
        }
        for joint in &mut job.joints {
            if let Some(at) = &mut joint.site_of {
                self.part(at);
            }
            if let Some(at) = &mut joint.zone {
                self.zone(at);
            }
            for deposit in &mut joint.each {
                self.content(&mut deposit.content);
            }
        }
        for wire in &mut job.wires {
            self.joint(&mut wire.from);
            self.joint(&mut wire.to);
            for at in &mut wire.crosses {
                self.wire(at);
            }
            wire.crosses.sort();
        }
    }

    fn plan(&self, job: &mut Job) {
        for step in &mut job.steps {
            self.work(&mut step.work);
            for way in &mut step.ways {
                self.way(way);
            }
            for (at, _) in &mut step.after {
                self.step(at);
            }
            step.after.sort();
            self.joints(&mut step.closes);
        }
        for event in &mut job.done {
            if let Some(at) = &mut event.too_early {
                self.step(at);
            }
            for (at, _) in &mut event.sees {
                self.place(at);
            }
            for (at, _) in &mut event.reads {
                self.probe(at);
            }
        }
    }

    fn way(&self, way: &mut Way) {
        for (at, _) in &mut way.couplings {
            self.place(at);
        }
        way.couplings.sort_by_key(|(at, _)| *at);
        for (at, _) in &mut way.sees {
            self.place(at);
        }
        way.sees.sort_by_key(|(at, _)| *at);
    }

    fn probe(&self, probe: &mut Probe) {
        match probe {
            Probe::EndToEnd(at) | Probe::ToGround(at) => self.wire(at),
            Probe::Between(one, other) => {
                self.wire(one);
                self.wire(other);
                if one > other {
                    std::mem::swap(one, other);
                }
            }
        }
    }

    fn work(&self, work: &mut Work) {
        match work {
            Work::Solder {
                joint,
                solder,
                wire,
                ..
            } => {
                self.joint(joint);
                in_order(solder);
                if let Some(at) = wire {
                    self.wire(at);
                }
            }
            Work::Place { part, on, paste } => {
                self.part(part);
                self.joints(on);
                if let Some((solder, _)) = paste {
                    in_order(solder);
                }
            }
            Work::Remove { part, flood } => {
                self.part(part);
                if let Some((solder, _)) = flood {
                    in_order(solder);
                }
            }
            Work::Reball { part, solder, .. } => {
                self.part(part);
                in_order(solder);
            }
            Work::Clean {
                joint,
                part,
                rounds,
                ..
            } => {
                if let Some(at) = joint {
                    self.joint(at);
                }
                if let Some(at) = part {
                    self.part(at);
                }
                if let Choice::OneOf(many) = rounds {
                    many.sort_unstable();
                }
            }
            Work::Cover { guard, over } => {
                self.guard(guard);
                self.joints(over);
            }
            Work::Move { part, zone } => {
                self.part(part);
                if let Some(at) = zone {
                    self.zone(at);
                }
            }
            Work::OtherHeat { joint, .. } => {
                if let Some(at) = joint {
                    self.joint(at);
                }
            }
            Work::Uncover { guard } => self.guard(guard),
            Work::WholeBoard { part, .. } => {
                if let Some(at) = part {
                    self.part(at);
                }
            }
            Work::Gate { .. } | Work::Power => {}
        }
    }
}

fn in_order(choice: &mut Choice<Solder>) {
    if let Choice::OneOf(many) = choice {
        many.sort_by(|a, b| a.name.cmp(&b.name));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_stand_as_people_count() {
        let mut ids = [
            "w10", "w2", "b1", "w2a10", "w2a9", "w", "w01", "w1", "10", "9", "ä2",
        ];
        ids.sort_by(|a, b| natural(a, b));
        let counted = [
            "9", "10", "b1", "w", "w01", "w1", "w2", "w2a9", "w2a10", "w10", "ä2",
        ];
        assert_eq!(ids, counted);
        for a in ids {
            for b in ids {
                assert_eq!(natural(a, b), natural(b, a).reverse(), "{a} {b}");
                assert_eq!(natural(a, b).is_eq(), a == b);
            }
        }
    }
}
