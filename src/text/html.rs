//! Documents as one page of HTML that needs nothing beside it, the pictures inside: a report to be read with another
//! folded below it, or sheets that are printed one after the other. The same documents give the same bytes, and no
//! text in them can become markup.

use std::convert::Infallible;

use base64::prelude::{BASE64_STANDARD, Engine};

use super::document::{Block, Document, Holds, List, Picture, Table};
use super::label::one_line;
use super::words::{Span, Words};

/// How the page looks.
const STYLE: &str = include_str!("page.css");

/// What a page is made of.
pub(crate) struct Page<'a> {
    /// What is to be read.
    pub(crate) short: &'a Document,
    /// What is folded below it, a fold a heading of the second level.
    pub(crate) details: &'a Document,
    /// The bytes of a picture's file, as PNG; `None` where there is none: then its words stand alone.
    pub(crate) png: &'a dyn Fn(&str) -> Option<Vec<u8>>,
}

/// Stands on both sides of a picture's file until the page is given out; in no text, which keeps no control
/// characters.
const MARK: char = '\0';

/// The whole page, piece by piece: its pictures are larger than all else, and no two need be in memory at a time.
///
/// # Errors
/// Those of `give`.
pub(crate) fn html<E>(page: &Page, give: impl FnMut(&str) -> Result<(), E>) -> Result<(), E> {
    let (short, mut short_heads) = page.body();
    short_heads.push(("details".to_owned(), "Details".to_owned()));
    let (details, folds) = page.folds();
    let body = format!(
        "{}{}{}<h2 id=\"details\">Details</h2>\n{}{details}",
        short.0,
        contents(&short_heads),
        short.1,
        contents(&folds),
    );
    with_pictures(&framed(page.short, &body), page.png, give)
}

fn with_pictures<E>(
    page: &str,
    png: &dyn Fn(&str) -> Option<Vec<u8>>,
    mut give: impl FnMut(&str) -> Result<(), E>,
) -> Result<(), E> {
    for (at, piece) in page.split(MARK).enumerate() {
        match at % 2 {
            0 => give(piece)?,
            _ => give(&BASE64_STANDARD.encode(png(piece).unwrap_or_default()))?,
        }
    }
    Ok(())
}

/// Documents one below the other, each on a sheet of its own where it is printed; the first one's title is the
/// page's.
pub(crate) fn sheets(documents: &[&Document], png: &dyn Fn(&str) -> Option<Vec<u8>>) -> String {
    let sheet = |document: &&Document| {
        let blocks: String = document.blocks.iter().map(|block| self::block(block, png)).collect();
        format!("<section>\n{blocks}</section>\n")
    };
    let none = Document::default();
    let page = framed(documents.first().unwrap_or(&&none), &documents.iter().map(sheet).collect::<String>());
    let mut text = String::new();
    let Ok(()) = with_pictures(&page, png, |piece| {
        text.push_str(piece);
        Ok::<(), Infallible>(())
    });
    text
}

/// A page's frame. Its policy forbids scripts, and to load anything from anywhere.
fn framed(titled: &Document, body: &str) -> String {
    let title = titled.blocks.iter().find_map(|block| match block {
        Block::Heading(1, words) => Some(words.told()),
        _ => None,
    });
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<title>{}</title>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
         <meta name=\"format-detection\" content=\"telephone=no\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src data:; style-src \
         'unsafe-inline'\">\n<style>\n{STYLE}</style>\n</head>\n<body>\n<main>\n{body}</main>\n</body>\n</html>\n",
        escape(&title.unwrap_or_default()),
    )
}

/// A heading to be found again: its anchor and its words.
type Head = (String, String);

/// A table of contents.
fn contents(heads: &[Head]) -> String {
    let items = heads.iter().map(|(id, words)| format!("<li><a href=\"#{id}\">{words}</a></li>\n"));
    format!("<nav><ul>\n{}</ul></nav>\n", items.collect::<String>())
}

