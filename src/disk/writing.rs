//! Files and folders that take their place whole or not at all.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::unfinished::{remove, unfinished};
use crate::problem::Error;

/// Names longer than this are shortened where more is put to them, so that no system finds the whole too long.
const LONGEST_NAME: usize = 40;

/// A folder beside its target; it goes away unless it is put in the target's place.
#[derive(Debug)]
pub struct Fresh {
    path: PathBuf,
    target: PathBuf,
}

impl Fresh {
    /// Makes it, and the folders above where there are none.
    ///
    /// # Errors
    /// [`Error::Call`] where the target has no name, [`Error::Write`] where the disk refuses.
    pub fn beside(target: &Path) -> Result<Fresh, Error> {
        let (parent, path) = part(target)?;
        fs::create_dir_all(&parent).map_err(|source| Error::writing(&parent, source))?;
        let mut list = unfinished();
        // left by a process of the same number that was killed
        remove(&path);
        fs::create_dir(&path).map_err(|source| Error::writing(&path, source))?;
        list.push(path.clone());
        Ok(Fresh { path, target: target.to_path_buf() })
    }

    /// Writes a file by its path inside the folder.
    ///
    /// # Errors
    /// [`Error::Write`] where the disk refuses.
    pub fn write(&self, file: &str, contents: impl AsRef<[u8]>) -> Result<(), Error> {
        let _writing = unfinished();
        let path = self.path.join(file);
        // a message names the place where the file was to be, not the one where it is made
        let refused = |source| Error::writing(&self.target.join(file), source);
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(refused)?;
        }
        fs::write(&path, contents).map_err(refused)
    }

    /// Puts the folder in the target's place. What stood there before goes away as a whole, and stays as a whole where this fails.
    ///
    /// # Errors
    /// [`Error::Write`] where the disk refuses.
    pub fn take_place(self) -> Result<(), Error> {
        let _writing = unfinished();
        let refused = |source| Error::writing(&self.target, source);
        if fs::symlink_metadata(&self.target).is_err() {
            return fs::rename(&self.path, &self.target).map_err(refused);
        }
        exchange(&self.path, &self.target).map_err(refused)
        // what stood there before is in the fresh folder's place now, and goes away with it
    }
}

impl Drop for Fresh {
    fn drop(&mut self) {
        let mut list = unfinished();
        remove(&self.path);
        list.retain(|path| *path != self.path);
    }
}

/// Writes a file in the place of an earlier one. A link is replaced, not written through.
///
/// # Errors
/// [`Error::Call`] where the path has no name, [`Error::Write`] where the disk refuses; then the earlier file is as it was.
pub fn replace(path: &Path, bytes: &[u8]) -> Result<(), Error> {
    let (_, part) = part(path)?;
    let mut list = unfinished();
    list.push(part.clone());
    remove(&part);
    let written = fs::write(&part, bytes).and_then(|()| fs::rename(&part, path));
    if written.is_err() {
        remove(&part);
    }
    list.retain(|other| *other != part);
    written.map_err(|source| Error::writing(path, source))
}

/// The folder that holds the target, and the path beside it under which it is made.
fn part(target: &Path) -> Result<(PathBuf, PathBuf), Error> {
    let Some(name) = target.file_name() else {
        return Err(Error::Call(format!(
            "“{}” names no folder that could be made. Give a new folder, such as `--out review`.",
            target.display()
        )));
    };
    let parent = match target.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let name: String = name.to_string_lossy().chars().take(LONGEST_NAME).collect();
    let part = parent.join(format!(".{name}.part-{}", std::process::id()));
    Ok((parent, part))
}

/// Two paths change places: at once where the system can, so that not even a power failure leaves the target empty.
fn exchange(fresh: &Path, target: &Path) -> io::Result<()> {
    match exchange_at_once(fresh, target) {
        Err(error) if error.kind() == io::ErrorKind::Unsupported => in_turn(fresh, target),
        outcome => outcome,
    }
}

#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchange_at_once(fresh: &Path, target: &Path) -> io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    renameat_with(CWD, fresh, CWD, target, RenameFlags::EXCHANGE).map_err(|error| match error {
        // by an older kernel, and by disks that cannot do it
        Errno::NOSYS | Errno::INVAL | Errno::NOTSUP => io::ErrorKind::Unsupported.into(),
        error => error.into(),
    })
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchange_at_once(_fresh: &Path, _target: &Path) -> io::Result<()> {
    Err(io::ErrorKind::Unsupported.into())
}

