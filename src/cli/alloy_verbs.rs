//! Verbs that need no job: the alloy table, and picking an alloy beside others.

use std::path::Path;
use std::sync::Arc;

use crate::alloy::{Alloy, AlloyBook, Understood};
use crate::job::{Solder, Want};
use crate::melt::{MeltBook, Pin};
use crate::plan::{self, Ask, Budget, Candidate, Picked};
use crate::quantity::{KelvinStep, Share};
use crate::show::alloys::{self as show_alloys, What};
use crate::show::answer::Assumption;
use crate::show::chart::Scale;
use crate::show::own;
use crate::show::pick as show_pick;

use super::args::{PickArgs, WantArgs};
use super::{Desk, Said, WrongInput, files, job_verbs, order, reins, said, typed};

/// `alloys [WHAT]`.
pub(super) fn alloys(desk: &mut Desk, words: &[String]) -> Result<Said, WrongInput> {
    let book = desk.book.clone();
    match show_alloys::what(&book, &words.join(" "), desk.say.scale).map_err(WrongInput::new)? {
        What::One(found) => Ok(said(
            desk,
            0,
            || show_alloys::one_text(&book, &found, desk.say),
            || show_alloys::one_json(&book, &found),
        )),
        What::Part(filter) => {
            let part = show_alloys::part(&book, &filter);
            Ok(said(
                desk,
                u8::from(part.is_empty()),
                || show_alloys::list_text(&book, &part, desk.say),
                || show_alloys::list_json(&book, &part),
            ))
        }
    }
}

/// `alloys --check FILE`: exit code 1 where something should be looked at again.
pub(super) fn check_own(desk: &mut Desk, file: &Path) -> Result<Said, WrongInput> {
    let book = files::book(desk.disk, Some(file))?;
    let shipped = AlloyBook::shipped();
    let melts = MeltBook::new(Arc::new(shipped.clone()), Vec::new());
    let own = own::of(&book, shipped, &melts, desk.say);
    Ok(said(
        desk,
        u8::from(!own.is_clean()),
        || own.text(desk.say),
        || own.frame().json(own.json()),
    ))
}

/// `pick`.
pub(super) fn pick(desk: &mut Desk, args: &PickArgs) -> Result<Said, WrongInput> {
    if let Some(levels) = args.levels {
        return chains(desk, args, levels);
    }
    let (picked, assumptions) = match (&args.job, &args.joint) {
        (Some(job), Some(joint)) => pick_in_job(desk, args, job, joint)?,
        (None, None) => (pick_beside(desk, args)?, defaults(&args.want)),
        _ => {
            return Err(WrongInput::new(
                "pick: want `JOB --joint ID`, or `--over ALLOY…` without a job",
            ));
        }
    };
    let frame = show_pick::frame(&picked, assumptions, desk.say);
    let code = frame.verdict.map_or(1, crate::bench::Verdict::exit_code);
    Ok(said(
        desk,
        code,
        || show_pick::text(&picked, &frame, desk.say),
        || frame.json(show_pick::json(&picked)),
    ))
}

fn pick_in_job(
    desk: &mut Desk,
    args: &PickArgs,
    job: &Path,
    joint: &str,
) -> Result<(Picked, Vec<Assumption>), WrongInput> {
    let planner = job_verbs::read(desk, job)?;
    let case = planner.planned();
    let (job, setting) = (case.job(), case.setting());
    let at = job_verbs::joint(job, joint)?;
    // The best order, if there is one, is where the alloy is tried; else the order as written.
    let budget = desk.reins.budget(Budget::default().nodes);
    let plan = match order::best(desk, &case, budget)?.checked {
        Some(checked) => checked.steps.into_iter().map(|step| step.planned).collect(),
        None => plan::as_written(job).plan,
    };
    if budget.is_over() {
        return Err(WrongInput::new(
            "stopped before the alloys were judged: allow it more (`--seconds`, `--memory-mb`)",
        ));
    }
    // From here on nothing is worth waiting for until all are judged.
    let _judging = reins::Nothing::yet();
    let shelf = if args.stock.is_empty() {
        job.stock.clone()
    } else {
        solders(desk, &args.stock)?
    };
    let candidates = candidates(&desk.book, &shelf);
    let picked = plan::pick_joint(&setting, &plan, at, candidates).map_err(WrongInput::new)?;
    Ok((picked, job_verbs::assumptions(&planner)))
}

fn pick_beside(desk: &mut Desk, args: &PickArgs) -> Result<Picked, WrongInput> {
    let ask = Ask {
        over: solders(desk, &args.over)?,
        residue: args
            .residue
            .as_deref()
            .map(|text| residue(desk, text))
            .transpose()?,
        want: want(&args.want, desk.say.scale)?,
    };
    let shelf = solders(desk, &args.stock)?;
    let melts = MeltBook::new(desk.book.clone(), pins(desk, &args.pin)?);
    Ok(plan::pick_over(
        &melts,
        &ask,
        candidates(&desk.book, &shelf),
    ))
}

fn chains(desk: &mut Desk, args: &PickArgs, levels: usize) -> Result<Said, WrongInput> {
    let shelf = solders(desk, &args.stock)?;
    if shelf.is_empty() {
        return Err(WrongInput::new(
            "pick --levels: want the shelf to choose from: `--stock ALLOY…`",
        ));
    }
    let melts = MeltBook::new(desk.book.clone(), pins(desk, &args.pin)?);
    let found = plan::chains(
        &melts,
        &shelf,
        levels,
        want(&args.want, desk.say.scale)?.gap,
    );
    let code = u8::from(found.keeping.is_empty());
    Ok(said(
        desk,
        code,
        || show_pick::chains_text(&found, levels, desk.say),
        || show_pick::chains_json(&found),
    ))
}

