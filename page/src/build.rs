//! A job file from what was tapped. Nothing is put into it that nobody said: what is left open is not known.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use serde::Deserialize;

/// How many things around the chip can be told.
pub const MOST_AROUND: usize = 5;
/// What stands for "I don't know" in the fields.
pub const UNKNOWN: &str = "unknown";
/// What stands for "nothing".
pub const NOTHING: &str = "nothing";

/// The fields of the form, each with all that was chosen.
#[derive(Debug, Default, Deserialize)]
pub struct Tapped {
    fields: BTreeMap<String, Vec<String>>,
}

impl Tapped {
    /// What was typed or chosen; empty counts as nothing.
    fn said(&self, name: &str) -> Option<&str> {
        let first = self.fields.get(name)?.first()?.trim();
        (!first.is_empty()).then_some(first)
    }

    fn all(&self, name: &str) -> Vec<&str> {
        let all = self.fields.get(name).map_or(&[][..], Vec::as_slice);
        all.iter().map(|value| value.trim()).collect()
    }

    fn or<'a>(&'a self, name: &str, other: &'a str) -> &'a str {
        self.said(name).unwrap_or(other)
    }
}

/// A thing beside the chip.
struct Around {
    id: String,
    count: String,
    alloy: String,
    percent: Option<String>,
}

/// The job, as somebody would write it.
pub fn yaml(tapped: &Tapped) -> String {
    let title = quoted(tapped.or("title", "my board"));
    let around = around(tapped);
    let old = tapped.said("old_balls").filter(|old| *old != NOTHING);
    let count = scalar(tapped.or("count", ""));
    let ball = scalar(tapped.or("ball_um", ""));
    let tool = scalar(tapped.or("tool", ""));
    let mut text = format!("job: {title}\n");
    if let Some(service) = tapped.said("service_c") {
        let _ = writeln!(text, "want: {{service_c: {}}}", scalar(service));
    }
    let stock: Vec<String> = tapped.all("stock").into_iter().map(scalar).collect();
    if !stock.is_empty() {
        let _ = writeln!(text, "stock: [{}]", stock.join(", "));
    }
    let _ = writeln!(text, "parts:\n  - {{{}}}", chip(tapped, old, &count, &ball));
    let _ = writeln!(text, "joints:\n  - {{{}}}", site(tapped, &count));
    for thing in &around {
        let Around {
            id, count, alloy, ..
        } = thing;
        let _ = writeln!(text, "  - {{id: {id}, count: {count}, alloy: {alloy}}}");
    }
    text.push_str("steps:\n");
    if old.is_some() {
        let _ = writeln!(
            text,
            "  - {{id: strip, do: clean, part: chip, tool: {tool}}}"
        );
    }
    let alloy = match tapped.said("new_alloy") {
        None | Some(UNKNOWN) => "any".to_owned(),
        Some(alloy) => scalar(alloy),
    };
    let size = if old.is_some() {
        String::new()
    } else {
        format!(", ball_um: {ball}")
    };
    let after = if old.is_some() { ", after: strip" } else { "" };
    let _ = writeln!(
        text,
        "  - {{id: ball, do: reball, part: chip, alloy: {alloy}{size}, tool: {tool}{after}}}"
    );
    let preheat = tapped
        .said("preheat_c")
        .map_or_else(String::new, |t| format!(", preheat_c: {}", scalar(t)));
    let _ = writeln!(
        text,
        "  - {{id: set, do: place, part: chip, on: site, tool: {tool}{preheat}{}, after: ball}}",
        couplings(tapped, &around)
    );
    text.push_str(
        "  - {id: meter, do: gate, after: set}\n  - {id: power, do: power, after: meter}\n",
    );
    text
}

fn chip(tapped: &Tapped, old: Option<&str>, count: &str, ball: &str) -> String {
    let mut keys = vec!["id: chip".to_owned()];
    if tapped.said("vital").is_some() {
        keys.push("vital: true".to_owned());
    }
    if let Some(limit) = tapped.said("limit_c") {
        keys.push(format!("limit_c: {}", scalar(limit)));
    }
    if let Some(dry) = tapped.said("dry").filter(|dry| *dry != UNKNOWN) {
        keys.push(format!("dry: {}", scalar(dry)));
    }
    if let Some(left) = tapped.said("heats_left") {
        keys.push(format!("heats_left: {}", scalar(left)));
    }
    if let Some(old) = old {
        let alloy = scalar(old);
        keys.push(format!(
            "balls: {{count: {count}, diameter_um: {ball}, alloy: {alloy}}}"
        ));
    }
    keys.join(", ")
}

fn site(tapped: &Tapped, count: &str) -> String {
    let mut keys = vec![
        "id: site".to_owned(),
        "at: chip".to_owned(),
        format!("count: {count}"),
    ];
    if let Some(pad) = tapped.said("pad_um") {
        keys.push(format!("pad_um: {}", scalar(pad)));
    }
    if let Some(residue) = tapped.said("residue").filter(|residue| *residue != NOTHING) {
        // Without the pad the reader could not tell how much a film is.
        let film = tapped
            .said("film_um")
            .filter(|_| tapped.said("pad_um").is_some())
            .map_or_else(String::new, |film| format!(", film_um: {}", scalar(film)));
        keys.push(format!("residue: {{alloy: {}{film}}}", scalar(residue)));
    }
    keys.join(", ")
}

