//! `report.html` in a real browser: headless Chromium, where there is one; else these tests say so and check what needs
//! none.

#![allow(clippy::print_stderr)] // A test that is skipped says so.

use std::path::{Path, PathBuf};
use std::process::Command;

use noisetally::report::contract::Report;
use noisetally::report::page;

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

/// Folded or not, all of it is on paper.
#[test]
fn it_prints_whole() {
    let Some(browser) = browser() else { return };
    let (report, pictures) = evening();
    let temp = tempfile::tempdir().unwrap();
    browse(browser, &page(&report, &pictures), "--print-to-pdf=page.pdf", temp.path());
    let pdf = std::fs::read(temp.path().join("page.pdf")).unwrap();
    let pages = |text: &[u8], mark: &[u8]| text.windows(mark.len()).filter(|w| *w == mark).count();
    // Source: ISO 32000-1, 7.7.3.3: every page is an object of type Page.
    let printed = pages(&pdf, b"/Type /Page\n") + pages(&pdf, b"/Type /Page ") + pages(&pdf, b"/Type /Page/");
    assert!(pdf.starts_with(b"%PDF") && printed >= 10, "{printed} pages");
}
