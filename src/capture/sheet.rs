//! The plan as a sheet to print and fill in with a pencil: Markdown, or plain text of 80 columns.
//! Not here: what stands in the plan (`plan`).

use super::plan::{Plan, PlanWords, Take, described};
use super::receiver_takes::{CHECK_DIR, CHECK_S, check_takes};
use crate::cautions::{always, called_for};
use crate::labels::{State, printable};

/// How the sheet is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// Markdown.
    Markdown,
    /// Text of 80 columns in a type of one width.
    Plain,
}

/// Columns of plain paper.
const WIDTH: usize = 80;
/// How far a band that is not quiet moves between takes, for comparison (our own choice), dB.
const WANDER_DB: f64 = 0.5;

/// The whole sheet.
pub fn sheet(plan: &Plan, paper: Paper) -> String {
    let mut page = Page { paper, text: String::new() };
    page.title(&format!("Test sheet: {}", printable(&plan.title())));
    page.paragraph(&format!(
        "{}; {} takes of {:.0} s, some {:.0} min with the switching.",
        described(&plan.words),
        plan.takes.len(),
        plan.seconds,
        plan.minutes().ceil()
    ));
    settings(&mut page, plan);
    receiver_check(&mut page, plan);
    order(&mut page, plan);
    limits(&mut page, plan);
    page.heading("Take care");
    cautions(&plan.words).into_iter().for_each(|caution| page.item(caution));
    afterwards(&mut page);
    page.text
}

/// The general cautions, then those for what is planned, each once.
pub(super) fn cautions(words: &PlanWords) -> Vec<&'static str> {
    let mut told: Vec<&str> = always().iter().map(String::as_str).collect();
    for device in &words.devices {
        let remedies = std::iter::once(None).chain(device.remedies.iter().map(|remedy| Some(remedy.as_str())));
        let called = remedies.flat_map(|remedy| called_for(&device.name, remedy));
        for text in called.filter_map(|about| about.on_sheet()) {
            if !told.contains(&text) {
                told.push(text);
            }
        }
    }
    told
}

fn settings(page: &mut Page, plan: &Plan) {
    let words = &plan.words;
    let blank = || "________________".to_owned();
    let shown = |value: &Option<String>| value.as_deref().map_or_else(blank, printable);
    let hz = |value: Option<f64>| value.map_or_else(blank, |hz| format!("{hz} Hz"));
    page.heading("Before the first take: set, write down, then leave alone");
    page.item("Date ____________  start ________");
    page.item(&format!("Dial: {}", words.dial_khz.map_or_else(blank, |khz| format!("{khz} kHz"))));
    page.item(&format!("Mode: {}", words.mode.map_or_else(blank, |mode| mode.to_string())));
    page.item(&format!("Filter: {} (the wider, the finer the figures)", hz(words.bandwidth_hz)));
    page.item(&format!("Antenna: {}", shown(&words.antenna)));
    page.item(&format!("Gain: {}", shown(&words.gain)));
    page.item("AGC off; where that can't be done, RF gain turned down until the meter stands still");
    page.item("Preamplifier ______  attenuator ______  volume mark ______  recorder level ______");
    page.item("Noise blanker off, noise reduction off, notch off, recorder's automatic level off");
    page.item("A spot without stations; loudest take at least 6 dB below clipping");
    page.item(&format!("Receiver, station: {}", shown(&words.station)));
    page.paragraph(
        "Every one of these changes the level by itself. Touched between off and on, it looks like the device.",
    );
}

fn receiver_check(page: &mut Page, plan: &Plan) {
    let Some(attenuator_db) = plan.words.receiver_check_db else { return };
    page.heading("Receiver check");
    page.paragraph(&format!(
        "{CHECK_S:.0} s each, into the folder {CHECK_DIR}. If the step in the audio is smaller than the attenuator, AGC is at \
         work or the receiver's own noise is near; the dummy load tells which. capture says so at once."
    ));
    for take in check_takes(attenuator_db) {
        page.item(&format!("{} File: {}", take.before, take.file));
    }
}

fn order(page: &mut Page, plan: &Plan) {
    page.heading("Takes, in this order");
    page.paragraph(&format!(
        "Record {:.0} s each. Start after switching has settled (a lamp warm, a charger charging). The file names tell \
         the program what each take is.",
        plan.seconds
    ));
    match page.paper {
        Paper::Markdown => {
            page.line("| No. | Do | File | Time | Meter | Note |");
            page.line("| --: | --- | --- | --- | --- | --- |");
            for take in &plan.takes {
                page.line(&format!(
                    "| {} | {} | `{}` |   |   |   |",
                    take.number,
                    in_cell(&take.before),
                    take.file
                ));
            }
            page.line("");
        }
        Paper::Plain => plan.takes.iter().for_each(|take| plain_take(page, take)),
    }
    page.paragraph(
        "Why in turn: the band changes by itself. Off takes before, between and after show by how much, and the error bar \
         takes it in. One off and one on can't tell the device from the band.",
    );
    if plan.takes.iter().any(|take| take.state == State::Terminated) {
        page.paragraph(
            "Why a dummy load: it shows the receiver's own noise, under which a quiet device may hide. It comes last, as \
             the antenna is touched for it.",
        );
    }
}

