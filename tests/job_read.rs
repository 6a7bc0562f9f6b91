//! Job files, good and broken.

use std::fs;
use std::path::{Path, PathBuf};

use meltstair::alloy::AlloyBook;
use meltstair::job::{self, ReadJob};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/jobs")
        .join(name)
}

fn files_in(name: &str) -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = fs::read_dir(folder(name))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "yaml"))
        .collect();
    files.sort();
    files
}

fn read(path: &Path) -> ReadJob {
    let name = path.file_name().unwrap().to_string_lossy();
    let bytes = fs::read(path).unwrap();
    job::read_bytes(&bytes, &name, AlloyBook::shipped())
        .unwrap_or_else(|faults| panic!("{}\n{faults}", path.display()))
}

#[test]
fn good_jobs_are_read() {
    let files = [files_in("good"), files_in("")].concat();
    assert!(files.len() > 3);
    for path in files {
        read(&path);
    }
}

/// Each file holds one mistake (or says by its name that it holds many); beside it stands the whole
/// message.
#[test]
fn broken_jobs_are_pointed_at() {
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("jobs/broken");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    for path in files_in("broken") {
        let name = path.file_name().unwrap().to_string_lossy();
        let bytes = fs::read(&path).unwrap();
        let faults = job::read_bytes(&bytes, &name, AlloyBook::shipped())
            .map(|_| panic!("{name} was read"))
            .unwrap_err();
        let stem = path.file_stem().unwrap().to_string_lossy().into_owned();
        settings.bind(|| insta::assert_snapshot!(stem, faults.to_string()));
    }
}

#[test]
fn the_example_says_nothing_odd() {
    let read = job::read(&job::example(), "job.yaml", AlloyBook::shipped()).unwrap();
    assert_eq!(read.notices, []);
    assert!(read.job.reels.len() == 1 && read.job.done.is_empty());
    assert!(
        job::example()
            .lines()
            .all(|line| line.chars().count() <= 100)
    );
}
