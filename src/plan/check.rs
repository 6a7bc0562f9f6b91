//! Checking a plan: the transition folded over an order.

use std::collections::BTreeMap;

use crate::bench::{
    Bench, Breach, Doing, Finding, LimitOf, Passage, Pick, Refusal, Rule, Service, Setting,
    Subject, Verdict, Window, World, aim_of, breaches, electric, limits_in_service, pass, service,
};
use crate::job::{Event, GuardIx, Job, JointIx, PartIx, Step, Way, Work};
use crate::quantity::{Celsius, KelvinStep};

use super::history::stem;
use super::not_assessed::{NotAssessed, not_assessed};
use super::whole::POWER_LAST;

/// A step of a plan with the choices taken, and what the log says if it has been done.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The step; repair steps are not in the job, so a plan holds its own.
    pub step: Step,
    /// The choices.
    pub pick: Pick,
    /// The log entry, if it has been done.
    pub log: Option<Event>,
}

/// One step of a checked plan.
#[derive(Clone, Debug)]
pub struct CheckedStep {
    /// What was planned.
    pub planned: Planned,
    /// The bench before it.
    pub before: Bench,
    /// What it does and what everything goes through.
    pub passage: Passage,
}

impl Planned {
    /// As the transition takes it.
    pub fn doing(&self) -> Doing<'_> {
        Doing {
            log: self.log.as_ref(),
            ..Doing::planned(&self.step, self.pick)
        }
    }
}

impl CheckedStep {
    /// How heat is brought, if the step heats at all.
    pub fn way(&self) -> Option<&Way> {
        self.planned.doing().way()
    }
}

/// Where a margin is smallest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tightest {
    /// Position in the plan.
    pub step: usize,
    /// Whose margin.
    pub place: Place,
    /// The margin.
    pub margin: KelvinStep,
}

/// A joint, or something else with a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// A group of joints.
    Joint(JointIx),
    /// A part, guard or wire.
    Limit(LimitOf),
}

/// Heats of one part.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ledger {
    /// Which part.
    pub part: PartIx,
    /// Heats in this plan.
    pub heats: u32,
    /// Heats it had before.
    pub before: u32,
    /// Heats left after the plan, where a limit is stated; negative when overdrawn.
    pub left: Option<i64>,
    /// Hottest of them.
    pub peak: Option<Celsius>,
}

/// A finding, and in which step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Told {
    /// Position in the plan; `None` for what is of the whole.
    pub step: Option<usize>,
    /// What was found.
    pub finding: Finding,
}

/// A plan that has been checked.
#[derive(Clone, Debug)]
pub struct Checked {
    /// In order.
    pub steps: Vec<CheckedStep>,
    /// The worst of all findings that count.
    pub verdict: Verdict,
    /// Everything that was judged: step by step what is still to be done, then the whole.
    pub findings: Vec<Told>,
    /// Smallest margin of the plan.
    pub tightest: Option<Tightest>,
    /// Every part that takes heats.
    pub ledgers: Vec<Ledger>,
    /// Every standing joint in service, where a service temperature is stated.
    pub service: Vec<Service>,
    /// Joints that hold too much lead, cadmium or gold.
    pub breaches: Vec<Breach>,
    /// What no rule could judge.
    pub not_assessed: Vec<NotAssessed>,
    /// The bench at the end.
    pub end: Bench,
    /// The verdict for each assumption about unknown alloys, where there are any.
    pub worlds: Vec<(World, Verdict)>,
}

