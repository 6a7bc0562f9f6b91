//! The field of one step of a checked plan: what every joint, part and guard is likely to see, with its
//! band, beside what verdicts count.

use crate::alloy::Element;
use crate::bench::{
    self, Aim, Bench, Doing, Heat, LimitOf, Seen, Setting, Spot, Target, Verdict, heat_of,
};
use crate::heat::presets::plate_under;
use crate::heat::search::{Goal, lowest_that_flows};
use crate::heat::{
    self, Band, Body, Emitter, Finding, Forecast, Jet, Knowledge, OutsideRange, Place as HeatPlace,
    Point, Preheat, Program, RunFault, Scene, Seconds, Solder, forecast, profile,
};
use crate::job::{GuardIx, Job, JointIx, PartIx, Tool, Way, Where};
use crate::melt::Layer;
use crate::quantity::{Celsius, KelvinStep, Length};

use super::check::{Checked, CheckedStep, Place};

/// Why there is no field of a step.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoField {
    /// It brings no heat to a place of the board.
    #[error("step `{0}` heats no place of the board")]
    NoHeat(String),
    /// No board.
    #[error(
        "the job describes no board: want `board: {{size_mm, thickness_mm, layers, copper_um, coverage}}`"
    )]
    NoBoard,
    /// Half a board.
    #[error("the board is not described in full: want {0} as well")]
    BoardLacks(String),
    /// The board is out of range.
    #[error("this board is out of the range for which heat is computed")]
    BoardOutOfRange,
    /// A plate or an oven.
    #[error(
        "`{0}` brings all of the board to its peak, there is no field to compute: state its `stages`, and `heat` tells ramps and times; `set_c`, the most that anything on it gets, counts for what heats faster than the target"
    )]
    HeatsAll(String),
    /// No tool in physical terms.
    #[error(
        "the tool of `{0}` is not described: want `nozzle_mm`, `flow_l_min`, `standoff_mm` and `set_c` for air, `tip_mm` and `set_c` for an iron, `emitter_mm`, `standoff_mm` and `emitter_c` for an infra-red head"
    )]
    NoTool(String),
    /// Nobody says where it works.
    #[error("where `{0}` works is not said: want `at_mm` of its joint or part")]
    NoPlace(String),
    /// Tool, preheat and board do not go together.
    #[error(
        "tool, preheat and room of `{0}` do not go together: the tool must stand on the board and be hotter than it"
    )]
    NoScene(String),
    /// Something of it is out of range.
    #[error("no field of `{0}` can be computed: something of board, tool or place is out of range")]
    NoRun(String),
    /// Nobody knows when it flows.
    #[error("nobody knows when the target of `{0}` flows: no setting can be looked for")]
    NoFlow(String),
    /// The run is refused.
    #[error(transparent)]
    Run(#[from] RunFault),
    /// A time that is none.
    #[error(transparent)]
    Time(#[from] crate::quantity::NotAQuantity),
}

/// One place in the field of a step.
#[derive(Clone, Debug)]
pub struct PlaceHeat {
    /// Of what.
    pub of: Place,
    /// Where, on the board.
    pub at: Option<Point>,
    /// How far it reaches around that, where somebody says so.
    pub reach: Option<Length>,
    /// What it is likely to see at its hottest, with its band; `None` where nobody says where it is or how
    /// far it reaches.
    pub peak: Option<Band>,
    /// First melt (survival temperature) or limit.
    pub limit: Option<Celsius>,
    /// How long it could stand above that, s, at the hot edge.
    pub seconds_above: Option<f64>,
    /// What the verdict counts.
    pub counted: Seen,
    /// The verdict of the step on it.
    pub verdict: Verdict,
    /// It may melt: its verdict does not count.
    pub may_melt: bool,
    /// Something keeps heat from it: what is likely is lower, what is counted is not.
    pub shielded: bool,
}

/// What is said of the target.
#[derive(Clone, Debug)]
pub struct TargetHeat {
    /// Its name.
    pub id: String,
    /// Where.
    pub at: Point,
    /// What it must reach to flow.
    pub must_reach: Option<Celsius>,
    /// What all of it can reach while the tool stays as long as it may, with its band.
    pub reached: Band,
    /// When all of it surely has reached that, s: the trace at its cool edge.
    pub after_s: Option<f64>,
    /// When all of it is likely to have reached that, s.
    pub likely_after_s: Option<f64>,
    /// Whether it does, at the cool edge; `None`: not known when it flows.
    pub flows: Option<bool>,
}

/// The field of one step.
#[expect(
    clippy::struct_excessive_bools,
    reason = "answers that have nothing to do with each other"
)]
#[derive(Clone, Debug)]
pub struct StepHeat {
    /// Board, room, tool, preheat.
    pub scene: Scene,
    /// Longest that the tool stays, s, and whether somebody said so.
    pub seconds: u32,
    /// Whether the job or the question says it.
    pub seconds_stated: bool,
    /// The peak at which the tool goes.
    pub peak: Celsius,
    /// What it is about.
    pub target: TargetHeat,
    /// Every other place, in the order of the job: joints, parts, guards.
    pub places: Vec<PlaceHeat>,
    /// The runs; the first place is the target, then those of `places` that have a band, in order.
    pub forecast: Forecast,
    /// Where formulas are overstepped.
    pub outside: Vec<OutsideRange>,
    /// The target part's run against what parts are made for.
    pub findings: Vec<Finding>,
    /// Whether readings of this kind of tool were learned from.
    pub learned: bool,
    /// Whether what was read speaks against the board as described.
    pub misfits: bool,
    /// Keys of the board that are guessed.
    pub guessed: Vec<&'static str>,
    /// Whether the hand is taken to stop at the target's peak; else only its time ends it.
    pub stops: bool,
    /// Length and width of a nozzle that is not round, as the round one of its area with corners so much beyond it.
    pub corners: Option<Length>,
    /// Whether the tool is tweezers: every neighbour sees their heat all over the target.
    pub tweezers: bool,
}

