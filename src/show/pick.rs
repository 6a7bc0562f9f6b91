//! What `pick` says: every alloy that can be used next, best first, and why others cannot.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::bench::{ServiceLimit, Verdict};
use crate::job::Job;
use crate::plan::{Chain, Chains, Offer, Picked, Why};
use crate::policy;

use super::answer::{Assumption, Frame};
use super::say::{Names, Say, first_line, harmless};
use super::table::Rows;

/// Why cadmium is refused (limit: 2011/65/EU).
pub(super) const CADMIUM: &str = "cadmium: its fume harms, its waste is special, law allows 0.01 %";

/// Alloys that are listed in the text one by one; all are in the JSON.
const MOST_LISTED: usize = 15;
/// The same where the answer is to fit on a screen.
const FEW_LISTED: usize = 6;

/// The frame of an answer.
pub fn frame(picked: &Picked, assumptions: Vec<Assumption>, say: Say) -> Frame {
    let (best, on_shelf) = picked.best();
    let has_shelf = picked.offers.iter().any(|o| o.candidate.in_stock.is_some());
    // What must be bought first is no answer for whoever asks of a shelf.
    let usable = best.filter(|_| !has_shelf || on_shelf.is_some());
    Frame {
        verb: "pick",
        verdict: Some(usable.map_or_else(|| least_bad(picked), |offer| offer.verdict)),
        line: first_line(&harmless(&line(picked, say))),
        assumptions,
        warnings: Vec::new(),
    }
}

fn least_bad(picked: &Picked) -> Verdict {
    let has_shelf = picked.offers.iter().any(|o| o.candidate.in_stock.is_some());
    let there = |offer: &&Offer| !has_shelf || offer.candidate.in_stock == Some(true);
    let verdicts = picked.offers.iter().filter(there);
    verdicts
        .map(|offer| offer.verdict)
        .min()
        .unwrap_or(Verdict::Unknown)
}

/// The best; and where it is not on the shelf, the best that is.
fn line(picked: &Picked, say: Say) -> String {
    let has_shelf = picked.offers.iter().any(|o| o.candidate.in_stock.is_some());
    match picked.best() {
        (None, _) => "no alloy can be used: see why below".to_owned(),
        (Some(best), None) if has_shelf => {
            format!(
                "{} best, not on shelf; nothing on the shelf can be used",
                name(best)
            )
        }
        // What lies on the shelf and does as well comes before what must be bought.
        (Some(best), Some(shelf)) if shelf.verdict <= best.verdict => {
            format!("{}: {}, {}", shelf.verdict, name(shelf), left(shelf, say))
        }
        (Some(best), Some(shelf)) if best.candidate.in_stock != Some(true) => {
            format!(
                "{} best, not on shelf; {}",
                name(best),
                possible(shelf, say)
            )
        }
        (Some(best), _) => format!("{}: {}, {}", best.verdict, name(best), left(best, say)),
    }
}

fn left(offer: &Offer, say: Say) -> String {
    offer.margin.map_or_else(
        || "nothing at risk".to_owned(),
        |margin| format!("{} left", say.dt(margin)),
    )
}

fn possible(shelf: &Offer, say: Say) -> String {
    let Some(first_melt) = shelf.first_melt else {
        return format!("{} possible", name(shelf));
    };
    format!(
        "{} possible: first melt {}, service up to {}",
        name(shelf),
        say.t(first_melt),
        say.t(ServiceLimit::of(first_melt).stricter())
    )
}

fn name(offer: &Offer) -> &str {
    &offer.candidate.solder.name
}

/// The whole answer as text.
pub fn text(picked: &Picked, frame: &Frame, say: Say) -> String {
    let mut out = format!("{}\n", frame.line);
    let on_shelf = |offer: &&Offer| offer.candidate.in_stock == Some(true);
    let (shelf, rest): (Vec<&Offer>, Vec<&Offer>) = picked.offers.iter().partition(on_shelf);
    if shelf.is_empty() {
        section(&mut out, "", picked, &rest, say);
    } else {
        let every = Say { full: true, ..say };
        section(&mut out, "On the shelf\n", picked, &shelf, every);
        section(&mut out, "To buy\n", picked, &rest, say);
    }
    let _ = writeln!(
        out,
        "\nBest first: what holds, with {} left, keeps the gap, has two sources, is not soft, melts highest",
        say.dt(policy::AMPLE)
    );
    out.push_str(&frame.end(say.full));
    harmless(&out)
}

/// What of these can be used, best first, and why the others cannot.
fn section(out: &mut String, head: &str, picked: &Picked, offers: &[&Offer], say: Say) {
    let usable = |offer: &&&Offer| offer.verdict <= Verdict::Close;
    let (good, bad): (Vec<&Offer>, Vec<&Offer>) = offers.iter().copied().partition(|o| usable(&o));
    let most = if say.full { MOST_LISTED } else { FEW_LISTED };
    if !good.is_empty() {
        let table = table(picked, &good[..good.len().min(most)], say);
        let _ = write!(out, "\n{head}{}", table.text(say.width));
    }
    if good.len() > most {
        let _ = writeln!(out, "and {} more", good.len() - most);
    }
    if bad.is_empty() {
        return;
    }
    if !say.full {
        let _ = writeln!(out, "Refused: {}. `--full` tells why", bad.len());
        return;
    }
    let _ = writeln!(out, "\nRefused ({})", bad.len());
    for offer in bad.iter().take(MOST_LISTED) {
        let why = offer.why.first();
        let why = why.map_or_else(
            || offer.verdict.to_string(),
            |why| reason(&picked.job, why, say),
        );
        let _ = writeln!(out, "  - {}: {why}", name(offer));
    }
    if bad.len() > MOST_LISTED {
        let _ = writeln!(out, "  and {} more", bad.len() - MOST_LISTED);
    }
}