/// Folds the transition over a plan, from the job's start, in every world that the unknown alloys
/// allow. What is told step by step is the worst of them.
pub fn check(setting: &Setting, plan: &[Planned]) -> Checked {
    let worlds = worlds(setting);
    let settings: Vec<Setting> = worlds
        .iter()
        .map(|world| setting.in_world(world.clone()))
        .collect();
    let walked = walk(&settings, plan);
    let mut answers: Vec<(World, Checked)> = worlds
        .into_iter()
        .zip(settings.iter().zip(walked))
        .map(|(world, (setting, (steps, end)))| (world, judged(setting, steps, end)))
        .collect();
    let told: Vec<(World, Verdict)> = answers
        .iter()
        .map(|(world, checked)| (world.clone(), checked.verdict))
        .collect();
    let windows = windows(&answers);
    let worst = answers
        .iter()
        .enumerate()
        .max_by_key(|(i, (_, checked))| (severity(checked), std::cmp::Reverse(*i)))
        .map_or(0, |(i, _)| i);
    let mut checked = answers.swap_remove(worst).1;
    if told.len() > 1 {
        checked.verdict = across_worlds(&told);
        checked.worlds = told;
        for (step, window) in checked.steps.iter_mut().zip(windows) {
            step.passage.window = window;
        }
    }
    checked
}

/// One hand, one peak: the window of each step is what the windows of all worlds have in common. Where one of them
/// does not know from where on everything flows, nobody does.
fn windows(answers: &[(World, Checked)]) -> Vec<Window> {
    let steps = answers
        .first()
        .map_or(0, |(_, checked)| checked.steps.len());
    let window = |at: usize| {
        answers
            .iter()
            .map(move |(_, checked)| checked.steps[at].passage.window)
    };
    let common = |a: Window, b: Window| {
        let upper = [a, b].into_iter().filter(|window| window.to.is_some());
        let upper = upper.min_by_key(|window| window.to);
        Window {
            from: a.from.zip(b.from).map(|(a, b)| a.max(b)),
            to: upper.and_then(|window| window.to),
            set_by: upper.and_then(|window| window.set_by),
        }
    };
    let all = (0..steps).map(|at| window(at).reduce(common));
    all.flatten().collect()
}

/// Ranks answers so that the most instructive bad one is told.
fn severity(checked: &Checked) -> (Verdict, std::cmp::Reverse<Option<KelvinStep>>) {
    (
        checked.verdict,
        std::cmp::Reverse(checked.tightest.map(|tightest| tightest.margin)),
    )
}

/// One verdict for all worlds: what all agree on, else unknown, since what decides is not known.
fn across_worlds(told: &[(World, Verdict)]) -> Verdict {
    let worst = told
        .iter()
        .map(|(_, verdict)| *verdict)
        .max()
        .unwrap_or(Verdict::Unknown);
    let best = told
        .iter()
        .map(|(_, verdict)| *verdict)
        .min()
        .unwrap_or(Verdict::Unknown);
    if best <= Verdict::Close && worst > Verdict::Close {
        Verdict::Unknown
    } else {
        worst
    }
}

/// Most assumptions that are walked through; beyond that everything unknown stays unknown.
const MOST_WORLDS: usize = 256;

/// Every combination of candidates for the unknown alloys, and "something else" where a list is
/// only the usual suspects.
pub fn worlds(setting: &Setting) -> Vec<World> {
    let mut worlds = vec![World(Vec::new())];
    for reel in &setting.job().reels {
        let mut choices: Vec<Option<usize>> = (0..reel.candidates.len()).map(Some).collect();
        if !reel.closed || choices.is_empty() {
            choices.push(None);
        }
        worlds = worlds
            .iter()
            .flat_map(|world| {
                choices.iter().map(|choice| {
                    let mut longer = world.0.clone();
                    longer.push(*choice);
                    World(longer)
                })
            })
            .collect();
        if worlds.len() > MOST_WORLDS {
            return vec![World(vec![None; setting.job().reels.len()])];
        }
    }
    worlds
}