/// Works out the field of step `at` of a checked plan.
///
/// # Errors
/// [`NoField`] where something that heat needs is not said.
pub fn step_heat(setting: &Setting, checked: &Checked, at: usize) -> Result<StepHeat, NoField> {
    let step = &checked.steps[at];
    let set_up = SetUp::of(setting, step)?;
    let stated = set_up.heat.way.seconds;
    let seconds = stated.unwrap_or(bench::LONGEST_S);
    let field = bench::field(setting, &set_up.heat)
        .ok_or_else(|| NoField::NoRun(step.planned.step.id.clone()))?;
    // An iron goes from member to member: one of them alone, for its own time.
    let known = set_up.known(setting.job());
    let one = [set_up.target_place()];
    let uncut = forecast(&set_up.of_target, &SetUp::for_all(seconds)?, &one, &known)?;
    let target = set_up.target(setting.job(), step, &uncut);
    let mut runs = vec![field.at_peak.places[0].clone()];
    let places = asked(setting, step, &set_up)
        .into_iter()
        .map(|asked| asked.place((&field.at_peak, set_up.scene.base()), &mut runs))
        .collect();
    let findings = findings(setting, checked, at, &set_up, &field.at_peak);
    let mut outcome = field.at_peak.outcome.clone();
    outcome.places = runs.iter().map(|run| run.heat.clone()).collect();
    Ok(StepHeat {
        seconds,
        seconds_stated: stated.is_some(),
        peak: set_up.heat.peak,
        places,
        target,
        outside: outcome.outside.clone(),
        learned: match set_up.scene.tool() {
            _ if set_up.heat.way.tool == Tool::Tweezers => false,
            heat::Tool::Air(_) => setting.job().learned.air.is_some(),
            heat::Tool::Iron { .. } => setting.job().learned.iron.is_some(),
            heat::Tool::Rays(_) => false,
        },
        misfits: known.misfits(),
        guessed: setting
            .job()
            .board
            .as_ref()
            .map_or_else(Vec::new, |board| board.guessed.clone()),
        stops: field.stops,
        corners: set_up.heat.way.corners,
        tweezers: set_up.heat.way.tool == Tool::Tweezers,
        scene: set_up.scene,
        forecast: Forecast {
            outcome,
            places: runs,
        },
        findings,
    })
}

