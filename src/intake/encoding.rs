//! Bytes to text: UTF-8 with or without a byte order mark, UTF-16 with one,
//! Windows-1252 otherwise, and files that mix UTF-8 with Windows-1252.

use std::borrow::Cow;

use encoding_rs::{UTF_16BE, UTF_16LE, WINDOWS_1252};

/// A file's text and how its bytes were read.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Decoded {
    pub text: String,
    pub encoding: &'static str,
    /// First line that holds anything but plain ASCII, where the encoding was assumed.
    pub assumed_from: Option<u64>,
    /// First line in UTF-8 and first line in Windows-1252, where the file has both.
    pub mixed: Option<(u64, u64)>,
    /// Whether some characters could not be read and stand as `\u{fffd}`.
    pub damaged: bool,
}

impl Decoded {
    fn plain(text: String, encoding: &'static str) -> Decoded {
        Decoded { text, encoding, assumed_from: None, mixed: None, damaged: false }
    }
}

/// Why bytes are no text.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum NoText {
    /// What the first bytes say that the file is.
    Other(&'static str),
    /// A zero byte, and the line that holds it.
    Nul { line: u64 },
}

/// First bytes of files that are taken for a log by mistake.
const OTHER_FILES: [(&[u8], &str); 7] = [
    (b"PK\x03\x04", "a workbook or an archive (.xlsx, .ods, .zip)"),
    (b"\xD0\xCF\x11\xE0", "an old workbook (.xls)"),
    (b"%PDF", "a PDF document"),
    (b"\x89PNG", "a picture (PNG)"),
    (b"\xFF\xD8\xFF", "a picture (JPEG)"),
    (b"\x1F\x8B", "a compressed file (.gz)"),
    (b"SQLite format 3\0", "a database (SQLite)"),
];

/// Reads the bytes of a file as text.
pub(super) fn decode(bytes: Vec<u8>) -> Result<Decoded, NoText> {
    if let Some((_, what)) = OTHER_FILES.iter().find(|(magic, _)| bytes.starts_with(magic)) {
        return Err(NoText::Other(what));
    }
    if let Some(text) = bytes.strip_prefix(b"\xFF\xFE") {
        return no_nul(utf_16(text, UTF_16LE, "UTF-16, little-endian"));
    }
    if let Some(text) = bytes.strip_prefix(b"\xFE\xFF") {
        return no_nul(utf_16(text, UTF_16BE, "UTF-16, big-endian"));
    }
    no_nul(eight_bit(bytes))
}

fn utf_16(bytes: &[u8], encoding: &'static encoding_rs::Encoding, name: &'static str) -> Decoded {
    let (text, damaged) = encoding.decode_without_bom_handling(bytes);
    Decoded { damaged, ..Decoded::plain(text.into_owned(), name) }
}

fn eight_bit(bytes: Vec<u8>) -> Decoded {
    match String::from_utf8(bytes) {
        Ok(text) => without_mark(text),
        Err(error) => windows_or_mixed(error.as_bytes()),
    }
}

fn without_mark(mut text: String) -> Decoded {
    if text.starts_with('\u{feff}') {
        text.drain(..'\u{feff}'.len_utf8());
        return Decoded::plain(text, "UTF-8 with byte order mark");
    }
    Decoded::plain(text, "UTF-8")
}

/// Each line by itself: one that is UTF-8 with anything beyond ASCII is no accident,
/// for umlauts of Windows-1252 almost never form UTF-8.
fn windows_or_mixed(bytes: &[u8]) -> Decoded {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let mut text = String::with_capacity(bytes.len() + bytes.len() / 8);
    let (mut utf_8, mut windows) = (None, None);
    let lines = bytes.split_inclusive(|&byte| byte == b'\n');
    for (number, line) in (1..).zip(lines) {
        match std::str::from_utf8(line) {
            Ok(line) => {
                if !line.is_ascii() {
                    utf_8.get_or_insert(number);
                }
                text.push_str(line);
            }
            Err(_) => {
                windows.get_or_insert(number);
                text.push_str(&windows_line(line));
            }
        }
    }
    let mixed = utf_8.zip(windows);
    let encoding = if mixed.is_some() { "UTF-8 and Windows-1252 mixed" } else { "Windows-1252" };
    Decoded { assumed_from: windows, mixed, ..Decoded::plain(text, encoding) }
}

