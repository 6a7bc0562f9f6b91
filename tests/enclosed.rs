//! Without a disk: the same verbs on files in memory say and write the same as on the disk.

use std::collections::BTreeMap;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::time::Duration;

use meltstair::cli::{Around, Enclosed, Files, run, run_enclosed};

const AROUND: Around = Around {
    width: 100,
    own_alloys: None,
    score: None,
};

type Told = (u8, String, BTreeMap<String, Vec<u8>>);

fn args(words: &[&str], folder: Option<&Path>) -> Vec<OsString> {
    let words = words.iter().map(|word| match folder {
        Some(folder) if word.contains('.') => folder.join(word).into_os_string(),
        _ => OsString::from(word),
    });
    std::iter::once("meltstair".into()).chain(words).collect()
}

fn in_memory(words: &[&str], files: &BTreeMap<String, Vec<u8>>) -> Told {
    let files = files.iter();
    let files = Files::of(files.map(|(name, bytes)| (PathBuf::from(name), bytes.clone())));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let enclosed = Enclosed {
        files: &files,
        clock: || Duration::ZERO,
        tell: |_| {},
    };
    let code = run_enclosed(args(words, None), &AROUND, enclosed, &mut out, &mut err);
    let after = files.all().into_iter();
    let after = after.map(|(name, bytes)| (name.display().to_string(), bytes));
    (code, String::from_utf8(out).unwrap(), after.collect())
}

fn on_disk(words: &[&str], files: &BTreeMap<String, Vec<u8>>) -> Told {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files {
        std::fs::write(folder.path().join(name), bytes).unwrap();
    }
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = run(
        args(words, Some(folder.path())),
        &AROUND,
        &mut out,
        &mut err,
    );
    let after = std::fs::read_dir(folder.path()).unwrap().map(|entry| {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        (name, std::fs::read(entry.path()).unwrap())
    });
    let shown = format!("{}/", folder.path().display());
    let text = String::from_utf8(out).unwrap().replace(&shown, "");
    (code, text, after.collect())
}

#[test]
fn memory_and_disk_say_and_write_the_same() {
    let job = std::fs::read("charts/organ_console.yaml").unwrap();
    let mut files = BTreeMap::from([("job.yaml".to_owned(), job)]);
    let said: [&[&str]; 11] = [
        &["did", "job.yaml", "shield"],
        &["did", "job.yaml", "strip", "--peak", "243"],
        &["did", "job.yaml", "ball"],
        &[
            "did", "job.yaml", "ball", "--alloy", "snbi", "--peak", "161",
        ],
        &["bench", "job.yaml"],
        &["undo", "job.yaml"],
        &["check", "job.yaml"],
        &["chart", "job.yaml", "-o", "picture.svg"],
        &["sheet", "job.yaml", "-o", "sheet.html"],
        &["new", "job.yaml"],
        &["check", "nowhere.yaml"],
    ];
    for words in said {
        let (memory, disk) = (in_memory(words, &files), on_disk(words, &files));
        assert_eq!(memory, disk, "{words:?}");
        files = memory.2;
    }
    // Something was written, and a refused line was not.
    let log = String::from_utf8(files["job.yaml"].clone()).unwrap();
    assert!(
        log.contains("strip") && log.contains("peak_c: 243"),
        "{log}"
    );
    assert!(!log.contains("peak_c: 161"), "{log}");
    assert!(files.contains_key("picture.svg") && files.contains_key("sheet.html"));
}

/// Nobody looks at the clock but the search itself: it ends all the same, with the best so far.
#[test]
fn a_search_ends_where_no_thread_looks_at_the_clock() {
    use std::sync::atomic::{AtomicU64, Ordering};
    static ASKED: AtomicU64 = AtomicU64::new(0);
    let files = Files::of([(
        PathBuf::from("job.yaml"),
        crate::plan_cut::LONG.as_bytes().to_vec(),
    )]);
    let enclosed = Enclosed {
        files: &files,
        // Ten seconds pass between any two looks.
        clock: || Duration::from_secs(10 * ASKED.fetch_add(1, Ordering::Relaxed)),
        tell: |line| assert!(line.contains("benches looked at"), "{line}"),
    };
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let words = args(&["order", "job.yaml", "--seconds", "1"], None);
    let code = run_enclosed(words, &AROUND, enclosed, &mut out, &mut err);
    let out = String::from_utf8(out).unwrap();
    // Not only the comparison of equal orders: the search for the margin as well.
    assert!(
        !out.contains("Proven:") && !out.contains("argin proven"),
        "{out}"
    );
    assert_ne!(code, 2, "{out}");
}
