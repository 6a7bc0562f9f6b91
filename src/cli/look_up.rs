//! `words` and `keys`: what is looked up while a job is written.

use serde_json::json;

use crate::job::{keys_of, things};
use crate::show::words as show;

use super::{Desk, Said, WrongInput, said};

/// `words`.
pub(super) fn words(desk: &Desk) -> Said {
    let json = || json!({"meltstair": "words/1", "words": show::words_json()});
    said(desk, 0, || show::words(desk.say.width), json)
}

/// `keys [THING]`.
pub(super) fn keys(desk: &Desk, thing: Option<&str>) -> Result<Said, WrongInput> {
    let all: Vec<&str> = things().collect();
    let Some(thing) = thing else {
        let line = format!("of what? One of: {}", all.join(", "));
        let json = || json!({"meltstair": "keys/1", "line": line, "things": all});
        return Ok(said(desk, 0, || line.clone(), json));
    };
    let lines = keys_of(thing).ok_or_else(|| {
        let near = crate::nearest::nearest(thing, all.iter().copied(), 1);
        let near = near
            .first()
            .map_or_else(String::new, |near| format!("; the nearest is `{near}`"));
        WrongInput::new(format!("nothing in a job is called `{thing}`{near}"))
    })?;
    let json = || json!({"meltstair": "keys/1", "of": thing, "keys": show::keys_json(&lines)});
    Ok(said(desk, 0, || show::keys(&lines, desk.say.width), json))
}
