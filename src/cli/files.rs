//! Files in and out. Input is bounded before it is read; output is written whole or not at all.

use std::ffi::OsString;
use std::fs;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::alloy::AlloyBook;
use crate::yaml;

use super::disk::Disk;
use super::{WrongInput, reins};

/// The bytes of an input file of at most [`yaml::MAX_BYTES`].
pub(super) fn read(path: &Path) -> Result<Vec<u8>, WrongInput> {
    // A pipe may never say anything: nothing is lost if somebody ends it.
    let _reading = reins::Nothing::yet();
    let shown = path.display();
    let file = fs::File::open(path).map_err(|why| WrongInput::new(format!("{shown}: {why}")))?;
    let mut bytes = Vec::new();
    let most = yaml::MAX_BYTES as u64 + 1;
    file.take(most)
        .read_to_end(&mut bytes)
        .map_err(|why| WrongInput::new(format!("{shown}: {why}")))?;
    if bytes.len() > yaml::MAX_BYTES {
        return Err(too_large(path));
    }
    Ok(bytes)
}

pub(super) fn too_large(path: &Path) -> WrongInput {
    let (shown, limit) = (path.display(), yaml::MAX_BYTES / 1024);
    WrongInput::new(format!(
        "{shown}: larger than {limit} KiB, no job is that long"
    ))
}

/// Whether a file can be written there, as far as that can be known before the work: its folder is there,
/// and what stands in its place is an ordinary file that may be written.
pub(super) fn can_be_written(path: &Path) -> Result<(), WrongInput> {
    let target = followed(path)?;
    let folder = folder_of(&target);
    if folder.is_dir() {
        return Ok(());
    }
    Err(no_folder(path, folder))
}

fn no_folder(path: &Path, folder: &Path) -> WrongInput {
    let (shown, folder) = (path.display(), folder.display());
    WrongInput::new(format!("{shown}: there is no folder `{folder}`"))
}

/// A file that is to be found again by its name: no pipe, no device.
pub(super) fn is_kept(path: &Path) -> Result<(), WrongInput> {
    no_stream(path)?;
    let real = fs::canonicalize(path).map_err(|why| told(path, &why))?;
    ordinary(path, &real)
}

/// Writes a file whole or not at all: beside it first, then renamed over it. What is no ordinary file
/// (a pipe, a device) is left alone.
pub(super) fn write(path: &Path, bytes: &[u8]) -> Result<(), WrongInput> {
    let target = followed(path)?;
    let folder = folder_of(&target);
    // The fault of a temporary file names that file, which nobody has asked for.
    let not_made = |why: io::Error| match why.kind() {
        io::ErrorKind::NotFound => no_folder(path, folder),
        kind => WrongInput::new(format!("{}: {kind}", path.display())),
    };
    sweep(folder);
    let mut beside = part_in(folder).map_err(not_made)?;
    fill(beside.as_file_mut(), bytes, &target).map_err(|why| told(path, &why))?;
    beside
        .persist(&target)
        .map_err(|fault| told(path, &fault.error))?;
    settle(folder);
    Ok(())
}

/// What a file is called while it is being written: between these, so many letters and digits.
const PART: (&str, usize, &str) = (".meltstair-", 12, ".part");

/// A new file beside what it is to replace. It stays locked as long as this run lives.
fn part_in(folder: &Path) -> io::Result<tempfile::NamedTempFile> {
    let (prefix, letters, suffix) = PART;
    let mut beside = tempfile::Builder::new();
    beside.prefix(prefix).rand_bytes(letters).suffix(suffix);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file: what the user's mask leaves of it.
        beside.permissions(fs::Permissions::from_mode(0o666));
    }
    loop {
        let part = beside.tempfile_in(folder)?;
        // A file system without locks: nobody sweeps there either.
        let locked = part.as_file().lock().is_ok();
        // Before it was locked another run may have swept it away.
        if !locked || is_there(part.as_file(), part.path()) {
            return Ok(part);
        }
    }
}