/// Walks all worlds side by side: one hand does each step, and goes to one peak in all of them.
fn walk(worlds: &[Setting], plan: &[Planned]) -> Vec<(Vec<CheckedStep>, Bench)> {
    let mut walked: Vec<(Vec<CheckedStep>, Bench)> = worlds
        .iter()
        .map(|setting| (Vec::with_capacity(plan.len()), Bench::at_start(setting)))
        .collect();
    for planned in plan {
        let doing = planned.doing();
        let each = worlds.iter().zip(&walked);
        let aim = each.map(|(setting, (_, bench))| aim_of(setting, bench, &doing));
        let aim = aim.max().flatten();
        for (setting, (steps, bench)) in worlds.iter().zip(&mut walked) {
            let passage = pass(setting, bench, &doing.aimed(aim));
            let before = std::mem::replace(bench, passage.next.clone());
            steps.push(CheckedStep {
                planned: planned.clone(),
                before,
                passage,
            });
        }
    }
    walked
}

fn judged(setting: &Setting, steps: Vec<CheckedStep>, end: Bench) -> Checked {
    let ledgers = ledgers(setting, &steps);
    let service = setting
        .job()
        .want
        .service
        .map_or_else(Vec::new, |t| service(setting, &end, t));
    let breaches = breaches(setting, &end);
    let mut findings = step_findings(&steps);
    findings.extend(power_told(&steps));
    let mut whole = |finding| {
        findings.push(Told {
            step: None,
            finding,
        });
    };
    logged(&steps).into_iter().for_each(&mut whole);
    for ledger in &ledgers {
        let of = Subject::Part(ledger.part);
        whole(Finding::new(Rule::Heats, of, ledger.verdict()));
    }
    for one in &service {
        whole(Finding::new(
            Rule::Service,
            Subject::Joint(one.joint),
            one.verdict,
        ));
    }
    for breach in &breaches {
        let of = Subject::Joint(breach.joint);
        whole(Finding::new(
            Rule::Law(breach.rule),
            of,
            breach.verdict(setting),
        ));
    }
    for wire in electric::bare_crossings(setting.job()) {
        whole(Finding::new(
            Rule::Crossing,
            Subject::Wire(wire),
            Verdict::Limit,
        ));
    }
    for wire in electric::wires(setting.job()) {
        let of = Subject::Wire(wire.wire);
        whole(Finding::new(Rule::Carries, of, wire.verdict()));
    }
    for (of, verdict) in limits_in_service(setting, &end) {
        whole(Finding::new(Rule::Service, of, verdict));
    }
    if failed_in_hand(&steps) {
        whole(Finding::new(Rule::Looked, Subject::Step, Verdict::Unknown));
    }
    if unmended(setting.job(), &steps) {
        whole(Finding::new(Rule::Mended, Subject::Step, Verdict::Unknown));
    }
    if heat_after_power(&steps) {
        whole(Finding::new(Rule::Looked, Subject::Step, Verdict::Close));
    }
    let counted = findings.iter().map(|told| &told.finding);
    let mut checked = Checked {
        not_assessed: Vec::new(),
        tightest: tightest(&steps),
        verdict: crate::bench::worst(counted),
        steps,
        findings,
        ledgers,
        service,
        breaches,
        end,
        worlds: Vec::new(),
    };
    checked.not_assessed = not_assessed(setting, &checked);
    checked
}

/// What was found in every step that is still to be done, and in what was done whatever could not have
/// been done as the log says, or did harm that nobody has looked at since.
fn step_findings(steps: &[CheckedStep]) -> Vec<Told> {
    let inspected = steps.iter().rposition(is_inspected).unwrap_or(0);
    let mut all = Vec::new();
    for (step, checked) in steps.iter().enumerate() {
        let done = checked.planned.log.is_some();
        let counts = |finding: &&Finding| {
            let harm = || leaves_harm(&checked.planned.step.work, finding);
            !done || cannot_be(checked, finding) || (step >= inspected && harm())
        };
        all.extend(
            checked
                .passage
                .findings
                .iter()
                .filter(counts)
                .map(|f| Told {
                    step: Some(step),
                    finding: *f,
                }),
        );
    }
    all
}

