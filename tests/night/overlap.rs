//! Nights whose noises overlap: how well each is placed, of what kind it is told to be, how strong over the quiet
//! band, and whether the comings of one device are told as one.

use noisetally::demo::night::{NightNoise, NightSound, NightStory};
use noisetally::night::result::{Episode, Source};
use noisetally::report::contract::Report;

use crate::results::Printed;
use crate::truth::night;

/// Noises whose edges change the level by less are not asked for.
const ASKED_DB: f64 = 1.0;
/// A start or an end is right within this, and within that under a louder noise.
const RIGHT_S: f64 = 3.0;
const RIGHT_UNDER_S: f64 = 6.0;
/// An excess is right within this.
const RIGHT_DB: f64 = 0.7;

/// Of each, how many of how many.
#[derive(Default, Clone, Copy)]
struct Count(usize, usize);

impl Count {
    fn add(&mut self, is_so: bool) {
        self.0 += usize::from(is_so);
        self.1 += 1;
    }
}

#[derive(Default, Clone, Copy)]
struct Row {
    found: Count,
    kind: Count,
    excess: Count,
    /// Of those beside which another noise was on.
    excess_beside: Count,
    covered: Count,
    void: usize,
    none_of_them: usize,
    /// Those whose end is another noise's, which the report says as well.
    either: usize,
    devices: Count,
}

pub fn against_truth(out: &mut Printed, hours: f64, seeds: &str) {
    let mut rows: Vec<(String, Row)> = Vec::new();
    for seed in seeds.split(',').filter_map(|seed| seed.trim().parse::<u64>().ok()) {
        let dir = tempfile::tempdir().expect("a folder for the night");
        let story = NightStory::overlapping(hours, seed);
        let made = night(dir.path(), &story, &[(0.0, story.seconds)], seed);
        rows.push((seed.to_string(), row(&story, &made.report, seed)));
    }
    let together = rows.iter().fold(Row::default(), |sum, (_, row)| sum.and(row));
    rows.push(("together".to_owned(), together));
    out.line(&format!(
        "{:<10}{:>13}{:>13}{:>16}{:>13}{:>13}{:>6}{:>8}{:>8}{:>12}",
        format!("{hours} h each"),
        "found",
        "kind right",
        "excess \u{b1}0.7 dB",
        "overlapped",
        "in interval",
        "void",
        "false",
        "either",
        "one source"
    ));
    let of = |Count(right, all): Count| format!("{right} of {all}");
    for (name, row) in &rows {
        out.line(&format!(
            "{name:<10}{:>13}{:>13}{:>16}{:>13}{:>13}{:>6}{:>8}{:>8}{:>12}",
            of(row.found),
            of(row.kind),
            of(row.excess),
            of(row.excess_beside),
            of(row.covered),
            row.void,
            row.none_of_them,
            row.either,
            of(row.devices)
        ));
    }
    let share = |Count(right, all): Count| format!("{:.1} %", 100.0 * right as f64 / all.max(1) as f64);
    out.line(&format!(
        "{:<10}{:>13}{:>13}{:>16}{:>13}{:>13}{:>6}{:>8}{:>8}{:>12}",
        "",
        share(together.found),
        share(together.kind),
        share(together.excess),
        share(together.excess_beside),
        share(together.covered),
        "",
        "",
        "",
        share(together.devices)
    ));
    out.line("asked for        95 %         92 %             all                       93 %     0  1 a night");
}

impl Row {
    fn and(self, other: &Self) -> Self {
        let sum = |a: Count, b: Count| Count(a.0 + b.0, a.1 + b.1);
        Self {
            found: sum(self.found, other.found),
            kind: sum(self.kind, other.kind),
            excess: sum(self.excess, other.excess),
            excess_beside: sum(self.excess_beside, other.excess_beside),
            covered: sum(self.covered, other.covered),
            void: self.void + other.void,
            none_of_them: self.none_of_them + other.none_of_them,
            either: self.either + other.either,
            devices: sum(self.devices, other.devices),
        }
    }
}