/// A step that heat can be computed for.
pub(super) struct SetUp<'a> {
    pub(super) heat: Heat<'a>,
    /// As neighbours see it.
    pub(super) scene: Scene,
    /// As its target sees it: tweezers are bounded from either side.
    of_target: Scene,
    at: Point,
    reach: Length,
}

impl<'a> SetUp<'a> {
    pub(super) fn of(setting: &Setting, step: &'a CheckedStep) -> Result<Self, NoField> {
        let id = || step.planned.step.id.clone();
        let doing = Doing {
            log: step.planned.log.as_ref(),
            ..Doing::planned(&step.planned.step, step.planned.pick)
        };
        let heat = heat_of(setting, &step.before, &doing).ok_or_else(|| NoField::NoHeat(id()))?;
        if matches!(heat.way.tool, Tool::Plate | Tool::Oven) {
            return Err(NoField::HeatsAll(id()));
        }
        let board = setting.job().board.as_ref().ok_or(NoField::NoBoard)?;
        if board.plate.is_none() {
            let lacks: Vec<String> = board.lacks.iter().map(|key| format!("`{key}`")).collect();
            return Err(if lacks.is_empty() {
                NoField::BoardOutOfRange
            } else {
                NoField::BoardLacks(lacks.join(", "))
            });
        }
        if heat.way.described.is_none() {
            return Err(NoField::NoTool(id()));
        }
        if matches!(heat.aim, Aim::LoosePart(_) | Aim::Board | Aim::Nowhere) {
            return Err(NoField::NoHeat(id()));
        }
        let target = bench::source(setting, &heat).ok_or_else(|| NoField::NoPlace(id()))?;
        let scene = bench::scene(setting.job(), &heat, target);
        let of_target = bench::target_scene(setting.job(), &heat, target);
        let at = bench::on_board(target);
        Ok(SetUp {
            heat,
            scene: scene.ok_or_else(|| NoField::NoScene(id()))?,
            of_target: of_target.ok_or_else(|| NoField::NoScene(id()))?,
            at: at.ok_or_else(|| NoField::NoScene(id()))?,
            reach: bench::target_reach(setting.job(), &heat),
        })
    }

    fn known(&self, job: &Job) -> Knowledge {
        bench::known(job, &self.heat, self.scene.tool())
    }

    /// The tool stays all the time: what its target can reach at all.
    fn for_all(seconds: u32) -> Result<Program, NoField> {
        Ok(Program {
            heat_for: Seconds::from_s(f64::from(seconds))?,
            until: None,
            then_watch: Seconds::from_s(0.0)?,
        })
    }

    pub(super) fn target_place(&self) -> HeatPlace {
        HeatPlace {
            id: bench::TARGET.to_owned(),
            at: self.at,
            reach: self.reach,
            face: heat::Face::Tool,
        }
    }

    fn target(&self, job: &Job, step: &CheckedStep, forecast: &Forecast) -> TargetHeat {
        let place = &forecast.places[0];
        let must_reach = step
            .passage
            .target
            .as_ref()
            .and_then(|target: &Target| target.must_reach);
        // Nobody says whether the lid of a part takes rays or turns them away.
        let may_shine = bench::may_shine(&self.heat);
        let low = if may_shine {
            place.all_reached.low.min(self.scene.base())
        } else {
            place.all_reached.low
        };
        let surely = |must: Celsius| low >= must;
        TargetHeat {
            id: match self.heat.aim {
                Aim::Joint(joint) => job.joints[joint.0].id.clone(),
                Aim::Guard(guard) => job.guards[guard.0].id.clone(),
                Aim::LoosePart(_) | Aim::Board | Aim::Nowhere => String::new(),
            },
            at: self.at,
            must_reach,
            reached: Band {
                low,
                ..place.all_reached
            },
            after_s: must_reach
                .filter(|must| surely(*must))
                .and_then(|must| place.surely_after(must)),
            likely_after_s: must_reach.and_then(|must| place.heat.reached_after(must)),
            flows: must_reach.map(surely),
        }
    }
}