/// A logged inspection: somebody has looked at everything that came before it.
fn is_inspected(step: &CheckedStep) -> bool {
    let passed = step.planned.log.as_ref();
    passed.is_some_and(|event| event.failed.is_none())
        && matches!(step.planned.step.work, Work::Gate { short_check: false })
}

/// Whether something that was done is to be looked at for this: what fell, floated, burst, tore, was done
/// through mask or glue, or without a check, and what was lifted off solder that did not flow. What else
/// melted, got too hot or did not flow is on the bench, and making the joint again is enough.
pub(super) fn leaves_harm(work: &Work, finding: &Finding) -> bool {
    let made = !matches!(work, Work::Remove { .. }) && finding.rule == Rule::Flows;
    // Nothing on the bench remembers enamel that was too hot.
    let enamel = matches!(finding.of, Subject::Wire(_));
    let on_the_bench = made || (matches!(finding.rule, Rule::Survives | Rule::Limit) && !enamel);
    finding.counts && finding.verdict != Verdict::Holds && !on_the_bench
}

/// A line of the log tells of something that this bench does not allow: then the bench is not the one that
/// the job describes. Power without a check and a way through mask or glue have been, all the same.
fn cannot_be(checked: &CheckedStep, finding: &Finding) -> bool {
    finding.rule == Rule::Possible && checked.passage.refusals.iter().any(Refusal::is_impossible)
}

/// What the log left behind and nobody has looked at since.
fn logged(steps: &[CheckedStep]) -> Vec<Finding> {
    let last = steps.iter().rev().find(|step| step.planned.log.is_some());
    let Some(bench) = last.map(|step| &step.passage.next) else {
        return Vec::new();
    };
    let mut all = Vec::new();
    let mut looked = |of, verdict| all.push(Finding::new(Rule::Looked, of, verdict));
    for (j, joint) in bench.joints.iter().enumerate() {
        let of = Subject::Joint(JointIx(j));
        if joint.was_molten {
            looked(of, Verdict::Melts);
        }
        if joint.doubtful {
            looked(of, Verdict::DoesNotFlow);
        }
    }
    for (p, part) in bench.parts.iter().enumerate() {
        if part.suspect {
            looked(Subject::Part(PartIx(p)), Verdict::Limit);
        }
    }
    for (g, guard) in bench.guards.iter().enumerate() {
        if guard.suspect {
            looked(Subject::Guard(GuardIx(g)), Verdict::Limit);
        }
    }
    if bench.disordered {
        looked(Subject::Step, Verdict::Limit);
    }
    if steps.iter().enumerate().any(|(at, _)| is_undone(steps, at)) {
        looked(Subject::Step, Verdict::DoesNotFlow);
    }
    all
}

/// What failed and may have hurt something: what it tore, burnt or dropped, or what smoked, is looked at first. A
/// part that was set or a joint that was soldered in vain is taken up again, a mask cured again; what a check
/// found wrong is mended ([`unmended`]).
pub(super) fn is_to_be_looked_at(work: &Work, log: &Event) -> bool {
    let taken_up_again = matches!(
        work,
        Work::Solder { .. } | Work::Place { .. } | Work::Cover { .. }
    );
    let is_check = matches!(work, Work::Gate { .. });
    let harmed = || log.failed.as_deref().is_some_and(tells_of_harm);
    log.failed.is_some() && !is_check && (!taken_up_again || harmed())
}

/// Beginnings of words by which people tell that something came to harm, not only that it did not work: of copper,
/// of what was dropped, of what burnt (our judgement).
const HARM: [&str; 33] = [
    "torn",
    "tore",
    "tear",
    "rip",
    "peel",
    "lift",
    "gone",
    "missing",
    "lost",
    "came off with",
    "burn",
    "char",
    "smok",
    "scorch",
    "crack",
    "broke",
    "snap",
    "chipped",
    "delam",
    "blister",
    "popcorn",
    "swell",
    "swoll",
    "bulg",
    "fell",
    "fall",
    "drop",
    "floor",
    "into",
    "scratch",
    "cut",
    "damag",
    "hole",
];