/// Takes away what killed runs left in a folder. Whatever nobody has locked is nobody's.
fn sweep(folder: &Path) {
    let Ok(entries) = fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let is_file = entry.file_type().is_ok_and(|kind| kind.is_file());
        if !is_file || !is_part(&entry.file_name().to_string_lossy()) {
            continue;
        }
        let path = entry.path();
        let Ok(left) = fs::File::open(&path) else {
            continue;
        };
        if left.try_lock().is_ok() && is_there(&left, &path) {
            let _ = fs::remove_file(&path);
        }
    }
}

/// Whether a name is one that only [`part_in`] gives.
fn is_part(name: &str) -> bool {
    let (prefix, letters, suffix) = PART;
    let middle = name
        .strip_prefix(prefix)
        .and_then(|n| n.strip_suffix(suffix));
    middle.is_some_and(|m| m.len() == letters && m.bytes().all(|b| b.is_ascii_alphanumeric()))
}

/// A file that is read, changed and written again, and is nobody else's meanwhile.
///
/// An advisory lock keeps other runs of this program out from the reading to the writing. An editor
/// knows nothing of it: the file is compared with what was read once more just before it is replaced.
#[derive(Debug)]
pub(super) struct Held {
    /// As the user named it.
    shown: PathBuf,
    /// The file itself, links followed.
    real: PathBuf,
    /// Holds the lock.
    _lock: fs::File,
    bytes: Vec<u8>,
}

impl Held {
    /// Takes a file in hand; waits while another run has it.
    pub(super) fn take(path: &Path) -> Result<Held, WrongInput> {
        let shown = path.to_path_buf();
        no_stream(path)?;
        let real = fs::canonicalize(path).map_err(|why| told(path, &why))?;
        ordinary(path, &real)?;
        writable(path, &real)?;
        loop {
            let lock = fs::File::open(&real).map_err(|why| told(path, &why))?;
            match lock.lock() {
                Ok(()) => {}
                // A file system without locks: the comparison is what is left.
                Err(why) if why.kind() == io::ErrorKind::Unsupported => {}
                Err(why) => return Err(told(path, &why)),
            }
            // Whoever had it may have put another file in its place.
            if is_same(&lock, &real) {
                let bytes = read(&real)?;
                return Ok(Held {
                    shown,
                    real,
                    _lock: lock,
                    bytes,
                });
            }
        }
    }

    /// What was read.
    pub(super) fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// As the user named it.
    pub(super) fn path(&self) -> &Path {
        &self.shown
    }

    /// Puts other content in its place, unless somebody else changed it meanwhile.
    pub(super) fn replace(&self, bytes: &[u8]) -> Result<(), WrongInput> {
        if bytes == self.bytes {
            return Ok(());
        }
        let wrong = |why: &io::Error| told(&self.shown, why);
        let folder = folder_of(&self.real);
        sweep(folder);
        let beside = folder.join(beside_name(&self.real));
        // Left by a run that was killed; the lock says that it is nobody's.
        match fs::remove_file(&beside) {
            Err(why) if why.kind() != io::ErrorKind::NotFound => return Err(wrong(&why)),
            _ => {}
        }
        let written = self.write_beside(&beside, bytes);
        if written.is_err() {
            let _ = fs::remove_file(&beside);
        }
        written?;
        settle(folder);
        Ok(())
    }

    fn write_beside(&self, beside: &Path, bytes: &[u8]) -> Result<(), WrongInput> {
        let wrong = |why: &io::Error| told(&self.shown, why);
        let mut options = fs::OpenOptions::new();
        options.write(true).create_new(true);
        let mut file = options.open(beside).map_err(|why| wrong(&why))?;
        fill(&mut file, bytes, &self.real).map_err(|why| wrong(&why))?;
        drop(file);
        let now = fs::read(&self.real).map_err(|why| wrong(&why))?;
        if now != self.bytes {
            return Err(WrongInput::new(format!(
                "{}: changed meanwhile, nothing written: look at it and say it again",
                self.shown.display()
            )));
        }
        fs::rename(beside, &self.real).map_err(|why| wrong(&why))
    }
}

