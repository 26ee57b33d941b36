//! A verdict in one short line: for the titles of figures and, with intervals, for the head of the report. Not here:
//! full sentences.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{how_often, kind_word, mains_multiple, with_interval};
use crate::contrast::{Certainty, Change, Character};
use crate::report::words::{causes, is_note};
use crate::text::{and, capital, db, hz, label, percent, rate, shorten, signed};
use crate::warning::Trust;

/// Columns for device and remedy in a title.
const TITLE_COLUMNS: usize = 32;

/// One short line, such as "Charger: +14.2 dB of buzz at 100 Hz"; a title for figures. No markup; typeset signs.
pub fn headline(contrast: &ContrastResult) -> String {
    let device = capital(&shorten(&label(&contrast.device), TITLE_COLUMNS));
    let who = match &contrast.remedy {
        Some(remedy) => format!("{device} ({})", shorten(&label(remedy), TITLE_COLUMNS)),
        None => device,
    };
    let said = Short { c: contrast, mains_hz: None };
    match contrast.trust {
        Trust::Void => format!("{who}: no result, the comparison is void"),
        Trust::Doubtful => format!("{who}: {}, doubtful", said.words()),
        Trust::Sound | Trust::Unrepeated => format!("{who}: {}", said.words()),
    }
}

/// What was found, how sure and whether it is doubtful, without the device and a stop: "+14.2 dB (13.9 to 14.5) of
/// buzz at 100 Hz (twice the 50 Hz mains), 99 % sure". No markup.
pub(crate) fn in_short(c: &ContrastResult, mains_hz: f64) -> String {
    let said = Short { c, mains_hz: Some(mains_hz) };
    match c.trust {
        Trust::Void => {
            let because = causes(c.warnings.iter().filter(|w| !is_note(w.code)));
            let because = if because.is_empty() { String::new() } else { format!(": {}", and(&because)) };
            format!("no result, void{because}")
        }
        Trust::Doubtful if said.is_told() => format!("{}; doubtful", said.words()),
        Trust::Doubtful | Trust::Sound | Trust::Unrepeated => said.words(),
    }
}

/// A comparison about to be told.
struct Short<'a> {
    c: &'a ContrastResult,
    /// Only where there is room for intervals, the mains and how sure it is.
    mains_hz: Option<f64>,
}

