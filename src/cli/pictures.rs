//! Verbs that draw, and where pictures go.

use std::path::Path;

use crate::melt::MeltBook;
use crate::plan::{Budget, Checked};
use crate::planner::Case;
use crate::show::answer::Frame;
use crate::show::chart::{Paper, Picture};
use crate::show::{check as show, ladder as ladder_data, staircase, wall as card_data};

use super::args::{ChartArgs, PaperArg};
use super::disk::Disk;
use super::{Desk, Said, WrongInput, job_verbs, order, said};

/// `chart JOB -o FILE`, `chart JOB --text`, `chart --ladder -o FILE`.
pub(super) fn chart(desk: &mut Desk, args: &ChartArgs) -> Result<Said, WrongInput> {
    if args.ladder {
        return ladder(desk, args);
    }
    if args.wall {
        return wall(desk, args);
    }
    let Some(path) = &args.job else {
        return Err(WrongInput::new(
            "chart: want a job file, `--ladder` or `--wall`",
        ));
    };
    let planner = job_verbs::read(desk, path)?;
    let case = planner.planned();
    let (job, setting) = (case.job(), case.setting());
    let checked = best_or_written(desk, &case)?;
    let assumed = job_verbs::assumptions(&planner);
    let frame = show::frame("chart", job, &checked, assumed, desk.say);
    let staircase = staircase::of(&setting, &checked, &frame);
    let mut lines = Vec::new();
    if args.text {
        lines.push(staircase.text(desk.say.scale, desk.say.width, args.ascii));
    } else {
        lines.push(frame.line.clone());
    }
    if let Some(to) = &args.out {
        // The font of a picture in pixels is ours, and knows few scripts; an .svg takes that of the reader.
        let staircase = match format_of(to)? {
            Format::Png => staircase.drawable(),
            Format::Svg => staircase,
        };
        save(desk.disk, &staircase.picture(desk.say.scale), to)?;
        lines.push(format!("written: {}", to.display()));
    } else if !args.text {
        return Err(WrongInput::new(
            "chart: want `-o FILE` (.svg or .png), or `--text`",
        ));
    }
    Ok(said(
        desk,
        checked.verdict.exit_code(),
        || lines.join("\n"),
        || {
            frame.json(
                serde_json::json!({"file": args.out.as_ref().map(|to| to.display().to_string())}),
            )
        },
    ))
}

fn wall(desk: &Desk, args: &ChartArgs) -> Result<Said, WrongInput> {
    let Some(to) = &args.out else {
        return Err(WrongInput::new(
            "chart --wall: want `-o FILE` (.svg or .png)",
        ));
    };
    let melts = MeltBook::new(desk.book.clone(), Vec::new());
    save(
        desk.disk,
        &card_data::of(&desk.book, &melts).picture(desk.say.scale),
        to,
    )?;
    let line = format!("written: {}", to.display());
    let frame = Frame {
        verb: "chart",
        line: line.clone(),
        ..Frame::default()
    };
    Ok(said(
        desk,
        0,
        || line,
        || frame.json(serde_json::json!({"file": to.display().to_string()})),
    ))
}

fn ladder(desk: &Desk, args: &ChartArgs) -> Result<Said, WrongInput> {
    let Some(to) = &args.out else {
        return Err(WrongInput::new(
            "chart --ladder: want `-o FILE` (.svg or .png)",
        ));
    };
    let melts = MeltBook::new(desk.book.clone(), Vec::new());
    let ladder = ladder_data::of(&desk.book, &melts, desk.say);
    let paper = match args.paper {
        PaperArg::A4 => Paper::A4,
        PaperArg::A3 => Paper::A3,
    };
    save(desk.disk, &ladder.picture(paper, desk.say.scale), to)?;
    let line = format!(
        "written: {}, {} pairs that must never meet",
        to.display(),
        ladder.never_meet.len()
    );
    let pairs: Vec<_> = ladder.never_meet.iter().map(|pair| serde_json::json!({
        "one": pair.one, "other": pair.other, "melts_at_c": pair.melts_at, "reason": pair.reason,
    })).collect();
    let frame = Frame {
        verb: "chart",
        line: line.clone(),
        ..Frame::default()
    };
    Ok(said(
        desk,
        0,
        || line,
        || frame.json(serde_json::json!({"file": to.display().to_string(), "never_meet": pairs})),
    ))
}

/// The best order where there is one; else the steps as they are written, which shows what is in
/// the way.
pub(super) fn best_or_written(desk: &mut Desk, case: &Case) -> Result<Checked, WrongInput> {
    let budget = desk.reins.budget(Budget::default().nodes);
    let best = order::best(desk, case, budget)?.checked;
    Ok(best.unwrap_or_else(|| case.check().1))
}

/// How a picture is written.
#[derive(Clone, Copy, Debug)]
pub(super) enum Format {
    Svg,
    Png,
}

/// What the ending of a name says.
pub(super) fn format_of(to: &Path) -> Result<Format, WrongInput> {
    let ending = to.extension().and_then(|e| e.to_str()).unwrap_or("");
    match ending.to_ascii_lowercase().as_str() {
        "svg" => Ok(Format::Svg),
        "png" => Ok(Format::Png),
        _ => Err(WrongInput::new(format!(
            "{}: want a name that ends in .svg or .png",
            to.display()
        ))),
    }
}

/// Writes a picture as its ending says.
pub(super) fn save(disk: Disk, picture: &Picture, to: &Path) -> Result<(), WrongInput> {
    let bytes = match format_of(to)? {
        Format::Svg => picture.svg().map(String::into_bytes),
        Format::Png => picture.png(),
    };
    disk.write(to, &bytes.map_err(WrongInput::new)?)
}
