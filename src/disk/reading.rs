//! The bytes of a file, as long as it is one and of a size that memory can hold.

use std::fs::{self, File};
use std::io::Read;
use std::path::Path;

use crate::problem::Error;

/// The bytes of an ordinary file of at most `most` bytes.
///
/// # Errors
/// [`Error::Read`] where the disk refuses, [`Error::Large`] where the file is larger or grows beyond that while it is read, [`Error::Call`] for what would
/// block or never end: a pipe, a device.
pub fn read(path: &Path, most: u64) -> Result<Vec<u8>, Error> {
    let refused = |source| Error::reading(path, source);
    let metadata = fs::metadata(path).map_err(refused)?;
    if !metadata.is_file() && !metadata.is_dir() {
        return Err(Error::Call(format!(
            "“{}” is no ordinary file. Name a file, or copy what it holds into one.",
            path.display()
        )));
    }
    let too_large = || Error::Large { path: path.to_path_buf(), most };
    if metadata.is_file() && metadata.len() > most {
        return Err(too_large());
    }
    let mut bytes = Vec::with_capacity(usize::try_from(metadata.len()).unwrap_or_default());
    let file = File::open(path).map_err(refused)?;
    file.take(most.saturating_add(1)).read_to_end(&mut bytes).map_err(refused)?;
    if bytes.len() as u64 > most { Err(too_large()) } else { Ok(bytes) }
}

#[cfg(test)]
mod tests {
    use super::read;
    use crate::problem::Error;

    #[test]
    fn a_file_is_read_up_to_the_size_that_is_allowed_and_not_beyond() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("file");
        std::fs::write(&path, "four").expect("written");
        assert_eq!(read(&path, 4).expect("read"), b"four");
        assert!(matches!(read(&path, 3), Err(Error::Large { most: 3, .. })));
    }

    #[test]
    fn a_folder_and_a_file_that_is_not_there_are_told_apart() {
        let folder = tempfile::tempdir().expect("a folder");
        let told = |name: &str| read(&folder.path().join(name), 9).expect_err("none").to_string();
        assert!(told("none").contains("nothing of that name"));
        assert!(told(".").contains("a folder"));
    }
}
