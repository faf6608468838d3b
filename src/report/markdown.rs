//! `review.md`: the review for a repository or an e-mail.

use minijinja::{AutoEscape, Error, ErrorKind, Output, State, Value, context};

use super::template;
use super::view::View;

const TEMPLATE: &str = include_str!("templates/review.md");

/// Errors name a fault of the template; a test renders it with every part present.
pub fn page(view: &View) -> Result<String, Error> {
    let mut environment = template::environment()?;
    environment.set_auto_escape_callback(|_| AutoEscape::Custom("markdown".into()));
    environment.set_formatter(write_value);
    environment.add_template("review.md", TEMPLATE)?;
    let review = template::value(view);
    let page = environment.get_template("review.md")?.render(context! { review })?;
    Ok(page.trim_end().lines().map(|line| format!("{}\n", line.trim_end())).collect())
}

fn write_value(output: &mut Output, _: &mut State, value: &Value) -> Result<(), Error> {
    let text = match value.as_str() {
        Some(text) if !value.is_safe() => escaped(text),
        _ => value.to_string(),
    };
    output.write_str(&text).map_err(|error| Error::new(ErrorKind::WriteFailure, error.to_string()))
}

/// Everything that Markdown or HTML inside it would read as markup; the first
/// sign too, which could begin a list or underline a heading.
fn escaped(text: &str) -> String {
    let mut written = String::with_capacity(text.len());
    let text = text.trim_start();
    if text.starts_with(['-', '+', '=']) {
        written.push('\\');
    }
    for character in text.chars() {
        match character {
            '<' => written.push_str("&lt;"),
            '>' => written.push_str("&gt;"),
            '&' => written.push_str("&amp;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '#' | '|' | '~' | '!' | '{' | '}' => {
                written.push('\\');
                written.push(character);
            }
            character => written.push(character),
        }
    }
    written
}

#[cfg(test)]
mod tests {
    use super::escaped;

    #[test]
    fn markup_in_a_label_is_shown_and_not_obeyed() {
        assert_eq!(escaped("<b>|*a*|"), "&lt;b&gt;\\|\\*a\\*\\|");
        assert_eq!(escaped("![x](y)"), "\\!\\[x\\](y)");
        assert_eq!(escaped("Lot A, 7.5"), "Lot A, 7.5");
        assert_eq!(escaped("- item"), "\\- item");
    }

    #[test]
    fn a_cell_cannot_end_its_column_or_begin_code() {
        assert_eq!(escaped("a|b\\|`c`"), "a\\|b\\\\\\|\\`c\\`");
    }
}