fn told(path: &Path, why: &io::Error) -> WrongInput {
    WrongInput::new(format!("{}: {why}", path.display()))
}

/// Where a path leads, links followed, whether or not there is a file yet.
fn followed(path: &Path) -> Result<PathBuf, WrongInput> {
    no_stream(path)?;
    match fs::canonicalize(path) {
        Ok(real) => {
            ordinary(path, &real)?;
            writable(path, &real)?;
            Ok(real)
        }
        Err(_) => match fs::read_link(path) {
            // A link to a file that is not there yet.
            Ok(to) => Ok(folder_of(path).join(to)),
            Err(_) => Ok(path.to_path_buf()),
        },
    }
}

/// A pipe or a device cannot be put in the place of another, and reading one may never end.
fn ordinary(shown: &Path, real: &Path) -> Result<(), WrongInput> {
    let facts = fs::metadata(real).map_err(|why| told(shown, &why))?;
    if facts.is_file() {
        return Ok(());
    }
    let what = if facts.is_dir() {
        "a folder"
    } else {
        "no ordinary file"
    };
    Err(WrongInput::new(format!("{}: is {what}", shown.display())))
}

/// Behind what a process has open there is no file that somebody named, whatever stands there now.
fn no_stream(path: &Path) -> Result<(), WrongInput> {
    if is_stream(path) {
        let shown = path.display();
        return Err(WrongInput::new(format!("{shown}: is no ordinary file")));
    }
    Ok(())
}

/// Names of what a process has open (`/dev/stdin`, `/dev/fd/3`), links to them too.
fn is_stream(shown: &Path) -> bool {
    let mut path = shown.to_path_buf();
    // Longer chains of links are not followed by the system either.
    for _ in 0..40 {
        let Ok(folder) = fs::canonicalize(folder_of(&path)) else {
            return false;
        };
        if folder == Path::new("/dev")
            || folder.starts_with("/dev/fd")
            || folder.starts_with("/proc")
        {
            return true;
        }
        match fs::read_link(&path) {
            Ok(to) => path = folder.join(to),
            Err(_) => return false,
        }
    }
    false
}

/// Who may not write a file may not replace it either, even where the folder would let him.
fn writable(shown: &Path, real: &Path) -> Result<(), WrongInput> {
    let read_only = fs::metadata(real).is_ok_and(|facts| facts.permissions().readonly());
    let refused = fs::OpenOptions::new().write(true).open(real);
    match refused {
        Ok(_) if read_only => Err(WrongInput::new(format!(
            "{}: is read-only",
            shown.display()
        ))),
        Ok(_) => Ok(()),
        Err(why) if why.kind() == io::ErrorKind::PermissionDenied => Err(WrongInput::new(format!(
            "{}: is read-only",
            shown.display()
        ))),
        Err(why) => Err(told(shown, &why)),
    }
}

fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// One name for each file: a run that was killed leaves one at most, and the next one takes it away.
fn beside_name(real: &Path) -> OsString {
    let mut name = OsString::from(".");
    name.push(real.file_name().unwrap_or_default());
    name.push(".meltstair");
    name
}

/// Fills a new file that is to replace another: its bytes, whose it is and who may do what with it, all
/// of it on the disk.
fn fill(file: &mut fs::File, bytes: &[u8], old: &Path) -> io::Result<()> {
    file.write_all(bytes)?;
    if let Ok(facts) = fs::metadata(old) {
        #[cfg(unix)]
        {
            use std::os::unix::fs::{MetadataExt, fchown};
            // Only the superuser may give files away.
            let _ = fchown(&*file, Some(facts.uid()), Some(facts.gid()));
        }
        file.set_permissions(facts.permissions())?;
    }
    file.sync_all()
}