/// Two lines: what to do, then the file and room to write.
fn plain_take(page: &mut Page, take: &Take) {
    page.wrapped(&format!("{:>3}. ", take.number), &printable(&take.before));
    page.line(&format!("     {}", take.file));
    page.line("     time ________  meter ________  note ______________________________");
    page.line("");
}

fn limits(page: &mut Page, plan: &Plan) {
    page.heading("How small a change this can show");
    page.paragraph(&format!(
        "With {} off takes and {} on takes a step, in {:.0} Hz of noise, the smallest rise that will be called:",
        plan.off_takes(),
        plan.rounds,
        plan.free_hz()
    ));
    let both =
        |longer: f64, more: usize| (plan.limit_db(longer, more, 0.0), plan.limit_db(longer, more, WANDER_DB));
    let rows = [
        ("as planned", both(1.0, 1)),
        ("each take twice as long", both(2.0, 1)),
        ("twice as many takes", both(1.0, 2)),
    ];
    match page.paper {
        Paper::Markdown => {
            page.line(&format!("| | Band and gain hold still | Band wanders by {WANDER_DB} dB between takes |"));
            page.line("| --- | --: | --: |");
            rows.iter().for_each(|(what, (still, wander))| {
                page.line(&format!("| {what} | {} | {} |", in_db(*still), in_db(*wander)));
            });
        }
        Paper::Plain => {
            page.line("                              band and gain      band wanders by");
            page.line(&format!("                              hold still         {WANDER_DB} dB between takes"));
            rows.iter().for_each(|(what, (still, wander))| {
                page.line(&format!("  {what:<28}{:<19}{}", in_db(*still), in_db(*wander)));
            });
        }
    }
    page.line("");
    page.paragraph(
        "The first column is the best that noise allows (radiometer equation, and the margin the comparison asks for). \
         The report gives the limit that was reached. Two remedies can be told apart when they differ by about one and a \
         half times as much.",
    );
}

fn in_db(limit_db: f64) -> String {
    format!("{:.1} dB", (limit_db * 10.0).ceil() / 10.0)
}

fn afterwards(page: &mut Page) {
    page.heading("Afterwards");
    page.paragraph(
        "Put the files into one folder. `noisetally draft FOLDER` labels them by their names; write what you noted into \
         the session.toml it makes. `noisetally check FOLDER` while the receiver still stands as it was, then \
         `noisetally session FOLDER` for the report.",
    );
}

/// Text that must not end a table's cell.
fn in_cell(text: &str) -> String {
    printable(text).replace('|', "\\|")
}

/// The paper and what stands on it.
struct Page {
    paper: Paper,
    text: String,
}

impl Page {
    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }

    fn title(&mut self, words: &str) {
        match self.paper {
            Paper::Markdown => self.line(&format!("# {words}\n")),
            Paper::Plain => {
                self.line(words);
                self.line(&format!("{}\n", "=".repeat(words.chars().count().min(WIDTH))));
            }
        }
    }

    fn heading(&mut self, words: &str) {
        match self.paper {
            Paper::Markdown => {
                if !self.text.ends_with("\n\n") {
                    self.line("");
                }
                self.line(&format!("## {words}\n"));
            }
            Paper::Plain => {
                if !self.text.ends_with("\n\n") {
                    self.line("");
                }
                self.line(&format!("{}\n", words.to_uppercase()));
            }
        }
    }

    fn paragraph(&mut self, words: &str) {
        if !self.text.ends_with("\n\n") {
            self.line("");
        }
        match self.paper {
            Paper::Markdown => self.line(words),
            Paper::Plain => self.wrapped("", &words.replace('`', "")),
        }
        self.line("");
    }

    fn item(&mut self, words: &str) {
        match self.paper {
            Paper::Markdown => self.line(&format!("- {words}")),
            Paper::Plain => self.wrapped("  [ ] ", words),
        }
    }

    /// Lines of at most 80 columns, the later ones as far in as the first word of the first.
    fn wrapped(&mut self, lead: &str, words: &str) {
        let mut line = lead.to_owned();
        let mut is_begun = false;
        for word in words.split(' ') {
            if is_begun && line.chars().count() + 1 + word.chars().count() > WIDTH {
                self.line(&line);
                line = " ".repeat(lead.len());
                is_begun = false;
            }
            if is_begun {
                line.push(' ');
            }
            line.push_str(word);
            is_begun = true;
        }
        self.line(&line);
    }
}
