//! What `order` and `check` say without `--full` fits on a screen, and leaves out nothing that does not hold.

use meltstair::cli::{Around, run};

use crate::never_holds::jobs;

fn said(args: &[&str], width: usize) -> String {
    let around = Around {
        width,
        own_alloys: None,
        score: None,
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let args = ["meltstair"].iter().chain(args).map(Into::into);
    run(args, &around, &mut out, &mut err);
    String::from_utf8(out).expect("text")
}

/// 24 lines of 80 columns: the smallest terminal that is still usual.
#[test]
fn a_job_of_seven_steps_fits_on_a_screen() {
    for verb in ["order", "check"] {
        let text = said(&[verb, "charts/tide_gauge.yaml"], 80);
        assert!(text.lines().count() <= 24, "{text}");
        let wide = text.lines().find(|line| line.chars().count() > 80);
        assert_eq!(wide, None, "{text}");
    }
}

/// Names are shortened where the line is too long, and its numbers stand.
#[test]
fn no_number_is_cut_off_the_first_line() {
    let file = tempfile::Builder::new()
        .suffix(".yaml")
        .tempfile()
        .expect("a file");
    let job = "job: harbour light\n\
        joints: [{id: jumpers_of_the_northern_row, alloy: Sn63Pb37, mg: 0.1}, {id: landing_of_the_lamp_controller}]\n\
        steps: [{id: solder_the_landing_anew, do: solder, joint: landing_of_the_lamp_controller, alloy: SAC305, mg: 0.1, \
        tool: iron, k: {jumpers_of_the_northern_row: 0.9}}]\n";
    std::fs::write(file.path(), job).expect("written");
    let text = said(&["check", file.path().to_str().expect("a plain path")], 80);
    let line = "melts, -38.4 K: jumpers… in step solder_…, sees 219.4 °C, solid up to 181 °C";
    assert_eq!(text.lines().next(), Some(line));
}

/// Lines of the whole answer that tell of something that does not hold.
fn is_trouble(line: &str) -> bool {
    let said = ["Found: ", "Rule: ", "Read: "];
    let service = line.strip_prefix("Service: ");
    said.iter().any(|word| line.starts_with(word))
        || service.is_some_and(|verdict| !verdict.starts_with("holds"))
}

#[test]
fn what_does_not_hold_is_never_left_out() {
    let mut troubles = 0;
    for path in jobs("tests/never_holds") {
        let path = path.to_str().expect("a plain path");
        let brief = said(&["check", path], 400);
        let full = said(&["check", "--full", path], 400);
        assert_eq!(brief.lines().next(), full.lines().next(), "{path}");
        for line in full.lines().filter(|line| is_trouble(line)) {
            troubles += 1;
            assert!(
                brief.lines().any(|told| told == line),
                "{path}: {line}\n{brief}"
            );
        }
        let json = said(&["check", "--json", path], 400);
        let json: serde_json::Value = serde_json::from_str(&json).expect("JSON");
        let steps = json["steps"].as_array().into_iter().flatten();
        for step in steps.filter(|step| step["verdict"] != "holds" && step["done"] != true) {
            let (id, verdict) = (step["id"].as_str(), step["verdict"].as_str());
            let (id, verdict) = (id.expect("an id"), verdict.expect("a word"));
            let verdict = match verdict {
                "limit" => "limit broken".to_owned(),
                word => word.replace('_', " "),
            };
            let row = |line: &&str| line.split_whitespace().any(|word| word == id);
            let told = brief.lines().filter(row).any(|row| row.ends_with(&verdict));
            assert!(told, "{path}: {id} {verdict}\n{brief}");
        }
    }
    assert!(troubles > 20, "{troubles}");
}