/// Where the second step fails the target goes back.
fn in_turn(fresh: &Path, target: &Path) -> io::Result<()> {
    let aside = fresh.with_extension(format!("old-{}", std::process::id()));
    fs::rename(target, &aside)?;
    if let Err(error) = fs::rename(fresh, target) {
        fs::rename(&aside, target)?;
        return Err(error);
    }
    fs::rename(&aside, fresh)
}

#[cfg(test)]
mod tests {
    use std::fs;
    use std::path::Path;

    use super::{Fresh, exchange, in_turn, replace};

    fn names(folder: &Path) -> Vec<String> {
        let entries = fs::read_dir(folder).expect("a folder");
        let name = |entry: fs::DirEntry| entry.file_name().to_string_lossy().into_owned();
        let mut names: Vec<String> = entries.map(|entry| name(entry.expect("an entry"))).collect();
        names.sort();
        names
    }

    fn with_earlier(desk: &Path) -> std::path::PathBuf {
        let target = desk.join("report");
        fs::create_dir(&target).expect("a folder");
        fs::write(target.join("page"), "earlier").expect("written");
        target
    }

    #[test]
    fn a_folder_takes_the_place_of_an_earlier_one_and_leaves_nothing_beside() {
        let desk = tempfile::tempdir().expect("a folder");
        let target = with_earlier(desk.path());
        let fresh = Fresh::beside(&target).expect("made");
        fresh.write("plots/a.svg", "new").expect("written");
        assert_eq!(names(&target), ["page"], "not before it is whole");
        fresh.take_place().expect("in place");
        assert_eq!(names(&target), ["plots"]);
        assert_eq!(names(desk.path()), ["report"]);
    }

    #[test]
    fn a_folder_that_is_given_up_leaves_the_earlier_one_and_nothing_beside() {
        let desk = tempfile::tempdir().expect("a folder");
        let target = with_earlier(desk.path());
        let fresh = Fresh::beside(&target).expect("made");
        fresh.write("plots/a.svg", "new").expect("written");
        drop(fresh);
        assert_eq!(names(desk.path()), ["report"]);
        assert_eq!(names(&target), ["page"]);
    }

    #[test]
    fn the_two_ways_to_change_places_come_to_the_same() {
        for change in [exchange, in_turn] {
            let desk = tempfile::tempdir().expect("a folder");
            let target = with_earlier(desk.path());
            let fresh = desk.path().join("fresh");
            fs::create_dir(&fresh).expect("a folder");
            change(&fresh, &target).expect("changed");
            assert_eq!(names(&target), Vec::<String>::new());
            assert_eq!(names(&fresh), ["page"]);
            assert_eq!(names(desk.path()), ["fresh", "report"]);
        }
    }

    #[test]
    fn an_earlier_folder_goes_back_where_the_fresh_one_is_gone() {
        let desk = tempfile::tempdir().expect("a folder");
        let target = with_earlier(desk.path());
        for change in [exchange, in_turn] {
            assert!(change(&desk.path().join("gone"), &target).is_err());
            assert_eq!(names(desk.path()), ["report"]);
            assert_eq!(names(&target), ["page"]);
        }
    }

    #[test]
    fn a_file_whose_disk_refuses_leaves_nothing_beside() {
        let desk = tempfile::tempdir().expect("a folder");
        let target = with_earlier(desk.path());
        assert!(replace(&target, b"a file where a folder is").is_err());
        assert_eq!(names(desk.path()), ["report"]);
        replace(&target.join("page"), b"new").expect("written");
        assert_eq!(fs::read(target.join("page")).expect("read"), b"new");
        assert_eq!(names(&target), ["page"]);
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_replaced_and_what_it_leads_to_stays() {
        let desk = tempfile::tempdir().expect("a folder");
        let (elsewhere, link) = (desk.path().join("elsewhere"), desk.path().join("link"));
        fs::write(&elsewhere, "mine").expect("written");
        std::os::unix::fs::symlink(&elsewhere, &link).expect("linked");
        replace(&link, b"new").expect("written");
        assert_eq!(fs::read(&elsewhere).expect("read"), b"mine");
        assert_eq!(fs::read(&link).expect("read"), b"new");
    }
}