/// Every alloy of the table, with those of the shelf marked; cadmium is judged like the rest and
/// refused by the planner.
pub(super) fn candidates(book: &AlloyBook, shelf: &[Solder]) -> Vec<Candidate> {
    let mut candidates: Vec<Candidate> = book
        .alloys()
        .iter()
        .map(|alloy: &Alloy| Candidate {
            in_stock: in_stock(book, shelf, &alloy.name),
            solder: Solder {
                name: alloy.name.clone(),
                composition: alloy.composition,
            },
            flags: alloy.flags(),
        })
        .collect();
    for solder in shelf
        .iter()
        .filter(|solder| book.get(&solder.name).is_none())
    {
        candidates.push(Candidate {
            solder: solder.clone(),
            in_stock: Some(true),
            flags: Vec::new(),
        });
    }
    candidates
}

fn in_stock(book: &AlloyBook, shelf: &[Solder], name: &str) -> Option<bool> {
    if !shelf.is_empty() {
        return Some(shelf.iter().any(|solder| solder.name == name));
    }
    let own = book.stock();
    (!own.is_empty()).then(|| own.iter().any(|item| item.alloy == name))
}

fn want(args: &WantArgs, scale: Scale) -> Result<Want, WrongInput> {
    let usual = Want::default();
    let step = |said: Option<f64>, usual: KelvinStep| {
        said.map_or(Ok(usual), |said| {
            KelvinStep::new(said).map_err(WrongInput::new)
        })
    };
    Ok(Want {
        margin: step(args.margin, usual.margin)?,
        gap: step(args.gap, usual.gap)?,
        superheat: step(args.superheat, usual.superheat)?,
        service: args
            .service
            .as_ref()
            .map(|service| service.read(scale))
            .transpose()?,
        lead_free: args.lead_free,
        ..usual
    })
}

/// Defaults that nobody said otherwise, with their marks.
fn defaults(args: &WantArgs) -> Vec<Assumption> {
    let usual = Want::default();
    let rows = [
        (
            args.margin.is_none(),
            "margin below first melt",
            usual.margin,
            "our judgement",
        ),
        (
            args.gap.is_none(),
            "gap between earlier solidus and later liquidus",
            usual.gap,
            "S28",
        ),
        (
            args.superheat.is_none(),
            "process peak above flow",
            usual.superheat,
            "S28",
        ),
    ];
    let mut all: Vec<Assumption> = rows
        .into_iter()
        .filter(|row| row.0)
        .map(|(_, what, value, mark)| Assumption {
            what: what.to_owned(),
            value: value.kelvin().to_string(),
            unit: "K".to_owned(),
            mark: mark.to_owned(),
        })
        .collect();
    all.push(Assumption {
        what: "what stands beside the new joint sees its whole peak".to_owned(),
        value: "1".to_owned(),
        unit: String::new(),
        mark: "worst case".to_owned(),
    });
    all
}

/// A typed name; what was assumed goes to standard error.
pub(super) fn understood(desk: &mut Desk, typed: &str) -> Result<Understood, WrongInput> {
    let found = desk.book.find(typed).map_err(WrongInput::new)?;
    for notice in &found.notices {
        let _ = writeln!(desk.err, "`{typed}`: {notice}");
    }
    Ok(found)
}

fn solder(desk: &mut Desk, typed: &str) -> Result<Solder, WrongInput> {
    let found = understood(desk, typed)?;
    let name = found.alloy.unwrap_or_else(|| found.composition.to_string());
    Ok(Solder {
        name,
        composition: found.composition,
    })
}

fn solders(desk: &mut Desk, typed: &[String]) -> Result<Vec<Solder>, WrongInput> {
    typed.iter().map(|typed| solder(desk, typed)).collect()
}

/// `ALLOY:MASS%`, the share of the finished joint.
fn residue(desk: &mut Desk, text: &str) -> Result<(Solder, Share), WrongInput> {
    let wrong = || {
        WrongInput::new(format!(
            "`{text}`: want ALLOY:PERCENT, for example `63/37:1.7%`"
        ))
    };
    let (alloy, share) = text.rsplit_once(':').ok_or_else(wrong)?;
    let percent: f64 = share
        .trim()
        .trim_end_matches('%')
        .trim()
        .replace(',', ".")
        .parse()
        .map_err(|_| wrong())?;
    Ok((
        solder(desk, alloy)?,
        Share::from_percent(percent).map_err(WrongInput::new)?,
    ))
}

/// `ALLOY:SOLIDUS/LIQUIDUS`, taken as exact.
pub(super) fn pins(desk: &mut Desk, typed: &[String]) -> Result<Vec<Pin>, WrongInput> {
    typed.iter().map(|text| pin(desk, text)).collect()
}

fn pin(desk: &mut Desk, text: &str) -> Result<Pin, WrongInput> {
    let wrong = || {
        WrongInput::new(format!(
            "`{text}`: want ALLOY:SOLIDUS/LIQUIDUS as `snbi:138/138`"
        ))
    };
    let (alloy, pair) = text.rsplit_once(':').ok_or_else(wrong)?;
    let (solidus, liquidus) = pair.split_once('/').ok_or_else(wrong)?;
    let scale = desk.say.scale;
    let t = |text: &str| typed::celsius(text, scale).map_err(|_| wrong());
    let (solidus, liquidus) = (t(solidus)?, t(liquidus)?);
    if solidus > liquidus {
        return Err(WrongInput::new(format!(
            "`{text}`: the solidus lies above the liquidus"
        )));
    }
    Ok(Pin {
        composition: solder(desk, alloy)?.composition,
        solidus,
        liquidus,
    })
}
