//! A text that is no YAML: what somebody probably meant by the line where the parser stumbled, and how
//! reading goes on behind it, so that several faults are told in one round.
//!
//! What is mended is only ever read for more faults: a text with a fault never becomes a job.

use super::keys;
use super::slips::is_odd_space;
use crate::yaml::{Fault, Place};

/// Faults of form that are told in one round (our judgement: a few hands' slips, not a picture).
const MOST_ROUNDS: usize = 12;

/// Longest text that is mended (our judgement: what is longer was made by a program).
pub(super) const LONGEST: usize = 1 << 16;

/// One fault of form, and the lines without it.
struct Slip {
    fault: Fault,
    /// The line, from 1, and what stands there instead.
    line: usize,
    mended: Option<String>,
}

/// All faults of form from the first on, and the text without them: `None` if it still cannot be read. The
/// flag says that lines were left out, so that what hangs on them is missing.
pub(super) struct Mended {
    pub(super) faults: Vec<Fault>,
    pub(super) text: Option<String>,
    pub(super) cut: bool,
}

/// Mends a text fault by fault; `parse` is the strict reader.
pub(super) fn mend(text: &str, first: Fault, parse: impl Fn(&str) -> Option<Fault>) -> Mended {
    let mut all = Mended {
        faults: Vec::new(),
        text: None,
        cut: false,
    };
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let mut fault = first;
    for round in 0..MOST_ROUNDS {
        let Some(slip) = slip(&lines, &fault) else {
            if round == 0 {
                all.faults.push(fault);
            }
            return all;
        };
        all.faults.push(placed(slip.fault, text));
        let now = slip.mended.unwrap_or_else(|| {
            all.cut = true;
            String::new()
        });
        let Some(line) = lines.get_mut(slip.line - 1).filter(|line| **line != now) else {
            return all;
        };
        *line = now;
        let joined = lines.join("\n");
        let Some(next) = parse(&joined) else {
            all.text = Some(joined);
            return all;
        };
        fault = next;
    }
    all
}

/// A fault of the mended text where it stands in the text itself: mending moves nothing to another line.
pub(super) fn placed(mut fault: Fault, text: &str) -> Fault {
    fault.place = fault.place.map(|place| Place::in_line(place, text));
    fault
}

/// Whether a fault may only say that something is missing which a line that was left out had named.
pub(super) fn hangs_on_the_cut(fault: &Fault) -> bool {
    ["lacks the key", "is called `", "pads (", "want a job"]
        .iter()
        .any(|words| fault.message.contains(words))
}

/// What is wrong in the line where the parser stumbled, or before it.
fn slip(lines: &[String], fault: &Fault) -> Option<Slip> {
    let at = fault.place?;
    if let Some(open) = open_bracket(lines, at.line) {
        return Some(open);
    }
    let line = lines.get(at.line.checked_sub(1)?)?;
    // Behind the end of a document nothing is to be mended.
    if line.trim().is_empty() || line.starts_with("---") || line.starts_with("...") {
        return None;
    }
    let known = [
        tab, odd_space, no_space, no_colon, no_quote, too_many, no_comma,
    ];
    let found = known
        .iter()
        .find_map(|look| look(lines, at, line))
        .or_else(|| indented(lines, at, line));
    let Some(found) = found else {
        return Some(Slip {
            fault: fault.clone(),
            line: at.line,
            mended: None,
        });
    };
    let place = Place::at(at.line, found.from);
    Some(Slip {
        fault: Fault::at(place, found.message).help(found.help),
        line: at.line,
        mended: Some(found.mended),
    })
}

/// What is wrong in a line: from which column, in other words than the parser's, and the line as it was
/// probably meant.
struct Found {
    from: usize,
    message: String,
    help: String,
    mended: String,
}

/// Where the first key of a line stands: behind spaces and a dash.
fn key_column(line: &str) -> usize {
    line.chars()
        .take_while(|c| c.is_whitespace() || *c == '-')
        .count()
}

