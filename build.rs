//! Reads the shipped data once, when the program is built: each YAML file of `alloys/` and `alloys/phases/` is read strictly
//! and put down as JSON, which a starting program reads faster. What the values mean is checked where they are used,
//! and a test compares what comes of both.

use std::error::Error;
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
    Ok(())
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