impl Page<'_> {
    /// What is to be read: all above its first heading of the second level, the rest, and those headings.
    fn body(&self) -> ((String, String), Vec<Head>) {
        let (mut above, mut below, mut heads) = (String::new(), String::new(), Vec::new());
        for block in &self.short.blocks {
            let text = match block {
                Block::Heading(2, words) => {
                    let id = format!("s{}", heads.len() + 1);
                    let text = format!("<h2 id=\"{id}\">{}</h2>\n", inline(words));
                    heads.push((id, inline(words)));
                    text
                }
                other => self.block(other),
            };
            if heads.is_empty() { above += &text } else { below += &text }
        }
        ((above, below), heads)
    }

    /// The folded part without its title, and its folds.
    fn folds(&self) -> (String, Vec<Head>) {
        let (mut text, mut heads) = (String::new(), Vec::<Head>::new());
        for block in &self.details.blocks {
            match block {
                Block::Heading(1, _) => {}
                // What leads in has its own heading on the page.
                _ if heads.is_empty() && !matches!(block, Block::Heading(2, _)) => {}
                Block::Heading(2, words) => {
                    let close = if heads.is_empty() { "" } else { "</details>\n" };
                    let id = format!("d{}", heads.len() + 1);
                    text += &format!("{close}<details id=\"{id}\">\n<summary>{}</summary>\n", inline(words));
                    heads.push((id, inline(words)));
                }
                other => text += &self.block(other),
            }
        }
        if !heads.is_empty() {
            text += "</details>\n";
        }
        (text, heads)
    }

    fn block(&self, block: &Block) -> String {
        self::block(block, self.png)
    }
}

fn block(block: &Block, png: &dyn Fn(&str) -> Option<Vec<u8>>) -> String {
    match block {
        Block::Heading(level, words) => format!("<h{level}>{}</h{level}>\n", inline(words)),
        Block::Paragraph(words) | Block::Lead(words) => format!("<p>{}</p>\n", inline(words)),
        Block::Lines(lines) => format!("<p>{}</p>\n", broken(lines)),
        Block::List(list) => self::list(list),
        Block::Table(table) => self::table(table),
        Block::Picture(picture) => self::picture(picture, png),
    }
}

fn picture(picture: &Picture, png: &dyn Fn(&str) -> Option<Vec<u8>>) -> String {
    let [alternative, caption] = [&picture.alternative, &picture.caption].map(|text| escape(&one_line(text)));
    let image = png(&picture.file).map_or_else(String::new, |png| {
        let size = size(&png).map_or_else(String::new, |[w, h]| format!(" width=\"{w}\" height=\"{h}\""));
        let data = format!("{MARK}{}{MARK}", picture.file);
        format!("<img{size} alt=\"{alternative}\" src=\"data:image/png;base64,{data}\">\n")
    });
    let below = if caption.is_empty() { caption } else { format!("<figcaption>{caption}</figcaption>\n") };
    format!("<figure>\n{image}{below}</figure>\n")
}

/// Width and height in pixels. Source: PNG (ISO/IEC 15948), 11.2.1: the header chunk comes first.
fn size(png: &[u8]) -> Option<[u32; 2]> {
    let of = |at: usize| Some(u32::from_be_bytes(png.get(at..at + 4)?.try_into().ok()?));
    (png.get(12..16)? == b"IHDR").then_some([of(16)?, of(20)?])
}

fn broken(lines: &[Words]) -> String {
    lines.iter().map(inline).collect::<Vec<_>>().join("<br>\n")
}

fn list(list: &List) -> String {
    let items = list.items.iter().chain(&list.rest).map(|item| format!("<li>{}</li>\n", inline(item)));
    format!("<ul>\n{}</ul>\n", items.collect::<String>())
}

fn table(table: &Table) -> String {
    let shown = table.shown();
    let class = |at: usize| if table.columns[at].holds == Holds::Number { " class=\"number\"" } else { "" };
    let row = |tag: &str, cells: &dyn Fn(usize) -> String| {
        let cells = shown.iter().map(|&at| format!("<{tag}{}>{}</{tag}>", class(at), cells(at)));
        format!("<tr>{}</tr>\n", cells.collect::<String>())
    };
    let head = row("th", &|at| inline(&table.columns[at].head));
    let rows: String = table.rows.iter().map(|cells| row("td", &|at| inline(&cells[at]))).collect();
    format!("<div class=\"table\"><table>\n<thead>\n{head}</thead>\n<tbody>\n{rows}</tbody>\n</table></div>\n")
}

