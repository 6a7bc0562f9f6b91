//! Reads the shipped data once, when the program is built: each YAML file of `alloys/` and `alloys/phases/` is read strictly
//! and put down as JSON, which a starting program reads faster. What the values mean is checked where they are used,
//! and a test compares what comes of both.

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

fn main() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=alloys");
    let out = PathBuf::from(std::env::var_os("OUT_DIR").ok_or("OUT_DIR is not set")?);
    for folder in ["alloys", "alloys/phases"] {
        std::fs::create_dir_all(out.join(folder))?;
        for entry in std::fs::read_dir(folder)? {
            let path = entry?.path();
            if path
                .extension()
                .is_some_and(|extension| extension == "yaml")
            {
                put_down(&path, &out)?;
            }
        }
    }
    let policy = std::fs::read_to_string(out.join("alloys/policy.yaml.json"))?;
    std::fs::write(out.join("policy.rs"), policy_in_rust(&policy)?)?;
    Ok(())
}

/// A constant for each row of `alloys/policy.yaml`, with its words and where it is from.
fn policy_in_rust(rows: &str) -> Result<String, Box<dyn Error>> {
    let rows: Vec<serde_json::Value> = serde_json::from_str(rows)?;
    let mut text = String::new();
    for row in &rows {
        let word = |key: &str| {
            row[key]
                .as_str()
                .ok_or(format!("policy.yaml: {row} lacks `{key}`"))
        };
        let value = row["value"]
            .as_f64()
            .ok_or(format!("policy.yaml: {row} has no value"))?;
        let (name, unit) = (word("name")?.to_uppercase(), word("unit")?);
        let from = row["from"].as_array().map(|keys| {
            keys.iter()
                .filter_map(|key| key.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        });
        let from = from.map_or_else(String::new, |from| format!(" ({from})"));
        let (kind, put) = in_rust(value, unit);
        writeln!(
            text,
            "/// {}: {value} {unit}; {}{from}.\npub const {name}: {kind} = {put};",
            word("decides")?,
            word("mark")?
        )?;
    }
    Ok(text)
}

/// The type of a unit, and a value of it.
fn in_rust(value: f64, unit: &str) -> (&'static str, String) {
    match unit {
        "K" => (
            "KelvinStep",
            format!("KelvinStep::from_millikelvin({:.0})", value * 1e3),
        ),
        "°C" => ("Celsius", format!("Celsius::whole({value})")),
        "%" => ("Share", format!("Share::of_percent({value:?})")),
        "µm" => ("Length", format!("Length::of_um({value:?})")),
        "mg" => ("Mass", format!("Mass::from_picograms({:.0})", value * 1e9)),
        "times" => ("u32", format!("{value}")),
        _ => ("f64", format!("{value:?}")),
    }
}

fn put_down(path: &Path, out: &Path) -> Result<(), Box<dyn Error>> {
    let text = std::fs::read_to_string(path)?;
    let options = serde_saphyr::options! {
        merge_keys: serde_saphyr::MergeKeyPolicy::Error,
        duplicate_keys: serde_saphyr::DuplicateKeyPolicy::Error,
        strict_booleans: true,
        underscored_numbers_as_strings: true,
        non_finite_float_policy: serde_saphyr::NonFiniteFloatPolicy::Reject,
        with_snippet: false,
    };
    let value: serde_json::Value = serde_saphyr::from_str_with_options(&text, options)
        .map_err(|fault| format!("{}: {fault}", path.display()))?;
    let mut to = out.join(path).into_os_string();
    to.push(".json");
    std::fs::write(to, serde_json::to_string(&value)?)?;
    Ok(())
}