/// A place before its run.
struct Asked {
    of: Place,
    at: Option<Point>,
    reach: Option<Length>,
    /// Its name in the run.
    id: Option<String>,
    limit: Option<Celsius>,
    counted: Seen,
    verdict: Verdict,
    may_melt: bool,
    shielded: bool,
}

/// By how much of its rise a shield lowered the peak of a neighbour at most (*Scientific Reports* 12 (2022) 15118,
/// abstract). Nobody measured by how much at least, so the hot edge is that without one.
const SHIELD: f64 = 0.082;

/// The band of a place with a shield over it: half of that likely, all of it at the cool edge.
fn behind_a_shield(bare: Band, base: Celsius) -> Band {
    let less = |t: Celsius, share: f64| t - (t - base).max(KelvinStep::ZERO).scaled(share);
    Band {
        low: less(bare.low, SHIELD),
        mid: less(bare.mid, SHIELD / 2.0),
        high: bare.high,
    }
}

impl Asked {
    /// With its run, which is put on the list.
    fn place(
        self,
        (forecast, base): (&Forecast, Celsius),
        runs: &mut Vec<heat::PlaceForecast>,
    ) -> PlaceHeat {
        let mut all = forecast.places.iter();
        let run = self
            .id
            .and_then(|id| all.find(|place| place.heat.id == id))
            .cloned();
        let place = PlaceHeat {
            of: self.of,
            at: self.at,
            reach: self.reach,
            peak: run.as_ref().map(|run| {
                if self.shielded {
                    behind_a_shield(run.peak, base)
                } else {
                    run.peak
                }
            }),
            limit: self.limit,
            seconds_above: run
                .as_ref()
                .zip(self.limit)
                .map(|(run, limit)| run.seconds_above_at_most(limit)),
            counted: self.counted,
            verdict: self.verdict,
            may_melt: self.may_melt,
            shielded: self.shielded,
        };
        runs.extend(run);
        place
    }
}

/// Everything that the step is judged on.
fn asked(setting: &Setting, step: &CheckedStep, set_up: &SetUp) -> Vec<Asked> {
    let job = setting.job();
    let at = |spot: Spot| {
        let at = spot.at.and_then(bench::on_board)?;
        set_up.scene.holds_point(at).then_some(at)
    };
    let id = |spot: Spot| bench::spot_id(bench::toward_tool(job, &set_up.heat, spot)?);
    let joints = step.passage.sights.iter().map(|sight| {
        let spot = bench::of_joint(job, sight.joint);
        Asked {
            of: Place::Joint(sight.joint),
            at: at(spot),
            reach: spot.reach,
            id: id(spot),
            limit: sight.melt.survival,
            counted: sight.seen,
            verdict: sight.verdict,
            may_melt: sight.may_melt,
            shielded: is_shielded(job, step, &set_up.heat, Place::Joint(sight.joint)),
        }
    });
    let limits = step.passage.limits.iter().filter_map(|sight| {
        let spot = spot_of_limit(job, &step.before, &set_up.heat, sight.of)?;
        // The target's own body is drawn as the target.
        let is_target = matches!(sight.of, LimitOf::Part(part) if set_up.heat.part == Some(part));
        let top = is_target.then(|| bench::TOP.to_owned());
        Some(Asked {
            of: Place::Limit(sight.of),
            at: at(spot).filter(|_| !is_target),
            reach: spot.reach,
            id: top.or_else(|| id(spot)),
            limit: Some(sight.limit),
            counted: sight.seen,
            verdict: sight.verdict,
            may_melt: false,
            shielded: is_shielded(job, step, &set_up.heat, Place::Limit(sight.of)),
        })
    });
    joints.chain(limits).collect()
}

