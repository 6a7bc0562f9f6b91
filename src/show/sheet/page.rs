//! The page itself. Every word of the job goes through the template's escaping; control characters
//! and marks that turn the direction of writing are shown as text.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::rows::{AsDone, Row};
use super::{Block, ONE_PAGE, Sheet, Use};
use crate::show::say::harmless;

const STYLE: &str = include_str!("page.css");
/// What the small staircase does not say itself.
const LEGEND: &str = "Line: first melt of a joint, hatched up to where it flows. Block: peak of a step. Dot: what a joint or limit really sees.";
/// Nothing is fetched and nothing runs, whatever the page may hold.
const POLICY: &str = "default-src 'none'; style-src 'unsafe-inline'";

impl Sheet {
    /// The page as a file of its own.
    pub fn html(&self) -> String {
        let page = html! {
            (DOCTYPE)
            html lang="en" {
                head {
                    meta charset="utf-8";
                    meta http-equiv="Content-Security-Policy" content=(POLICY);
                    meta name="viewport" content="width=device-width";
                    title { (self.kind()) ": " (self.title) }
                    style { (PreEscaped(STYLE)) }
                }
                body class={ (self.class()) " " (self.density()) } {
                    (self.head())
                    @if !self.why_not.is_empty() { (self.reasons()) }
                    @if self.use_for != Use::Refusal { (self.table()) }
                    @if self.picture_is_whole() { (self.picture()) }
                    (self.foot())
                }
            }
        };
        // A number is not parted from its unit.
        harmless(&page.into_string()).replace(" °C", "\u{a0}°C")
    }

    const fn kind(&self) -> &'static str {
        match self.use_for {
            Use::Plan => "Bench sheet",
            Use::Condition => "NO PLAN YET",
            Use::Refusal => "NO PLAN",
        }
    }

    const fn class(&self) -> &'static str {
        match self.use_for {
            Use::Plan => "plan",
            Use::Condition => "condition",
            Use::Refusal => "refusal",
        }
    }

    /// Long jobs get smaller print below the table, so that twelve steps fit one page; with more, what
    /// is ticked stands on the first page and what is read on the next.
    const fn density(&self) -> &'static str {
        match self.rows.len() {
            0..=9 => "roomy",
            10..=ONE_PAGE => "dense",
            _ => "long",
        }
    }

    /// Whether the picture stands alone, as large as the page is wide, or small beside the foot.
    fn picture_is_whole(&self) -> bool {
        self.use_for == Use::Refusal || self.rows.len() > ONE_PAGE
    }

    fn head(&self) -> Markup {
        html! {
            header {
                div .verdict {
                    div .kind { (self.kind()) }
                    div .word { (self.verdict) }
                }
                div .about {
                    h1 { (self.title) }
                    p .weakest { (self.weakest) }
                    p .pen {
                        span { "board " @if self.board.is_empty() { i .line {} } @else { b { (self.board) } } }
                        span { "date " i .line {} }
                        span { "who " i .line {} }
                    }
                }
            }
            @if !self.arrived.is_empty() {
                p .arrived {
                    b { "Alloys as they arrived: " }
                    (self.arrived.join("; ")) "."
                }
            }
        }
    }

    fn reasons(&self) -> Markup {
        html! {
            section .reasons {
                h2 {
                    @match self.use_for {
                        Use::Refusal => "Do not work by this page. In the way:",
                        _ => "Do not start before this is known:",
                    }
                }
                ul { @for why in &self.why_not { li { (why) } } }
                @if self.use_for == Use::Refusal {
                    p { "Ask " code { "meltstair clash" } " which demands cannot hold together, and which of them opens the job." }
                }
            }
        }
    }

    fn table(&self) -> Markup {
        html! {
            table {
                thead {
                    tr {
                        th .no { "no" }
                        th { "do what, where" }
                        th { "solder" }
                        th { "tool" }
                        th .window { "joint peak" br; "from–to" }
                        th { "never above, set by;" br; "left at the nearest" }
                        th { "then check" }
                        th .pen { "as done: time," br; "reading, who" }
                    }
                }
                tbody { @for row in &self.rows { (tr(row)) } }
            }
        }
    }

    fn picture(&self) -> Markup {
        html! {
            @match &self.staircase {
                // Drawn by this program: its own escaping has been through it.
                Some(svg) => figure {
                    (PreEscaped(svg))
                    // The whole picture has a legend of its own.
                    @if !self.picture_is_whole() { p .mark { (LEGEND) } }
                },
                None => p { "The staircase of this job is too large to draw here." },
            }
        }
    }

    fn foot(&self) -> Markup {
        html! {
            div .foot {
                @if !self.picture_is_whole() { (self.picture()) }
                @for block in &self.foot { (section(block)) }
                section {
                    h2 { "Take care" }
                    ul {
                        @for caution in &self.cautions {
                            li {
                                b { (caution.topic) ": " }
                                (caution.say) " "
                                span .mark { "(" (short(&caution.mark)) ")" }
                            }
                        }
                    }
                }
                p .small { @for line in &self.small { (line) " " } }
            }
        }
    }
}

