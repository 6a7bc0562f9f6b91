//! What `alloys` says: the table, a part of it, or one alloy with every reading and its source.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use serde_json::{Map, Value, json};

use super::answer::Frame;
use super::say::{Say, first_line};
use super::table::Rows;
use crate::alloy::{
    Alloy, AlloyBook, Composition, Element, NameFault, Reading, Standing, Understood, element_set,
    elements_of,
};
use crate::job::typed_celsius;
use crate::quantity::Celsius;
use crate::show::chart::Scale;

/// Which alloys are wanted; all that is set must hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// Each of these in it.
    pub with: Vec<Element>,
    /// Solidus in use not below this.
    pub from: Option<Celsius>,
    /// Liquidus in use not above this.
    pub to: Option<Celsius>,
    /// At most 0.1 mass% lead.
    pub lead_free: bool,
    /// On the user's shelf.
    pub in_stock: bool,
}

impl Filter {
    /// Whether an alloy is wanted.
    pub fn admits(&self, book: &AlloyBook, alloy: &Alloy) -> bool {
        self.with
            .iter()
            .all(|&e| alloy.composition.share(e).fraction() > 0.0)
            && self.from.is_none_or(|from| alloy.in_use.solidus >= from)
            && self.to.is_none_or(|to| alloy.in_use.liquidus <= to)
            && !(self.lead_free && alloy.has_lead())
            && (!self.in_stock || in_stock(book, alloy))
    }
}

fn in_stock(book: &AlloyBook, alloy: &Alloy) -> bool {
    book.stock().iter().any(|item| item.alloy == alloy.name)
}

/// What the words behind the verb ask for.
#[derive(Clone, Debug)]
pub enum What {
    /// A part of the table.
    Part(Filter),
    /// One alloy or composition.
    One(Box<Understood>),
}

/// Reads the words behind the verb: nothing, `lead-free`, `stock`, metals (`sn bi`), a range
/// (`120-140`, `<150`, `>200`, in this scale), any of these together, or the name of an alloy.
///
/// # Errors
/// [`NameFault`] if it is none of these.
pub fn what(book: &AlloyBook, typed: &str, scale: Scale) -> Result<What, NameFault> {
    // `snbi` is a name, `sn bi` are two metals.
    if !typed.trim().contains(char::is_whitespace)
        && let Ok(found) = book.find(typed)
    {
        return Ok(What::One(Box::new(found)));
    }
    let mut filter = Filter::default();
    let lower = typed.to_lowercase();
    let plain = lower
        .replace("lead free", "lead-free")
        .replace("pb free", "lead-free");
    let understood = plain
        .split_whitespace()
        .all(|word| take(word, scale, &mut filter));
    if understood {
        return Ok(What::Part(filter));
    }
    book.find(typed).map(|found| What::One(Box::new(found)))
}

/// Takes one word into the filter.
fn take(word: &str, scale: Scale, filter: &mut Filter) -> bool {
    match word {
        "lead-free" | "leadfree" | "pb-free" => filter.lead_free = true,
        "stock" | "in-stock" => filter.in_stock = true,
        "with" | "and" | "in stock" => {}
        _ => return take_range(word, scale, filter) || take_metals(word, filter),
    }
    true
}

fn take_range(word: &str, scale: Scale, filter: &mut Filter) -> bool {
    let degrees = |text: &str| typed_celsius(text, scale == Scale::Fahrenheit).ok();
    let (from, to) = if let Some(to) = word.strip_prefix('<') {
        (None, degrees(to))
    } else if let Some(from) = word.strip_prefix('>') {
        (degrees(from), None)
    } else if let Some((from, to)) = word.split_once("..").or_else(|| word.split_once('-')) {
        match (degrees(from), degrees(to)) {
            (Some(from), Some(to)) if from <= to => (Some(from), Some(to)),
            _ => return false,
        }
    } else {
        return false;
    };
    filter.from = from.or(filter.from);
    filter.to = to.or(filter.to);
    from.is_some() || to.is_some()
}

