//! `heat` and `learn` as a technician types them.

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use meltstair::cli::{Around, run};
use serde_json::Value;

const BELL_BUOY: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/heat/quick_air.yaml");
const TIDE_GAUGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/charts/tide_gauge.yaml");

/// Exit code, standard output, standard error.
fn said(args: &[&str]) -> (u8, String, String) {
    let all = ["meltstair"].iter().chain(args).map(OsString::from);
    let around = Around {
        width: 100,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(all, &around, &mut out, &mut err);
    let text = |bytes| String::from_utf8(bytes).expect("text");
    (code, text(out), text(err))
}

fn json(args: &[&str]) -> Value {
    let (code, out, err) = said(&[&["--json"], args].concat());
    assert!(code != 2, "{err}");
    serde_json::from_str(&out).expect("JSON")
}

fn scratch() -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let job = folder.path().join("job.yaml");
    std::fs::copy(BELL_BUOY, &job).expect("copied");
    (folder, job)
}

fn path(path: &Path) -> &str {
    path.to_str().expect("a plain path")
}

/// The width of the band of one place.
fn band(job: &str, place: &str) -> f64 {
    let heat = json(&["heat", job, "set"]);
    let places = heat["places"].as_array().expect("places");
    let found = places
        .iter()
        .find(|p| p["of"] == place)
        .expect("it is there");
    found["high_c"].as_f64().expect("known") - found["low_c"].as_f64().expect("known")
}

#[test]
fn heat_tells_every_place_with_its_band_and_counts_what_check_counts() {
    let heat = json(&["heat", BELL_BUOY, "set"]);
    let check = json(&["check", BELL_BUOY]);
    let step = check["steps"]
        .as_array()
        .expect("steps")
        .iter()
        .find(|s| s["id"] == "set")
        .expect("it is there");
    assert_eq!(heat["verdict"], step["verdict"]);
    assert_eq!(heat["target"]["flows"], true);
    let mut compared = 0;
    for place in heat["places"].as_array().expect("places") {
        if let Some(t) = place["t_c"].as_f64() {
            let (low, high) = (place["low_c"].as_f64(), place["high_c"].as_f64());
            assert!(low < Some(t) && Some(t) < high, "{place}");
        }
        let sees = step["sees"].as_array().expect("sees");
        if let Some(sight) = sees.iter().find(|s| s["joint"] == place["of"]) {
            assert_eq!(sight["t_c"], place["counted_c"], "{place}");
            compared += 1;
        }
    }
    assert_eq!(compared, 3);
}

#[test]
fn pictures_are_written_as_their_names_end() {
    let folder = tempfile::tempdir().expect("a folder");
    let (map, trace) = (
        folder.path().join("map.png"),
        folder.path().join("trace.svg"),
    );
    let (code, out, err) = said(&[
        "heat",
        BELL_BUOY,
        "set",
        "--map",
        path(&map),
        "--trace",
        path(&trace),
    ]);
    assert_eq!(code, 0, "{out}{err}");
    assert!(
        std::fs::read(&map)
            .expect("written")
            .starts_with(b"\x89PNG")
    );
    let svg = std::fs::read_to_string(&trace).expect("written");
    assert!(
        svg.contains("tool goes") && svg.contains("flows at"),
        "{svg}"
    );
    let (code, _, err) = said(&["heat", BELL_BUOY, "set", "--map", "map.bmp"]);
    assert!(code == 2 && err.contains(".svg or .png"), "{err}");
}

/// The lowest preheat is the lowest: two kelvins less does not surely flow.
#[test]
fn the_lowest_preheat_is_the_lowest() {
    let found = json(&[
        "heat",
        BELL_BUOY,
        "set",
        "--lowest-preheat",
        "30..140",
        "--within",
        "20",
    ]);
    let lowest = found["lowest"][0]["t_c"].as_f64().expect("there is one");
    let text = std::fs::read_to_string(BELL_BUOY).expect("read");
    let flows = |preheat: f64| {
        let (_folder, job) = scratch();
        let text = text.replace("preheat_c: 110", &format!("preheat_c: {preheat:.1}"));
        std::fs::write(&job, text).expect("written");
        json(&["heat", path(&job), "set", "--seconds", "20"])["target"]["flows"] == true
    };
    assert!(flows(lowest + 0.1) && !flows(lowest - 2.0), "{lowest}");
    let none = json(&[
        "heat",
        BELL_BUOY,
        "set",
        "--lowest-preheat",
        "25..30",
        "--within",
        "2",
    ]);
    assert!(none["lowest"][0]["t_c"].is_null());
}

