//! `review.html`: one file that works offline, without a script.

use minijinja::{AutoEscape, Error, context};

use super::template;
use super::view::View;
use crate::plots::palette;

const TEMPLATE: &str = include_str!("templates/review.html");
const STYLE: &str = include_str!("templates/review.css");

/// Errors name a fault of the template; a test renders it with every part present.
pub fn page(view: &View) -> Result<String, Error> {
    let mut environment = template::environment()?;
    environment.set_auto_escape_callback(|_| AutoEscape::Html);
    environment.add_template("review.html", TEMPLATE)?;
    let style = format!("{}{}{STYLE}", palette::custom_properties(), palette::style_sheet());
    let review = template::value(view);
    environment.get_template("review.html")?.render(context! { review, style })
}
