//! From which readings something was learned: a fit stands for those readings and for the set-up as it is
//! described, and for nothing else.

use std::fmt::Write as _;

use super::shape::{Event, Job, JointIx, Step, Tool, Where, Work};
use crate::heat;

/// A kind of tool of which something is learned apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Hot air.
    Air,
    /// An iron.
    Iron,
}

impl Kind {
    /// Both, in the order of the file.
    pub const ALL: [Kind; 2] = [Kind::Air, Kind::Iron];

    /// Of a tool; none where nothing is learned.
    pub fn of(tool: &heat::Tool) -> Option<Self> {
        match tool {
            heat::Tool::Air(_) => Some(Kind::Air),
            heat::Tool::Iron { .. } => Some(Kind::Iron),
            heat::Tool::Rays(_) => None,
        }
    }

    /// Its key under `learned`.
    pub fn key(self) -> &'static str {
        match self {
            Kind::Air => "air",
            Kind::Iron => "iron",
        }
    }
}

/// The step of a log line that was read by, where it describes a tool of that kind.
pub fn step_read<'j>(job: &'j Job, event: &Event, kind: Kind) -> Option<&'j Step> {
    if event.sees.is_empty() {
        return None;
    }
    step_with(job, &event.step, kind)
}

/// The step of that name, where it describes a tool of that kind.
pub fn step_with<'j>(job: &'j Job, id: &str, kind: Kind) -> Option<&'j Step> {
    let described = |step: &Step| {
        // Tweezers are bounded from either side, not described: nothing is learned with them.
        let ways = step.ways.iter().filter(|way| way.tool != Tool::Tweezers);
        let mut tools = ways.filter_map(|way| way.described.as_ref());
        tools.any(|tool| Kind::of(tool) == Some(kind))
    };
    job.steps
        .iter()
        .find(|step| step.id == id && described(step))
}

/// The mark of all readings that stand for a kind of tool, with what they were read on; none where there are
/// none. The order of the log and of the files means nothing.
pub fn standing(job: &Job, kind: Kind) -> Option<String> {
    let mut lines = Vec::new();
    for event in &job.done {
        if let Some(step) = step_read(job, event, kind) {
            let at: Vec<String> = event.sees.iter().map(|(w, t)| place(job, *w, *t)).collect();
            let read = (event.peak, event.tool, at);
            lines.push(format!("log {read:?} {}", set_up(job, step)));
        }
    }
    for file in &job.learned.files {
        if let Some(step) = step_with(job, &file.step, kind) {
            let read = (&file.hash, file.seconds, file.uncertain);
            lines.push(format!("file {read:?} {}", set_up(job, step)));
        }
    }
    if lines.is_empty() {
        return None;
    }
    lines.sort();
    let plate = job.board.as_ref().and_then(|board| board.plate.as_ref());
    let mut all = format!("{plate:?} {:?}\n", job.ambient);
    for line in &lines {
        let _ = writeln!(all, "{line}");
    }
    Some(hash(all.as_bytes()))
}

fn place(job: &Job, place: Where, read: crate::quantity::Celsius) -> String {
    let at = match place {
        Where::Joint(joint) => joint_at(job, joint),
        Where::Guard(guard) => format!("{:?}", job.guards[guard.0].at),
        _ => format!("{place:?}"),
    };
    format!("{at} {read:?}")
}

fn joint_at(job: &Job, joint: JointIx) -> String {
    let facts = &job.joints[joint.0];
    let site = facts.site_of.map(|part| &job.parts[part.0]);
    let body = site.map(|part| (part.at, part.size, part.thick, part.mass));
    format!("{:?} {:?} {body:?}", facts.at, facts.reach)
}

/// What the heat of a step depends on.
fn set_up(job: &Job, step: &Step) -> String {
    let target = match &step.work {
        Work::Solder { joint, .. } => Some(*joint),
        Work::Place { on, .. } => on.first().copied(),
        Work::OtherHeat { joint, .. } | Work::Clean { joint, .. } => *joint,
        Work::Remove { part, .. } => job
            .parts
            .get(part.0)
            .and_then(|part| part.on.first().copied()),
        _ => None,
    };
    let at = target.map(|joint| joint_at(job, joint));
    let ways: Vec<_> = step
        .ways
        .iter()
        .map(|way| (way.described, way.preheat, way.preheat_area, way.seconds))
        .collect();
    format!("{at:?} {ways:?}")
}

/// Sixty-four bits of a text, as sixteen digits (Fowler, Noll and Vo's FNV-1a; from memory): against a slip, not
/// against malice.
pub fn hash(bytes: &[u8]) -> String {
    let mut state = 0xcbf2_9ce4_8422_2325_u64;
    for byte in bytes {
        state = (state ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
    }
    format!("{state:016x}")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Values from the authors' own list (`""`, `"a"`, `"foobar"`), from memory.
    #[test]
    fn hashes_are_those_of_the_authors() {
        assert_eq!(hash(b""), "cbf29ce484222325");
        assert_eq!(hash(b"a"), "af63dc4c8601ec8c");
        assert_eq!(hash(b"foobar"), "85944171f73967e8");
    }
}
