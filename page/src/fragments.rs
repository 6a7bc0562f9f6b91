//! Fragments of HTML that stand on more than one screen, or hang on no job.

use maud::{Markup, html};
use meltstair::alloy::AlloyBook;
use meltstair::bench::{Seen, Verdict};
use meltstair::job::Job;
use meltstair::plan::CheckedStep;
use meltstair::quantity::Celsius;
use meltstair::show::say::{Names, Say, harmless};
use meltstair::show::wall::EVERYDAY;

use crate::build::{MOST_AROUND, NOTHING, UNKNOWN};

/// Demo jobs: boards, parts, couplings and masses are invented.
pub const DEMOS: [(&str, &str); 4] = [
    (
        "tide_gauge.yaml",
        include_str!("../../charts/tide_gauge.yaml"),
    ),
    (
        "organ_console.yaml",
        include_str!("../../charts/organ_console.yaml"),
    ),
    (
        "bell_buoy.yaml",
        include_str!("../../charts/bell_buoy.yaml"),
    ),
    (
        "seismometer.yaml",
        include_str!("../../charts/seismometer.yaml"),
    ),
];

/// The answer in a word and a line.
pub fn verdict_box(verdict: Verdict, line: &str) -> Markup {
    html! {
        div .verdict-box data-verdict=(verdict.word()) role="status" {
            p .word { (verdict.word()) }
            @let rest = line.strip_prefix(verdict.word()).unwrap_or(line);
            p .rest { (rest.trim_start_matches([',', ':', ' '])) }
        }
    }
}

/// What stands beside the heat: what each sees, against what it bears.
struct Bar {
    name: String,
    sees: Option<Celsius>,
    bears: Option<Celsius>,
    told: String,
    verdict: Verdict,
    counts: bool,
}

/// The scale of the bars ends so much above the hottest of them, in per cent of its length.
const HEADROOM: f64 = 0.92;

/// Bars: how hot each neighbour gets, and where it melts.
pub fn heat_bar(job: &Job, step: &CheckedStep, say: Say) -> Markup {
    let Some(peak) = step.passage.peak else {
        return html! {};
    };
    let bars = bars(job, step, say);
    let all = bars.iter().flat_map(|bar| [bar.sees, bar.bears]).flatten();
    let top = all.chain([peak]).map(Celsius::degrees).fold(0.0, f64::max) / HEADROOM;
    let at = |t: Celsius| format!("{:.1}%", (t.degrees() / top * 100.0).clamp(0.0, 100.0));
    html! {
        @if !bars.is_empty() {
            h3 { "Meanwhile" }
            ul .bars {
                @for bar in &bars {
                    li data-verdict=(if bar.counts { bar.verdict.word() } else { "told" }) {
                        div .words { b { (bar.name) } " " (bar.told) }
                        div .track aria-hidden="true" {
                            @if let Some(sees) = bar.sees { i .sees style={ "width:" (at(sees)) } {} }
                            @else { i .sees .anything style="width:100%" {} }
                            @if let Some(bears) = bar.bears { i .bears style={ "left:" (at(bears)) } {} }
                        }
                    }
                }
            }
        }
    }
}

fn bars(job: &Job, step: &CheckedStep, say: Say) -> Vec<Bar> {
    let names = Names(job);
    let known = |seen: Seen| match seen {
        Seen::At(t, _) => Some(t),
        Seen::UpTo(_) => None,
    };
    let told = |seen: Seen, bears: Option<Celsius>, what: &str| {
        let bears = bears.map_or_else(|| "not known".to_owned(), |t| say.t(t));
        format!("sees {}, {what} {bears}", say.seen(seen))
    };
    let joints = step.passage.sights.iter().map(|sight| Bar {
        name: harmless(names.joint(sight.joint)),
        sees: known(sight.seen),
        bears: sight.melt.survival,
        told: told(sight.seen, sight.melt.survival, "solid to"),
        verdict: sight.verdict,
        counts: !sight.may_melt,
    });
    let limits = step.passage.limits.iter().map(|limit| Bar {
        name: harmless(&names.limit(limit.of)),
        sees: known(limit.seen),
        bears: Some(limit.limit),
        told: told(limit.seen, Some(limit.limit), "bears"),
        verdict: limit.verdict,
        counts: true,
    });
    joints.chain(limits).collect()
}

/// Alloys to tap, by the names that they have at a bench.
fn chips(name: &str, kind: &str, first: &[(&str, &str)], chosen: &str) -> Markup {
    html! {
        div .chips {
            @for (value, label) in first {
                label .chip { input type=(kind) name=(name) value=(value) checked[*value == chosen]; span { (label) } }
            }
            @for (trade, alloy) in EVERYDAY {
                label .chip {
                    input type=(kind) name=(name) value=(alloy) checked[alloy == chosen];
                    span { (trade) @if let Some(row) = AlloyBook::shipped().get(alloy) { " " small { (row.in_use.solidus.degrees().floor()) "°" } } }
                }
            }
        }
    }
}

fn number(name: &str, label: &str, unit: &str, value: &str, help: &str) -> Markup {
    html! {
        label .field {
            span { (label) @if !help.is_empty() { small { (help) } } }
            span .with-unit { input name=(name) value=(value) inputmode="decimal" autocomplete="off"; span .unit { (unit) } }
        }
    }
}

