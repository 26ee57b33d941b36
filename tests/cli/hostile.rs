//! Names, labels and files that mean harm: nothing of them steers a terminal, becomes a formula in a spreadsheet or a
//! link in a report; what can't be a recording is named with its reason.

use std::collections::BTreeMap;
use std::fs;

use crate::bench::{Bench, RATE_HZ, off, on, samples};

/// ESC and CSI (ECMA-48), their eight-bit forms, DEL, and marks that turn the direction of writing (Unicode Standard
/// Annex 9).
const STEERING: &str = "\u{1b}[2J\u{9b}31m\u{7f}\u{202e}\u{2066}\u{200b}";

/// Whether a text holds what a terminal acts upon; line feeds and tabs are a text's own.
fn steers(text: &str) -> bool {
    text.chars().any(|c| {
        (c.is_control() && !matches!(c, '\n' | '\t'))
            || matches!(c, '\u{200b}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
    })
}

/// Devices and remedies that a spreadsheet would reckon with, and addresses that become links.
const LABELS: [(&str, &str); 4] = [
    ("=cmd|' /C calc'!A0", "+1"),
    ("-2", "@SUM(A1)"),
    ("www.example.org", "see https://example.org/a"),
    ("someone@example.org", "<b>bold</b> | [a](http://example.org)"),
];

fn toml_string(text: &str) -> String {
    let escaped: String = text
        .chars()
        .map(|c| {
            if c.is_ascii_graphic() && !matches!(c, '"' | '\\') || c == ' ' {
                c.to_string()
            } else {
                format!("\\U{:08X}", u32::from(c))
            }
        })
        .collect();
    format!("\"{escaped}\"")
}

/// A session whose every label means harm.
fn hostile_session() -> Bench {
    let mut bench = Bench::new();
    let mut text = "title = \"see www.example.org\"\nstation = \"someone@example.org\"\n".to_owned();
    let mut take = |bench: Bench, state: &str, device: &str, remedy: &str, n: u64| {
        let file = format!("{n:02}.wav");
        let scene = if state == "on" { on(n) } else { off(n) };
        text +=
            &format!("[[recording]]\nfile = \"{file}\"\nstate = \"{state}\"\nnote = \"=https://example.org\"\n");
        for (name, words) in [("device", device), ("remedy", remedy)] {
            if !words.is_empty() {
                text += &format!("{name} = {}\n", toml_string(words));
            }
        }
        bench.wav(&format!("shed/{file}"), &scene.render(3.5).samples, RATE_HZ)
    };
    let mut n = 1;
    for (device, remedy) in LABELS {
        bench = take(bench, "off", "", "", n);
        bench = take(bench, "on", device, "", n + 1);
        bench = take(bench, "on", device, remedy, n + 2);
        n += 3;
    }
    bench.file("shed/session.toml", text.as_bytes())
}

/// Source: OWASP, "CSV Injection" (cells that begin with =, +, -, @, tab or carriage return); GitHub Flavored Markdown,
/// 6.9 (`www.`, `http://`, `https://` and addresses with @ become links by themselves).
#[test]
fn labels_are_no_formulas_and_no_links() {
    let bench = hostile_session();
    let ran = bench.run(["session", "shed", "--remember", "known"]);
    assert!(ran.exit.is_some_and(|code| code < 2), "{ran:#?}");
    assert!(!steers(&ran.stdout) && !steers(&ran.stderr), "{ran:#?}");
    for command in [
        ["check", "shed"].as_slice(),
        &["check", "shed", "--json"],
        &["draft", "shed", "--out", "-"],
        &["session", "shed", "--json", "--known", "known"],
    ] {
        let output = bench.command().args(command).output().unwrap();
        let said = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
        assert!(!steers(&said), "{command:?}: {said:?}");
    }
    let text_of = |name: &str| bench.read(&format!("reports/shed/{name}"));
    for name in ["report.json", "report.md", "details.md", "report.html", "post.txt", "contrasts.csv", "lines.csv"]
    {
        assert!(!steers(&text_of(name)), "{name}");
    }
    for name in ["contrasts.csv", "lines.csv"] {
        formulas(&text_of(name), name);
    }
    let rows: Vec<BTreeMap<String, String>> =
        csv::Reader::from_reader(text_of("contrasts.csv").as_bytes()).deserialize().map(Result::unwrap).collect();
    for (device, remedy) in LABELS {
        let back = |cell: &str| cell.strip_prefix('\'').unwrap_or(cell).to_owned();
        let found = rows.iter().any(|row| back(&row["device"]) == device && back(&row["remedy"]) == remedy);
        assert!(found, "{device}, {remedy} read back: {rows:#?}");
    }
    for name in ["report.md", "details.md"] {
        let text = text_of(name);
        for opens in ["www.", "http://", "https://", "e@e"] {
            assert!(!text.contains(opens), "{name}: {opens} becomes a link: {}", line_with(&text, opens));
        }
        let links: Vec<String> = pulldown_cmark::Parser::new(&text)
            .filter_map(|event| match event {
                pulldown_cmark::Event::Start(pulldown_cmark::Tag::Link { dest_url, .. })
                    if !dest_url.starts_with(['#', 'd', 'r']) =>
                {
                    Some(dest_url.to_string())
                }
                pulldown_cmark::Event::Html(html) | pulldown_cmark::Event::InlineHtml(html)
                    if html.as_ref() != "<!-- -->" =>
                {
                    Some(html.to_string())
                }
                _ => None,
            })
            .collect();
        assert_eq!(links, Vec::<String>::new(), "{name}");
    }
    handed_out(&bench);
    let html = text_of("report.html");
    assert!(!html.contains("href=\"http") && !html.contains("<b>bold") && !html.contains("mailto:"));
}

/// The same labels in what is made from reports, and a case that means harm.
fn handed_out(bench: &Bench) {
    let words = LABELS.map(|(device, remedy)| toml_string(&format!("{device} {remedy}")));
    let fields = ["name", "address", "since", "direction"];
    let lines: Vec<String> =
        fields.iter().zip(&words).map(|(field, words)| format!("{field} = {words}\n")).collect();
    fs::write(bench.path("case.toml"), format!("[case]\n{}", lines.concat())).unwrap();
    let mut other = fs::read_to_string(bench.path("reports/shed/report.json")).unwrap();
    // Takes of another evening.
    other = other.replace("\"level_db\": -", "\"level_db\": -1");
    fs::create_dir(bench.path("reports/other")).unwrap();
    fs::write(bench.path("reports/other/report.json"), other).unwrap();
    for command in [
        ["compare", "reports/shed", "reports/other", "--out", "reports/both"].as_slice(),
        &["compare", "reports/shed", "reports/other", "--json"],
        &["handout", "reports/shed", "--case", "case.toml"],
    ] {
        let output = bench.command().args(command).output().unwrap();
        let said = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
        assert!(output.status.code().is_some_and(|code| code < 2) && !steers(&said), "{command:?}: {said:?}");
    }
    let made = bench.contents();
    let texts = made.iter().filter(|(name, _)| name.starts_with("reports/both/") || name.starts_with("handouts/"));
    let mut seen = 0;
    for (name, bytes) in texts.filter(|(name, _)| !name.ends_with(".png")) {
        let text = String::from_utf8_lossy(bytes);
        assert!(!steers(&text), "{name}");
        if name.ends_with(".html") {
            assert!(!text.contains("href=") && !text.contains("<b>bold") && !text.contains("mailto:"), "{name}");
            seen += 1;
        }
        if name.ends_with(".md") {
            let links = pulldown_cmark::Parser::new(&text);
            let opens = |e: &pulldown_cmark::Event<'_>| {
                matches!(e, pulldown_cmark::Event::Start(pulldown_cmark::Tag::Link { .. }))
            };
            assert_eq!(links.filter(opens).count(), 0, "{name}");
            assert!(
                ["www.", "http://", "https://", "e@e"].iter().all(|opens| !text.contains(opens)),
                "{name}: {text}"
            );
            seen += 1;
        }
    }
    assert_eq!(seen, 3, "two pages and a Markdown: {:?}", made.keys());
}

