//! `mix SPEC`.

use std::path::Path;

use serde_json::Value;

use crate::alloy::spec::{self, Spec};
use crate::melt::MeltBook;
use crate::quantity::Celsius;
use crate::show::mix as show;
use crate::show::sweep::{self as show_sweep, NotSwept, Swept};

use super::typed::Typed;
use super::{Desk, Said, WrongInput, alloy_verbs, pictures, said};

/// The arguments of `mix`.
pub(super) struct Ask<'a> {
    pub(super) spec: &'a str,
    pub(super) at: &'a [Typed],
    pub(super) curve: Option<&'a Path>,
    pub(super) sweep: Option<&'a Path>,
    pub(super) as_sold: bool,
    pub(super) pin: &'a [String],
}

/// `mix SPEC`.
pub(super) fn mix(desk: &mut Desk, ask: &Ask) -> Result<Said, WrongInput> {
    if !ask.as_sold
        && ask.curve.is_none()
        && let Some(pair) = spec::pair(&desk.book, ask.spec)
    {
        return sweep(desk, ask, pair, show_sweep::any_share);
    }
    let spec = spec::parse(&desk.book, ask.spec).map_err(WrongInput::new)?;
    if ask.sweep.is_some() {
        return sweep(desk, ask, spec, show_sweep::sweep);
    }
    let melts = melts(desk, ask)?;
    let mut mixed = show::ask(&melts, spec, at(desk, ask)?);
    if ask.as_sold {
        mixed.ask_as_sold(&melts);
    }
    let frame = show::frame(&mixed, desk.say);
    if let Some(to) = ask.curve {
        let curve = show::curve_picture(&mixed, &frame).ok_or_else(|| {
            WrongInput::new("mix --curve: there is no computed curve of this blend")
        })?;
        pictures::save(desk.disk, &curve.picture(desk.say.scale), to)?;
    }
    let code = if mixed.melt.first_melt.is_some() {
        0
    } else {
        3
    };
    Ok(said(
        desk,
        code,
        || show::text(&mixed, &frame, desk.say) + &written(ask.curve),
        || frame.json(with_file(show::json(&mixed), ask.curve)),
    ))
}

fn melts(desk: &mut Desk, ask: &Ask) -> Result<MeltBook, WrongInput> {
    let pins = alloy_verbs::pins(desk, ask.pin)?;
    Ok(MeltBook::new(desk.book.clone(), pins))
}

fn at(desk: &Desk, ask: &Ask) -> Result<Vec<Celsius>, WrongInput> {
    let scale = desk.say.scale;
    ask.at.iter().map(|at| at.read(scale)).collect()
}

/// How two metals are mixed in many shares.
type Sweep = fn(&MeltBook, Spec, Vec<Celsius>) -> Result<Swept, NotSwept>;

fn sweep(desk: &mut Desk, ask: &Ask, spec: Spec, mixed: Sweep) -> Result<Said, WrongInput> {
    let melts = melts(desk, ask)?;
    let swept = mixed(&melts, spec, at(desk, ask)?)
        .map_err(|why| WrongInput::new(format!("mix --sweep: {why}")))?;
    let frame = swept.frame(desk.say);
    let to = ask.sweep.filter(|file| !file.as_os_str().is_empty());
    if let Some(to) = to {
        pictures::save(
            desk.disk,
            &swept.picture(&frame).picture(desk.say.scale),
            to,
        )?;
    }
    Ok(said(
        desk,
        0,
        || swept.text(&frame, desk.say) + &written(to),
        || frame.json(with_file(swept.json(), to)),
    ))
}

/// Where the picture went.
fn written(to: Option<&Path>) -> String {
    to.map_or_else(String::new, |to| format!("\nwritten: {}\n", to.display()))
}

fn with_file(mut keys: Value, to: Option<&Path>) -> Value {
    if let (Some(keys), Some(to)) = (keys.as_object_mut(), to) {
        keys.insert(
            "file".to_owned(),
            serde_json::json!(to.display().to_string()),
        );
    }
    keys
}