fn body(line: &str) -> &str {
    line.trim_start_matches(|c: char| c.is_whitespace() || c == '-')
}

/// The nearest line above that says something.
fn above(lines: &[String], line: usize) -> Option<&String> {
    let before = lines.get(..line.checked_sub(1)?)?;
    let says = |line: &&String| !body(line).is_empty() && !line.trim_start().starts_with('#');
    before.iter().rev().find(says)
}

/// Where the items of the list stand of which one is in that line: as the next one, or the one before.
fn item_column(lines: &[String], line: usize) -> usize {
    let after = lines.iter().skip(line);
    let before = lines.iter().take(line.saturating_sub(1)).rev();
    after
        .chain(before)
        .find_map(|other| {
            let lead = other.len() - other.trim_start_matches(' ').len();
            other
                .trim_start_matches(' ')
                .starts_with("- ")
                .then_some(lead)
        })
        .unwrap_or(2)
}

fn tab(lines: &[String], at: Place, line: &str) -> Option<Found> {
    let column = line.chars().position(|c| c == '\t')?;
    let lead = line.chars().take_while(|c| c.is_whitespace()).count();
    let mended = if column < lead {
        let wide = if line.trim_start().starts_with('-') {
            item_column(lines, at.line)
        } else {
            above(lines, at.line).map_or(0, |line| key_column(line))
        };
        format!("{}{}", " ".repeat(wide), line.trim_start())
    } else {
        line.replace('\t', " ")
    };
    Some(Found {
        from: column + 1,
        message: "a tab stands here: YAML is set in with spaces".to_owned(),
        help: "spaces in its place".to_owned(),
        mended,
    })
}

fn odd_space(_: &[String], _: Place, line: &str) -> Option<Found> {
    let column = line.chars().position(is_odd_space)?;
    Some(Found {
        from: column + 1,
        message: "a space stands here that is none to YAML (non-breaking, or another)".to_owned(),
        help: "write an ordinary space".to_owned(),
        mended: line.replace(is_odd_space, " "),
    })
}

fn no_space(_: &[String], _: Place, line: &str) -> Option<Found> {
    let (word, value) = body(line).split_once(':')?;
    if value.starts_with(' ') || value.is_empty() || !keys::is_known(word) {
        return None;
    }
    Some(Found {
        from: key_column(line) + 1,
        message: format!("no space stands after the colon of `{word}`"),
        help: format!("want a space after the colon: `{word}: {value}`"),
        mended: line.replacen(':', ": ", 1),
    })
}

fn no_colon(_: &[String], _: Place, line: &str) -> Option<Found> {
    let (word, rest) = body(line).split_once([' ', '='])?;
    let value = rest.trim_start_matches([' ', '=']).trim_end();
    if !keys::is_known(word) || value.starts_with(':') {
        return None;
    }
    let lead: String = line.chars().take(key_column(line)).collect();
    Some(Found {
        from: key_column(line) + 1,
        message: format!("no colon stands after `{word}`"),
        help: format!("want a colon and a space: `{word}: {value}`"),
        mended: format!("{lead}{word}: {value}"),
    })
}

/// A quote that is opened behind `: ` and not closed in its line.
fn no_quote(_: &[String], _: Place, line: &str) -> Option<Found> {
    let (start, quote) = ['"', '\'']
        .into_iter()
        .find_map(|quote| Some((line.find(&format!(": {quote}"))? + 2, quote)))?;
    if line.get(start + 1..)?.contains(quote) {
        return None;
    }
    Some(Found {
        from: line.get(..start)?.chars().count() + 1,
        message: "the quote that opens here is not closed in its line".to_owned(),
        help: format!("close it with {quote}, or leave the quotes away"),
        mended: format!("{}{quote}", line.trim_end()),
    })
}

