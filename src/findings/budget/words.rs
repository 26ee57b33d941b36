//! What each of several devices adds, and whether they add up: the section and the lines of the digest.

use super::SLIVER;
use crate::contrast::comparisons::setting_name;
use crate::findings::budget::result::{BudgetEntry, JointResult, Stage};
use crate::findings::budget::shares::Balance;
use crate::findings::picture::{FigureFile, FigureKind};
use crate::labels::Setting;
use crate::notes::NOTES;
use crate::text::{Column, Document, Table, Words, and, db, interval, label, number, percent};

/// The budgets: entries of one setting and stage, in the order of the report.
fn groups(budget: &[BudgetEntry]) -> Vec<Vec<&BudgetEntry>> {
    let mut groups: Vec<Vec<&BudgetEntry>> = Vec::new();
    for entry in budget {
        match groups.iter_mut().find(|g| g[0].setting == entry.setting && g[0].stage == entry.stage) {
            Some(group) => group.push(entry),
            None => groups.push(vec![entry]),
        }
    }
    groups.retain(|group| group.len() > 1);
    groups
}

/// In a sentence, of what is left if there were remedies, at the setting that has most devices; shares of one
/// device say nothing.
pub(crate) fn largest_share(budget: &[BudgetEntry]) -> Option<Words> {
    let groups = groups(budget);
    let of = |stage| groups.iter().filter(move |group| group[0].stage == stage);
    // The first of equals.
    let now = of(Stage::Now).rev().max_by_key(|group| group.len());
    in_a_sentence(now.or_else(|| of(Stage::Before).rev().max_by_key(|group| group.len()))?)
}

fn in_a_sentence(group: &[&BudgetEntry]) -> Option<Words> {
    let mut sorted = group.to_vec();
    sorted.sort_by(|a, b| b.share.total_cmp(&a.share));
    let (first, second) = (sorted.first()?, sorted.get(1)?);
    let of = match first.stage {
        Stage::Now => "Of what is left with the remedies on",
        Stage::Before => "Of the noise that all devices add together",
    };
    if first.share_ci.zip(second.share_ci).is_some_and(|(a, b)| a[0] <= b[1]) {
        let named = |entry: &BudgetEntry| Words::from("the ").then(Words::strong(label(&entry.device)));
        let pair = named(first).then(" and ").then(named(second));
        return Some(Words::from(format!("{of}, the shares of ")).then(pair).then(" can't be told apart."));
    }
    let quieter =
        first.without_db.map_or_else(String::new, |v| format!(" Without it the band would be {} quieter.", db(v)));
    let share = Words::from(format!("{of}, {} comes from ", percent(first.share)));
    Some(share.then(Words::strong(label(&first.device))).then(format!(".{quieter}")))
}

/// Nothing where no devices can be held against each other.
pub(crate) fn section(
    doc: &mut Document,
    budget: &[BudgetEntry],
    joint: &[JointResult],
    settings: &[Setting],
    figures: &[FigureFile],
) {
    let groups = groups(budget);
    if groups.is_empty() && joint.is_empty() {
        return;
    }
    doc.heading(2, "Which device adds how much");
    let several = groups.iter().any(|group| group[0].setting != groups[0][0].setting);
    let mut table = Table::new([
        Column::text("Setting"),
        Column::text("When"),
        Column::text("Device"),
        Column::number("Share of the added power"),
        Column::number("Excess, dB"),
        Column::number("Without it the band would be quieter by, dB (95 %)"),
    ]);
    for entry in groups.iter().flatten() {
        table.row([
            if several { setting_name(settings, &entry.setting) } else { String::new() },
            match entry.stage {
                Stage::Before if groups.len() > 1 => "before remedies".to_owned(),
                Stage::Now => "with the last remedies".to_owned(),
                Stage::Before => String::new(),
            },
            label(&entry.device),
            match entry.share_ci {
                Some([low, high]) if percent(low) != percent(high) => {
                    format!("{} ({} to {})", percent(entry.share), percent(low), percent(high))
                }
                _ => percent(entry.share),
            },
            match entry.excess_ci_db {
                Some(ci) => format!("{} ({})", number(entry.excess_db, 1), interval(ci)),
                None => number(entry.excess_db, 1),
            },
            match (entry.without_db, entry.without_ci_db) {
                (Some(v), Some(ci)) => format!("{} ({})", number(v, 1), interval(ci)),
                _ => String::new(),
            },
        ]);
    }
    doc.table(table);
    if budget.iter().any(|entry| entry.without_db.is_some()) {
        doc.paragraph(NOTES.shares.as_str());
    }
    doc.list(joint.iter().map(balance).collect::<Vec<_>>());
    figures.iter().filter(|f| f.kind == FigureKind::Budget).for_each(|f| doc.picture(f));
}

fn balance(result: &JointResult) -> String {
    let names: Vec<String> = result.devices.iter().map(|d| label(d)).collect();
    let figures = format!(
        "measured {} ({}), added up {} ({})",
        db(result.joint_db),
        interval(result.joint_ci_db),
        db(result.sum_db),
        interval(result.sum_ci_db)
    );
    let difference = format!("{} ({})", db(result.difference_db.abs()), interval(ends(result)));
    let what = match result.balance {
        Balance::More => format!(
            "are {difference} louder together than their sum, so some of it comes only when they are on together"
        ),
        Balance::Less => format!(
            "are {difference} quieter together than their sum: one quietens or loads the other, or the receiver is overloaded"
        ),
        Balance::AddsUp => "together are as loud as their sum".to_owned(),
    };
    format!("{} {what} ({figures}).", and(&names))
}

/// The interval of the difference's size.
fn ends(result: &JointResult) -> [f64; 2] {
    let [low, high] = result.difference_ci_db;
    if result.difference_db < 0.0 { [-high, -low] } else { [low, high] }
}

/// Most devices named in a line of shares.
const MOST_SHARES: usize = 4;

/// One line each.
pub(crate) fn digest(budget: &[BudgetEntry], joint: &[JointResult]) -> Vec<String> {
    let mut lines: Vec<String> = shares(budget, Stage::Before, "added power").into_iter().collect();
    lines.extend(shares(budget, Stage::Now, "now"));
    lines.extend(joint.iter().filter(|joint| joint.balance != Balance::AddsUp).map(|joint| {
        let names: Vec<String> = joint.devices.iter().map(|d| label(d)).collect();
        let how = if joint.balance == Balance::More { "louder" } else { "quieter" };
        format!("{}: {} dB {how} than their sum", names.join(" + "), number(joint.difference_db.abs(), 1))
    }));
    lines
}

fn shares(budget: &[BudgetEntry], stage: Stage, name: &str) -> Option<String> {
    let first = budget.iter().find(|e| e.stage == stage)?;
    let of = budget.iter().filter(|e| e.stage == stage && e.setting == first.setting);
    let of = of.enumerate().filter(|(place, e)| *place == 0 || e.share >= SLIVER).map(|(_, e)| e);
    let of = of.take(MOST_SHARES);
    let items: Vec<String> = of.map(|e| format!("{} {}", label(&e.device), percent(e.share))).collect();
    Some(format!("{name}: {}", items.join(", ")))
}