/// Whether something keeps heat from a place.
fn is_shielded(job: &Job, step: &CheckedStep, heat: &Heat, of: Place) -> bool {
    is_named(job, step, of, &|place| heat.way.shielded.contains(&place))
}

/// Whether something keeps heat from a place or draws it off: what is read there says little of bare places.
pub(super) fn is_cooled(job: &Job, step: &CheckedStep, heat: &Heat, of: Place) -> bool {
    let has_sink = |place: Where| heat.way.sinks.iter().any(|sink| sink.on == place);
    is_shielded(job, step, heat, of) || is_named(job, step, of, &has_sink)
}

/// Whether a place is named, by its own name, that of the part on it, or its zone.
fn is_named(job: &Job, step: &CheckedStep, of: Place, named: &dyn Fn(Where) -> bool) -> bool {
    let below = |part: PartIx| {
        let zone = step.before.parts[part.0].zone.map(Where::Zone);
        named(Where::Part(part)) || zone.is_some_and(named)
    };
    named(Where::Rest)
        || match of {
            Place::Joint(joint) => {
                let zone = job.joints[joint.0].zone.map(Where::Zone);
                let mut parts = step.before.joints[joint.0].parts.iter();
                named(Where::Joint(joint))
                    || zone.is_some_and(named)
                    || parts.any(|part| below(*part))
            }
            Place::Limit(LimitOf::Part(part)) => below(part),
            Place::Limit(LimitOf::Guard(guard)) => {
                let zone = job.guards[guard.0].zone.map(Where::Zone);
                named(Where::Guard(guard)) || zone.is_some_and(named)
            }
            Place::Limit(LimitOf::Wire(_) | LimitOf::Heats(_)) => false,
        }
}

/// Where something with a limit is; a guard that only lies over joints has no place of its own.
fn spot_of_limit(job: &Job, bench: &Bench, heat: &Heat, of: LimitOf) -> Option<Spot> {
    match of {
        LimitOf::Part(part) => {
            let target = match heat.aim {
                Aim::Joint(joint) if heat.part == Some(part) => Some(joint),
                _ => None,
            };
            let on: Option<JointIx> = bench.parts[part.0].on.first().copied().or(target);
            Some(bench::of_part(job, part, Some(on?)))
        }
        LimitOf::Guard(guard) => {
            let guard: GuardIx = guard;
            job.guards[guard.0].at?;
            Some(bench::of_guard(job, guard))
        }
        LimitOf::Wire(_) | LimitOf::Heats(_) => None,
    }
}

/// The run of the part that is set or taken off, against what parts are made for.
fn findings(
    setting: &Setting,
    checked: &Checked,
    at: usize,
    set_up: &SetUp,
    forecast: &Forecast,
) -> Vec<Finding> {
    let step = &checked.steps[at];
    let Some((part, target)) = set_up.heat.part.zip(step.passage.target.as_ref()) else {
        return Vec::new();
    };
    let Some(flow_point) = target.flow_point else {
        return Vec::new();
    };
    let facts = &setting.job().parts[part.0];
    let body = facts
        .size
        .zip(facts.thick)
        .map(|((wide, tall), thick)| Body { wide, tall, thick });
    let solder = if holds_lead(step, part) {
        Solder::TinLead
    } else {
        Solder::LeadFree
    };
    let here = checked.steps[..=at]
        .iter()
        .flat_map(|step| &step.passage.heats)
        .filter(|(heated, _)| *heated == part)
        .count();
    let heats = facts.heats_before + u32::try_from(here).unwrap_or(u32::MAX - facts.heats_before);
    let mut all = forecast.places.iter();
    let top = all.find(|place| place.heat.id == bench::TOP);
    let joints = &forecast.places[0].heat;
    let top = top.map_or(joints, |top| &top.heat);
    profile((joints, top), flow_point, solder, body, heats)
}