fn take_metals(word: &str, filter: &mut Filter) -> bool {
    match elements_of(word) {
        Some(metals) => {
            filter.with.extend(metals);
            true
        }
        None => false,
    }
}

/// The alloys wanted, lowest solidus in use first, then liquidus, then name.
pub fn part<'a>(book: &'a AlloyBook, filter: &Filter) -> Vec<&'a Alloy> {
    let mut alloys: Vec<&Alloy> = book
        .alloys()
        .iter()
        .filter(|alloy| filter.admits(book, alloy))
        .collect();
    alloys.sort_by(|a, b| {
        (a.in_use.solidus, a.in_use.liquidus, &a.name).cmp(&(
            b.in_use.solidus,
            b.in_use.liquidus,
            &b.name,
        ))
    });
    alloys
}

/// The frame of a list.
pub fn list_frame(alloys: &[&Alloy], say: Say) -> Frame {
    let line = match (alloys.first(), alloys.len()) {
        (None, _) => "no alloy of the table fits".to_owned(),
        (Some(first), 1) => format!("one alloy: {}", melts(first, say)),
        (Some(first), count) => format!("{count} alloys, from {}", melts(first, say)),
    };
    Frame {
        verb: "alloys",
        line: first_line(&line),
        ..Frame::default()
    }
}

/// The list as text.
pub fn list_text(book: &AlloyBook, alloys: &[&Alloy], say: Say) -> String {
    let rows = Rows {
        head: vec!["alloy", "melts", "sources", "flags", "used for"],
        rows: alloys
            .iter()
            .map(|alloy| {
                vec![
                    alloy.name.clone(),
                    range(alloy.in_use.solidus, alloy.in_use.liquidus, say),
                    origins(book, alloy).to_string(),
                    flags(book, alloy).join(", "),
                    alloy.uses.clone().unwrap_or_default(),
                ]
            })
            .collect(),
    };
    let frame = list_frame(alloys, say);
    format!("{}\n\n{}{}", frame.line, rows.text(say.width), frame.tail())
}

/// The list as JSON, always in °C.
pub fn list_json(book: &AlloyBook, alloys: &[&Alloy]) -> Value {
    let alloys_json: Vec<Value> = alloys.iter().map(|alloy| alloy_json(book, alloy)).collect();
    list_frame(alloys, Say::default()).json(json!({ "alloys": alloys_json }))
}

/// One name as text: the alloy with every reading, or a composition that is not in the table.
pub fn one_text(book: &AlloyBook, found: &Understood, say: Say) -> String {
    let Some(alloy) = found.alloy.as_deref().and_then(|name| book.get(name)) else {
        let frame = stranger_frame(book, found, say);
        return format!("{}\n{}", frame.line, frame.tail());
    };
    let frame = one_frame(alloy, found, say);
    format!(
        "{}\n\n{}\n{}{}{}",
        frame.line,
        facts(book, alloy, say),
        readings_table(alloy, say),
        documents(book, alloy),
        frame.tail()
    )
}

/// One name as JSON, always in °C.
pub fn one_json(book: &AlloyBook, found: &Understood) -> Value {
    let say = Say::default();
    match found.alloy.as_deref().and_then(|name| book.get(name)) {
        Some(alloy) => one_frame(alloy, found, say).json(json!({
            "alloys": [alloy_json(book, alloy)],
            "mass_percent": mass_percent(&found.composition),
        })),
        None => stranger_frame(book, found, say).json(json!({
            "alloys": [],
            "mass_percent": mass_percent(&found.composition),
        })),
    }
}

fn one_frame(alloy: &Alloy, found: &Understood, say: Say) -> Frame {
    let mut warnings = found.notices.clone();
    let typed = found.composition.to_string();
    if typed != alloy.composition.to_string() {
        warnings.push(format!(
            "{typed} counts as {}: within 0.3 mass%",
            alloy.name
        ));
    }
    warnings.extend(alloy.cautions.iter().cloned());
    if alloy.has_cadmium() {
        warnings.push(
            "cadmium: poisonous fume and dust; refused unless accepted in full words".to_owned(),
        );
    }
    if alloy.single_source {
        warnings.push("all readings go back to one origin".to_owned());
    }
    Frame {
        verb: "alloys",
        line: first_line(&melts(alloy, say)),
        warnings,
        ..Frame::default()
    }
}

