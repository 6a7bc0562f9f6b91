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
