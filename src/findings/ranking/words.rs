//! Many devices in words: the line that opens the verdict, whether their sum explains everything on, what to do next,
//! the table of the details.

use crate::contrast::comparisons::setting_name;
use crate::contrast::words::{kind_word, thing, with_interval};
use crate::findings::budget::shares::Balance;
use crate::findings::ranking::result::{RankedDevice, Ranking, Recorded};
use crate::labels::Setting;
use crate::text::{Column, Document, Table, Words, and, and_at_most, capital, db, interval, label, number};

/// Beside all others a device of which less than this would not have shown is not called quiet. Chosen: three times
/// what two takes each show of a device by itself.
const HIDDEN_FROM_DB: f64 = 1.0;
/// Where what is left unexplained is known no better than this, as the width of its interval, nothing is called
/// explained. Chosen: with everything on ten dB above off, a tenth of it may hide as much noise as the band's own.
const EXPLAINED_DB: f64 = 1.0;
/// Devices named in a sentence. Chosen: what one takes in at a glance.
const MOST_NAMED: usize = 4;

impl RankedDevice {
    /// Whether so much of it would not have shown beside all others that nothing can be said of it.
    pub(super) fn is_hidden(&self) -> bool {
        let is_blind = || self.detection_limit_db.is_none_or(|limit| limit > HIDDEN_FROM_DB);
        !self.adds && self.recorded == Recorded::AllBut && is_blind()
    }

    /// How much of it may be there, dB.
    pub(super) fn at_most_db(&self) -> Option<f64> {
        self.excess_ci_db.map(|[_, high]| high)
    }

    fn is_quiet(&self) -> bool {
        !self.adds && !self.is_hidden() && self.trust.is_unspoilt()
    }

    /// "the kitchen ring (9.0 dB, 8.7 to 9.3)"; without figures where a line of its own has them.
    fn named(&self) -> String {
        match (self.contrast.is_none(), self.excess_db, self.excess_ci_db) {
            (true, Some(excess), Some(ci)) => {
                format!("{} ({}, {})", thing(&self.device), db(excess), interval(ci))
            }
            _ => thing(&self.device),
        }
    }
}

/// Who adds noise, and what everything on and everything off tell; opens the verdict.
pub(crate) fn verdict(rankings: &[Ranking], settings: &[Setting]) -> Vec<Words> {
    let of = |ranking: &Ranking| {
        let (head, rest) = first(ranking, &place(ranking, rankings, settings));
        std::iter::once(Words::strong(head).then(rest)).chain(sum(ranking).map(Words::from)).collect::<Vec<_>>()
    };
    rankings.iter().flat_map(of).collect()
}

/// " at 7.1 MHz", where there is more than one.
fn place(ranking: &Ranking, rankings: &[Ranking], settings: &[Setting]) -> String {
    match rankings.len() {
        1 => String::new(),
        _ => format!(" at {}", setting_name(settings, &ranking.setting)),
    }
}

/// "Of 12 devices 3 add noise: most the kitchen ring, then …; 9 add nothing that shows."
fn first(ranking: &Ranking, at: &str) -> (String, String) {
    let of = ranking.devices.len();
    let adding: Vec<String> = ranking.devices.iter().filter(|d| d.adds).map(RankedDevice::named).collect();
    let hidden: Vec<&RankedDevice> = ranking.devices.iter().filter(|d| d.is_hidden()).collect();
    let quiet: Vec<&RankedDevice> = ranking.devices.iter().filter(|d| d.is_quiet()).collect();
    let head = match adding.len() {
        0 => format!("None of {of} devices{at} adds noise that shows"),
        1 => format!("One of {of} devices{at} adds noise"),
        n => format!("{} of {of} devices{at} add noise", capital(&counted(n))),
    };
    let who = match adding.as_slice() {
        [] => String::new(),
        [only] => format!(": {only}"),
        [most, rest @ ..] => format!(": most {most}, then {}", and_at_most(rest, MOST_NAMED)),
    };
    let limit = quiet.iter().filter_map(|d| d.detection_limit_db).fold(0.0, f64::max);
    let nothing = match quiet.len() {
        0 => String::new(),
        _ if adding.is_empty() && hidden.is_empty() => format!(": {} would have shown", db(limit)),
        n => format!("; {} nothing that shows ({} would have)", adds(n), db(limit)),
    };
    let unknown = match hidden.len() {
        0 => String::new(),
        n => {
            let most = hidden.iter().filter_map(|d| d.at_most_db()).fold(0.0, f64::max);
            format!("; of {} it can't be told beside these: up to {} each may be there", others(n), db(most))
        }
    };
    (head, format!("{who}{nothing}{unknown}."))
}

fn others(n: usize) -> String {
    if n == 1 { "one other".to_owned() } else { format!("{} others", counted(n)) }
}

fn adds(n: usize) -> String {
    if n == 1 { "one adds".to_owned() } else { format!("{} add", counted(n)) }
}

/// Small numbers as words.
fn counted(n: usize) -> String {
    const WORDS: [&str; 13] =
        ["no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"];
    WORDS.get(n).map_or_else(|| n.to_string(), |word| (*word).to_owned())
}

