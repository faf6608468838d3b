//! The sentences of a review page, section by section.

/// One question of the page, and everything it says in sentences.
pub struct Told {
    pub question: String,
    pub sentences: Vec<String>,
    /// Those of them that tell what a picture shows and how to read it.
    pub of_pictures: Vec<String>,
}

/// The sections of `review.html`. Left out are tables, whose cells other tests compare, and the account of the method, whose numbers
/// are settings and years: of it only the sentence that counts the pieces stays.
pub fn sections(page: &str) -> Vec<Told> {
    let starts = page.split("<section aria-labelledby=\"").skip(1);
    let sections = starts.map(|start| {
        let (question, rest) = start.split_once('"').expect("an attribute ends");
        let body = rest.split_once("</section>").expect("a section ends").0;
        let captions = elements(&without(body, "<svg", "</svg>"), "figcaption");
        let of_pictures = elements(body, "desc").into_iter().chain(captions).collect();
        Told { question: question.to_owned(), sentences: sentences(body), of_pictures }
    });
    sections.collect()
}

/// All paragraphs and items of a page, whatever section they stand in.
pub fn paragraphs(page: &str) -> Vec<String> {
    let body = without(&without(page, "<svg", "</svg>"), "<strong>", "</strong>");
    ["p", "li"].iter().flat_map(|tag| elements(&body, tag)).collect()
}

/// The answers of all questions.
pub fn answers(page: &str) -> Vec<String> {
    let starts = page.split("<p class=\"answer\">").skip(1);
    let inner = starts.filter_map(|start| start.split_once("</p>"));
    inner.map(|(answer, _)| unescaped(answer)).collect()
}

fn sentences(body: &str) -> Vec<String> {
    let body = without(&without(body, "<table>", "</table>"), "<strong>", "</strong>");
    let (open, method) = body.split_once("<details>").unwrap_or((&body, ""));
    let rests_on = elements(method, "p").into_iter().take(1);
    let pictures = elements(open, "desc");
    let open = without(open, "<svg", "</svg>");
    let paragraphs = ["p", "li", "dd", "figcaption"].map(|tag| elements(&open, tag));
    paragraphs.into_iter().flatten().chain(pictures).chain(rests_on).collect()
}

/// The text without what stands from each opening to its end.
fn without(text: &str, opening: &str, end: &str) -> String {
    let mut kept = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once(opening) {
        kept.push_str(before);
        rest = after.split_once(end).expect("an element ends").1;
    }
    kept + rest
}

/// What stands in each element of this name, without the tags in it.
fn elements(text: &str, tag: &str) -> Vec<String> {
    let (opening, end) = (format!("<{tag}"), format!("</{tag}>"));
    let starts = text.split(&opening).skip(1);
    // `<p` begins `<path` too
    let starts = starts.filter(|start| start.starts_with(['>', ' ']));
    let inner = starts.filter_map(|start| start.split_once('>')?.1.split_once(&end).map(|it| it.0));
    inner.map(|inner| unescaped(&without(inner, "<", ">"))).collect()
}

fn unescaped(text: &str) -> String {
    let entities =
        [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&#x27;", "'"), ("&#x2f;", "/")];
    let text = entities.iter().fold(text.to_owned(), |text, (name, sign)| text.replace(name, sign));
    text.replace("&#39;", "'").replace("&amp;", "&").trim().to_owned()
}

/// Markdown as it is read: without the signs that keep markup from being obeyed.
pub fn read_markdown(page: &str) -> String {
    let mut text = String::with_capacity(page.len());
    let mut characters = page.chars();
    while let Some(character) = characters.next() {
        match character {
            '\\' => text.extend(characters.next()),
            other => text.push(other),
        }
    }
    unescaped(&text)
}

/// A terminal page with its lines joined, so that a sentence stands in one piece.
pub fn unwrapped(page: &str) -> String {
    let words = page.split([' ', '\n']).filter(|word| !word.is_empty());
    words.collect::<Vec<_>>().join(" ")
}
