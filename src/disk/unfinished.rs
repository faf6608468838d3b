//! What this process has begun to write and not finished.
//!
//! It stands under a name of its own beside its target until it is whole. A program that is about to end takes it away with [`give_up`].

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Whoever writes holds the list meanwhile, so that nothing is begun or put in its place behind the back of [`give_up`].
static UNFINISHED: Mutex<Vec<PathBuf>> = Mutex::new(Vec::new());

pub(super) fn unfinished() -> MutexGuard<'static, Vec<PathBuf>> {
    // a list of paths is never half changed
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Takes away everything that is unfinished, and lets this process write nothing more: what comes next must be its end.
pub fn give_up() {
    let list = unfinished();
    list.iter().for_each(|path| remove(path));
    std::mem::forget(list);
}

/// Takes away a file or a folder; what is not there is well.
pub(super) fn remove(path: &Path) {
    let is_folder = fs::symlink_metadata(path).is_ok_and(|metadata| metadata.is_dir());
    let _ = if is_folder { fs::remove_dir_all(path) } else { fs::remove_file(path) };
}
