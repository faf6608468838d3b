//! What a word was perhaps meant to be, said alike wherever a name is not known.

use super::lists::name;
use crate::catalogue::spelling::nearest;

/// ` Did you mean “forming_days”?`, to stand behind a sentence; empty where no known word resembles it.
pub fn did_you_mean<T: AsRef<str>>(asked: &str, known: &[T]) -> String {
    let meant = nearest(asked, known.iter().map(AsRef::as_ref));
    meant.map_or(String::new(), |meant| format!(" Did you mean “{}”?", name(meant)))
}

#[cfg(test)]
mod tests {
    use super::did_you_mean;

    #[test]
    fn the_nearest_is_asked_about_and_nothing_where_all_are_far() {
        let known = ["hardness", "forming_days"];
        assert_eq!(did_you_mean("hardnes", &known), " Did you mean “hardness”?");
        assert_eq!(did_you_mean("colour", &known), "");
    }
}