/// What stands around, each under a name of its own.
fn around(tapped: &Tapped) -> Vec<Around> {
    let mut taken = vec!["site".to_owned(), "chip".to_owned()];
    let mut all = Vec::new();
    for at in 1..=MOST_AROUND {
        let Some(alloy) = tapped.said(&format!("near{at}_alloy")) else {
            continue;
        };
        let mut id = id(tapped.or(&format!("near{at}_name"), &format!("near_{at}")));
        while taken.contains(&id) {
            id.push('_');
        }
        taken.push(id.clone());
        all.push(Around {
            id,
            count: scalar(tapped.or(&format!("near{at}_count"), "1")),
            alloy: scalar(alloy),
            percent: tapped.said(&format!("near{at}_k")).map(str::to_owned),
        });
    }
    all
}

/// Shares of the rise; what nobody measured is left out, and is then not known.
fn couplings(tapped: &Tapped, around: &[Around]) -> String {
    let chip = tapped.said("body_k").map(|k| ("chip", k.to_owned()));
    let of = around
        .iter()
        .filter_map(|thing| Some((thing.id.as_str(), thing.percent.clone()?)));
    let shares: Vec<String> = of
        .chain(chip)
        .map(|(id, percent)| format!("{id}: {}", share(&percent)))
        .collect();
    if shares.is_empty() {
        String::new()
    } else {
        format!(", k: {{{}}}", shares.join(", "))
    }
}

/// Per cent as a share; what is no number stays as it is, and the reader says so at its line.
fn share(percent: &str) -> String {
    match percent
        .trim_end_matches('%')
        .trim()
        .replace(',', ".")
        .parse::<f64>()
    {
        Ok(percent) => (percent / 100.0).to_string(),
        Err(_) => scalar(percent),
    }
}

/// A name that can stand in a job file: small letters, digits and underscores.
fn id(text: &str) -> String {
    let letters = text.trim().to_lowercase();
    let id: String = letters
        .chars()
        .map(|c| if c.is_alphanumeric() { c } else { '_' })
        .collect();
    let id = id.trim_matches('_').to_owned();
    if id.starts_with(|c: char| c.is_ascii_digit()) || id.is_empty() {
        format!("n_{id}")
    } else {
        id
    }
}

/// A word or number as it is; anything else in quotes.
fn scalar(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_' | '-');
    if !text.is_empty() && text.chars().all(plain) && !text.starts_with('-') {
        text.to_owned()
    } else {
        quoted(text)
    }
}

/// In double quotes, as JSON and YAML both read it.
fn quoted(text: &str) -> String {
    serde_json::Value::from(text).to_string()
}

#[cfg(test)]
mod tests {
    use meltstair::Planner;

    use super::*;

    fn tapped(fields: &[(&str, &str)]) -> Tapped {
        let mut tapped = Tapped::default();
        for (name, value) in fields {
            let all = tapped.fields.entry((*name).to_owned()).or_default();
            all.push((*value).to_owned());
        }
        tapped
    }

    const SAID: [(&str, &str); 17] = [
        ("title", "rain gauge: \"store\" # chip"),
        ("service_c", "35"),
        ("count", "49"),
        ("ball_um", "300"),
        ("pad_um", "300"),
        ("vital", "on"),
        ("limit_c", "245"),
        ("dry", "true"),
        ("old_balls", NOTHING),
        ("new_alloy", UNKNOWN),
        ("residue", "Sn63Pb37"),
        ("film_um", "2"),
        ("near1_name", "My jumpers!"),
        ("near1_alloy", "Sn63Pb37"),
        ("near1_k", "80 %"),
        ("stock", "Bi58Sn42"),
        ("tool", "air"),
    ];

    #[test]
    fn what_was_tapped_is_a_job_and_has_an_order() {
        let mut fields = SAID.to_vec();
        fields.extend([
            ("stock", "Sn63Pb37"),
            ("preheat_c", "100"),
            ("body_k", "110"),
        ]);
        let text = yaml(&tapped(&fields));
        let planner = Planner::new(&text).unwrap_or_else(|faults| panic!("{text}\n{faults}"));
        assert_eq!(planner.job().title, "rain gauge: \"store\" # chip");
        assert!(text.contains("k: {my_jumpers: 0.8, chip: 1.1}"), "{text}");
        let case = planner.sorted();
        let best = case
            .order(meltstair::plan::Budget::default(), &mut |_| true)
            .expect("few steps");
        assert!(best.checked.is_some(), "{text}");
    }

    /// Nobody said how hot the jumpers get: that is never made up.
    #[test]
    fn what_nobody_said_is_not_known() {
        let fields: Vec<_> = SAID
            .iter()
            .copied()
            .filter(|(name, _)| *name != "near1_k")
            .collect();
        let text = yaml(&tapped(&fields));
        assert!(!text.contains("k: {"), "{text}");
        let planner = Planner::new(&text).unwrap_or_else(|faults| panic!("{text}\n{faults}"));
        let (_, checked) = planner.written().check();
        assert_eq!(checked.verdict, meltstair::bench::Verdict::Unknown);
    }

    /// Whatever is typed, the reader tells the line; it never reads as something else.
    #[test]
    fn what_is_typed_cannot_become_another_key() {
        for evil in ["1, dry: true", "x}", "\n  - id: y", "- a", "{}", "'"] {
            let mut fields = SAID.to_vec();
            fields.retain(|(name, _)| *name != "limit_c");
            fields.push(("limit_c", evil));
            let text = yaml(&tapped(&fields));
            assert!(Planner::new(&text).is_err(), "{text}");
        }
    }

    #[test]
    fn old_balls_are_taken_off_first() {
        let mut fields = SAID.to_vec();
        fields.retain(|(name, _)| *name != "old_balls");
        fields.push(("old_balls", UNKNOWN));
        let text = yaml(&tapped(&fields));
        assert!(text.contains("id: strip"), "{text}");
        Planner::new(&text).unwrap_or_else(|faults| panic!("{text}\n{faults}"));
    }
}
