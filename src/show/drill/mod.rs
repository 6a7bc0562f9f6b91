//! The drill: questions made by the same engine that checks jobs, with numbers drawn anew.
//!
//! Nine levels, from reading a staircase to what is not known, and safety. Each question states every number
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
mod own;
mod pictures;
mod question;
mod removal;
mod safety;
mod unknowns;

use std::collections::{BTreeMap, VecDeque};

use fastrand::Rng;

pub use lab::Lab;
pub use own::about;
pub use question::{Answer, Given, Judged, Question, Slip, read_reason};

/// Levels of the ladder.
pub const LEVELS: u8 = 9;

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
        8 => "what is not known, and tests",
        _ => "safety",
    }
}

/// Draws questions. The same seed gives the same questions.
#[derive(Debug)]
pub struct Drill<'a> {
    lab: &'a Lab,
    dice: Rng,
    /// Forms of each level that have not been asked in this round.
    left: BTreeMap<u8, Vec<&'static Form>>,
    /// The last forms that were asked: none of them comes again yet.
    lately: VecDeque<&'static str>,
}

/// A form of question, by its name.
#[derive(Debug)]
struct Form {
    kind: &'static str,
    draw: fn(&Lab, &mut Rng) -> Option<Question>,
}

/// No form comes twice within so many questions.
const APART: usize = 5;

impl<'a> Drill<'a> {
    /// With a seed.
    pub fn new(lab: &'a Lab, seed: u64) -> Self {
        Drill {
            lab,
            dice: Rng::with_seed(seed),
            left: BTreeMap::new(),
            lately: VecDeque::new(),
        }
    }

    /// A question of a level; levels beyond the ladder are its ends. Every form of a level is asked before one
    /// comes again, and between two of one form stand four others: a level that has fewer forms repeats what came
    /// before it. None only if no draw of a form is unambiguous, which a test rules out.
    pub fn question(&mut self, level: u8) -> Option<Question> {
        let level = level.clamp(1, LEVELS);
        let form = (1..=level).rev().find_map(|level| self.form(level))?;
        if self.lately.len() + 1 >= APART {
            self.lately.pop_front();
        }
        self.lately.push_back(form.kind);
        // A draw may be ambiguous (two joints equally weak): it is drawn again.
        let drawn = (0..MOST_DRAWS).find_map(|_| (form.draw)(self.lab, &mut self.dice))?;
        Some(Question {
            kind: form.kind,
            ..drawn
        })
    }

    /// A form of this very level that was not asked lately.
    fn form(&mut self, level: u8) -> Option<&'static Form> {
        let left = self.left.entry(level).or_default();
        if left.is_empty() {
            left.extend(forms(level));
            self.dice.shuffle(left);
        }
        let at = left
            .iter()
            .rposition(|form| !self.lately.contains(&form.kind))?;
        Some(left.remove(at))
    }
}

/// More than one draw in fifty is good, so that this is never reached.
const MOST_DRAWS: usize = 1000;

/// The forms of a level, each under the name of its function.
macro_rules! forms {
    ($($module:ident :: $form:ident),* $(,)?) => {
        &[$(Form { kind: stringify!($form), draw: $module::$form }),*]
    };
}

fn forms(level: u8) -> &'static [Form] {
    match level {
        1 => forms![
            basics::stairs,
            basics::weakest,
            basics::pasty,
            pictures::tightest_step,
            pictures::would_melt,
        ],
        2 => forms![basics::service, basics::may_serve, basics::sees_all],
        3 => forms![
            neighbours::sees,
            neighbours::highest,
            neighbours::plate,
            neighbours::hangs,
        ],
        4 => forms![
            mixing::lead_share,
            mixing::first_drop,
            mixing::rounds,
            mixing::shared_pad,
            mixing::lower_than_both,
        ],
        5 => forms![
            ordering::best,
            ordering::closed_off,
            ordering::chain,
            ordering::short_check,
        ],
        6 => forms![removal::comes_off, removal::too_hot, removal::heats_left],
        7 => forms![
            clashes::coupling_wanted,
            clashes::give_up,
            clashes::smallest_set,
        ],
        8 => forms![
            unknowns::spool,
            unknowns::scale,
            unknowns::test,
            unknowns::before_any_test,
        ],
        _ => forms![
            safety::called_for,
            safety::cell,
            safety::capacitor,
            safety::hands,
            safety::oven,
            safety::solvent,
            safety::lamp,
            safety::first_power,
            safety::ceramic,
            safety::cadmium,
        ],
    }
}