fn windows_line(line: &[u8]) -> Cow<'_, str> {
    WINDOWS_1252.decode_without_bom_handling(line).0
}

fn no_nul(decoded: Decoded) -> Result<Decoded, NoText> {
    match decoded.text.split_once('\0') {
        Some((before, _)) => Err(NoText::Nul { line: line_breaks(before) + 1 }),
        None => Ok(decoded),
    }
}

/// How many line breaks a text holds: LF, CRLF and CR count one each.
pub(super) fn line_breaks(text: &str) -> u64 {
    let bytes = text.as_bytes();
    let feeds = count_of(bytes, b'\n');
    if !bytes.contains(&b'\r') {
        return feeds;
    }
    let pairs = bytes.windows(2).filter(|pair| pair == b"\r\n").count() as u64;
    feeds + count_of(bytes, b'\r') - pairs
}

/// Up to as many bytes as a byte can count are counted in one, so that sixteen and more are counted at once.
fn count_of(bytes: &[u8], wanted: u8) -> u64 {
    let in_chunk = |chunk: &[u8]| chunk.iter().map(|byte| u8::from(*byte == wanted)).sum::<u8>();
    bytes.chunks(usize::from(u8::MAX)).map(|chunk| u64::from(in_chunk(chunk))).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text_of(bytes: &[u8]) -> (String, &'static str) {
        let decoded = decode(bytes.to_vec()).expect("text");
        (decoded.text, decoded.encoding)
    }

    #[test]
    fn a_byte_order_mark_is_no_part_of_the_text() {
        assert_eq!(text_of(b"\xEF\xBB\xBFreed"), ("reed".into(), "UTF-8 with byte order mark"));
        assert_eq!(text_of(b"\xFF\xFEr\0\xE4\0"), ("rä".into(), "UTF-16, little-endian"));
        assert_eq!(text_of(b"\xFE\xFF\0r\0\xE4"), ("rä".into(), "UTF-16, big-endian"));
    }

    #[test]
    fn umlauts_of_windows_are_read_and_the_line_is_named() {
        let decoded = decode(b"Nr;Holz\n1;H\xE4rte\n".to_vec()).expect("text");
        assert_eq!(decoded.text, "Nr;Holz\n1;Härte\n");
        assert_eq!((decoded.encoding, decoded.assumed_from), ("Windows-1252", Some(2)));
        assert_eq!(decoded.mixed, None);
    }

    #[test]
    fn two_encodings_in_one_file_are_read_line_by_line() {
        let decoded = decode(b"a\nH\xC3\xA4rte\nH\xE4rte\n".to_vec()).expect("text");
        assert_eq!(decoded.text, "a\nHärte\nHärte\n");
        assert_eq!(decoded.mixed, Some((2, 3)));
    }

    #[test]
    fn a_workbook_and_a_zero_byte_are_no_text() {
        assert!(matches!(decode(b"PK\x03\x04rest".to_vec()), Err(NoText::Other(_))));
        assert_eq!(decode(b"reed\r\n1\0\r\n".to_vec()), Err(NoText::Nul { line: 2 }));
    }

    #[test]
    fn line_breaks_of_all_three_kinds_count_one_each() {
        assert_eq!(line_breaks("a\nb\r\nc\rd"), 3);
        assert_eq!(line_breaks("a\r\r\n"), 2);
        assert_eq!(line_breaks(""), 0);
        assert_eq!(line_breaks(&"\n".repeat(1000)), 1000);
        assert_eq!(line_breaks(&"\r\n".repeat(1000)), 1000);
    }
}
