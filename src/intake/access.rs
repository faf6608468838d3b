//! Which files may be opened: regular ones that lie inside the log's folder. A study file that
//! came with a stranger's log must not make the reader show another file of the disk.

use std::fs::{self, FileType};
use std::io::ErrorKind;
use std::path::{Component, Path, PathBuf};

use super::checks::files as checks;
use crate::problem::{Error, Place};

/// The folder whose files belong to a log: the log itself, or the one that its only file lies in.
pub(super) fn folder_of(log: &Path) -> PathBuf {
    if log.is_dir() {
        return log.to_path_buf();
    }
    match log.parent() {
        Some(parent) if parent != Path::new("") => parent.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// A file of the folder by its name: none where there is none of that name. `place` is where the name stands.
///
/// # Errors
/// Where it lies outside the folder, by its name or by a link, or is no regular file.
pub(super) fn file_of(folder: &Path, name: &str, place: Place) -> Result<Option<PathBuf>, Error> {
    let path = folder.join(name);
    if fs::symlink_metadata(&path).is_err() {
        // what lies outside is refused whether or not it exists, so that nothing is told of it
        return if leads_out(name) { Err(checks::outside(place, name)) } else { Ok(None) };
    }
    let real = path.canonicalize();
    let folder = folder.canonicalize().map_err(|source| Error::reading(folder, source))?;
    match real {
        Ok(real) if real.starts_with(&folder) => {
            regular(&path, place)?;
            Ok(Some(path))
        }
        Err(source) if source.kind() != ErrorKind::NotFound => Err(Error::reading(&path, source)),
        // elsewhere, or a link that leads nowhere
        _ => Err(checks::outside(place, name)),
    }
}

fn leads_out(name: &str) -> bool {
    let inside = |part: Component| matches!(part, Component::Normal(_) | Component::CurDir);
    !Path::new(name).components().all(inside)
}

/// Refuses what would block or never end when it is opened: pipes, devices, sockets; and folders.
pub(super) fn regular(path: &Path, place: Place) -> Result<(), Error> {
    let metadata = fs::metadata(path).map_err(|source| Error::reading(path, source))?;
    if metadata.is_file() {
        Ok(())
    } else {
        Err(checks::no_file(place, kind(metadata.file_type())))
    }
}

#[cfg(unix)]
fn kind(file_type: FileType) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    if file_type.is_dir() {
        "a folder"
    } else if file_type.is_fifo() {
        "a pipe"
    } else if file_type.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

#[cfg(not(unix))]
fn kind(file_type: FileType) -> &'static str {
    if file_type.is_dir() { "a folder" } else { "a device" }
}
