//! The way in: the text of a job becomes a [`Planner`], and every answer comes from it.
//!
//! A job is asked in one of three forms, each a [`Case`]: what was done and the steps in the order of the file
//! ([`Planner::written`]), all that a search may arrange ([`Planner::planned`]), and the same in an order that
//! does not hang on that of the file ([`Planner::sorted`]). A case has the repairs that the log asks for and the
//! checks before power in it, so that nobody can ask without them.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use crate::alloy::AlloyBook;
use crate::bench::{Setting, Verdict};
use crate::job::{self, Assumption, Job, JobFaults, Notice, ReadJob};
use crate::melt::{MeltBook, Pin};
use crate::plan::{
    self, Answer, Budget, Checked, FindOut, Planned, Progress, TooManySteps, Written,
};

/// A job that was read, with what is known of its metals.
///
/// ```
/// use meltstair::Planner;
///
/// let planner = Planner::new(
///     "job: tide gauge\n\
///      joints: [{id: tails, alloy: Sn63Pb37, mg: 0.1}, {id: u, pad_um: 300}]\n\
///      steps: [{id: tin, do: solder, joint: u, alloy: Bi58Sn42, mg: 0.1, tool: iron, k: {tails: 0.5}}]\n",
/// )?;
/// let (_, checked) = planner.written().check();
/// assert_eq!(checked.verdict.exit_code(), 0);
/// # Ok::<(), meltstair::job::JobFaults>(())
/// ```
#[derive(Debug)]
pub struct Planner {
    read: ReadJob,
    melts: MeltBook,
    stop: Option<&'static AtomicBool>,
}

/// A job in one of the forms in which it is asked.
#[derive(Clone, Debug)]
pub struct Case<'p> {
    job: Job,
    melts: &'p MeltBook,
    stop: Option<&'static AtomicBool>,
}

/// The best order of a case, and that order checked.
#[derive(Clone, Debug)]
pub struct Best {
    /// What the search says.
    pub answer: Answer,
    /// The order that was found, step by step; none where there is none.
    pub checked: Option<Checked>,
}

impl Planner {
    /// Reads a job, with the alloys that come with the program.
    ///
    /// # Errors
    /// [`JobFaults`]: all that is wrong in the text, each with its line and column.
    pub fn new(text: &str) -> Result<Self, JobFaults> {
        let book = Arc::new(AlloyBook::shipped().clone());
        Planner::read(text.as_bytes(), "job", &book)
    }

    /// Reads a job from the bytes of a file, with an alloy book of one's own; `file` is its name in messages.
    ///
    /// # Errors
    /// [`JobFaults`]: all that is wrong in the text, each with its line and column.
    pub fn read(bytes: &[u8], file: &str, book: &Arc<AlloyBook>) -> Result<Self, JobFaults> {
        let planner = Planner::of(job::read_bytes(bytes, file, book)?, book);
        match plan::names_nothing(&planner.read.job, &planner.melts) {
            Some(line) => Err(job::logs_nothing(bytes, file, &planner.read.job.done[line])),
            None => Ok(planner),
        }
    }

    /// Of a job that is read already.
    pub fn of(read: ReadJob, book: &Arc<AlloyBook>) -> Self {
        let melts = melts_of(&read.job, book);
        Planner {
            read,
            melts,
            stop: None,
        }
    }

    /// The same, and no heat is worked out any more once that is set: what is not known by then is answered as
    /// unknown.
    #[must_use]
    pub fn stopped_by(self, stop: &'static AtomicBool) -> Self {
        Planner {
            stop: Some(stop),
            ..self
        }
    }

    /// The job as it stands in the file: without repairs, and without checks that nobody wrote.
    pub fn job(&self) -> &Job {
        &self.read.job
    }

    /// What was understood differently from how it was written.
    pub fn notices(&self) -> &[Notice] {
        &self.read.notices
    }

    /// Every default that was used.
    pub fn assumed(&self) -> &[Assumption] {
        &self.read.assumed
    }

    /// What is known of the melting of the job's metals.
    pub fn melts(&self) -> &MeltBook {
        &self.melts
    }

    /// What was done and what the log asks for after it, in the order of the file.
    pub fn written(&self) -> Case<'_> {
        self.case(plan::logged(&self.read.job, &self.melts))
    }

    /// All that a search may arrange, things in the order of the file.
    pub fn planned(&self) -> Case<'_> {
        self.case(plan::whole(&self.read.job, &self.melts))
    }

    /// The same, things in the order of their names: equal jobs give equal answers, however they are written.
    pub fn sorted(&self) -> Case<'_> {
        self.case(plan::whole(&plan::sorted(&self.read.job), &self.melts))
    }

    fn case(&self, job: Job) -> Case<'_> {
        Case {
            job,
            melts: &self.melts,
            stop: self.stop,
        }
    }
}