fn inline(words: &Words) -> String {
    let span = |span: &Span| {
        let text = escape(&span.text());
        match span {
            Span::Plain(_) | Span::Blank(_) => text,
            Span::Strong(_) => format!("<strong>{text}</strong>"),
            Span::Term(_) => format!("<em>{text}</em>"),
            Span::Code(_) => format!("<code>{text}</code>"),
        }
    };
    words.spans.iter().map(span).collect()
}

/// Text that shows just as it is, between tags and in quotes. Control and direction characters are gone.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    // Blanks at the ends stand between spans.
    let [before, after] = [text.starts_with(char::is_whitespace), text.ends_with(char::is_whitespace)];
    let body = one_line(text);
    out.push_str(if before { " " } else { "" });
    for c in body.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            _ => out.push(c),
        }
    }
    out.push_str(if after && !body.is_empty() { " " } else { "" });
    out
}

#[cfg(test)]
mod tests {
    use super::super::document::Column;
    use super::*;

    /// The shortest PNG header that tells a size.
    fn png() -> Vec<u8> {
        let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        bytes.extend([0, 0, 3, 32, 0, 0, 1, 144]);
        bytes
    }

    #[test]
    fn every_block_has_its_markup_and_text_has_none() {
        let mut short = Document::default();
        short.heading(1, "A <b> & \"c\"");
        short.paragraph("station");
        short.heading(2, "Verdict");
        short.list(vec![Words::strong("a|b: ").then("<script>alert(1)</script>").then(Words::code(" x_y.md"))]);
        let mut table = Table::new([Column::text("A"), Column::number("B"), Column::text("C")]);
        table.row(["<x>", "−1.0", ""]);
        short.table(table);
        short.picture(Picture { file: "a.png".into(), alternative: "it's \"it\"".into(), caption: "said".into() });
        short.picture(Picture { file: "none.png".into(), alternative: "none".into(), caption: "no file".into() });
        let mut details = Document::default();
        details.heading(1, "Details");
        details.paragraph("first");
        details.heading(2, "Device");
        details.heading(3, "Remedies");
        details.lines(vec!["one".into(), "two\u{202E}\u{7}".into()]);
        details.heading(2, "Method");
        let page = Page { short: &short, details: &details, png: &|file| (file == "a.png").then(png) };
        let mut text = String::new();
        html(&page, |piece| {
            text.push_str(piece);
            Ok::<(), Infallible>(())
        })
        .unwrap();
        let body = &text[text.find("<body>").unwrap()..];
        insta::assert_snapshot!(body, @r##"
        <body>
        <main>
        <h1>A &lt;b&gt; &amp; &quot;c&quot;</h1>
        <p>station</p>
        <nav><ul>
        <li><a href="#s1">Verdict</a></li>
        <li><a href="#details">Details</a></li>
        </ul></nav>
        <h2 id="s1">Verdict</h2>
        <ul>
        <li><strong>a|b: </strong>&lt;script&gt;alert(1)&lt;/script&gt;<code> x_y.md</code></li>
        </ul>
        <div class="table"><table>
        <thead>
        <tr><th>A</th><th class="number">B</th></tr>
        </thead>
        <tbody>
        <tr><td>&lt;x&gt;</td><td class="number">−1.0</td></tr>
        </tbody>
        </table></div>
        <figure>
        <img width="800" height="400" alt="it&#39;s &quot;it&quot;" src="data:image/png;base64,iVBORw0KGgoAAAANSUhEUgAAAyAAAAGQ">
        <figcaption>said</figcaption>
        </figure>
        <figure>
        <figcaption>no file</figcaption>
        </figure>
        <h2 id="details">Details</h2>
        <nav><ul>
        <li><a href="#d1">Device</a></li>
        <li><a href="#d2">Method</a></li>
        </ul></nav>
        <details id="d1">
        <summary>Device</summary>
        <h3>Remedies</h3>
        <p>one<br>
        two</p>
        </details>
        <details id="d2">
        <summary>Method</summary>
        </details>
        </main>
        </body>
        </html>
        "##);
        assert!(text.contains("<title>A &lt;b&gt; &amp; &quot;c&quot;</title>"));
    }
}