fn line_with<'a>(text: &'a str, words: &str) -> &'a str {
    text.lines().find(|line| line.contains(words)).unwrap_or_default()
}

/// No cell that is no number begins like a formula.
fn formulas(text: &str, name: &str) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    for row in reader.records() {
        let row = row.unwrap();
        for (head, cell) in heads.iter().zip(row.iter()) {
            let is_words = ["device", "remedy", "file", "known"].contains(&head);
            let opens = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
            assert!(!opens || (!is_words && cell.parse::<f64>().is_ok()), "{name}: {head}: {cell}");
        }
    }
}

/// Names of folders and files and arguments, in every command that prints them.
#[cfg(unix)]
#[test]
fn names_and_arguments_steer_no_terminal() {
    let folder = format!("shed{STEERING}");
    let bench = Bench::new()
        .scene(&format!("{folder}/01-off.wav"), &off(1))
        .scene(&format!("{folder}/02-lamp{STEERING}-on.wav"), &on(2))
        .file(&format!("known/bad{STEERING}.toml"), format!("format = 1\nname{STEERING} =").as_bytes())
        .file("log.csv", format!("21:40, pump, {STEERING}\n").as_bytes())
        .file(&format!("{folder}/notes{STEERING}.txt"), b"");
    let reports = format!("reports/{folder}");
    let commands: &[&[&str]] = &[
        &["session", &folder],
        &["session", &folder, "--known", "known"],
        &["session", &folder, "--json", "--out", STEERING],
        &["session", "shed\u{1b}gone"],
        &["check", &folder],
        &["draft", &folder],
        &["draft", &folder],
        &["night", &folder, "--log", "log.csv"],
        &["night", &folder, "--known", STEERING],
        &["night", &folder, "--out", &folder],
        &["night", STEERING],
        &["pair", STEERING, STEERING],
        &["compare", STEERING, &folder],
        &["handout", STEERING],
        &["handout", &reports, "--device", STEERING],
        &["handout", &reports, "--recordings", &folder, "--clips", "--out", STEERING],
        &["demo", &folder],
        &["sheet", "--device", STEERING],
        &["sheet", &folder, "--device", STEERING],
        &["capture", &folder, "--settle", "0", "--device", STEERING],
        &["guide", STEERING],
        &[STEERING],
        &["check", &folder, STEERING],
        &["check", &folder, "--passband", STEERING],
        &["completions", STEERING],
    ];
    for command in commands {
        let output = bench.command().args(*command).output().unwrap();
        let said = String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap();
        assert!(!said.is_empty() && !steers(&said), "{command:?}: {said:?}");
    }
    let kinds = [".json", ".md", ".html", ".csv", ".txt", ".toml"];
    let written: Vec<_> = bench.contents().into_iter().filter(|(name, _)| name.contains("report")).collect();
    assert!(written.iter().any(|(name, _)| name.ends_with("/report.json")));
    for (name, bytes) in written.iter().filter(|(name, _)| kinds.iter().any(|kind| name.ends_with(kind))) {
        assert!(!steers(&String::from_utf8_lossy(bytes)), "{name:?}");
    }
}

