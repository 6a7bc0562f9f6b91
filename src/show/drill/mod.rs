//! The drill: questions made by the same engine that checks jobs, with numbers drawn anew.
//!
//! Eight levels, from reading a staircase to what is not known. Each question states every number
//! that it needs, asks for one more and for the reason, and can draw the job behind it with the answer
//! in it. No answer is one that the engine would call unknown, unless that is the answer.

mod basics;
mod beliefs;
mod clashes;
mod draft;
mod lab;
mod mixing;
mod neighbours;
mod ordering;
mod question;
mod removal;
mod unknowns;

use std::collections::BTreeMap;

use fastrand::Rng;

pub use lab::Lab;
pub use question::{Answer, Given, Judged, Question, Slip, read_reason};

/// Levels of the ladder.
pub const LEVELS: u8 = 8;

/// What a level is about.
pub const fn level_name(level: u8) -> &'static str {
    match level {
        1 => "reading a staircase",
        2 => "two alloys, clean",
        3 => "neighbours and what they see",
        4 => "mixing with masses",
        5 => "order with access",
        6 => "removal, and planning again",
        7 => "clashes, and what to give up",
        _ => "what is not known, and tests",
    }
}

/// Draws questions. The same seed gives the same questions.
#[derive(Debug)]
pub struct Drill<'a> {
    lab: &'a Lab,
    dice: Rng,
    /// Forms of each level that have not been asked in this round.
    left: BTreeMap<u8, Vec<Form>>,
}

type Form = fn(&Lab, &mut Rng) -> Option<Question>;

impl<'a> Drill<'a> {
    /// With a seed.
    pub fn new(lab: &'a Lab, seed: u64) -> Self {
        Drill {
            lab,
            dice: Rng::with_seed(seed),
            left: BTreeMap::new(),
        }
    }

    /// A question of a level; levels beyond the ladder are its ends. Every form of a level is asked
    /// before one comes again. None only if no draw of a form is unambiguous, which a test rules out.
    pub fn question(&mut self, level: u8) -> Option<Question> {
        let level = level.clamp(1, LEVELS);
        let left = self.left.entry(level).or_default();
        if left.is_empty() {
            left.extend(forms(level));
            self.dice.shuffle(left);
        }
        let form = left.pop()?;
        // A draw may be ambiguous (two joints equally weak): it is drawn again.
        (0..MOST_DRAWS).find_map(|_| form(self.lab, &mut self.dice))
    }
}

/// More than one draw in fifty is good, so that this is never reached.
const MOST_DRAWS: usize = 1000;

fn forms(level: u8) -> &'static [Form] {
    match level {
        1 => &[basics::stairs, basics::weakest, basics::pasty],
        2 => &[basics::service, basics::may_serve, basics::sees_all],
        3 => &[
            neighbours::sees,
            neighbours::highest,
            neighbours::plate,
            neighbours::hangs,
        ],
        4 => &[
            mixing::lead_share,
            mixing::first_drop,
            mixing::rounds,
            mixing::shared_pad,
            mixing::lower_than_both,
        ],
        5 => &[
            ordering::best,
            ordering::closed_off,
            ordering::chain,
            ordering::short_check,
        ],
        6 => &[removal::comes_off, removal::too_hot, removal::heats_left],
        7 => &[
            clashes::coupling_wanted,
            clashes::give_up,
            clashes::smallest_set,
        ],
        _ => &[
            unknowns::spool,
            unknowns::scale,
            unknowns::test,
            unknowns::before_any_test,
        ],
    }
}
