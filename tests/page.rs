//! `report.html` in a real browser: headless Chromium, where there is one; else these tests say so and check what needs
//! none.

#![allow(clippy::print_stderr)] // A test that is skipped says so.

use std::path::{Path, PathBuf};
use std::process::Command;

use noisetally::labels::case::Case;
use noisetally::report::changes::result::Changes;
use noisetally::report::contract::Report;
use noisetally::report::handout::Handout;
use noisetally::report::stored::Stored;
use noisetally::report::{self, page};

/// As people could write them, meant or not, to break a page.
const HOSTILE: [&str; 6] = [
    "<script>document.title='broken'</script>",
    "\"><img src=x onerror=\"document.title='broken'\">",
    "'--><style>main{display:none}</style>",
    "</title></main></body></html>",
    "https://example.org/?a=1&b=2 & mailto:nobody@example.org",
    "&lt;b&gt; &amp; &#60;",
];

/// The report of the invented evening with its pictures.
fn evening() -> (Report, PathBuf) {
    let dir = Path::new(env!("CARGO_MANIFEST_DIR")).join("reports/pond-evening");
    let report = serde_json::from_str(&std::fs::read_to_string(dir.join("report.json")).unwrap()).unwrap();
    (report, dir)
}

fn with_label(word: &str) -> Report {
    let (mut report, _) = evening();
    report.session.title = word.into();
    report.session.station = Some(word.into());
    report.settings[0].antenna = Some(word.into());
    report.recordings[0].note = Some(word.into());
    for c in &mut report.contrasts {
        c.remedy = c.remedy.as_ref().map(|_| word.into());
    }
    report.contrasts[0].device = word.into();
    report.figures[0].caption = word.into();
    report
}

/// Both sheets about the evening's first device, every word of the case and of its labels this one.
fn sheets(word: &str) -> String {
    let (_, folder) = evening();
    let words = || Some(word.to_owned());
    let case = Case {
        name: words(),
        contact: words(),
        address: words(),
        since: words(),
        times: words(),
        direction: words(),
        own_house_ruled_out: words(),
        services_hit: words(),
        note: words(),
    };
    let report = with_label(word);
    Handout::of(Stored { folder, name: word.into(), report }, None, case).unwrap().html()
}

/// The page of what changed since, all labels this word.
fn changes(word: &str) -> String {
    let stored = |level_db: f64| {
        let mut report = with_label(word);
        report.recordings.iter_mut().for_each(|r| r.level_db = r.level_db.map(|level| level + level_db));
        Stored { folder: PathBuf::new(), name: word.into(), report }
    };
    report::changes::page(&Changes::of(vec![stored(0.0), stored(1.0)]).unwrap(), Path::new("nowhere"))
}

/// The browser; `None`, said aloud, where there is none.
fn browser() -> Option<&'static str> {
    let found = ["chromium", "chromium-browser"]
        .into_iter()
        .find(|name| Command::new(name).arg("--version").output().is_ok_and(|told| told.status.success()));
    if found.is_none() {
        eprintln!("skipped: no Chromium here (Debian: the package chromium)");
    }
    found
}

/// What the browser makes of the page, given one more option.
fn browse(browser: &str, html: &str, option: &str, dir: &Path) -> Vec<u8> {
    let file = dir.join("page.html");
    std::fs::write(&file, html).unwrap();
    let told = Command::new(browser)
        .args(["--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", option])
        .arg(format!("--user-data-dir={}", dir.join("profile").display()))
        .arg(format!("file://{}", file.display()))
        .current_dir(dir)
        .output()
        .unwrap();
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    told.stdout
}

/// How many pages a PDF has. Source: ISO 32000-1, 7.7.3.3: every page is an object of type Page.
fn printed(pdf: &[u8]) -> usize {
    let pages = |mark: &[u8]| pdf.windows(mark.len()).filter(|w| *w == mark).count();
    pages(b"/Type /Page\n") + pages(b"/Type /Page ") + pages(b"/Type /Page/")
}

/// The names of the tags in order.
fn tags(dom: &str) -> Vec<&str> {
    let names = dom.split('<').skip(1).filter(|tag| tag.starts_with(|c: char| c.is_ascii_alphabetic()));
    names.map(|tag| tag.split(|c: char| !c.is_ascii_alphanumeric()).next().unwrap_or_default()).collect()
}

#[test]
fn the_page_holds_all_it_needs_and_loads_nothing() {
    let (report, dir) = evening();
    let html = page(&report, &dir);
    assert!(html.len() < 6_000_000, "{} bytes", html.len());
    assert_eq!(html.matches("<img ").count(), report.figures.len(), "every picture once");
    let outside = ["http:", "https:", "src=\"/", "<script", "<link", "@import", "url("];
    let found: Vec<_> = outside.iter().filter(|mark| html.contains(**mark)).collect();
    assert_eq!(found, Vec::<&&str>::new());
    assert_eq!(html, page(&report, &dir), "the same bytes every time");
}

#[test]
fn no_label_changes_what_a_browser_makes_of_the_page() {
    let Some(browser) = browser() else { return };
    let (_, pictures) = evening();
    let temp = tempfile::tempdir().unwrap();
    let dom = |word: &str| {
        let html = page(&with_label(word), &pictures);
        String::from_utf8(browse(browser, &html, "--dump-dom", temp.path())).unwrap()
    };
    let harmless = dom("qqq");
    assert!(harmless.contains("<title>qqq</title>") && harmless.matches("<details").count() > 5);
    for word in HOSTILE {
        let made = dom(word);
        assert_eq!(tags(&made), tags(&harmless), "{word:?} changed what the page is made of");
        assert!(!made.contains("<title>broken"), "{word:?}");
    }
}

#[test]
fn no_label_changes_what_a_browser_makes_of_sheets_and_changes() {
    let Some(browser) = browser() else { return };
    let temp = tempfile::tempdir().unwrap();
    for page in [sheets, changes] {
        let dom = |word: &str| String::from_utf8(browse(browser, &page(word), "--dump-dom", temp.path())).unwrap();
        let harmless = dom("qqq");
        assert!(harmless.contains("qqq") && harmless.contains("<section>"));
        for word in HOSTILE {
            let made = dom(word);
            assert_eq!(tags(&made), tags(&harmless), "{word:?} changed what the page is made of");
            assert!(!made.contains("<title>broken"), "{word:?}");
        }
    }
}

/// The facts with their pictures on one page or two, the neighbour's sheet on its own.
#[test]
fn the_sheets_print_one_after_the_other() {
    let Some(browser) = browser() else { return };
    let temp = tempfile::tempdir().unwrap();
    let html = sheets("some words");
    assert_eq!((html.matches("<section>").count(), html.matches("<img ").count()), (2, 2));
    browse(browser, &html, "--print-to-pdf=page.pdf", temp.path());
    let pdf = std::fs::read(temp.path().join("page.pdf")).unwrap();
    assert!((2..=4).contains(&printed(&pdf)), "{} pages", printed(&pdf));
}

/// Folded or not, all of it is on paper.
#[test]
fn it_prints_whole() {
    let Some(browser) = browser() else { return };
    let (report, pictures) = evening();
    let temp = tempfile::tempdir().unwrap();
    browse(browser, &page(&report, &pictures), "--print-to-pdf=page.pdf", temp.path());
    let pdf = std::fs::read(temp.path().join("page.pdf")).unwrap();
    assert!(pdf.starts_with(b"%PDF") && printed(&pdf) >= 10, "{} pages", printed(&pdf));
}