/// What has the name of a take and is no file is named with its reason, in a session and in a night.
#[cfg(unix)]
#[test]
fn what_is_no_file_is_named() {
    let bench = Bench::shed();
    fs::create_dir(bench.path("shed/05-lamp-on.wav")).unwrap();
    assert!(std::process::Command::new("mkfifo").arg(bench.path("shed/06-off.wav")).status().unwrap().success());
    std::os::unix::fs::symlink("nowhere.wav", bench.path("shed/07-off.wav")).unwrap();
    std::os::unix::fs::symlink("/dev/zero", bench.path("shed/08-off.wav")).unwrap();
    for args in [["session", "shed", "--out", "one"], ["night", "shed", "--out", "two"]] {
        let output = bench.command().args(args).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(1), "{said}");
        for reason in [
            "left out: 05-lamp-on.wav: is a folder",
            "left out: 06-off.wav: is not an ordinary file",
            "left out: 07-off.wav: is a link that leads nowhere",
            "left out: 08-off.wav: is not an ordinary file",
        ] {
            assert!(said.contains(reason), "{args:?}: {reason}: {said}");
        }
    }
}

/// A manifest may come from someone else: it names nothing outside its folder unless the user allows it.
#[test]
fn a_manifest_leads_out_of_its_folder_only_where_that_is_allowed() {
    let text = "[[recording]]\nfile = \"../out.wav\"\nstate = \"off\"\n[[recording]]\nfile = \"02-lamp-on.wav\"\n\
                [[recording]]\nfile = \"01-off.wav\"\n";
    let bench = Bench::shed().scene("out.wav", &off(9)).file("shed/session.toml", text.as_bytes());
    let ran = bench.run(["session", "shed", "--json"]);
    ran.exit(1);
    assert!(ran.stderr.contains("left out: ../out.wav: it lies outside the folder."), "{ran:#?}");
    assert_eq!(ran.json()["recordings"].as_array().unwrap().len(), 2);
    for command in ["session", "check"] {
        let ran = bench.run([command, "shed", "--json", "--allow-outside"]);
        ran.exit(0);
        assert_eq!(ran.json()["recordings"].as_array().unwrap().len(), 3);
    }
}