/// Marks as the small print explains them.
pub(super) fn short(mark: &str) -> &str {
    match mark {
        "common practice, no source" => "practice",
        "our judgement" => "judgement",
        other => other,
    }
}

fn section(block: &Block) -> Markup {
    html! {
        section {
            h2 { (block.heading) }
            @if let [only] = block.lines.as_slice() {
                p { (only) }
            } @else {
                ul { @for line in &block.lines { li { (line) } } }
            }
        }
    }
}

fn tr(row: &Row) -> Markup {
    html! {
        tr .tightest[row.weakest] .cold[row.window.is_none() && row.tool.is_empty()] .finished[row.done.is_some()] {
            td .no { i .box { (tick(row)) } b { (row.number) } }
            td {
                b { (row.what) }
                " " span .id { (row.id) }
                @if row.verdict != "holds" { div { (row.verdict) } }
            }
            @if row.window.is_none() && row.tool.is_empty() {
                // No heat: the check is what this row is about.
                td colspan="5" { @if !row.gate.is_empty() { i .box { (tick(row)) } (row.gate) } }
            } @else {
                (heated(row))
            }
            td .pen { @if let Some(done) = &row.done { (as_done(done)) } }
        }
    }
}

/// What the log makes of the box of a step.
fn tick(row: &Row) -> &'static str {
    match &row.done {
        None => "",
        Some(done) if done.failed.is_some() => "✗",
        Some(_) => "✓",
    }
}

/// "12 K left" stays on one line.
fn left(danger: &str) -> Markup {
    let from = danger.strip_suffix(" left").and_then(|number| {
        let unit = number.rfind(' ')?;
        Some(number[..unit].rfind(' ').map_or(0, |blank| blank + 1))
    });
    let (who, number) = danger.split_at(from.unwrap_or(danger.len()));
    html! { (who) span .whole { (number) } }
}

fn heated(row: &Row) -> Markup {
    html! {
        td { (row.alloy) }
        td {
            @if !row.tool.is_empty() {
                (row.tool) ", set "
                @if row.set.is_empty() { i .line {} } @else { (row.set) }
            }
            @if !row.preheat.is_empty() { div { "board at " span .whole { (row.preheat) } } }
        }
        td .window {
            @if let Some(window) = &row.window { b { (window) } }
            @if !row.aim.is_empty() { div { "aim " (row.aim) } }
        }
        td {
            @if let Some(until) = &row.until { b { (until.value) } ": " (until.who) }
            @if !row.danger.is_empty() {
                @if row.until.is_some() { ", " }
                @if row.weakest { b { "► weakest: " (left(&row.danger)) } } @else { (left(&row.danger)) }
            }
        }
        td { @if !row.gate.is_empty() { i .box {} (row.gate) } }
    }
}

fn as_done(done: &AsDone) -> Markup {
    html! {
        @if let Some(why) = &done.failed {
            b { "FAILED: " (why) }
        } @else {
            b { "done" }
        }
        @for line in &done.read { div { (line) } }
    }
}