/// Beginnings of words by which they tell that it did not work, and no more: made anew, it may.
const IN_VAIN: [&str; 22] = [
    "open", "wet", "dewet", "bridg", "short", "flow", "melt", "cold", "skew", "crooked", "tilt",
    "shift", "slid", "align", "misalign", "ball", "void", "rotat", "solder", "joint", "float",
    "contact",
];

/// Whether the reason of a failure names harm, or nothing that is known to be none.
fn tells_of_harm(reason: &str) -> bool {
    let reason = reason.to_lowercase();
    let starts = |at: usize| !reason[..at].ends_with(char::is_alphanumeric);
    let names = |words: &[&str]| {
        let mut words = words.iter();
        words.any(|word| reason.match_indices(*word).any(|(at, _)| starts(at)))
    };
    names(&HARM) || !names(&IN_VAIN)
}

/// Whether a check or a look that is logged found something wrong, and nothing has been done since that may have
/// mended it, nor was what read wrong read anew. What is only planned has mended nothing yet.
fn unmended(job: &Job, steps: &[CheckedStep]) -> bool {
    let (mut wrong, mut told) = (Vec::new(), false);
    for step in steps {
        let Some(log) = &step.planned.log else {
            continue;
        };
        let is_check = matches!(step.planned.step.work, Work::Gate { .. });
        let worked = log.failed.is_none() && !step.passage.in_vain;
        if worked && mends(&step.planned.step.work) {
            (wrong, told) = (Vec::new(), false);
        }
        let mut all_pass = !log.reads.is_empty();
        for (probe, ohms) in &log.reads {
            wrong.retain(|known| known != probe);
            if !electric::judge(job, *probe, *ohms).passes {
                wrong.push(*probe);
                all_pass = false;
            }
        }
        if is_check && log.failed.is_some() {
            told = true;
        } else if all_pass {
            told = false;
        }
    }
    told || !wrong.is_empty()
}

/// Whether a step works on the board, so that it may mend something.
fn mends(work: &Work) -> bool {
    matches!(
        work,
        Work::Solder { .. }
            | Work::Place { .. }
            | Work::Remove { .. }
            | Work::Reball { .. }
            | Work::Clean { .. }
            | Work::OtherHeat { .. }
    )
}

fn failed_in_hand(steps: &[CheckedStep]) -> bool {
    let inspected = steps.iter().rposition(is_inspected).unwrap_or(0);
    steps[inspected..].iter().any(|step| {
        let log = step.planned.log.as_ref();
        let cold = step.passage.in_vain;
        log.is_some_and(|log| !cold && is_to_be_looked_at(&step.planned.step.work, log))
    })
}

/// The log has a heat after its last power, and no check since.
fn heat_after_power(steps: &[CheckedStep]) -> bool {
    let logged = |step: &&CheckedStep| step.planned.log.is_some();
    let done: Vec<&CheckedStep> = steps.iter().take_while(logged).collect();
    let power = |step: &&&CheckedStep| step.planned.step.work == Work::Power;
    let Some(last) = done.iter().rposition(|step| power(&step)) else {
        return false;
    };
    let left = &steps[done.len()..];
    // A look is no check: what was soldered after power is measured before it comes again.
    let checks = |step: &CheckedStep| {
        let work = &step.planned.step.work;
        matches!(work, Work::Gate { short_check: true } | Work::Power)
    };
    let heated = done[last + 1..]
        .iter()
        .any(|step| step.passage.peak.is_some());
    // So do repairs that the log asks for after its power.
    let repairs = |step: &CheckedStep| step.planned.step.line == 0 && step.passage.peak.is_some();
    let heated =
        (heated && !done[last + 1..].iter().any(|step| checks(step))) || left.iter().any(repairs);
    heated && !left.iter().any(checks)
}