/// Whether what is melted holds lead: parts are then classified as for tin-lead.
fn holds_lead(step: &CheckedStep, part: PartIx) -> bool {
    let lead = |layers: &[Layer]| {
        let mut layers = layers.iter();
        layers.any(|layer| layer.blend.mass_of(Element::Pb).picograms() > 0)
    };
    let next = &step.passage.next;
    let mut on = next.parts[part.0].on.iter();
    on.any(|on| lead(&next.joints[on.0].layers)) || lead(&next.parts[part.0].carries)
}

/// What may be set lower.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Vary {
    /// The board before the tool comes.
    Preheat,
    /// The air of the nozzle, or the tip.
    Tool,
}

/// The lowest setting of one way to heat that still does its work.
#[derive(Clone, Debug, PartialEq)]
pub struct Lowest {
    /// Position in the ways of the step.
    pub way: usize,
    /// The setting, to one kelvin; `None` where even the highest is too little.
    pub at: Option<Celsius>,
    /// The job with that setting, for a check of what the neighbours make of it.
    pub job: Option<Job>,
}

/// The lowest setting in a range with which the target of a step surely flows in so many seconds.
///
/// # Errors
/// [`NoField`], also where nobody knows when the target flows.
pub fn lowest(
    setting: &Setting,
    checked: &Checked,
    at: usize,
    (vary, least, most): (Vary, Celsius, Celsius),
    within: u32,
) -> Result<Lowest, NoField> {
    let step = &checked.steps[at];
    let set_up = SetUp::of(setting, step)?;
    let target = step.passage.target.as_ref();
    let flow = target
        .and_then(|target| target.must_reach)
        .ok_or_else(|| NoField::NoFlow(step.planned.step.id.clone()))?;
    let known = set_up.known(setting.job());
    let scene = |t: Celsius| set_up.scene_at(vary, t);
    let goal = Goal {
        id: bench::TARGET,
        flow,
    };
    let program = SetUp::for_all(within)?;
    let places = [set_up.target_place()];
    let found = lowest_that_flows((least, most), scene, &program, &places, goal, &known)?;
    let way = step.planned.pick.way;
    let job = found.map(|t| {
        let mut job = setting.job().clone();
        let steps = job.steps.iter_mut();
        for step in steps.filter(|own| own.id == step.planned.step.id) {
            if let Some(way) = step.ways.get_mut(way) {
                set(way, vary, t);
                way.seconds = Some(within);
            }
        }
        job
    });
    Ok(Lowest {
        way,
        at: found,
        job,
    })
}

fn set(way: &mut Way, vary: Vary, t: Celsius) {
    match vary {
        Vary::Preheat => way.preheat = t,
        Vary::Tool => {
            way.set = Some(t);
            way.described = way.described.map(|tool| at_setting(tool, t));
        }
    }
}

fn at_setting(tool: heat::Tool, t: Celsius) -> heat::Tool {
    match tool {
        heat::Tool::Air(jet) => heat::Tool::Air(Jet { air: t, ..jet }),
        heat::Tool::Rays(emitter) => heat::Tool::Rays(Emitter { face: t, ..emitter }),
        heat::Tool::Iron {
            contact,
            resistance,
            ..
        } => heat::Tool::Iron {
            tip: t,
            contact,
            resistance,
        },
    }
}

impl SetUp<'_> {
    fn scene_at(&self, vary: Vary, t: Celsius) -> Result<Scene, NoField> {
        let scene = &self.of_target;
        let (tool, preheat) = match vary {
            Vary::Preheat => {
                let warm = Preheat {
                    area: self.heat.way.preheat_area,
                    ..plate_under(t)
                };
                (*scene.tool(), (t > scene.room().air).then_some(warm))
            }
            Vary::Tool => (at_setting(*scene.tool(), t), scene.preheat()),
        };
        Scene::new(
            scene.board().clone(),
            scene.room(),
            tool,
            scene.at(),
            preheat,
        )
        .map_err(|no| NoField::Run(no.into()))
    }
}
