//! The gallery: every demo job in `charts/` renders to what is committed there.
//!
//! `MELTSTAIR_GALLERY=write cargo test gallery` renders it anew; open every picture before you commit.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use meltstair::cli::{Around, run};

const FOLDER: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/charts");

/// What the program prints; files it writes go where the arguments say.
fn said(args: &[&str]) -> String {
    let all = ["meltstair"].iter().chain(args).map(OsString::from);
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    assert!(code != 2, "{args:?}: {}", String::from_utf8_lossy(&err));
    String::from_utf8(out).expect("text")
}

/// Every output of one job, by ending of its file.
fn rendered(job: &str, into: &Path) -> Vec<(&'static str, Vec<u8>)> {
    let file = |ending: &str| into.join(format!("picture{ending}"));
    let name = |path: &PathBuf| path.to_str().expect("a plain path").to_owned();
    let (svg, png, html) = (file(".svg"), file(".png"), file(".html"));
    for picture in [&svg, &png] {
        said(&["chart", job, "-o", &name(picture)]);
    }
    said(&["sheet", job, "-o", &name(&html)]);
    let read = |path: &PathBuf| std::fs::read(path).expect("it was written");
    vec![
        (".svg", read(&svg)),
        (".png", read(&png)),
        (".html", read(&html)),
        (".order.txt", said(&["order", job]).into_bytes()),
        (".chart.txt", said(&["chart", job, "--text"]).into_bytes()),
    ]
}

#[test]
fn gallery_is_what_the_program_renders() {
    let write = std::env::var_os("MELTSTAIR_GALLERY").is_some();
    let mut jobs: Vec<PathBuf> = std::fs::read_dir(FOLDER)
        .expect("charts/ is there")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "yaml"))
        .collect();
    jobs.sort();
    assert!(jobs.len() >= 3, "three demo jobs at least");
    let scratch = tempfile::tempdir().expect("a folder");
    let mut stale = Vec::new();
    for job in &jobs {
        let stem = job.with_extension("");
        let stem = stem.to_str().expect("a plain path");
        for (ending, bytes) in rendered(job.to_str().expect("a plain path"), scratch.path()) {
            let kept = PathBuf::from(format!("{stem}{ending}"));
            if write {
                std::fs::write(&kept, &bytes).expect("written");
            } else if std::fs::read(&kept).ok() != Some(bytes) {
                stale.push(kept);
            }
        }
    }
    assert!(stale.is_empty(), "rendered differently now: {stale:?}");
}
