//! The figures of the budget: which device adds how much, before remedies and now.

use crate::findings::budget::drawing::{BudgetBar, BudgetFigure};
use crate::findings::budget::result::BudgetEntry;
use crate::findings::budget::result::Stage;
use crate::findings::figure_file::FigureKind;
use crate::report::contract::Report;
use crate::report::pictures::{Data, Picture};
use crate::text::capital;

/// A figure for each setting and stage of the budget.
pub(crate) fn pictures(report: &Report) -> Vec<Picture> {
    let mut groups: Vec<Vec<&BudgetEntry>> = Vec::new();
    for entry in &report.budget {
        match groups.iter_mut().find(|g| g[0].setting == entry.setting && g[0].stage == entry.stage) {
            Some(group) => group.push(entry),
            None => groups.push(vec![entry]),
        }
    }
    groups.iter().map(|group| budget_picture(group)).collect()
}

fn budget_picture(group: &[&BudgetEntry]) -> Picture {
    let first = group[0];
    let when = if first.stage == Stage::Now { "with the last remedies" } else { "without remedies" };
    let with_ends = |value: f64, ci: Option<[f64; 2]>| ci.map(|[low, high]| (value, low, high));
    let bar = |entry: &&BudgetEntry| BudgetBar {
        label: entry.device.clone(),
        share: with_ends(entry.share, entry.share_ci),
        without: entry.without_db.and_then(|value| with_ends(value, entry.without_ci_db)),
    };
    Picture {
        file: format!("{}-{}-budget.png", first.setting, first.stage.word()),
        kind: FigureKind::Budget,
        contrast: None,
        caption: format!(
            "Which device adds how much, {when}: shares of the added power with their 95 % intervals."
        ),
        data: Data::Budget(BudgetFigure {
            title: format!("{}: {:.0} % of what all devices add", capital(&first.device), 100.0 * first.share),
            subtitle: format!("{}, each device by itself; carriers included", capital(when)),
            bars: group.iter().map(bar).collect(),
        }),
    }
}