/// The form that writes a job.
pub fn start() -> Markup {
    let unsure = (UNKNOWN, "I don't know");
    html! {
        form #build autocomplete="off" {
            fieldset {
                legend { "What came off?" }
                label .field { span { "The board, in your words" } input name="title" value="my board" autocomplete="off"; }
                label .pick { input type="checkbox" name="vital" checked; span { "The chip holds the data" } }
                (number("count", "Balls or pads below it", "", "", "count them, or rows × columns"))
                (number("ball_um", "Size of the new balls", "µm", "300", ""))
                (number("pad_um", "Diameter of a pad on the board", "µm", "300", ""))
            }
            fieldset {
                legend { "What is still below the chip?" }
                (chips("old_balls", "radio", &[(NOTHING, "clean pads"), unsure], NOTHING))
            }
            fieldset {
                legend { "What is left on the board's pads?" }
                (chips("residue", "radio", &[(NOTHING, "nothing, new pads"), unsure], UNKNOWN))
                (number("film_um", "How thick it is left", "µm", "", "leave open if you don't know"))
            }
            fieldset {
                legend { "What stands around it and must stay?" }
                p .help { "Each thing: what it is soldered with, and how warm it gets. With two thermocouples on a scrap board: its rise over the preheat, in per cent of the rise at the chip. Nothing is taken for granted here: without it the answer is “unknown”." }
                @for at in 1..=MOST_AROUND {
                    section .near data-near=(at) hidden[at > 1] {
                        label .field { span { "Its name" } input name={ "near" (at) "_name" } placeholder=(["jumpers", "shield", "clock", "connector", "memory"][at - 1]) autocomplete="off"; }
                        (chips(&format!("near{at}_alloy"), "radio", &[unsure], ""))
                        (number(&format!("near{at}_count"), "How many joints", "", "1", ""))
                        (number(&format!("near{at}_k"), "Gets of the rise at the chip", "%", "", "leave open if nobody measured it"))
                        @if at < MOST_AROUND { button type="button" data-more=(at + 1) { "Another thing" } }
                    }
                }
            }
            fieldset {
                legend { "What have you got?" }
                (chips("stock", "checkbox", &[], ""))
            }
            fieldset {
                legend { "New balls of" }
                (chips("new_alloy", "radio", &[(UNKNOWN, "whatever fits best")], UNKNOWN))
            }
            fieldset {
                legend { "How do you heat?" }
                div .chips {
                    @for (value, label) in [("air", "hot air"), ("infrared", "infra-red"), ("iron", "iron"), ("plate", "hot plate"), ("oven", "oven")] {
                        label .chip { input type="radio" name="tool" value=(value) checked[value == "air"]; span { (label) } }
                    }
                }
                (number("preheat_c", "Board warmed from below to", "°C", "", "leave open if it is not"))
            }
            fieldset {
                legend { "What does the chip bear?" }
                (number("limit_c", "Hottest for its body", "°C", "", "data sheet; leave open if you don't know"))
                (number("body_k", "The top of its body gets of the rise", "%", "", "more than 100 in hot air; leave open if nobody measured it"))
                (number("heats_left", "Heats that it may still take", "", "", "leave open if nobody said"))
                div .chips role="group" aria-label="Is it dry?" {
                    @for (value, label) in [("true", "baked dry"), ("false", "not dry"), (UNKNOWN, "dry? I don't know")] {
                        label .chip { input type="radio" name="dry" value=(value) checked[value == UNKNOWN]; span { (label) } }
                    }
                }
                (number("service_c", "Hottest place of the board in use", "°C", "", "leave open if nobody said"))
            }
            button .main type="submit" { "Write the job" }
        }
    }
}

/// Small questions that need no job.
pub fn ask() -> Markup {
    html! {
        form .ask data-verb="mix" data-picture="--curve" {
            h2 { "What does a mixture melt at?" }
            label .field { span { "Solders with + between: balls, films, masses, per cents" }
                input data-plain value="ball 0.3 snbi + film 10um 63/37 on 0.3" autocomplete="off" autocapitalize="off" spellcheck="false"; }
            button .main type="submit" { "Mix" }
            div .answer aria-live="polite" {}
        }
        form .ask data-verb="pick" {
            h2 { "Which alloy next?" }
            fieldset { legend { "What stands already and sees the whole heat" } (chips("--over", "checkbox", &[], "")) }
            fieldset { legend { "What you have" } (chips("--stock", "checkbox", &[], "")) }
            button .main type="submit" { "Pick" }
            div .answer aria-live="polite" {}
        }
        form .ask data-verb="alloys" {
            h2 { "What is known of an alloy?" }
            label .field { span { "Its name, as you say it" } input data-plain value="sac305" autocomplete="off" autocapitalize="off" spellcheck="false"; }
            button .main type="submit" { "Look it up" }
            div .answer aria-live="polite" {}
        }
        form .ask data-verb="words" {
            h2 { "What do the words mean?" }
            button .main type="submit" { "Show the words" }
            div .answer aria-live="polite" {}
        }
    }
}
