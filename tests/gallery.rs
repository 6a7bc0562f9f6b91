//! The gallery: every kind of output of every demo job in `charts/`, as the program renders it now.
//!
//! `MELTSTAIR_GALLERY=write cargo test gallery` renders it anew; open every picture before you commit.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::path::Path;

use meltstair::cli::{Around, run};

/// From the root of the package, where tests run: answers name the job file as it was typed, and must not
/// know where the package lies.
const FOLDER: &str = "charts";

/// What each job is rendered to: ending of the file, and the words after `meltstair`; `JOB` and
/// `FILE` stand for the two files. Without `FILE` it is what is printed.
const OF_A_JOB: [(&str, &str); 11] = [
    (".svg", "chart|JOB|-o|FILE"),
    (".png", "chart|JOB|-o|FILE"),
    (".html", "sheet|JOB|-o|FILE"),
    (".check.txt", "check|JOB"),
    (".check.json", "check|JOB|--json"),
    (".order.txt", "order|JOB"),
    (".order.json", "order|JOB|--json"),
    (".all.txt", "order|JOB|--all"),
    (".clash.txt", "clash|JOB"),
    (".chart.txt", "chart|JOB|--text"),
    (".chart.ascii.txt", "chart|JOB|--text|--ascii"),
];

/// A job whose board and tools are described, and its outputs of heat.
const OF_HEAT: (&str, [(&str, &str); 6]) = (
    "bell_buoy",
    [
        (".heat.txt", "heat|JOB|set"),
        (".heat.json", "heat|JOB|set|--json"),
        (".map.png", "heat|JOB|set|--map|FILE"),
        (".map.svg", "heat|JOB|set|--map|FILE"),
        (".trace.png", "heat|JOB|set|--trace|FILE"),
        (".trace.svg", "heat|JOB|set|--trace|FILE"),
    ],
);

/// What needs no job, or all of them.
const OF_ALL: [(&str, &str); 20] = [
    ("ladder_a4.svg", "chart|--ladder|--paper|a4|-o|FILE"),
    ("ladder_a4.png", "chart|--ladder|--paper|a4|-o|FILE"),
    ("wall.svg", "chart|--wall|-o|FILE"),
    ("wall.png", "chart|--wall|-o|FILE"),
    ("ladder_a3.svg", "chart|--ladder|--paper|a3|-o|FILE"),
    ("ladder_a3.png", "chart|--ladder|--paper|a3|-o|FILE"),
    (
        "curve.svg",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--curve|FILE",
    ),
    (
        "curve.png",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--curve|FILE",
    ),
    (
        "sweep.svg",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--sweep|FILE",
    ),
    (
        "sweep.png",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--sweep|FILE",
    ),
    ("mix.txt", "mix|ball 0.3 snbi + film 10um 63/37 on 0.3"),
    (
        "sweep.txt",
        "mix|ball 0.3 snbi + film 10um 63/37 on 0.3|--sweep|--at|120",
    ),
    ("compare.svg", "compare|JOBS|-o|FILE"),
    ("compare.png", "compare|JOBS|-o|FILE"),
    ("compare.txt", "compare|JOBS"),
    ("compare.json", "compare|JOBS|--json"),
    ("alloys.txt", "alloys|lead-free|100-150"),
    ("alloy.txt", "alloys|sac305"),
    ("pick.txt", "pick|--over|sac305|63/37|--service|60"),
    ("drill.txt", "drill|--seed|7|--paper"),
];

/// What the program prints; files it writes go where the arguments say.
fn said(args: &[OsString]) -> Vec<u8> {
    let all = [OsString::from("meltstair")];
    let all = all.into_iter().chain(args.iter().cloned());
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    assert!(code != 2, "{args:?}: {}", String::from_utf8_lossy(&err));
    out
}

