//! Alloys that are not known: the one test that decides most, and the plan that each result leads to.

use std::collections::BTreeMap;

use crate::alloy::Element;
use crate::bench::{Setting, World};
use crate::job::{Job, ReelIx};
use crate::melt::{History, MeltBook};
use crate::quantity::{Celsius, Mass};

use super::answer::{Answer, Budget, Plan, TooManySteps};
use super::check::worlds;
use super::history::{Start, start};
use super::order::{order_from, strict_from};

/// A test at the bench.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Test {
    /// A tip of known temperature on one spare joint: does it melt? (common practice among repairers:
    /// an iron near 185 to 200 °C leaves a mark on leaded solder and none on lead-free; forum posts, no source)
    Touch(Celsius),
    /// A swab that turns where there is lead (common practice, no source).
    LeadSwab,
    /// X-ray fluorescence: names the alloy.
    Xrf,
}

/// Cheapest first: a touch that only bismuth and indium alloys melt at, a swab, a touch that leaded
/// alloys melt at and lead-free ones do not, the laboratory.
const TESTS: [Test; 4] = [
    Test::Touch(Celsius::whole(150)),
    Test::LeadSwab,
    Test::Touch(Celsius::whole(195)),
    Test::Xrf,
];

/// What a test may show.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shows {
    /// It melts.
    Melts,
    /// It stays solid.
    StaysSolid,
    /// Lead.
    Lead,
    /// No lead.
    NoLead,
    /// This candidate.
    Is(usize),
}

/// A test worth doing.
#[derive(Clone, Debug)]
pub struct FindOut {
    /// On what.
    pub reel: ReelIx,
    /// Which.
    pub test: Test,
    /// What each result leads to.
    pub branches: Vec<Branch>,
    /// It is only known to be one of the usual alloys: a result may mislead where it is none of
    /// them, and only X-ray fluorescence would tell.
    pub usual_only: bool,
}

/// A result, and what it leads to.
#[derive(Clone, Debug)]
pub struct Branch {
    /// What the test shows.
    pub shows: Shows,
    /// What it may then be.
    pub candidates: Vec<usize>,
    /// The best plan that holds for all of these.
    pub answer: Answer,
    /// The next test, where that does not decide.
    pub next: Option<Box<FindOut>>,
}

/// Tests one after another that are looked ahead (our judgement).
const MOST_TESTS: usize = 3;

/// The test that decides most where no plan holds for everything that an unknown alloy may be;
/// `None` where nothing is unknown, where a plan holds for all of it, where no test tells candidates
/// apart, or where there are more combinations than are walked through.
///
/// Plans that keep law and service too are asked for first; where nothing that the alloys may be has
/// one, those that hold in every step.
///
/// # Errors
/// [`TooManySteps`] if more are left to do than the search keeps books of.
pub fn find_out(setting: &Setting, budget: Budget) -> Result<Option<FindOut>, TooManySteps> {
    // "Something else" is no candidate that a test could show.
    let all = worlds(setting);
    let usual: Vec<World> = all
        .iter()
        .filter(|world| world.0.iter().all(Option::is_some))
        .cloned()
        .collect();
    if usual.len() < 2 {
        return Ok(None);
    }
    for strict in [true, false] {
        let mut asked = Asked {
            setting,
            budget,
            strict,
            answers: BTreeMap::new(),
        };
        let for_all = asked.answer(&usual)?.plan().is_some();
        if for_all && usual.len() == all.len() {
            return Ok(None);
        }
        if for_all || !asked.decided(&usual)? {
            return asked.best_test(&usual, MOST_TESTS);
        }
    }
    Ok(None)
}

/// Answers for sets of worlds, each worked out once.
struct Asked<'a, 's> {
    setting: &'s Setting<'a>,
    budget: Budget,
    /// Law and service count too.
    strict: bool,
    answers: BTreeMap<Vec<World>, Answer>,
}

impl Asked<'_, '_> {
    fn answer(&mut self, worlds: &[World]) -> Result<Answer, TooManySteps> {
        if let Some(answer) = self.answers.get(worlds) {
            return Ok(answer.clone());
        }
        let settings: Vec<Setting> = worlds
            .iter()
            .map(|world| self.setting.in_world(world.clone()))
            .collect();
        let starts: Vec<Start> = settings.iter().map(start).collect();
        let answer = if self.strict {
            strict_from(&settings, &starts, self.budget)?
        } else {
            order_from(&settings, &starts, self.budget, &mut |_| true)?
        };
        self.answers.insert(worlds.to_vec(), answer.clone());
        Ok(answer)
    }

