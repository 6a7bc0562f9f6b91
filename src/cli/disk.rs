//! Where files are: on the disk, or in memory for a program that has none (a page in a browser).

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::yaml;

use super::WrongInput;
use super::files::{self, Held};

/// Files in memory, by the names that the arguments use.
#[derive(Clone, Debug, Default)]
pub struct Files(RefCell<BTreeMap<PathBuf, Vec<u8>>>);

impl Files {
    /// Those given.
    pub fn of(files: impl IntoIterator<Item = (PathBuf, Vec<u8>)>) -> Files {
        Files(RefCell::new(files.into_iter().collect()))
    }

    /// Those that are there now.
    pub fn all(self) -> BTreeMap<PathBuf, Vec<u8>> {
        self.0.into_inner()
    }

    fn bytes(&self, path: &Path) -> Result<Vec<u8>, WrongInput> {
        let files = self.0.borrow();
        let bytes = files.get(path).ok_or_else(|| {
            WrongInput::new(format!("{}: no such file in memory", path.display()))
        })?;
        if bytes.len() > yaml::MAX_BYTES {
            return Err(files::too_large(path));
        }
        Ok(bytes.clone())
    }

    fn put(&self, path: &Path, bytes: &[u8]) {
        self.0
            .borrow_mut()
            .insert(path.to_path_buf(), bytes.to_vec());
    }
}

/// All that a run has where there is no disk, no clock and no thread to look at it.
#[derive(Clone, Copy, Debug)]
pub struct Enclosed<'a> {
    /// What stands for the disk.
    pub files: &'a Files,
    /// Time since whenever.
    pub clock: fn() -> Duration,
    /// Hears how far a long answer is.
    pub tell: fn(&str),
}

/// Where the files of one run are.
#[derive(Clone, Copy, Debug)]
pub(super) enum Disk<'a> {
    /// On the disk of this computer.
    Real,
    /// In memory.
    Memory(&'a Files),
}

impl<'a> Disk<'a> {
    /// The bytes of an input file of at most [`yaml::MAX_BYTES`].
    pub(super) fn read(self, path: &Path) -> Result<Vec<u8>, WrongInput> {
        match self {
            Disk::Real => files::read(path),
            Disk::Memory(files) => files.bytes(path),
        }
    }

    /// Writes a file whole or not at all.
    pub(super) fn write(self, path: &Path, bytes: &[u8]) -> Result<(), WrongInput> {
        match self {
            Disk::Real => files::write(path, bytes),
            Disk::Memory(files) => {
                files.put(path, bytes);
                Ok(())
            }
        }
    }

    /// Whether something has that name.
    pub(super) fn has(self, path: &Path) -> bool {
        match self {
            Disk::Real => path.exists(),
            Disk::Memory(files) => files.0.borrow().contains_key(path),
        }
    }

    /// Whether a file can be written there, as far as that can be known before the work.
    pub(super) fn can_be_written(self, path: &Path) -> Result<(), WrongInput> {
        match self {
            Disk::Real => files::can_be_written(path),
            Disk::Memory(_) => Ok(()),
        }
    }

    /// A file that is to be found again by its name.
    pub(super) fn is_kept(self, path: &Path) -> Result<(), WrongInput> {
        match self {
            Disk::Real => files::is_kept(path),
            Disk::Memory(files) => files.bytes(path).map(drop),
        }
    }

    /// Takes a file in hand, to read it, change it and write it again.
    pub(super) fn take(self, path: &Path) -> Result<InHand<'a>, WrongInput> {
        match self {
            Disk::Real => Held::take(path).map(InHand::Real),
            Disk::Memory(files) => Ok(InHand::Memory {
                files,
                path: path.to_path_buf(),
                bytes: files.bytes(path)?,
            }),
        }
    }
}

/// A file that is read, changed and written again, and is nobody else's meanwhile.
#[derive(Debug)]
pub(super) enum InHand<'a> {
    /// On the disk, locked.
    Real(Held),
    /// In memory, where one run follows the other.
    Memory {
        files: &'a Files,
        path: PathBuf,
        bytes: Vec<u8>,
    },
}

impl InHand<'_> {
    /// What was read.
    pub(super) fn bytes(&self) -> &[u8] {
        match self {
            InHand::Real(held) => held.bytes(),
            InHand::Memory { bytes, .. } => bytes,
        }
    }

    /// As the user named it.
    pub(super) fn path(&self) -> &Path {
        match self {
            InHand::Real(held) => held.path(),
            InHand::Memory { path, .. } => path,
        }
    }

    /// Puts other content in its place.
    pub(super) fn replace(&self, bytes: &[u8]) -> Result<(), WrongInput> {
        match self {
            InHand::Real(held) => held.replace(bytes),
            InHand::Memory { files, path, .. } => {
                files.put(path, bytes);
                Ok(())
            }
        }
    }
}
