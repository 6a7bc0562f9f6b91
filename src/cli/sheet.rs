//! `sheet JOB -o FILE`.

use std::path::Path;

use crate::plan::Budget;
use crate::show::{check as show, find_out, sheet, version};

use super::{Desk, Said, WrongInput, job_verbs, order, said};

/// Whether a name is that of a page.
pub(super) fn is_page(to: &Path) -> Result<(), WrongInput> {
    let ending = to.extension().and_then(|e| e.to_str()).unwrap_or("");
    if ["html", "htm"].contains(&ending.to_ascii_lowercase().as_str()) {
        return Ok(());
    }
    let shown = to.display();
    Err(WrongInput::new(format!(
        "{shown}: want a name that ends in .html"
    )))
}

/// Writes the bench sheet of the best order, or of why there is none.
pub(super) fn sheet(desk: &mut Desk, path: &Path, to: &Path) -> Result<Said, WrongInput> {
    let planner = job_verbs::read(desk, path)?;
    let case = planner.planned();
    let (job, setting) = (case.job(), case.setting());
    let budget = desk.reins.budget(Budget::default().nodes);
    let best = order::best(desk, &case, budget)?;
    let test = case.find_out(&best, budget).map_err(WrongInput::new)?;
    let checked = best.checked.unwrap_or_else(|| case.check().1);
    let assumed = job_verbs::assumptions(&planner);
    let frame = show::frame("sheet", job, &checked, assumed, desk.say);
    let mut sheet = sheet::of(
        &setting,
        &checked,
        &frame,
        desk.say,
        &version::data_version(),
    );
    if let Some(test) = test.filter(|_| sheet.use_for == sheet::Use::Condition) {
        let told = find_out::text(job, &test, desk.say);
        sheet.find_out = told.lines().map(str::to_owned).collect();
    }
    desk.disk.write(to, sheet.html().as_bytes())?;
    let is = match sheet.use_for {
        sheet::Use::Plan => "a plan",
        sheet::Use::Condition => "NO PLAN YET: it says what must be known first",
        sheet::Use::Refusal => "NO PLAN: it says why",
    };
    let text = format!("{}\nwritten: {}, {is}", frame.line, to.display());
    let keys = serde_json::json!({
        "file": to.display().to_string(),
        "use": sheet.use_for,
        "why_not": sheet.why_not,
    });
    let code = checked
        .verdict
        .exit_code()
        .max(u8::from(sheet.use_for == sheet::Use::Refusal));
    Ok(said(desk, code, || text, || frame.json(keys)))
}
