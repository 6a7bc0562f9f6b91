//! The whole program as one page: what the screens ask goes in as JSON, answers and fragments of HTML come out.
//!
//! Nothing is decided here. A job is read, planned and told by the library; the verbs are those of the command
//! line, on files in memory. The page's script knows no words of the trade: all that is read comes from here.

pub mod build;
pub mod fragments;
pub mod look;
pub mod quiz;
pub mod surface;
pub mod verb;
#[cfg(target_family = "wasm")]
mod wasm;

use serde::Deserialize;
use serde_json::{Value, json};

pub use surface::Surface;

/// What the page asks.
#[derive(Debug, Deserialize)]
#[serde(tag = "ask", rename_all = "snake_case")]
enum Ask {
    /// A verb of the command line.
    Verb(verb::Asked),
    /// All screens of one job.
    Look(look::Asked),
    /// What is there before any job: demos, the form, the alloys.
    Begin,
    /// A job file from what was tapped.
    Build(build::Tapped),
    /// A question of the drill.
    Question(quiz::Asked),
    /// An answer to it.
    Answer(quiz::Given),
}

/// Answers one request; what cannot be read is told in `wrong`.
pub fn answer(request: &str, surface: Surface) -> String {
    let told: Value = match serde_json::from_str::<Ask>(request) {
        Err(why) => json!({"wrong": why.to_string()}),
        Ok(Ask::Verb(asked)) => verb::run(asked, surface),
        Ok(Ask::Look(asked)) => look::look(&asked, surface),
        Ok(Ask::Begin) => json!({
            "start": fragments::start().into_string(),
            "ask": fragments::ask().into_string(),
            "learn": quiz::levels().into_string(),
            "demos": fragments::DEMOS.iter().map(|(name, text)| json!({"name": name, "text": text})).collect::<Vec<_>>(),
        }),
        Ok(Ask::Build(tapped)) => json!({"text": build::yaml(&tapped)}),
        Ok(Ask::Question(asked)) => quiz::question(asked),
        Ok(Ask::Answer(given)) => quiz::judge(&given),
    };
    told.to_string()
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    pub(crate) const STILL: Surface = Surface {
        clock: || Duration::ZERO,
        tell: |_| {},
    };

    fn told(request: &Value) -> Value {
        serde_json::from_str(&answer(&request.to_string(), STILL)).expect("JSON")
    }

    fn screens(text: &str) -> Value {
        told(&json!({"ask": "look", "text": text}))
    }

    fn html<'v>(screens: &'v Value, name: &str) -> &'v str {
        screens[name].as_str().unwrap_or_default()
    }

    #[test]
    fn what_is_there_before_any_job() {
        let begun = told(&json!({"ask": "begin"}));
        assert!(html(&begun, "start").contains("I don't know"), "{begun}");
        assert_eq!(begun["demos"].as_array().map(Vec::len), Some(4));
        assert!(html(&told(&json!({"ask": "nothing"})), "wrong").contains("unknown variant"));
    }

    #[test]
    fn the_screens_tell_the_first_open_step() {
        let (_, job) = fragments::DEMOS[1];
        let seen = screens(job);
        let next = html(&seen, "next");
        assert!(
            next.contains("cure mask over tails") && next.contains("Step 1 of 15"),
            "{next}"
        );
        assert!(html(&seen, "now").contains("Sn63Pb37"));
        assert!(html(&seen, "plan").contains("<svg"));
        assert!(html(&seen, "sheet").starts_with("<!DOCTYPE html>"));
        assert_eq!(seen["verdict"], "holds");
    }

    /// A tick changes the file as `did` does, and the screens go on from there.
    #[test]
    fn a_tick_is_a_line_of_the_log() {
        let (_, job) = fragments::DEMOS[1];
        let mut text = job.to_owned();
        for step in [
            vec!["shield"],
            vec!["strip", "--peak=243"],
            vec!["ball", "--alloy=Bi58Sn42", "--peak=161"],
            vec![
                "set",
                "--peak=205",
                "--sees=tails:186",
                "--failed=two balls open",
            ],
        ] {
            let args = ["did", "job.yaml"].into_iter().chain(step);
            let did = told(
                &json!({"ask": "verb", "args": args.collect::<Vec<_>>(), "files": {"job.yaml": text}}),
            );
            assert_eq!(did["code"], 0, "{did}");
            text = did["files"]["job.yaml"]
                .as_str()
                .unwrap_or_default()
                .to_owned();
        }
        let seen = screens(&text);
        assert_eq!(seen["verdict"], "melts");
        let next = html(&seen, "next");
        assert!(
            next.contains("set~inspect") && next.contains("tails was molten"),
            "{next}"
        );
        // Nothing is measured where something is only looked at.
        assert!(!next.contains("--reads"), "{next}");
        assert!(html(&seen, "now").contains("tails was molten, or may have been: inspect it"));
    }

    /// Where there is no order nobody is told to do the first step all the same.
    #[test]
    fn without_an_order_there_is_no_next_step() {
        let (_, job) = fragments::DEMOS[3];
        let seen = screens(job);
        assert_eq!(seen["ways_out"], true);
        let next = html(&seen, "next");
        assert!(
            !next.contains("data-step") && next.contains("no order"),
            "{next}"
        );
    }

    /// What is not known is said before the step, and what nobody judged stands beside it.
    #[test]
    fn what_is_not_known_comes_first() {
        let seen = screens(include_str!("../../tests/acceptance/48_unknown.yaml"));
        assert_eq!(seen["verdict"], "unknown");
        let next = html(&seen, "next");
        assert!(next.contains("Find this out first"), "{next}");
        let (_, job) = fragments::DEMOS[0];
        let untold = job.replace("tails: 0.8, rim: 0.6, ", "");
        let seen = screens(&untold);
        assert_eq!(seen["verdict"], "unknown");
        let next = html(&seen, "next");
        assert!(next.contains("Do not start before this is known"), "{next}");
        let (_, job) = fragments::DEMOS[0];
        assert!(html(&screens(job), "next").contains("Not assessed: "));
    }

    #[test]
    fn what_is_wrong_is_told_at_its_line() {
        let (_, job) = fragments::DEMOS[0];
        let seen = screens(&job.replace("limit_c: 250", "limitt_c: 250"));
        assert_eq!(seen["lines"], json!([8]));
        assert!(html(&seen, "faults").contains("Line 8"), "{seen}");
    }

    /// Words of the job cannot become markup.
    #[test]
    fn what_the_job_says_is_text() {
        let (_, job) = fragments::DEMOS[1];
        let evil = job
            .replace("organ console,", "<script>alert(1)</script>")
            .replace("shield", "'<img src=x>'");
        let seen = screens(&evil);
        for name in ["now", "next", "plan", "sheet", "faults"] {
            let told = html(&seen, name);
            assert!(
                !told.contains("<script") && !told.contains("<img"),
                "{name}: {told}"
            );
        }
    }

    #[test]
    fn practice_asks_and_judges() {
        for level in 1..=8 {
            let asked = told(&json!({"ask": "question", "level": level, "seed": 7, "at": 1}));
            assert!(html(&asked, "html").contains("<form"), "{asked}");
            let given = json!({"ask": "answer", "level": level, "seed": 7, "at": 1, "number": "1", "options": [0], "reason": 0});
            assert!(html(&told(&given), "html").contains("verdict-box"));
        }
    }
}
