//! Files in and out. Input is bounded before it is read; output is written whole or not at all.

use std::fs;
use std::io::{Read, Write};
use std::path::Path;
use std::sync::Arc;

use crate::alloy::AlloyBook;
use crate::yaml;

use super::WrongInput;

/// The bytes of an input file of at most [`yaml::MAX_BYTES`].
pub(super) fn read(path: &Path) -> Result<Vec<u8>, WrongInput> {
    let shown = path.display();
    let file = fs::File::open(path).map_err(|why| WrongInput::new(format!("{shown}: {why}")))?;
    let mut bytes = Vec::new();
    let most = yaml::MAX_BYTES as u64 + 1;
    file.take(most)
        .read_to_end(&mut bytes)
        .map_err(|why| WrongInput::new(format!("{shown}: {why}")))?;
    if bytes.len() > yaml::MAX_BYTES {
        let limit = yaml::MAX_BYTES / 1024;
        return Err(WrongInput::new(format!(
            "{shown}: larger than {limit} KiB, no job is that long"
        )));
    }
    Ok(bytes)
}

/// Writes a file whole or not at all: beside it first, then renamed over it.
pub(super) fn write(path: &Path, bytes: &[u8]) -> Result<(), WrongInput> {
    let wrong = |why: std::io::Error| WrongInput::new(format!("{}: {why}", path.display()));
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    // The fault of a temporary file names that file, which nobody has asked for.
    let not_made = |why: std::io::Error| match why.kind() {
        std::io::ErrorKind::NotFound => WrongInput::new(format!(
            "{}: there is no folder `{}`",
            path.display(),
            folder.display()
        )),
        kind => WrongInput::new(format!("{}: {kind}", path.display())),
    };
    let mut beside = tempfile::Builder::new()
        .prefix(".meltstair-")
        .tempfile_in(folder)
        .map_err(not_made)?;
    beside.write_all(bytes).map_err(wrong)?;
    beside.as_file().sync_all().map_err(wrong)?;
    keep_permissions(path, beside.path());
    beside.persist(path).map_err(|fault| wrong(fault.error))?;
    Ok(())
}

/// A new file gets the usual permissions, not the private ones of a temporary file.
fn keep_permissions(old: &Path, new: &Path) {
    if let Ok(facts) = fs::metadata(old) {
        let _ = fs::set_permissions(new, facts.permissions());
        return;
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let _ = fs::set_permissions(new, fs::Permissions::from_mode(0o644));
    }
}

/// The alloy table, with the user's own file where there is one.
pub(super) fn book(own: Option<&Path>) -> Result<Arc<AlloyBook>, WrongInput> {
    let shipped = AlloyBook::shipped();
    let Some(path) = own else {
        return Ok(Arc::new(shipped.clone()));
    };
    let bytes = read(path)?;
    let shown = path.display().to_string();
    let text = yaml::decode(&bytes).map_err(|fault| {
        WrongInput::new(yaml::render_all(std::slice::from_ref(&fault), &shown, ""))
    })?;
    let book = shipped
        .with_user_file(text)
        .map_err(|faults| WrongInput::new(yaml::render_all(&faults, &shown, text)))?;
    Ok(Arc::new(book))
}