    /// Whether it is settled what to do: one plan for all of these, or none for any of them.
    fn decided(&mut self, worlds: &[World]) -> Result<bool, TooManySteps> {
        if self.answer(worlds)?.plan().is_some() {
            return Ok(true);
        }
        for world in worlds {
            if self.answer(std::slice::from_ref(world))?.plan().is_some() {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Whether the results of a test lead to different orders: where one order holds for all, and each result
    /// leads to it, nobody needs to know.
    fn leads_apart(
        &mut self,
        worlds: &[World],
        groups: &BTreeMap<Shows, Vec<World>>,
    ) -> Result<bool, TooManySteps> {
        if self.answer(worlds)?.plan().is_none() {
            return Ok(true);
        }
        let mut plans: Vec<Option<Plan>> = Vec::new();
        for group in groups.values() {
            plans.push(self.answer(group)?.plan().map(|(plan, _)| plan.clone()));
        }
        Ok(plans.windows(2).any(|pair| pair[0] != pair[1]))
    }

    /// The test that settles the most of these worlds; of equal ones the cheapest.
    fn best_test(
        &mut self,
        worlds: &[World],
        ahead: usize,
    ) -> Result<Option<FindOut>, TooManySteps> {
        let job = self.setting.job();
        let mut best: Option<(usize, ReelIx, Test)> = None;
        for test in TESTS {
            for reel in (0..job.reels.len()).map(ReelIx) {
                let groups = groups(self.setting, worlds, reel, test);
                if groups.len() < 2 || !self.leads_apart(worlds, &groups)? {
                    continue;
                }
                let mut settled = 0;
                for group in groups.values() {
                    if self.decided(group)? {
                        settled += group.len();
                    }
                }
                if best.is_none_or(|(most, ..)| settled > most) {
                    best = Some((settled, reel, test));
                }
            }
        }
        let Some((_, reel, test)) = best else {
            return Ok(None);
        };
        let mut branches = Vec::new();
        for (shows, group) in groups(self.setting, worlds, reel, test) {
            let next = if ahead > 1 && !self.decided(&group)? {
                self.best_test(&group, ahead - 1)?.map(Box::new)
            } else {
                None
            };
            branches.push(Branch {
                shows,
                candidates: candidates(&group, reel),
                answer: self.answer(&group)?,
                next,
            });
        }
        Ok(Some(FindOut {
            reel,
            test,
            branches,
            usual_only: !job.reels[reel.0].closed,
        }))
    }
}

fn candidates(worlds: &[World], reel: ReelIx) -> Vec<usize> {
    let mut all: Vec<usize> = worlds.iter().filter_map(|world| world.0[reel.0]).collect();
    all.sort_unstable();
    all.dedup();
    all
}

/// Worlds by what the test would show; one that may show either stands in both groups.
fn groups(
    setting: &Setting,
    worlds: &[World],
    reel: ReelIx,
    test: Test,
) -> BTreeMap<Shows, Vec<World>> {
    let mut groups: BTreeMap<Shows, Vec<World>> = BTreeMap::new();
    for world in worlds {
        let Some(candidate) = world.0[reel.0] else {
            continue;
        };
        for shows in shows(setting.job(), setting.melts(), reel, candidate, test) {
            groups.entry(shows).or_default().push(world.clone());
        }
    }
    groups
}

/// Lead from which a swab turns: 0.1 mass% would be law; swabs want about 1 % (common practice, no
/// source), so that between the two either may show.
const SWAB_SURE: f64 = 1.0;

fn shows(job: &Job, melts: &MeltBook, reel: ReelIx, candidate: usize, test: Test) -> Vec<Shows> {
    let solder = &job.reels[reel.0].candidates[candidate];
    match test {
        Test::Touch(tip) => {
            let one = Mass::from_picograms(1_000_000_000);
            let blend = crate::alloy::Blend::of(&solder.composition, one);
            let melt = melts.of(&blend, History::Frozen);
            let solid = melt.survival.is_some_and(|survival| survival > tip);
            let liquid = melt.flow.is_some_and(|flow| flow <= tip);
            match (liquid, solid) {
                (true, _) => vec![Shows::Melts],
                (_, true) => vec![Shows::StaysSolid],
                _ => vec![Shows::Melts, Shows::StaysSolid],
            }
        }
        Test::LeadSwab => {
            let lead = solder.composition.share(Element::Pb).percent();
            if lead >= SWAB_SURE {
                vec![Shows::Lead]
            } else if lead <= 0.0 {
                vec![Shows::NoLead]
            } else {
                vec![Shows::Lead, Shows::NoLead]
            }
        }
        Test::Xrf => vec![Shows::Is(candidate)],
    }
}