fn row(story: &NightStory, report: &Report, seed: u64) -> Row {
    println!("noisetally night: {:.1} h of overlapping noises, seed {seed}\n", story.seconds / 3600.0);
    println!(
        "{:<11}{:>9}{:>8}{:>8}{:>8}{:>8}{:>8}{:>15}  kind, trust, beside",
        "", "start s", "off by", "end off", "jump", "made dB", "told dB", "95 %"
    );
    let mut row = Row::default();
    let within = |noise: &NightNoise, episode: &Episode, within_s: f64| {
        (episode.start_s - noise.start_s).abs() <= within_s && (episode.end_s - noise.end_s).abs() <= within_s
    };
    let asked: Vec<&NightNoise> =
        story.noises.iter().filter(|noise| story.least_jump_db(noise) >= ASKED_DB).collect();
    let mut found: Vec<Option<usize>> = Vec::new();
    for noise in &asked {
        let right_s = if story.is_under_a_louder_one(noise) { RIGHT_UNDER_S } else { RIGHT_S };
        let place = report.episodes.iter().position(|episode| within(noise, episode, right_s));
        row.found.add(place.is_some());
        found.push(place);
        let made = format!("{:<11}{:>9.1}", noise.name, noise.start_s);
        let Some(place) = place else {
            println!("{made}   not found ({:.1} dB)", story.least_jump_db(noise));
            continue;
        };
        let episode = &report.episodes[place];
        row.told(story, noise, episode, &made);
    }
    let made = |episode: &Episode| story.noises.iter().any(|noise| within(noise, episode, 2.0 * RIGHT_UNDER_S));
    for episode in report.episodes.iter().filter(|episode| !made(episode)) {
        let other = Episode { end_s: episode.or_end_s.unwrap_or(episode.end_s), ..episode.clone() };
        let is_other = made(&other);
        row.either += usize::from(is_other);
        row.none_of_them += usize::from(!is_other);
        println!(
            "{}: {:.1} to {:.1} s or {:?}, a jump of {:?} dB",
            if is_other { "told either way" } else { "none of them" },
            episode.start_s,
            episode.end_s,
            episode.or_end_s,
            episode.jump_db
        );
    }
    let mut names: Vec<&str> = asked.iter().map(|noise| noise.name).collect();
    names.sort_unstable();
    names.dedup();
    for name in names {
        let all = asked.iter().zip(&found);
        let own: Vec<usize> = all.filter(|(noise, _)| noise.name == name).filter_map(|(_, place)| *place).collect();
        let is_one = |source: &&Source| own.iter().all(|place| source.episodes.contains(&(place + 1)));
        let other = |number: &usize| {
            asked.iter().zip(&found).any(|(noise, place)| noise.name != name && *place == Some(number - 1))
        };
        if own.is_empty() {
            continue;
        }
        let source = report.sources.iter().find(is_one);
        row.devices.add(source.is_some_and(|source| !source.episodes.iter().any(other)));
        let numbers: Vec<String> = own.iter().map(|place| (place + 1).to_string()).collect();
        let told = |source: &&Source| source.episodes.iter().any(|number| own.contains(&(number - 1)));
        let told: Vec<String> =
            report.sources.iter().filter(told).map(|s| format!("{} {:?}", s.id, s.episodes)).collect();
        println!("{name}: {} told as {}", numbers.join(" "), told.join("; "));
    }
    println!();
    row
}

impl Row {
    fn told(&mut self, story: &NightStory, noise: &NightNoise, episode: &Episode, made: &str) {
        let c = &episode.contrast;
        let kind = match noise.sound {
            NightSound::Hash => "hash",
            NightSound::Buzz => "buzz",
            NightSound::Carrier { .. } => "carriers",
            NightSound::Comb { .. } => "comb",
            NightSound::Fence { .. } | NightSound::Arcing { .. } => "clicks",
        };
        self.kind.add(c.character.code() == kind);
        self.void += usize::from(c.is_void());
        if c.is_void() {
            let why: Vec<&str> = c.warnings.iter().map(|warning| warning.message.as_str()).collect();
            println!("    void: {}; {:?} against {:?}", why.join("; "), episode.heard_s, episode.quiet_s);
        }
        let stretches = if episode.quiet_s.is_empty() {
            vec![[episode.start_s, episode.end_s]]
        } else {
            episode.quiet_s.clone()
        };
        let truth = story.quiet_excess_db(noise, &stretches);
        let told = episode.quiet_excess_db.unwrap_or(f64::NAN);
        let [low, high] = episode.quiet_excess_ci_db.unwrap_or([f64::NAN; 2]);
        if !noise.sound.is_lines() {
            let is_right = (told - truth).abs() <= RIGHT_DB;
            self.excess.add(is_right);
            let overlaps = |other: &NightNoise| other.start_s < noise.end_s && other.end_s > noise.start_s;
            if story.noises.iter().any(|other| other != noise && !other.sound.is_lines() && overlaps(other)) {
                self.excess_beside.add(is_right);
            }
            self.covered.add((low..=high).contains(&truth));
        }
        println!(
            "{made}{:>8.1}{:>8.1}{:>8.1}{truth:>8.1}{told:>8.1}{low:>8.1}{high:>7.1}  {}, {:?}, {:?}",
            episode.start_s - noise.start_s,
            episode.end_s - noise.end_s,
            story.least_jump_db(noise),
            c.character.code(),
            c.trust,
            episode.beside
        );
    }
}
