//! The page itself. Every word of the job goes through the template's escaping; control characters
//! and marks that turn the direction of writing are shown as text.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::rows::{AsDone, Row};
use super::{Block, Sheet, Use};
use crate::show::say::harmless;
use crate::show::words;

const STYLE: &str = include_str!("page.css");
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
                body class=(self.class()) {
                    (self.head())
                    @if !self.why_not.is_empty() { (self.reasons()) }
                    @if self.use_for != Use::Refusal { (self.table()) }
                    (self.picture())
                    (self.foot())
                    (glossary())
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

    fn head(&self) -> Markup {
        html! {
            header {
                div .verdict {
                    div .kind { (self.kind()) }
                    div .word { (self.verdict) }
                }
                div .about {
                    h1 { (self.title) }
                    p .weakest { (isolated(&self.weakest)) }
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
                    (isolated(&self.arrived.join("; "))) "."
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
                ul { @for why in &self.why_not { li { (isolated(why)) } } }
                @if !self.find_out.is_empty() {
                    h2 { "The test that decides:" }
                    @for line in &self.find_out { p { (isolated(line)) } }
                }
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
                        th { "do what, where, with" }
                        th { "tool" }
                        th .window { "joint peak" br; "from–to" }
                        th { "never above, set by;" br; "left at the nearest" }
                        th { "then check, then type" }
                        th .pen { "as done:" br; "time, who" }
                    }
                }
                tbody { @for row in &self.rows { (self.tr(row)) } }
            }
        }
    }

    fn picture(&self) -> Markup {
        html! {
            @match &self.staircase {
                // Drawn by this program: its own escaping has been through it.
                Some(svg) => figure { (PreEscaped(svg)) },
                None => p { "The staircase of this job is too large to draw here." },
            }
        }
    }

    fn foot(&self) -> Markup {
        html! {
            div .foot {
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
                p { (isolated(only)) }
            } @else {
                ul { @for line in &block.lines { li { (isolated(line)) } } }
            }
        }
    }
}

impl Sheet {
    fn tr(&self, row: &Row) -> Markup {
        let cold = row.window.is_none() && row.tool.is_empty();
        html! {
            tr .tightest[row.weakest] .cold[cold] .finished[row.done.is_some()] {
                td .no { i .box { (tick(row)) } b { (row.number) } }
                td {
                    b { (isolated(&row.what)) }
                    " " span .id { (isolated(&row.id)) }
                    @if !cold && !row.alloy.is_empty() { div { (isolated(&row.alloy)) } }
                    @if row.verdict != "holds" { div { (row.verdict) } }
                    @if !cold { (cautions(row)) }
                }
                @if cold {
                    // No heat: the check is what this row is about.
                    td colspan="4" {
                        @if !row.gate.is_empty() { i .box { (tick(row)) } (row.gate) " " }
                        (to_type(row))
                        (cautions(row))
                    }
                } @else {
                    (heated(row, self.use_for))
                }
                td .pen { @if let Some(done) = &row.done { (as_done(done)) } }
            }
        }
    }
}

/// Cautions that belong to this step.
fn cautions(row: &Row) -> Markup {
    html! {
        @for caution in &row.cautions {
            div { b { "! " (caution.topic) ": " } (caution.say) }
        }
    }
}

/// What to type once it is done.
fn to_type(row: &Row) -> Markup {
    // The two dashes of an option stay with its name.
    let told = |line: &str| -> Markup {
        html! {
            @for (at, word) in line.split(' ').enumerate() {
                @if at > 0 { " " }
                @if word.starts_with("--") { span .whole { (word) } } @else { (isolated(word)) }
            }
        }
    };
    html! { @if let Some(line) = &row.to_type { div .type { (told(line)) } } }
}

/// Words of a job among words and numbers of ours: those that are written from right to left stand apart, so that
/// they do not carry a number away with them.
fn isolated(text: &str) -> Markup {
    html! {
        @for (at, word) in text.split(' ').enumerate() {
            @if at > 0 { " " }
            @if word.chars().any(runs_left) {
                @let bare = word.trim_end_matches([',', ':', ';', ')', '.']);
                bdi { (bare) } (word[bare.len()..])
            } @else {
                (word)
            }
        }
    }
}

/// Letters of scripts that run from right to left (Hebrew, Arabic and their like).
const fn runs_left(c: char) -> bool {
    matches!(c, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{feff}' | '\u{10800}'..='\u{10fff}' | '\u{1e800}'..='\u{1efff}')
}

/// Every word of the program, for the back of the sheet.
fn glossary() -> Markup {
    html! {
        section .words {
            h2 { "What the words mean" }
            @for (word, means) in words::glossary() {
                p { b { (word) } ": " (means) }
            }
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
    html! { (isolated(who)) span .whole { (number) } }
}

fn heated(row: &Row, use_for: Use) -> Markup {
    html! {
        td {
            @if !row.tool.is_empty() {
                (row.tool) ", set "
                @if row.set.is_empty() { i .line {} } @else { (row.set) }
            }
            @if !row.preheat.is_empty() { div { "board at " span .whole { (row.preheat) } } }
        }
        @if use_for == Use::Condition {
            // No number to work by before the test has said what is there.
            td .window { "after the test" }
            td {}
        } @else {
            td .window {
                @if let Some(window) = &row.window { b { (window) } }
                @if !row.aim.is_empty() { div { "aim " (row.aim) } }
            }
            td { (limit(row)) }
        }
        td { @if !row.gate.is_empty() { i .box {} (row.gate) } (to_type(row)) }
    }
}

/// Where a step must stop, who says so, and where to read it.
fn limit(row: &Row) -> Markup {
    html! {
        @if let Some(until) = &row.until { b { (until.value) } ": " (isolated(&until.who)) }
        @if !row.danger.is_empty() {
            @if row.until.is_some() { ", " }
            @if row.weakest { b { "► weakest: " (left(&row.danger)) } } @else { (left(&row.danger)) }
        }
        @if row.done.is_none() && let Some(at) = &row.read_at {
            div { i .box {} "read at " (isolated(at)) ": " span .whole { i .short {} (row.unit) } }
        }
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