/// The demo jobs, in order.
fn jobs() -> Vec<String> {
    let entries = std::fs::read_dir(FOLDER).expect("charts/ is there");
    let names = entries.map(|entry| entry.expect("an entry").file_name());
    let names = names.filter_map(|name| name.into_string().ok());
    let stems = names.filter_map(|name| name.strip_suffix(".yaml").map(str::to_owned));
    let jobs: BTreeSet<String> = stems.collect();
    assert!(jobs.len() >= 3, "three demo jobs at least");
    jobs.into_iter().collect()
}

/// One file of the gallery.
fn rendered(name: &str, words: &str, jobs: &[String], scratch: &Path) -> Vec<u8> {
    let yaml = |job: &String| OsString::from(format!("{FOLDER}/{job}.yaml"));
    let file = scratch.join(name);
    let mut args: Vec<OsString> = Vec::new();
    for word in words.split('|') {
        match word {
            "JOB" | "JOBS" => args.extend(jobs.iter().map(yaml)),
            "FILE" => args.push(file.clone().into()),
            _ => args.push(word.into()),
        }
    }
    let printed = said(&args);
    if words.contains("FILE") {
        return std::fs::read(file).expect("it was written");
    }
    printed
}

/// Every file of the gallery but the jobs and the page that shows them.
fn gallery(scratch: &Path) -> BTreeMap<String, Vec<u8>> {
    let jobs = jobs();
    let mut files = BTreeMap::new();
    for job in &jobs {
        for (ending, words) in OF_A_JOB {
            let name = format!("{job}{ending}");
            let bytes = rendered(&name, words, std::slice::from_ref(job), scratch);
            files.insert(name, bytes);
        }
    }
    let (heated, outputs) = OF_HEAT;
    for (ending, words) in outputs {
        let name = format!("{heated}{ending}");
        let bytes = rendered(&name, words, &[heated.to_owned()], scratch);
        files.insert(name, bytes);
    }
    for (name, words) in OF_ALL {
        files.insert(name.to_owned(), rendered(name, words, &jobs, scratch));
    }
    files
}

#[test]
fn gallery_is_what_the_program_renders() {
    let write = std::env::var_os("MELTSTAIR_GALLERY").is_some();
    let scratch = tempfile::tempdir().expect("a folder");
    let mut stale = Vec::new();
    for (name, bytes) in gallery(scratch.path()) {
        let kept = Path::new(FOLDER).join(&name);
        if write {
            std::fs::write(&kept, &bytes).expect("written");
        } else if std::fs::read(&kept).ok().as_ref() != Some(&bytes) {
            stale.push(name);
        }
    }
    assert!(stale.is_empty(), "rendered differently now: {stale:?}");
}

/// Files that a page of Markdown links to or shows, as they are named in it.
fn linked(page: &str) -> BTreeSet<String> {
    page.split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .map(str::to_owned)
        .collect()
}

fn is_png(name: &str) -> bool {
    Path::new(name)
        .extension()
        .is_some_and(|ending| ending == "png")
}

#[test]
fn the_page_of_the_gallery_shows_everything_and_nothing_else() {
    let mut wanted: BTreeSet<String> = OF_ALL.iter().map(|(name, _)| (*name).to_owned()).collect();
    for job in jobs() {
        wanted.insert(format!("{job}.yaml"));
        wanted.extend(OF_A_JOB.iter().map(|(ending, _)| format!("{job}{ending}")));
    }
    let (heated, outputs) = OF_HEAT;
    wanted.extend(outputs.map(|(ending, _)| format!("{heated}{ending}")));
    let page = std::fs::read_to_string(format!("{FOLDER}/README.md")).expect("the page");
    assert_eq!(linked(&page), wanted);
    // Every picture that a page can show is shown, not only linked to.
    for picture in wanted.iter().filter(|name| is_png(name)) {
        let shown = page
            .lines()
            .any(|line| line.starts_with("![") && line.contains(picture.as_str()));
        assert!(shown, "{picture} is only linked to");
    }
    let there = std::fs::read_dir(FOLDER).expect("charts/ is there");
    let there: BTreeSet<String> = there
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("a name")
        })
        .filter(|name| name != "README.md")
        .collect();
    assert_eq!(there, wanted, "a file too many or too few in charts/");
}