/// A line of the log that was read too cold, and that no later line repeats.
fn is_undone(steps: &[CheckedStep], at: usize) -> bool {
    let in_vain = |step: &&CheckedStep| step.planned.log.is_some() && step.passage.in_vain;
    let Some(step) = steps.get(at).filter(in_vain) else {
        return false;
    };
    let same = |later: &&CheckedStep| {
        later.planned.log.is_some()
            && stem(&later.planned.step.id) == stem(&step.planned.step.id)
            && !later.passage.in_vain
    };
    !steps[at + 1..].iter().any(|later| same(&later))
}

/// Power that nobody told to wait for a heat: the planner lets it wait, and says so.
fn power_told(steps: &[CheckedStep]) -> impl Iterator<Item = Told> + '_ {
    let unsaid = |step: &CheckedStep| {
        let mut after = step.planned.step.after.iter();
        step.planned.log.is_none() && after.any(|(_, reason)| reason.as_deref() == Some(POWER_LAST))
    };
    let all = steps
        .iter()
        .enumerate()
        .filter(move |(_, step)| unsaid(step));
    all.map(|(step, _)| Told {
        step: Some(step),
        finding: Finding::new(Rule::PowerLast, Subject::Step, Verdict::Close),
    })
}

/// The smallest margin of the steps still to be done.
fn tightest(steps: &[CheckedStep]) -> Option<Tightest> {
    let mut tightest: Option<Tightest> = None;
    for (step, checked) in steps.iter().enumerate() {
        if checked.planned.log.is_some() {
            continue;
        }
        for (place, margin) in margins(&checked.passage) {
            if tightest.is_none_or(|found| margin < found.margin) {
                tightest = Some(Tightest {
                    step,
                    place,
                    margin,
                });
            }
        }
    }
    tightest
}

/// Every margin of a step that counts.
pub fn margins(passage: &Passage) -> impl Iterator<Item = (Place, KelvinStep)> + '_ {
    let joints = passage
        .sights
        .iter()
        .filter(|sight| !sight.may_melt)
        .filter_map(|sight| Some((Place::Joint(sight.joint), sight.margin?)));
    let limits = passage
        .limits
        .iter()
        .filter_map(|limit| Some((Place::Limit(limit.of), limit.margin?)));
    joints.chain(limits)
}

fn ledgers(setting: &Setting, steps: &[CheckedStep]) -> Vec<Ledger> {
    let mut taken: BTreeMap<PartIx, (u32, Celsius)> = BTreeMap::new();
    for (part, t) in steps
        .iter()
        .flat_map(|step| step.passage.heats.iter().copied())
    {
        let entry = taken.entry(part).or_insert((0, t));
        *entry = (entry.0 + 1, entry.1.max(t));
    }
    let parts = setting.job().parts.iter().enumerate();
    parts
        .map(|(p, facts)| {
            let (heats, peak) = taken
                .get(&PartIx(p))
                .map_or((0, None), |(heats, peak)| (*heats, Some(*peak)));
            Ledger {
                part: PartIx(p),
                heats,
                before: facts.heats_before,
                left: facts
                    .heats_left
                    .map(|left| i64::from(left) - i64::from(heats)),
                peak,
            }
        })
        .collect()
}

impl Ledger {
    /// Limit when more heats are taken than are left.
    pub fn verdict(&self) -> Verdict {
        if self.left.is_some_and(|left| left < 0) {
            Verdict::Limit
        } else {
            Verdict::Holds
        }
    }
}

impl Checked {
    /// Every joint that is there at some time of the plan, in the order of the job.
    pub fn joints_ever(&self) -> Vec<JointIx> {
        let benches = self
            .steps
            .iter()
            .map(|step| &step.before)
            .chain([&self.end]);
        let mut ever: Vec<bool> = vec![false; self.end.joints.len()];
        for bench in benches {
            for (j, joint) in bench.joints.iter().enumerate() {
                ever[j] |= !joint.layers.is_empty();
            }
        }
        (0..ever.len()).filter(|&j| ever[j]).map(JointIx).collect()
    }
}