/// A log without end, and one that is no log.
#[cfg(target_os = "linux")]
#[test]
fn a_log_is_read_in_bounds() {
    let rows = "21:40, pump, on\n";
    let bench = Bench::new()
        .wav("shed/shed 2026-03-14 21-00-00Z.wav", &samples(&off(1)), RATE_HZ)
        .file("large.csv", rows.repeat(3_200_000).as_bytes())
        .file("long.csv", rows.repeat(10_000).as_bytes());
    for (log, why) in
        [("/dev/zero", "over 1 MiB"), ("large.csv", "over 1 MiB"), ("long.csv", "more than 4000 entries")]
    {
        let output = bench.command().args(["night", "shed", "--log", log]).output().unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(
            output.status.code() == Some(2) && said.contains(why) && said.contains("Nothing was written"),
            "{said}"
        );
    }
}

/// A pipe in an earlier report: never opened, so nothing waits for ever, and a signal ends the program.
#[cfg(unix)]
#[test]
fn a_pipe_in_an_earlier_report_keeps_nothing_waiting() {
    let bench = Bench::shed();
    bench.run(["session", "shed", "-q"]).exit(0);
    fs::remove_file(bench.path("reports/shed/report.json")).unwrap();
    assert!(
        std::process::Command::new("mkfifo")
            .arg(bench.path("reports/shed/report.json"))
            .status()
            .unwrap()
            .success()
    );
    let output = bench.command().args(["session", "shed"]).output().unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.code() == Some(2) && said.contains("is no report of noisetally"), "{said}");
}

/// Two runs into one report, one folder of a demo: one of them stands there, whole, and no run breaks the other.
#[test]
fn two_at_once_leave_one_whole_result() {
    let bench = Bench::shed();
    let start = |args: &[&str]| {
        let mut command = bench.command();
        command.args(args).stdout(std::process::Stdio::null()).stderr(std::process::Stdio::null()).spawn().unwrap()
    };
    for args in [&["session", "shed", "--remember", "known"][..], &["demo", "loft", "--evening", "loft"]] {
        let codes: Vec<_> = [start(args), start(args)].map(|mut child| child.wait().unwrap().code()).to_vec();
        assert!(codes.contains(&Some(0)), "{args:?}: {codes:?}");
    }
    let names = bench.contents();
    assert!(!names.keys().any(|name| name.contains(".noisetally-")), "{:?}", names.keys());
    assert!(names.contains_key("loft/session.toml") && names.contains_key("reports/shed/report.md"));
    let alone = Bench::shed();
    alone.run(["session", "shed", "--remember", "known", "-q"]).exit(0);
    for (name, bytes) in alone.contents() {
        assert!(names.get(&name) == Some(&bytes), "{name}");
    }
}
