//! Files into a folder that holds nothing yet.

use std::fs;
use std::path::Path;

use crate::disk;
use crate::problem::Error;

/// Writes the files into a folder that does not exist yet or is empty, so that nobody's log is written over.
///
/// # Errors
/// When the folder holds anything, or cannot be written.
pub fn fill_new<Name, Text>(
    dir: &Path,
    files: impl IntoIterator<Item = (Name, Text)>,
) -> Result<(), Error>
where
    Name: AsRef<str>,
    Text: AsRef<[u8]>,
{
    if dir.is_symlink() {
        return Err(Error::Call(format!(
            "{} is a link, and nothing is written behind one. Name a folder that does not exist yet.",
            dir.display()
        )));
    }
    if dir.is_dir() && fs::read_dir(dir).map_err(|e| Error::reading(dir, e))?.next().is_some() {
        return Err(Error::Call(format!(
            "{} holds files already, and nothing there is written over. Name a folder that does not exist yet.",
            dir.display()
        )));
    }
    fs::create_dir_all(dir).map_err(|e| Error::writing(dir, e))?;
    for (name, text) in files {
        disk::replace(&dir.join(name.as_ref()), text.as_ref())?;
    }
    Ok(())
}
