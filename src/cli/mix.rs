//! `mix SPEC`.

use std::path::Path;

use crate::alloy::spec;
use crate::melt::MeltBook;
use crate::quantity::Celsius;
use crate::show::mix as show;

use super::{Desk, Said, WrongInput, alloy_verbs, pictures, said};

/// The arguments of `mix`.
pub(super) struct Ask<'a> {
    pub(super) spec: &'a str,
    pub(super) at: &'a [f64],
    pub(super) curve: Option<&'a Path>,
    pub(super) sweep: Option<&'a str>,
    pub(super) pin: &'a [String],
}

/// `mix SPEC`.
pub(super) fn mix(desk: &mut Desk, ask: &Ask) -> Result<Said, WrongInput> {
    let spec = spec::parse(&desk.book, ask.spec).map_err(WrongInput::new)?;
    let melts = MeltBook::new(desk.book.clone(), alloy_verbs::pins(desk, ask.pin)?);
    if let Some(file) = ask.sweep {
        return sweep(desk, &melts, &spec, file);
    }
    let at: Result<Vec<Celsius>, _> = ask.at.iter().map(|&t| Celsius::new(t)).collect();
    let mixed = show::ask(&melts, spec, at.map_err(WrongInput::new)?);
    let frame = show::frame(&mixed, desk.say);
    if let Some(to) = ask.curve {
        let curve = show::curve_picture(&mixed, &frame).ok_or_else(|| {
            WrongInput::new("mix --curve: there is no computed curve of this blend")
        })?;
        pictures::save(&curve.picture(desk.say.scale), to)?;
    }
    let code = if mixed.melt.first_melt.is_some() {
        0
    } else {
        3
    };
    Ok(said(
        desk,
        code,
        || show::text(&mixed, &frame, desk.say),
        || frame.json(show::json(&mixed)),
    ))
}

fn sweep(
    desk: &mut Desk,
    melts: &MeltBook,
    spec: &spec::Spec,
    file: &str,
) -> Result<Said, WrongInput> {
    let swept = show::sweep(melts, spec).ok_or_else(|| {
        WrongInput::new("mix --sweep: want two terms, the host first: `snbi 90% + 63/37 10%`")
    })?;
    if !file.is_empty() {
        pictures::save(
            &swept.picture(desk.say).picture(desk.say.scale),
            Path::new(file),
        )?;
    }
    Ok(said(desk, 0, || swept.text(desk.say), || swept.json()))
}