/// A composition that no alloy of the table is.
fn stranger_frame(book: &AlloyBook, found: &Understood, say: Say) -> Frame {
    let mut warnings = found.notices.clone();
    let set = element_set(&found.composition);
    warnings.push(match book.floor_of(&set) {
        Some(floor) => format!(
            "any blend of {} may melt from {}, {}",
            symbols(&set),
            say.t(floor.temperature),
            if floor.whole_set {
                "their published eutectic"
            } else {
                "the lowest published eutectic of some of them; the true floor may lie lower"
            }
        ),
        None => format!("nothing is published here of {}", symbols(&set)),
    });
    Frame {
        verb: "alloys",
        line: first_line(&format!("{} is not in the table", found.composition)),
        warnings,
        ..Frame::default()
    }
}

fn melts(alloy: &Alloy, say: Say) -> String {
    let (solidus, liquidus) = (alloy.in_use.solidus, alloy.in_use.liquidus);
    if solidus == liquidus {
        format!("{} melts at {}", alloy.name, say.t(solidus))
    } else {
        format!(
            "{} melts from {} to {}",
            alloy.name,
            say.t_bare(solidus),
            say.t(liquidus)
        )
    }
}

fn range(low: Celsius, high: Celsius, say: Say) -> String {
    if low == high {
        say.t(low)
    } else {
        format!("{} to {}", say.t_bare(low), say.t(high))
    }
}

fn symbols(elements: &[Element]) -> String {
    let symbols: Vec<&str> = elements.iter().map(|e| e.symbol()).collect();
    symbols.join(", ")
}

/// Independent origins of the readings that are not refuted.
fn origins(book: &AlloyBook, alloy: &Alloy) -> usize {
    let origins: BTreeSet<&str> = alloy
        .readings
        .iter()
        .filter(|r| r.counts())
        .filter_map(|r| book.source(&r.source))
        .map(|s| s.origin.as_str())
        .collect();
    origins.len()
}

fn flags(book: &AlloyBook, alloy: &Alloy) -> Vec<&'static str> {
    let mut flags = alloy.flags();
    if in_stock(book, alloy) {
        flags.push("in_stock");
    }
    flags
}

fn facts(book: &AlloyBook, alloy: &Alloy, say: Say) -> String {
    let mut text = String::new();
    let parts: Vec<String> = alloy
        .composition
        .parts_by_share()
        .iter()
        .map(|(e, share)| format!("{e} {}", two_decimals(share.percent())))
        .collect();
    let mut fact = |name: &str, value: &str| {
        let _ = writeln!(text, "{name:<10}{value}");
    };
    fact("mass %", &parts.join(", "));
    fact(
        "planned",
        &format!(
            "{}: {}",
            range(alloy.in_use.solidus, alloy.in_use.liquidus, say),
            alloy.in_use.why
        ),
    );
    if let Some(spread) = spread(alloy, say) {
        fact("printed", &spread);
    }
    let computed = alloy.composition.density().map(|d| two_decimals(d.g_cm3()));
    let computed = computed.unwrap_or_default();
    fact(
        "density",
        &match &alloy.density.source {
            Some(source) => format!(
                "{} g/cm³ printed ({source}), {computed} by the rule of mixtures",
                two_decimals(alloy.density.value.g_cm3())
            ),
            None => format!("{computed} g/cm³ by the rule of mixtures"),
        },
    );
    let flags = flags(book, alloy);
    if !flags.is_empty() {
        fact("flags", &flags.join(", "));
    }
    if let Some(uses) = &alloy.uses {
        fact("used for", uses);
    }
    text
}

fn two_decimals(value: f64) -> String {
    ((value * 100.0).round() / 100.0).to_string()
}