/// The folder's own entry on the disk too; not every system can.
fn settle(folder: &Path) {
    if let Ok(folder) = fs::File::open(folder) {
        let _ = folder.sync_all();
    }
}

#[cfg(unix)]
fn is_same(open: &fs::File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let id = |facts: fs::Metadata| (facts.dev(), facts.ino());
    let (open, now) = (open.metadata().map(id), fs::metadata(path).map(id));
    // Gone: reading it says so.
    now.is_err() || open.ok() == now.ok()
}

#[cfg(not(unix))]
fn is_same(_: &fs::File, _: &Path) -> bool {
    true
}

/// Whether an open file still has that name.
#[cfg(unix)]
fn is_there(open: &fs::File, path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok() && is_same(open, path)
}

#[cfg(not(unix))]
fn is_there(_: &fs::File, path: &Path) -> bool {
    path.exists()
}

/// The alloy table, with the user's own file where there is one.
pub(super) fn book(disk: Disk, own: Option<&Path>) -> Result<Arc<AlloyBook>, WrongInput> {
    let Some(path) = own else {
        return Ok(AlloyBook::shared());
    };
    let bytes = disk.read(path)?;
    let shown = path.display().to_string();
    let text = yaml::decode(&bytes).map_err(|fault| {
        WrongInput::new(yaml::render_all(std::slice::from_ref(&fault), &shown, ""))
    })?;
    let book = AlloyBook::shipped()
        .with_user_file(text)
        .map_err(|faults| WrongInput::new(yaml::render_all(&faults, &shown, text)))?;
    Ok(Arc::new(book))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_an_editor_saved_meanwhile_is_never_thrown_away() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.yaml");
        fs::write(&file, "one").unwrap();
        let held = Held::take(&file).unwrap();
        // Editors replace the file, or write into it.
        for replaced in [true, false] {
            if replaced {
                let other = folder.path().join("other");
                fs::write(&other, "two").unwrap();
                fs::rename(&other, &file).unwrap();
            } else {
                fs::write(&file, "three").unwrap();
            }
            let saved = fs::read(&file).unwrap();
            let wrong = held.replace(b"mine").unwrap_err();
            assert!(wrong.0.contains("changed meanwhile"), "{wrong}");
            assert_eq!(fs::read(&file).unwrap(), saved);
            assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        }
        drop(held);
        let held = Held::take(&file).unwrap();
        held.replace(b"mine").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"mine");
    }

    #[test]
    fn what_killed_runs_left_goes_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        // One of a run that lives, one of a run that was killed, and names that people may give.
        let lives = part_in(folder.path()).unwrap();
        fs::write(at(".meltstair-0123456789ab.part"), "half").unwrap();
        let kept = [
            ".meltstair-notes.part",
            ".meltstair-0123456789ab",
            "job.yaml",
        ];
        for name in kept {
            fs::write(at(name), "mine").unwrap();
        }
        fs::create_dir(at(".meltstair-0123456789ff.part")).unwrap();
        write(&at("sheet.html"), b"whole").unwrap();
        assert!(!at(".meltstair-0123456789ab.part").exists());
        assert!(lives.path().exists());
        assert!(at(".meltstair-0123456789ff.part").exists());
        for name in kept {
            assert_eq!(fs::read(at(name)).unwrap(), b"mine", "{name}");
        }
        // A log is written there too.
        fs::write(at(".meltstair-ba9876543210.part"), "half").unwrap();
        Held::take(&at("job.yaml"))
            .unwrap()
            .replace(b"line")
            .unwrap();
        assert!(!at(".meltstair-ba9876543210.part").exists());
        assert_eq!(fs::read(at("sheet.html")).unwrap(), b"whole");
    }

    #[test]
    fn what_a_killed_run_left_is_in_nobodys_way() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("job.yaml");
        fs::write(&file, "one").unwrap();
        fs::write(folder.path().join(".job.yaml.meltstair"), "half").unwrap();
        Held::take(&file).unwrap().replace(b"two").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