/// Whether the sum explains everything on, and what stays with everything off.
fn sum(ranking: &Ranking) -> Option<String> {
    let (all, ci) = (ranking.all_on_db?, ranking.all_on_ci_db?);
    let (left, ends) = (ranking.unexplained_db?, ranking.unexplained_ci_db?);
    let explained = match ranking.balance? {
        Balance::AddsUp if ends[1] - ends[0] > EXPLAINED_DB => format!(
            "whether the sum of the devices, {}, explains it is known only roughly (all on less sum: {}, {})",
            db(ranking.sum_db?),
            db(left),
            interval(ends)
        ),
        Balance::AddsUp => format!(
            "the sum of the devices, {}, explains it (all on less sum: {}, {})",
            db(ranking.sum_db?),
            db(left),
            interval(ends)
        ),
        Balance::More => format!(
            "the sum of the devices, {}, leaves {} ({}) of it unexplained: something on no list is on too, or some \
             noise comes only when several are on together",
            db(ranking.sum_db?),
            db(left),
            interval(ends)
        ),
        Balance::Less => format!(
            "that is {} ({}) less than the sum of the devices: one loads or quietens another, or the receiver is \
             overloaded or its AGC on",
            db(-left),
            interval([-ends[1], -ends[0]])
        ),
    };
    let stays = "What is left with everything off comes from elsewhere, or from the receiver";
    Some(format!("Everything on lies {} above everything off; {explained}. {stays}.", with_interval(all, Some(ci))))
}

/// What to record next: those that were hidden, alone; the loudest, part by part.
pub(crate) fn next_steps(rankings: &[Ranking]) -> Vec<Words> {
    let mut steps: Vec<Words> = Vec::new();
    for ranking in rankings {
        let hidden: Vec<&RankedDevice> = ranking.devices.iter().filter(|d| d.is_hidden()).collect();
        let names: Vec<String> = hidden.iter().map(|d| thing(&d.device)).collect();
        if !hidden.is_empty() {
            let names = and_at_most(&names, MOST_NAMED);
            steps.push(
                format!("Record {names} alone, everything else off: that shows what the others hide.").into(),
            );
        }
        // A device that was recorded with remedies has its own next step.
        let loudest = ranking.devices.first().filter(|d| d.adds && ranking.all_on_db.is_some());
        steps.extend(loudest.map(|d| {
            Words::from(format!(
                "Go on behind {}: unplug what is on it one by one, and record off and on of each.",
                thing(&d.device)
            ))
        }));
    }
    steps
}

/// All devices, with what would have shown of each.
pub(crate) fn section(doc: &mut Document, rankings: &[Ranking], settings: &[Setting]) {
    if rankings.is_empty() {
        return;
    }
    doc.heading(2, "All devices in order");
    let several = rankings.len() > 1;
    let mut table = Table::new([
        Column::text("Setting"),
        Column::text("Device"),
        Column::number("Excess, dB (95 %)"),
        Column::number("With lines and clicks, dB"),
        Column::number("Would have shown, dB"),
        Column::text("Kind"),
        Column::text("Recorded"),
        Column::text("Verdict"),
    ]);
    for ranking in rankings {
        for device in &ranking.devices {
            table.row([
                if several { setting_name(settings, &ranking.setting) } else { String::new() },
                label(&device.device),
                excess(device),
                device.total_excess_db.filter(|_| device.adds).map_or_else(String::new, |v| number(v, 1)),
                device.detection_limit_db.map_or_else(|| "–".to_owned(), |v| number(v, 1)),
                if device.adds { kind_word(device.character).to_owned() } else { String::new() },
                match device.recorded {
                    Recorded::Alone => "alone",
                    Recorded::AllBut => "all but it",
                    Recorded::BothWays => "both ways",
                }
                .to_owned(),
                verdict_of(device).to_owned(),
            ]);
        }
    }
    doc.table(table);
    if rankings.iter().flat_map(|r| &r.devices).any(|d| d.recorded != Recorded::Alone) {
        doc.paragraph(
            "Where all but one were on, the powers are solved for together, by least squares: noises that know \
             nothing of each other add in power. A take scatters by a share of its whole power, so beside loud \
             devices the interval of a quiet one is wide; by itself, everything else off, it is narrow.",
        );
    }
}

fn excess(device: &RankedDevice) -> String {
    match (device.excess_db, device.excess_ci_db) {
        (Some(_), Some([_, high])) if device.is_hidden() => format!("up to {}", number(high, 1)),
        (Some(v), Some(ci)) => format!("{} ({})", number(v, 1), interval(ci)),
        (Some(v), None) => number(v, 1),
        (None, _) => "–".to_owned(),
    }
}

fn verdict_of(device: &RankedDevice) -> &'static str {
    match device {
        _ if device.trust.is_void() => "void",
        _ if device.trust.is_doubtful() => "doubtful",
        _ if device.adds => "adds noise",
        _ if device.is_hidden() => "can't be told",
        _ => "adds nothing that shows",
    }
}

/// For the post: everything on, and those that no comparison by itself tells of.
pub(crate) fn digest(rankings: &[Ranking]) -> Vec<String> {
    let mut lines = Vec::new();
    for ranking in rankings {
        let only: Vec<String> = ranking
            .devices
            .iter()
            .filter(|d| d.adds && d.contrast.is_none())
            .filter_map(|d| Some(format!("{} +{} dB", label(&d.device), number(d.excess_db?, 1))))
            .collect();
        if !only.is_empty() {
            lines.push(format!("by switching off one at a time: {}", and(&only)));
        }
        if let (Some(all), Some(sum)) = (ranking.all_on_db, ranking.sum_db) {
            let n = ranking.devices.len();
            lines.push(format!("all on +{} dB, sum of the {n} +{} dB", number(all, 1), number(sum, 1)));
        }
    }
    lines
}