fn table(picked: &Picked, offers: &[&Offer], say: Say) -> Rows {
    let names = Names(&picked.job);
    let rows = offers.iter().map(|offer| {
        let window = offer.window;
        let by = window
            .set_by
            .map_or_else(String::new, |by| format!(" ({})", names.set_by(by)));
        let mut flags: Vec<&str> = offer.candidate.flags.clone();
        if offer.candidate.is_soft() {
            flags.push("soft");
        }
        if offer.why.contains(&Why::KnownInParts) {
            flags.push("known in parts only");
        }
        let service = offer.service.map_or_else(
            || {
                offer
                    .first_melt
                    .map(|t| say.t_bare(ServiceLimit::of(t).stricter()))
            },
            |service| Some(service.verdict.to_string()),
        );
        vec![
            name(offer).to_owned(),
            offer.verdict.to_string(),
            offer
                .margin
                .map_or_else(String::new, |margin| say.dt(margin)),
            offer.gap.map_or_else(String::new, |gap| say.dt(gap)),
            format!(
                "{}–{}{by}",
                say.t_or_unknown(window.from),
                say.t_or_unknown(window.to)
            ),
            say.t_or_unknown(offer.first_melt),
            service.unwrap_or_else(|| "?".to_owned()),
            flags.join(", ").replace('_', " "),
        ]
    });
    Rows {
        head: vec![
            "alloy",
            "verdict",
            "margin",
            "gap",
            "window",
            "first melt",
            "service",
            "know",
        ],
        rows: rows.collect(),
    }
}

/// Why an alloy cannot be used, in one sentence.
pub fn reason(job: &Job, why: &Why, say: Say) -> String {
    let names = Names(job);
    match why {
        Why::Cadmium => CADMIUM.to_owned(),
        Why::Margin(place, step, Some(margin)) => {
            format!(
                "{} keeps {} in step {step}",
                names.place(*place),
                say.dt(*margin)
            )
        }
        Why::Margin(place, step, None) => {
            format!(
                "nobody knows what {} keeps in step {step}",
                names.place(*place)
            )
        }
        Why::DoesNotFlow(step) => format!("the target of step {step} does not flow"),
        Why::Unknown(step) => format!("nobody knows when the target of step {step} flows"),
        Why::Refused(step) => format!("step {step} cannot be done"),
        Why::Law(breach) => {
            let (element, limit) = breach.rule.limit();
            format!(
                "{} would hold {:.3} % {element}, limit {} %",
                names.joint(breach.joint),
                breach.share.percent(),
                limit.percent()
            )
        }
        Why::KnownInParts => "known in parts only: at best close".to_owned(),
        Why::Service(limit) => format!("service only up to {}", say.t(*limit)),
    }
}

/// The keys of `pick`, as `json.md` of the design has them.
pub fn json(picked: &Picked) -> Value {
    let names = Names(&picked.job);
    let choices = picked.offers.iter().map(|offer| {
        let why: Vec<String> = offer
            .why
            .iter()
            .map(|why| reason(&picked.job, why, Say::default()))
            .collect();
        json!({
            "alloy": name(offer),
            "verdict": offer.verdict,
            "margin_k": offer.margin,
            "margin_in_job_k": offer.margin_in_job,
            "gap_k": offer.gap,
            "window_c": {
                "from": offer.window.from,
                "to": offer.window.to,
                "set_by": offer.window.set_by.map(|by| names.set_by(by)),
            },
            "first_melt_c": offer.first_melt,
            "service": {
                "limit_c": offer.first_melt.map(|t| ServiceLimit::of(t).stricter()),
                "minus_50_c": offer.first_melt.map(|t| ServiceLimit::of(t).minus_50),
                "ninety_percent_c": offer.first_melt.map(|t| ServiceLimit::of(t).ninety_percent),
                "verdict": offer.service.map(|service| service.verdict),
            },
            "flags": offer.candidate.flags,
            "in_stock": offer.candidate.in_stock,
            "why": why,
        })
    });
    json!({ "choices": choices.collect::<Vec<_>>() })
}

/// Levels of step soldering as text.
pub fn chains_text(chains: &Chains, levels: usize, say: Say) -> String {
    let mut out = String::new();
    if chains.keeping.is_empty() {
        let _ = writeln!(out, "No {levels} levels of it keep the gap");
    }
    for chain in &chains.keeping {
        let _ = writeln!(out, "{}", chain_words(chain, say));
    }
    if let Some(nearest) = &chains.nearest {
        let _ = writeln!(out, "Nearest: {}", chain_words(nearest, say));
    }
    harmless(&out)
}

fn chain_words(chain: &Chain, say: Say) -> String {
    let names: Vec<&str> = chain.alloys.iter().map(|a| a.name.as_str()).collect();
    let warning = if chain.indium_meets_bismuth {
        "; indium and bismuth must never meet"
    } else {
        ""
    };
    format!("{} (gap {}{warning})", names.join(" → "), say.dt(chain.gap))
}

/// Levels of step soldering as JSON.
pub fn chains_json(chains: &Chains) -> Value {
    let one = |chain: &Chain| {
        json!({
            "alloys": chain.alloys.iter().map(|a| &a.name).collect::<Vec<_>>(),
            "gap_k": chain.gap,
            "indium_meets_bismuth": chain.indium_meets_bismuth,
        })
    };
    json!({
        "chains": chains.keeping.iter().map(one).collect::<Vec<_>>(),
        "nearest": chains.nearest.as_ref().map(one),
    })
}
