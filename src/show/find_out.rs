//! What to find out about alloys that are not known, and what each result leads to.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::job::Job;
use crate::plan::{Answer, Branch, FindOut, Shows, Test};

use super::say::{Say, harmless};

/// As text: the test, then each result with its plan.
pub fn text(job: &Job, test: &FindOut, say: Say) -> String {
    let mut out = String::new();
    tell(job, test, say, 0, &mut out);
    if test.usual_only {
        out.push_str(
            "If it is none of the usual alloys, these tests mislead: X-ray fluorescence tells\n",
        );
    }
    harmless(&out)
}

fn tell(job: &Job, test: &FindOut, say: Say, depth: usize, out: &mut String) {
    let indent = "  ".repeat(depth);
    let _ = writeln!(out, "{indent}Find out first: {}", sentence(job, test, say));
    for branch in &test.branches {
        let names = candidate_names(job, test, branch).join(" or ");
        let _ = writeln!(
            out,
            "{indent}  - {} ({names}): {}",
            shows_words(branch.shows),
            answer_words(job, &branch.answer, branch.next.is_some(), say)
        );
        if let Some(next) = &branch.next {
            tell(job, next, say, depth + 2, out);
        }
    }
}

fn candidate_names<'j>(job: &'j Job, test: &FindOut, branch: &Branch) -> Vec<&'j str> {
    let reel = &job.reels[test.reel.0];
    let candidates = branch.candidates.iter();
    candidates
        .map(|c| reel.candidates[*c].name.as_str())
        .collect()
}

/// What to do, in a sentence.
pub fn sentence(job: &Job, test: &FindOut, say: Say) -> String {
    let on = &job.reels[test.reel.0].id;
    match test.test {
        Test::Touch(tip) => format!("touch {on} with a tip at {}", say.t(tip)),
        Test::LeadSwab => format!("swab {on} for lead"),
        Test::Xrf => format!("have {on} read by X-ray fluorescence"),
    }
}

/// A test in a few words.
pub fn test_words(test: Test, say: Say) -> String {
    match test {
        Test::Touch(tip) => format!("touch with a tip at {}", say.t(tip)),
        Test::LeadSwab => "lead swab".to_owned(),
        Test::Xrf => "X-ray fluorescence".to_owned(),
    }
}

const fn shows_words(shows: Shows) -> &'static str {
    match shows {
        Shows::Melts => "it melts",
        Shows::StaysSolid => "it stays solid",
        Shows::Lead => "lead",
        Shows::NoLead => "no lead",
        Shows::Is(_) => "it is",
    }
}

fn answer_words(job: &Job, answer: &Answer, goes_on: bool, say: Say) -> String {
    match answer.plan() {
        Some((plan, worth)) => {
            let ids: Vec<&str> = plan
                .steps
                .iter()
                .map(|chosen| job.steps[chosen.step.0].id.as_str())
                .collect();
            let margin = worth.margin.map_or_else(
                || "nothing at risk".to_owned(),
                |m| format!("{} left", say.dt(m)),
            );
            format!("{}; {margin}", ids.join(" "))
        }
        None if goes_on => "not decided yet".to_owned(),
        None => "no order holds for all that it may still be".to_owned(),
    }
}

/// As JSON.
pub fn json(job: &Job, test: &FindOut) -> Value {
    let say = Say::default();
    let branches = test.branches.iter().map(|branch| {
        let plan = branch.answer.plan();
        json!({
            "shows": shows_words(branch.shows),
            "alloys": candidate_names(job, test, branch),
            "order": plan.map(|(plan, _)| plan.steps.iter()
                .map(|chosen| &job.steps[chosen.step.0].id)
                .collect::<Vec<_>>()),
            "margin_k": plan.and_then(|(_, worth)| worth.margin),
            "next": branch.next.as_ref().map(|next| json(job, next)),
        })
    });
    json!({
        "test": test_words(test.test, say),
        "on": job.reels[test.reel.0].id,
        "results": branches.collect::<Vec<_>>(),
        "only_if_usual": test.usual_only,
    })
}