#[test]
fn what_heat_needs_is_asked_for() {
    for (args, says) in [
        (vec!["heat", TIDE_GAUGE, "set"], "describes no board"),
        (vec!["heat", BELL_BUOY, "sett"], "the nearest is `set`"),
        (vec!["heat", BELL_BUOY, "meter"], "heats no place"),
        (vec!["heat", BELL_BUOY, "set", "--way", "2"], "want 1 to 1"),
        (
            vec!["heat", BELL_BUOY, "set", "--lowest-preheat", "90"],
            "want LEAST..MOST",
        ),
        (vec!["heat", BELL_BUOY, "set", "--seconds", "0"], "1..=3600"),
    ] {
        let (code, _, err) = said(&args);
        assert!(code == 2 && err.contains(says), "{args:?}: {err}");
    }
}

/// Readings are made up (synthetic): what matters is that they are kept and narrow the band.
#[test]
fn learning_narrows_the_band_and_leaves_the_rest_of_the_file_alone() {
    let (folder, job) = scratch();
    let readings = folder.path().join("run.csv");
    std::fs::write(
        &readings,
        "seconds,place,celsius\n# thermocouple under tape\n0,tails,110\n5,tails,120\n10,tails,130\n20,tails,145\n\
         20,40 26,153\n10,40 26,140\npeak,clock,117\n",
    )
    .expect("written");
    let before = std::fs::read_to_string(&job).expect("read");
    let wide = band(path(&job), "tails");
    let (code, out, err) = said(&["learn", path(&job), path(&readings), "--step", "set"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("learned from 7 readings with air"), "{out}");
    let after = std::fs::read_to_string(&job).expect("read");
    let kept: Vec<&str> = after
        .lines()
        .filter(|line| {
            !line.starts_with("learned:")
                && !line.starts_with("  files:")
                && !line.starts_with("    - {file: run.csv")
                && !line.starts_with("  air: {losses")
        })
        .collect();
    assert_eq!(kept, before.lines().collect::<Vec<_>>());
    let narrow = band(path(&job), "tails");
    assert!(narrow < 0.8 * wide, "{narrow} {wide}");
    // Once more, or a copy under another name: the same readings are the same readings.
    for _ in 0..3 {
        let (code, _, err) = said(&["learn", path(&job), path(&readings), "--step", "set"]);
        assert_eq!(code, 0, "{err}");
        assert_eq!(std::fs::read_to_string(&job).expect("read"), after);
    }
    let copy = folder.path().join("copy.csv");
    std::fs::copy(&readings, &copy).expect("copied");
    said(&["learn", path(&job), path(&copy), "--step", "set"]);
    let copied = std::fs::read_to_string(&job).expect("read");
    assert_eq!(copied.replace("copy.csv", "run.csv"), after);
    // Taken back, nothing is left of it.
    let (code, _, err) = said(&["learn", path(&job), "--forget", "copy.csv"]);
    assert_eq!(code, 0, "{err}");
    assert_eq!(std::fs::read_to_string(&job).expect("read"), before);
}

/// Two files in either order, and lines of the log before or after them: one fit. What is taken back is gone, however often
/// it came and went. Readings are made up.
#[test]
fn what_is_learned_is_of_the_readings_that_stand_and_of_nothing_else() {
    let (folder, job) = scratch();
    let file = |name: &str, text: &str| {
        let at = folder.path().join(name);
        std::fs::write(&at, text).expect("written");
        at
    };
    let one = file("one.csv", "5,tails,118\n20,tails,143\n20,40 26,153\n");
    let two = file("two.csv", "peak,clock,116\npeak,tails,150\n");
    let learn = |at: &Path| {
        let (code, _, err) = said(&["learn", path(&job), path(at), "--step", "set"]);
        assert_eq!(code, 0, "{err}");
    };
    let did = || {
        let (code, out, err) = said(&[
            "did",
            path(&job),
            "set",
            "--peak",
            "160",
            "--sees",
            "tails:139",
        ]);
        assert!(code == 0 && out.contains("learned from"), "{out}{err}");
        // 29 K of 50 K.
        assert!(out.contains("k: {tails: 0.58}"), "{out}");
    };
    let text = || std::fs::read_to_string(&job).expect("read");
    let undo = || {
        let (code, out, err) = said(&["undo", path(&job)]);
        assert!(code == 0, "{out}{err}");
    };
    let fit = |text: &str| {
        let line = text.lines().find(|line| line.starts_with("  air:"));
        line.expect("learned").to_owned()
    };
    said(&["did", path(&job), "rebuild"]);
    let bare = text();
    for _ in 0..4 {
        did();
        undo();
        assert_eq!(text(), bare);
    }
    did();
    learn(&one);
    learn(&two);
    let all = fit(&text());
    undo();
    let files = fit(&text());
    assert_ne!(all, files);
    did();
    assert_eq!(fit(&text()), all);
    undo();
    said(&["learn", path(&job), "--forget", "one.csv"]);
    learn(&one);
    assert_eq!(fit(&text()), files);
    // Another file under the name is not what was learned from.
    std::fs::write(&two, "peak,clock,150\n").expect("written");
    let (code, out, _) = said(&[
        "did",
        path(&job),
        "set",
        "--peak",
        "160",
        "--sees",
        "tails:139",
    ]);
    assert!(
        code == 0 && out.contains("no longer what was learned from"),
        "{out}"
    );
    assert!(!text().contains("  air:"), "{}", text());
}

#[test]
fn bad_readings_change_no_file() {
    let (folder, job) = scratch();
    let readings = folder.path().join("run.csv");
    let before = std::fs::read(&job).expect("read");
    for (text, says) in [
        ("", "no readings"),
        ("5,tails\n", "run.csv:1: not three values"),
        (
            "seconds,place,celsius\n5,tails,warm\n",
            "run.csv:2: `warm` is no temperature",
        ),
        ("soon,tails,120\n", "`soon` is no time"),
        ("-5,tails,120\n", "`-5` is no time"),
        ("5,tials,120\n", "the nearest is `tails`"),
        ("5,tails,1200\n", "is not between the room"),
        ("5,tails,NaN\n", ""),
        ("5,400 26,120\n", "off the board"),
        ("1e9,tails,120\n", "is not a duration"),
    ] {
        std::fs::write(&readings, text).expect("written");
        let (code, _, err) = said(&["learn", path(&job), path(&readings), "--step", "set"]);
        assert!(code == 2 && err.contains(says), "{text}: {err}");
        assert_eq!(std::fs::read(&job).expect("read"), before, "{text}");
    }
    let (code, _, err) = said(&["learn", path(&job), path(&readings)]);
    assert!(code == 2 && err.contains("one of rebuild, set"), "{err}");
}

/// One peak beside the target, told with `did`, teaches as well; where it teaches nothing it is logged all the
/// same.
#[test]
fn a_peak_that_is_logged_teaches() {
    let (_folder, job) = scratch();
    said(&["did", path(&job), "rebuild"]);
    let (code, out, err) = said(&[
        "did",
        path(&job),
        "set",
        "--peak",
        "160",
        "--sees",
        "tails:139",
    ]);
    assert!(
        code == 0 && out.contains("learned from 1 readings with air"),
        "{out}{err}"
    );
    let text = std::fs::read_to_string(&job).expect("read");
    assert!(
        text.contains("learned:\n  air: {losses")
            && text.contains("{step: set, peak_c: 160, sees_c: {tails: 139}}"),
        "{text}"
    );
    said(&["undo", path(&job)]);
    let (code, out, _) = said(&["did", path(&job), "set", "--sees", "rest:130"]);
    assert!(
        code == 0 && out.contains("nothing learned from set: none of it was read at"),
        "{out}"
    );
}