/// A bracket that closes what was not opened.
fn too_many(_: &[String], _: Place, line: &str) -> Option<Found> {
    let mut open = Vec::new();
    let extra = brackets(line).find(|(_, c)| match c {
        '{' | '[' => {
            open.push(*c);
            false
        }
        closing => open.pop() != Some(if *closing == '}' { '{' } else { '[' }),
    });
    let (start, bracket) = extra?;
    let mut mended = line.to_owned();
    mended.replace_range(start..=start, " ");
    Some(Found {
        from: line.get(..start)?.chars().count() + 1,
        message: format!("`{bracket}` closes nothing that is open here"),
        help: format!("take the `{bracket}` away, or open it before"),
        mended,
    })
}

/// Two keys in braces with nothing between: the parser stops at the second colon.
fn no_comma(_: &[String], at: Place, line: &str) -> Option<Found> {
    let column = at.column.checked_sub(1)?;
    let byte = line.char_indices().nth(column).map(|(byte, _)| byte)?;
    let (before, rest) = (line.get(..byte)?, line.get(byte..)?);
    if !rest.starts_with(':') || !before.contains('{') {
        return None;
    }
    let (head, key) = before.rsplit_once(' ')?;
    if !keys::is_known(key) || head.ends_with([',', '{']) {
        return None;
    }
    Some(Found {
        from: head.chars().count() + 2,
        message: format!("no comma stands before `{key}`"),
        help: format!("want a comma between: `{}, {key}: …`", head.trim_start()),
        mended: format!("{head}, {key}{rest}"),
    })
}

/// A key that stands under no other.
fn indented(lines: &[String], at: Place, line: &str) -> Option<Found> {
    let (word, _) = body(line).split_once(':')?;
    let neighbour = above(lines, at.line)?;
    let (here, there) = (key_column(line), key_column(neighbour));
    if here == there || line.trim_start().starts_with('-') || !keys::is_known(word) {
        return None;
    }
    let beside = body(neighbour).split(':').next().unwrap_or_default();
    Some(Found {
        from: here + 1,
        message: format!("`{word}` is set in unlike the keys beside it"),
        help: format!("want {there} spaces before it, so that it stands below `{beside}`"),
        mended: format!("{}{}", " ".repeat(there), line.trim_start()),
    })
}

/// The first bracket that is never closed, if it stands before a line.
fn open_bracket(lines: &[String], before_line: usize) -> Option<Slip> {
    let mut open: Vec<(usize, usize, char)> = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        for (start, c) in brackets(line) {
            if matches!(c, '{' | '[') {
                open.push((at, start, c));
            } else {
                open.pop();
            }
        }
    }
    let &(at, start, bracket) = open.iter().rev().find(|(at, ..)| *at < before_line)?;
    let line = lines.get(at)?;
    let closing = if bracket == '{' { '}' } else { ']' };
    let place = Place::at(at + 1, line.get(..start)?.chars().count() + 1);
    let fault = Fault::at(place, format!("`{bracket}` opens here and is not closed"))
        .help(format!("close it with `{closing}`"));
    Some(Slip {
        fault,
        line: at + 1,
        mended: Some(format!("{}{closing}", line.trim_end())),
    })
}

/// The brackets of a line that stand in no quotes and no comment.
fn brackets(line: &str) -> impl Iterator<Item = (usize, char)> {
    let mut quote: Option<char> = None;
    let mut before = ' ';
    let mut ended = false;
    let found: Vec<(usize, char)> = line
        .char_indices()
        .filter(|(_, c)| {
            let starts_word = matches!(before, ' ' | '[' | '{' | ',');
            before = *c;
            match (quote, c) {
                _ if ended => return false,
                (Some(open), c) if open == *c => quote = None,
                (None, '"' | '\'') if starts_word => quote = Some(*c),
                (None, '#') if starts_word => ended = true,
                (None, '{' | '[' | '}' | ']') => return true,
                _ => {}
            }
            false
        })
        .collect();
    found.into_iter()
}
