//! Which character parts the cells, found from the header and the lines below it.

/// The delimiters that spreadsheets write.
pub(super) const DELIMITERS: [u8; 4] = [b',', b';', b'\t', b'|'];

/// How many records below the header bear witness when the header alone does not decide.
const WITNESSES: usize = 20;

/// The delimiter, and where the table begins behind a `sep=;` line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Dialect {
    pub delimiter: u8,
    /// Byte offset of the first line of the table.
    pub start: usize,
    /// Whether another delimiter would have fitted as well.
    pub doubtful: bool,
}

/// Finds the delimiter of a text whose table begins at an offset, behind the lines above its header.
pub(super) fn find_from(text: &str, start: usize) -> Dialect {
    let found = find(text.get(start..).unwrap_or_default());
    Dialect { start: start + found.start, ..found }
}

/// Finds the delimiter of a text.
pub(super) fn find(text: &str) -> Dialect {
    if let Some((delimiter, start)) = stated(text) {
        return Dialect { delimiter, start, doubtful: false };
    }
    let lines = sample(text);
    let header = lines.first().map(Vec::as_slice).unwrap_or_default();
    let most = (0..4).map(|which| count(header, which)).max().unwrap_or(0);
    if most == 0 {
        return Dialect { delimiter: b',', start: 0, doubtful: false };
    }
    // the commonest in the header; of equals the one that the lines below agree with
    let agreeing = |which: usize| {
        let here = count(header, which);
        lines.iter().filter(|line| count(line, which) == here).count()
    };
    let fitting = DELIMITERS.into_iter().enumerate();
    let mut fitting: Vec<(usize, u8)> = fitting
        .filter(|(which, _)| count(header, *which) == most)
        .map(|(which, delimiter)| (agreeing(which), delimiter))
        .collect();
    fitting.sort_by_key(|(agreeing, _)| std::cmp::Reverse(*agreeing));
    let doubtful = matches!(fitting.as_slice(), [first, second, ..] if first.0 == second.0);
    let delimiter = fitting.first().map_or(b',', |(_, delimiter)| *delimiter);
    Dialect { delimiter, start: 0, doubtful }
}

fn count(line: &[usize], which: usize) -> usize {
    line.get(which).copied().unwrap_or(0)
}

/// A first line `sep=;`, which spreadsheets write to say the delimiter.
fn stated(text: &str) -> Option<(u8, usize)> {
    let rest = text.strip_prefix("sep=").or_else(|| text.strip_prefix("\"sep="))?;
    let delimiter = *rest.as_bytes().first()?;
    let end = text.find(['\n', '\r'])?;
    let (line, rest) = text.split_at_checked(end)?;
    let breaks = if rest.starts_with("\r\n") { 2 } else { 1 };
    let short = line.trim_end_matches('"').len() <= "\"sep=;".len();
    (DELIMITERS.contains(&delimiter) && short).then_some((delimiter, end + breaks))
}

/// How often each delimiter stands outside quotes, for the first records that hold anything.
fn sample(text: &str) -> Vec<Vec<usize>> {
    let mut lines = Vec::new();
    let mut counts = vec![0; DELIMITERS.len()];
    let (mut quoted, mut holds) = (false, false);
    for byte in text.bytes() {
        match byte {
            b'"' => quoted = !quoted,
            b'\n' | b'\r' if !quoted => {
                if holds {
                    lines.push(std::mem::replace(&mut counts, vec![0; DELIMITERS.len()]));
                    if lines.len() > WITNESSES {
                        return lines;
                    }
                }
                counts.fill(0);
                holds = false;
            }
            _ if quoted => holds = true,
            byte => match DELIMITERS.iter().zip(&mut counts).find(|(one, _)| **one == byte) {
                Some((_, count)) => *count += 1,
                None => holds |= !byte.is_ascii_whitespace(),
            },
        }
    }
    if holds {
        lines.push(counts);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn delimiter(text: &str) -> char {
        find(text).delimiter as char
    }

    #[test]
    fn the_header_says_which_delimiter() {
        assert_eq!(delimiter("reed,lot\n1;2,a"), ',');
        assert_eq!(delimiter("Nr;Holz;Rand\n1;a;0,95"), ';');
        assert_eq!(delimiter("reed\tlot\n"), '\t');
        assert_eq!(delimiter("reed|lot\n"), '|');
        assert_eq!(delimiter("reed\n1\n"), ',');
        assert_eq!(delimiter(""), ',');
    }

    #[test]
    fn delimiters_in_quotes_do_not_count() {
        assert_eq!(delimiter("\"reed, its, id\";lot\n"), ';');
    }

    #[test]
    fn lines_below_decide_between_equals() {
        assert_eq!(delimiter("reed;gouge, mm\n1;2\n3;4\n"), ';');
        assert!(find("a;b,c\n").doubtful);
    }

    #[test]
    fn a_stated_delimiter_counts_and_is_no_header() {
        let dialect = find("sep=;\r\nreed;lot\r\n");
        assert_eq!((dialect.delimiter, dialect.start), (b';', 7));
    }
}
