//! `mix SPEC`.

use std::path::Path;

use serde_json::Value;

use crate::alloy::spec;
use crate::melt::MeltBook;
use crate::quantity::Celsius;
use crate::show::mix as show;
use crate::show::sweep as show_sweep;

use super::{Desk, Said, WrongInput, alloy_verbs, pictures, said};

/// The arguments of `mix`.
pub(super) struct Ask<'a> {
    pub(super) spec: &'a str,
    pub(super) at: &'a [Celsius],
    pub(super) curve: Option<&'a Path>,
    pub(super) sweep: Option<&'a str>,
    pub(super) as_sold: bool,
    pub(super) pin: &'a [String],
}

/// `mix SPEC`.
pub(super) fn mix(desk: &mut Desk, ask: &Ask) -> Result<Said, WrongInput> {
    let spec = spec::parse(&desk.book, ask.spec).map_err(WrongInput::new)?;
    let melts = MeltBook::new(desk.book.clone(), alloy_verbs::pins(desk, ask.pin)?);
    let at = ask.at.to_vec();
    if let Some(file) = ask.sweep {
        return sweep(desk, &melts, spec, at, file);
    }
    let mut mixed = show::ask(&melts, spec, at);
    if ask.as_sold {
        mixed.ask_as_sold(&melts);
    }
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
        || show::text(&mixed, &frame, desk.say) + &written(ask.curve),
        || frame.json(with_file(show::json(&mixed), ask.curve)),
    ))
}

fn sweep(
    desk: &mut Desk,
    melts: &MeltBook,
    spec: spec::Spec,
    at: Vec<Celsius>,
    file: &str,
) -> Result<Said, WrongInput> {
    let swept = show_sweep::sweep(melts, spec, at)
        .map_err(|why| WrongInput::new(format!("mix --sweep: {why}")))?;
    let frame = swept.frame(desk.say);
    let to = (!file.is_empty()).then(|| Path::new(file));
    if let Some(to) = to {
        pictures::save(&swept.picture(&frame).picture(desk.say.scale), to)?;
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
        keys.insert("file".to_owned(), serde_json::json!(to));
    }
    keys
}