impl Case<'_> {
    /// The job, with repairs and checks in it.
    pub fn job(&self) -> &Job {
        &self.job
    }

    /// What every question to the bench and to the search is asked with.
    pub fn setting(&self) -> Setting<'_> {
        let setting = Setting::new(&self.job, self.melts);
        match self.stop {
            Some(stop) => setting.stopped_by(stop),
            None => setting,
        }
    }

    /// The order of the file, judged step by step.
    pub fn check(&self) -> (Written, Checked) {
        let written = plan::as_written(&self.job);
        let checked = plan::check(&self.setting(), &written.plan);
        (written, checked)
    }

    /// The order with the widest margin; `go_on` is asked now and then, and ends the search by saying no.
    ///
    /// # Errors
    /// [`TooManySteps`] where the job has more than a search can number.
    ///
    /// ```
    /// use meltstair::{Planner, plan::Budget};
    ///
    /// let planner = Planner::new(
    ///     "job: organ console\n\
    ///      joints: [{id: a, pad_um: 300}, {id: b, pad_um: 300}]\n\
    ///      steps:\n\
    ///      - {id: low, do: solder, joint: a, alloy: Bi58Sn42, mg: 0.1, tool: iron, k: {b: 0.6}}\n\
    ///      - {id: high, do: solder, joint: b, alloy: SAC305, mg: 0.1, tool: iron, k: {a: 0.6}}\n",
    /// )?;
    /// let case = planner.sorted();
    /// let best = case.order(Budget::default(), &mut |_| true)?;
    /// let (plan, _) = best.answer.plan().ok_or("no order")?;
    /// // The high-melting joint comes first: after it nothing is hot enough to melt it again.
    /// let first = &case.job().steps[plan.steps[0].step.0];
    /// assert_eq!(first.id, "high");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn order(
        &self,
        budget: Budget,
        go_on: &mut dyn FnMut(&Progress) -> bool,
    ) -> Result<Best, TooManySteps> {
        let setting = self.setting();
        let answer = plan::order(&setting, budget, go_on)?;
        let checked = found(&answer).map(|best| {
            let planned: Vec<Planned> = plan::whole_plan(&self.job, best);
            plan::check(&setting, &planned)
        });
        Ok(Best { answer, checked })
    }

    /// What is worth finding out first: where alloys are not known, and no order holds for all that they may be.
    ///
    /// # Errors
    /// [`TooManySteps`] where the job has more than a search can number.
    pub fn find_out(&self, best: &Best, budget: Budget) -> Result<Option<FindOut>, TooManySteps> {
        let holds = best
            .checked
            .as_ref()
            .is_some_and(|checked| checked.verdict <= Verdict::Softens);
        let decided = best.answer.plan().is_some() && holds;
        if self.job.reels.is_empty() || decided || budget.is_over() {
            return Ok(None);
        }
        plan::find_out(&self.setting(), budget)
    }
}

/// What is known of the melting of a job's metals: the alloy book, and what the job itself takes as given.
pub fn melts_of(job: &Job, book: &Arc<AlloyBook>) -> MeltBook {
    let pins = job.pins.iter().map(|pin| Pin {
        composition: pin.solder.composition,
        solidus: pin.solidus,
        liquidus: pin.liquidus,
    });
    let readings: Arc<AlloyBook> = Arc::clone(book);
    MeltBook::new(readings, pins.collect())
}

/// The order that an answer has, be it proven, best so far, or held up by something unknown.
fn found(answer: &Answer) -> Option<&plan::Plan> {
    match answer {
        Answer::Proven { plan, .. }
        | Answer::Unproven { plan, .. }
        | Answer::Undecided { plan, .. } => Some(plan),
        Answer::Impossible { .. } | Answer::Unknown { .. } => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The bell buoy's heat is computed, and holds; where nobody waits for it, it is not known.
    #[test]
    fn heat_that_nobody_waits_for_is_unknown() {
        static STOP: AtomicBool = AtomicBool::new(true);
        let read = || Planner::new(include_str!("../charts/bell_buoy.yaml")).expect("a job");
        assert_eq!(read().planned().check().1.verdict, Verdict::Holds);
        let stopped = read().stopped_by(&STOP);
        assert_eq!(stopped.planned().check().1.verdict, Verdict::Unknown);
        let case = stopped.planned();
        let pulse: &'static plan::Pulse = Box::leak(Box::default());
        pulse.call_off();
        let budget = Budget {
            pulse: Some(pulse),
            ..Budget::default()
        };
        let best = case.order(budget, &mut |_| true).expect("few steps");
        assert!(!matches!(best.answer, Answer::Impossible { .. }));
        let other = case
            .setting()
            .with_job(case.job())
            .in_world(case.setting().world().clone());
        let written = plan::as_written(case.job());
        assert_eq!(plan::check(&other, &written.plan).verdict, Verdict::Unknown);
    }
}