impl Short<'_> {
    fn words(&self) -> String {
        let sure = match self.c.character {
            _ if self.mains_hz.is_none() || !self.is_told() => String::new(),
            Character::Unclear => String::new(),
            _ => format!(", {} sure", percent(self.c.confidence)),
        };
        self.finding() + &sure
    }

    /// Whether anything can be told.
    fn is_told(&self) -> bool {
        !(matches!(self.c.character, Character::None | Character::Unclear) && self.c.change() == Change::Unknown)
    }

    fn finding(&self) -> String {
        use Character::{Buzz, Carriers, Clicks, Comb, Hash, Mixed, None, Unclear};
        let c = self.c;
        let kind = self.kind();
        match (c.character, c.change()) {
            (Mixed, change) if c.is_lines_only() || !change.is_up() => format!("{kind}{}", self.in_all()),
            (None | Hash | Buzz | Mixed | Unclear, Change::Down(drop, _)) => {
                format!("{} dB, quieter when on", signed(-drop, 1))
            }
            (None | Unclear, Change::Unknown) => "can't be told from these takes".to_owned(),
            (None, Change::NotSure(..) | Change::Up(..)) => match c.detection_limit_db {
                Some(limit) if c.is_unspoilt() && self.mains_hz.is_some() => {
                    format!("no change: a rise of {} would have shown", db(limit))
                }
                Some(limit) if c.is_unspoilt() => format!("no change found, limit {}", db(limit)),
                _ => "no change found".to_owned(),
            },
            (Unclear, Change::NotSure(v, ci)) => format!("{}, unclear", self.figure(v, ci)),
            (Unclear, Change::Up(v, ci)) => format!("{}, kind unclear", self.figure(v, ci)),
            (Clicks, Change::Unknown) => format!("{kind}, dB not measurable"),
            (Clicks, Change::NotSure(..)) => format!("{kind}, no sure rise on average{}", self.in_all()),
            (Clicks, Change::Up(v, ci)) => format!("{kind}, {} on average", self.figure(v, ci)),
            (Clicks, Change::Down(drop, _)) => format!("{kind}, yet {} dB on average", signed(-drop, 1)),
            (Carriers | Comb, _) => format!("{kind}{}", self.in_all()),
            (Hash | Buzz | Mixed, Change::Unknown) => format!("{kind}, dB not measurable"),
            (Hash | Buzz | Mixed, Change::NotSure(v, ci)) => {
                format!("{}, no sure rise: {kind}", self.figure(v, ci))
            }
            (Hash | Buzz | Mixed, Change::Up(v, ci)) if c.counts_clicks() => {
                format!("{kind}, {} on average", self.figure(v, ci))
            }
            (Mixed, Change::Up(v, ci)) => format!("{}, {kind}", self.figure(v, ci)),
            (Hash | Buzz, Change::Up(v, ci)) if c.certainty() != Certainty::Stated => {
                format!("{}, {kind}", self.figure(v, ci))
            }
            (Hash | Buzz, Change::Up(v, ci)) => format!("{} of {kind}", self.figure(v, ci)),
        }
    }

    /// "+14.2 dB", with its interval where there is room and nothing spoils it.
    fn figure(&self, value: f64, ci: Option<[f64; 2]>) -> String {
        let sign = if value > 0.0 { "+" } else { "" };
        match self.mains_hz {
            Some(_) if self.c.is_doubtful() => format!("about {sign}{}", db(value)),
            Some(_) => format!("{sign}{}", with_interval(value, ci)),
            None => format!("{} dB", signed(value, 1)),
        }
    }

    /// "buzz at 100 Hz", "probably hash", "perhaps clicks, one every 1.25 s".
    fn kind(&self) -> String {
        let c = self.c;
        let kind = match c.character {
            Character::Mixed if self.mains_hz.is_some() && c.parts.len() > 1 => {
                let part = |at: Character| format!("{} in {}", percent(self.share(at)), self.noun(at));
                let parts: Vec<String> = c.parts.iter().map(|p| part(p.character)).collect();
                format!("mixed: {}", and(&parts))
            }
            Character::Mixed if c.is_lines_only() => match c.beside_the_family() {
                0 => lines(c),
                others => format!("{} and {others} more", lines(c)),
            },
            Character::Mixed if c.counts_clicks() => "mixed noise with clicks".to_owned(),
            Character::Mixed => "mixed noise".to_owned(),
            other => self.noun(other),
        };
        match c.certainty() {
            Certainty::Perhaps => format!("perhaps {kind}"),
            Certainty::Probable => format!("probably {kind}"),
            Certainty::Stated => kind,
        }
    }

    fn share(&self, of: Character) -> f64 {
        self.c.parts.iter().find(|part| part.character == of).map_or(0.0, |part| part.share)
    }

    fn noun(&self, of: Character) -> String {
        let c = self.c;
        match of {
            Character::Carriers if c.beside_the_family() > 0 => format!("{} more carriers", c.beside_the_family()),
            Character::Carriers | Character::Comb => lines(c),
            Character::Clicks => {
                c.pulse_rate_hz.map_or_else(|| "clicks".to_owned(), |r| format!("clicks, {}", how_often(c, r)))
            }
            Character::Buzz => c.mains_rate_hz.map_or_else(
                || "buzz".to_owned(),
                |r| {
                    let mains = self.mains_hz.map_or_else(String::new, |mains_hz| mains_multiple(r, mains_hz));
                    format!("buzz at {} Hz{mains}", rate(r))
                },
            ),
            Character::None | Character::Hash | Character::Mixed | Character::Unclear => kind_word(of).to_owned(),
        }
    }

    fn in_all(&self) -> String {
        self.c.total_excess_db.map_or_else(String::new, |total| format!(", {} dB in all", signed(total, 1)))
    }
}

fn lines(c: &ContrastResult) -> String {
    match (&c.comb, &c.cluster) {
        (Some(comb), _) => format!("{} carriers every {}", comb.lines, hz(comb.spacing_hz)),
        (None, Some(cluster)) => format!("a crowd of at least {} carriers", cluster.at_least),
        (None, None) => match c.added_lines.as_slice() {
            [] => "carriers".to_owned(),
            [only] => format!("1 carrier at {}", hz(only.freq_hz)),
            [strongest, ..] => {
                format!("{} carriers, strongest at {}", c.added_lines.len(), hz(strongest.freq_hz))
            }
        },
    }
}
