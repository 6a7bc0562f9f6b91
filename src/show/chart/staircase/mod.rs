//! What a staircase shows, as plain data.

mod dots;
mod drawable;
mod foot;
mod frame;
mod lines;
mod names;
mod scene;
mod text;
mod treads;
mod words;

use super::Mark;
use crate::quantity::{Celsius, KelvinStep};

/// A whole job as a picture: a tread a step, a life-line a joint, a dot where a joint gets warm.
///
/// Steps are named by their index in [`Staircase::steps`], lines and ceilings by theirs. An index
/// that names nothing is not drawn.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Staircase {
    /// The job.
    pub title: String,
    /// The verdict of the whole job; unset where none is given.
    pub verdict: Option<Mark>,
    /// The first line of the answer, drawn under the title.
    pub line: String,
    /// In the order of work.
    pub steps: Vec<Tread>,
    /// One for every joint that ever stands.
    pub lines: Vec<LifeLine>,
    /// Limits of parts, masks, glues, laminate.
    pub ceilings: Vec<Ceiling>,
    /// What each line and ceiling sees in each step.
    pub dots: Vec<Dot>,
    /// The weakest place of the job, called out once.
    pub tightest: Option<Tightest>,
    /// How warm the finished board gets in use: a band at the bottom.
    pub service: Option<Celsius>,
    /// Small print under the picture, a line each.
    pub notes: Vec<String>,
}

/// One step of the work.
#[derive(Clone, Debug, PartialEq)]
pub struct Tread {
    /// The number that a reader calls it by.
    pub number: usize,
    /// The step's id in the job.
    pub id: String,
    /// What is done, in a few words: "set U4".
    pub label: String,
    /// What kind of step; decides the shape of the tread.
    pub kind: TreadKind,
    /// The process peak, where the step has one.
    pub peak: Option<Celsius>,
    /// The temperature that the target must reach to flow.
    pub must_reach: Option<Celsius>,
    /// "iron", "air", "plate"; empty where none.
    pub tool: String,
    /// The verdict of the step itself: its target, or the worst of what stands.
    pub mark: Mark,
    /// Whether it has already been done.
    pub done: bool,
}

/// What a step does to the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TreadKind {
    /// Heat at one place.
    Heat,
    /// Heat at one place to take something off.
    Removal,
    /// The whole board at one temperature: preheat, bake, oven.
    WholeBoard,
    /// No heat: a gate, a mask before its cure, a test.
    NoHeat,
}

/// The life of one joint.
#[derive(Clone, Debug, PartialEq)]
pub struct LifeLine {
    /// The joint's id.
    pub joint: String,
    /// In order of time, each beginning where the one before it ended.
    pub segments: Vec<Segment>,
    /// Where mixing moved the line.
    pub drops: Vec<Drop>,
}

/// A stretch of a life during which the joint stays the same.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// The step that makes it; none where it stands on arrival.
    pub from_step: Option<usize>,
    /// The step that ends it; none where it stands at the end.
    pub to_step: Option<usize>,
    /// What it is made of, as a short name: "Sn63Pb37", "SnBi + leaded film"; may be empty.
    pub alloy: String,
    /// The survival temperature: what lies above it is at risk. None where not known.
    pub first_melt: Option<Celsius>,
    /// The temperature from which it flows; the band up to it is pasty.
    pub flow: Option<Celsius>,
    /// A standing joint, or what was left on the pad.
    pub kind: Standing,
    /// On what the temperatures rest.
    pub basis: Basis,
}

/// Whether a segment is a joint or what is left of one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    /// A joint that holds something.
    Joint,
    /// Residue on a pad: a thin line.
    Residue,
}

/// On what a temperature rests; anything but a measurement or a computation is drawn as a band.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Readings of the very alloy.
    Measured,
    /// Assessed phase data.
    Computed,
    /// A published lower bound.
    Floor,
    /// Nothing.
    Unknown,
}

/// A change of a joint's first melt at a step.
#[derive(Clone, Debug, PartialEq)]
pub struct Drop {
    /// The step that did it.
    pub at_step: usize,
    /// Before.
    pub from: Option<Celsius>,
    /// After.
    pub to: Option<Celsius>,
    /// Why, in a few words: "lead in bismuth alloy".
    pub reason: String,
}

/// A limit of something that is no joint, from the step on where it exists.
#[derive(Clone, Debug, PartialEq)]
pub struct Ceiling {
    /// "mask", "U4 body".
    pub name: String,
    /// What it stands.
    pub limit: Celsius,
    /// The step that brings it; none where it is there on arrival.
    pub from_step: Option<usize>,
    /// The step that takes it away; none where it stays.
    pub to_step: Option<usize>,
}

/// What a dot is judged against.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Over {
    /// The joint with this index in [`Staircase::lines`].
    Line(usize),
    /// The limit with this index in [`Staircase::ceilings`].
    Ceiling(usize),
}

/// The temperature that one joint or guarded thing really sees in one step.
#[derive(Clone, Debug, PartialEq)]
pub struct Dot {
    /// The step.
    pub step: usize,
    /// Who sees it.
    pub over: Over,
    /// The temperature that was judged.
    pub at: Celsius,
    /// Between what it may lie, where it is an estimate.
    pub band: Option<(Celsius, Celsius)>,
    /// What is left up to the line; negative beyond it, none where not known.
    pub margin: Option<KelvinStep>,
    /// The verdict.
    pub mark: Mark,
}

/// The weakest place of the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tightest {
    /// In this step.
    pub step: usize,
    /// Of this joint or thing.
    pub over: Over,
}
