//! A verb of the command line on files in memory.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::PathBuf;

use meltstair::cli::{Around, Enclosed, Files, run_enclosed};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::Surface;

/// Columns of an answer unless said.
const WIDTH: usize = 100;

/// Arguments without the program's own name, and the files that they may name.
#[derive(Debug, Deserialize)]
pub struct Asked {
    /// As on the command line.
    args: Vec<String>,
    /// Name to text.
    #[serde(default)]
    files: BTreeMap<String, String>,
    /// Columns.
    #[serde(default)]
    width: Option<usize>,
}

/// `{code, out, err, files}`: files that are text, as they are afterwards; of others their size alone.
pub fn run(asked: Asked, surface: Surface) -> Value {
    let given = asked.files.into_iter();
    let files = Files::of(given.map(|(name, text)| (PathBuf::from(name), text.into_bytes())));
    let around = Around {
        width: asked.width.unwrap_or(WIDTH),
        own_alloys: None,
        score: None,
    };
    let args = std::iter::once("meltstair".to_owned()).chain(asked.args);
    let enclosed = Enclosed {
        files: &files,
        clock: surface.clock,
        tell: surface.tell,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let args = args.map(OsString::from);
    let code = run_enclosed(args, &around, enclosed, &mut out, &mut err);
    let (mut texts, mut binary) = (BTreeMap::new(), BTreeMap::new());
    for (name, bytes) in files.all() {
        let name = name.to_string_lossy().into_owned();
        match String::from_utf8(bytes) {
            Ok(text) => texts.insert(name, text).map(drop),
            Err(other) => binary.insert(name, other.as_bytes().len()).map(drop),
        };
    }
    json!({
        "code": code,
        "out": String::from_utf8_lossy(&out),
        "err": String::from_utf8_lossy(&err),
        "files": texts,
        "not_text": binary,
    })
}