/// Where the readings that are not refuted disagree.
fn spread(alloy: &Alloy, say: Say) -> Option<String> {
    let mut said = Vec::new();
    for (what, [low, high]) in [
        ("solidus", bounds(alloy, |r| r.solidus)?),
        ("liquidus", bounds(alloy, |r| r.liquidus)?),
    ] {
        if low != high {
            said.push(format!("{what} {}", range(low, high, say)));
        }
    }
    (!said.is_empty()).then(|| format!("they disagree: {}", said.join(", ")))
}

fn bounds(alloy: &Alloy, of: impl Fn(&Reading) -> Option<Celsius>) -> Option<[Celsius; 2]> {
    let believed = || {
        alloy
            .readings
            .iter()
            .filter(|r| r.standing != Standing::Refuted)
            .filter_map(&of)
    };
    Some([believed().min()?, believed().max()?])
}

fn readings_table(alloy: &Alloy, say: Say) -> String {
    let cell = |t: Option<Celsius>| t.map_or_else(|| "-".to_owned(), |t| say.t_bare(t));
    Rows {
        head: vec!["solidus", "liquidus", "source", "known", "remark"],
        rows: alloy
            .readings
            .iter()
            .map(|reading| {
                vec![
                    cell(reading.solidus),
                    cell(reading.liquidus),
                    reading.source.clone(),
                    if reading.seen { "read" } else { "memory" }.to_owned(),
                    remark(reading),
                ]
            })
            .collect(),
    }
    .text(say.width)
}

fn remark(reading: &Reading) -> String {
    let standing = match reading.standing {
        Standing::Used => None,
        Standing::Shown => Some("not used"),
        Standing::Family => Some("of a family"),
        Standing::Refuted => Some("REFUTED"),
    };
    let parts: Vec<&str> = standing
        .into_iter()
        .chain(reading.note.as_deref())
        .collect();
    parts.join(": ")
}

fn documents(book: &AlloyBook, alloy: &Alloy) -> String {
    let mut text = "\nDocuments\n".to_owned();
    for reading in &alloy.readings {
        if let Some(source) = book.source(&reading.source) {
            let _ = writeln!(
                text,
                "  {}: {}, {}, {}; {}",
                source.id, source.publisher, source.title, source.year, source.address
            );
        }
    }
    text
}

fn mass_percent(composition: &Composition) -> Value {
    let parts: Map<String, Value> = composition
        .parts_by_share()
        .into_iter()
        .map(|(element, share)| {
            let percent = (share.percent() * 1e4).round() / 1e4;
            (element.symbol().to_owned(), json!(percent))
        })
        .collect();
    Value::Object(parts)
}

fn alloy_json(book: &AlloyBook, alloy: &Alloy) -> Value {
    let span = |of: fn(&Reading) -> Option<Celsius>, in_use: Celsius| {
        let [low, high] = bounds(alloy, of).map_or([None, None], |b| b.map(Some));
        json!({ "low": low, "high": high, "use": in_use })
    };
    json!({
        "id": alloy.name,
        "mass_percent": mass_percent(&alloy.composition),
        "solidus_c": span(|r| r.solidus, alloy.in_use.solidus),
        "liquidus_c": span(|r| r.liquidus, alloy.in_use.liquidus),
        "use_why": alloy.in_use.why,
        "readings": alloy.readings.iter().map(|r| reading_json(book, r)).collect::<Vec<_>>(),
        "density_g_cm3": alloy.density.value,
        "density_source": alloy.density.source,
        "flags": flags(book, alloy),
        "uses": alloy.uses,
        "cautions": alloy.cautions,
    })
}

fn reading_json(book: &AlloyBook, reading: &Reading) -> Value {
    let source = book.source(&reading.source);
    json!({
        "solidus_c": reading.solidus,
        "liquidus_c": reading.liquidus,
        "source": reading.source,
        "publisher": source.map(|s| &s.publisher),
        "address": source.map(|s| &s.address),
        "origin": source.map(|s| &s.origin),
        "seen": reading.seen,
        "standing": match reading.standing {
            Standing::Used => "used",
            Standing::Shown => "shown",
            Standing::Family => "family",
            Standing::Refuted => "refuted",
        },
        "note": reading.note,
    })
}
