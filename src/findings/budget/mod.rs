//! Which device adds how much to the noise of all, before remedies and now, and whether devices recorded together
//! add up. Here: which comparisons make a budget; `shares` is the arithmetic; `result`, `words` and `figure` are
//! what is told of it in the JSON, the texts and the picture.
//!
//! Devices count that were switched one at a time in one setting, over off levels that agree: without a remedy
//! ("before"), and at the last step of each one's ladder ("now"). A device label that joins others by `+`, or says
//! `all` or `everything`, is a recording of them together.

pub mod figure;
pub mod result;
pub mod shares;
pub(crate) mod words;

use crate::contrast::{Contrast, Figures};
use crate::findings::basis::Basis;
use crate::findings::budget::result::{BudgetEntry, JointResult, Stage};
use crate::findings::budget::shares::{Contribution, balance, shares};
use crate::labels::{Plan, Present, compared_by, printable};
use crate::units::{in_db, ratio_of_db};
use crate::warning::{Code, Warning};

pub(crate) use figure::figures;
pub(crate) use words::{digest, largest_share, section};

/// Off levels farther apart than this are no common ground, dB.
const OFF_APART_DB: f64 = 1.0;
/// How well the level of a device's carriers is known from take to take (common practice), dB.
const CARRIERS_SD_DB: f64 = 0.5;
/// A smaller share of the noise is worth no bar and no word. Chosen: the whiskers of such shares are as long.
const SLIVER: f64 = 0.01;

/// Shares of all settings, and what was recorded together.
#[derive(Default)]
pub struct Budgets {
    /// Before, then now, setting by setting; in a setting the largest share first.
    pub shares: Vec<BudgetEntry>,
    /// Several devices at once.
    pub joint: Vec<JointResult>,
    /// What could not be done with the labels as they are.
    pub warnings: Vec<Warning>,
}

/// A comparison that counts.
#[derive(Clone, Copy)]
struct Entry<'a> {
    plan: &'a Plan,
    figures: &'a Figures,
}

/// From all comparisons of a session.
pub fn of(basis: &Basis<'_>) -> Budgets {
    let usable: Vec<Entry<'_>> = basis
        .contrasts
        .iter()
        .filter(|(_, contrast)| is_relied_on(contrast))
        .filter_map(|(plan, contrast)| Some(Entry { plan, figures: contrast.figures.as_ref()? }))
        .collect();
    let is_left_out = |contrast: &Contrast| contrast.trust.is_doubtful() && !is_relied_on(contrast);
    let mut settings: Vec<&str> = Vec::new();
    for entry in &usable {
        if !settings.contains(&entry.plan.setting.as_str()) {
            settings.push(&entry.plan.setting);
        }
    }
    let mut found = Budgets::default();
    for setting in settings {
        let here: Vec<Entry<'_>> = usable.iter().copied().filter(|e| e.plan.setting == setting).collect();
        let known = found.shares.len();
        of_setting(&here, &mut found);
        if found.shares.len() > known {
            let here =
                basis.contrasts.iter().filter(|(plan, contrast)| plan.setting == setting && is_left_out(contrast));
            found.warnings.extend(here.map(|(plan, contrast)| left_out(plan, contrast)));
        }
    }
    found
}

/// Shares are stated flatly, and each one's figure moves all others: a comparison that is doubtful has no part in
/// them. Where only nothing shows the gain to be fixed, and nothing was found, it has hardly any anyway.
fn is_relied_on(contrast: &Contrast) -> bool {
    let gain_only =
        || contrast.spoilt_by.is_empty() && contrast.warnings.iter().all(|w| w.code == Code::GainUnknown);
    contrast.trust.is_unspoilt() || (contrast.trust.is_doubtful() && gain_only())
}

/// Said under what made the comparison doubtful.
fn left_out(plan: &Plan, contrast: &Contrast) -> Warning {
    let code =
        contrast.spoilt_by.first().copied().or_else(|| contrast.warnings.first().map(|warning| warning.code));
    let remedy = plan.remedy.as_ref().map_or_else(String::new, |remedy| format!(", {}", printable(remedy)));
    Warning::new(
        code.unwrap_or(Code::Label),
        format!(
            "{}{remedy}: its comparison is doubtful, so it is left out of the budget.",
            printable(&plan.device)
        ),
    )
}

fn of_setting(here: &[Entry<'_>], found: &mut Budgets) {
    let (joint, single): (Vec<Entry<'_>>, Vec<Entry<'_>>) = here.iter().partition(|e| is_joint(e, here));
    let single = over_one_off(single, found);
    let before: Vec<Entry<'_>> = single.iter().copied().filter(|e| e.plan.remedy.is_none()).collect();
    let mut now: Vec<Entry<'_>> = Vec::new();
    for entry in &single {
        match now.iter_mut().find(|known| known.plan.device == entry.plan.device) {
            Some(known) => *known = *entry,
            None => now.push(*entry),
        }
    }
    add_shares(&before, Stage::Before, found);
    if now.iter().any(|e| e.plan.remedy.is_some()) {
        add_shares(&now, Stage::Now, found);
    }
    for entry in &joint {
        let stage = if entry.plan.remedy.is_none() { &before } else { &now };
        add_joint(entry, stage, found);
    }
}

fn is_joint(entry: &Entry<'_>, here: &[Entry<'_>]) -> bool {
    match Present::of(&entry.plan.device) {
        Present::One => false,
        Present::Several(_) | Present::AllBut(_) => true,
        Present::All => here.iter().any(|other| other.plan.device != entry.plan.device),
    }
}

/// Those whose off level is the first one's; the others are named.
fn over_one_off<'a>(single: Vec<Entry<'a>>, found: &mut Budgets) -> Vec<Entry<'a>> {
    let Some(first) = single.first().copied() else { return single };
    let apart = |e: &Entry<'_>| in_db(e.figures.excess.density.0 / first.figures.excess.density.0);
    let (alike, other): (Vec<_>, Vec<_>) = single.into_iter().partition(|e| apart(e).abs() <= OFF_APART_DB);
    for entry in &other {
        found.warnings.push(Warning::new(
            Code::Label,
            format!(
                "{}: its off recordings lie {:.1} dB from those of {}, so it is left out of the budget. Record all \
                 devices against the same off state.",
                printable(&entry.plan.device),
                apart(entry).abs(),
                printable(&first.plan.device)
            ),
        ));
    }
    alike
}

fn add_shares(entries: &[Entry<'_>], stage: Stage, found: &mut Budgets) {
    let contributions: Vec<Contribution> = entries.iter().map(contribution).collect();
    let Some(shares) = shares(&contributions) else { return };
    let mut shares: Vec<BudgetEntry> = entries
        .iter()
        .zip(&contributions)
        .zip(&shares)
        .map(|((entry, contribution), share)| BudgetEntry {
            device: entry.plan.device.clone(),
            share: share.share.value,
            excess_db: contribution.excess.value,
            setting: entry.plan.setting.clone(),
            stage,
            contrast: entry.plan.id.clone(),
            share_ci: Some(share.share.ends()),
            excess_ci_db: Some(contribution.excess.ends()),
            without_db: Some(share.without.value),
            without_ci_db: Some(share.without.ends()),
        })
        .collect();
    shares.sort_by(|a, b| b.share.total_cmp(&a.share));
    found.shares.extend(shares);
}

fn add_joint(entry: &Entry<'_>, singles: &[Entry<'_>], found: &mut Budgets) {
    let wanted: Vec<String> = match Present::of(&entry.plan.device) {
        Present::Several(names) => names.iter().map(|name| compared_by(name)).collect(),
        Present::One | Present::All | Present::AllBut(_) => Vec::new(),
    };
    let all = wanted.is_empty();
    let members: Vec<&Entry<'_>> =
        singles.iter().filter(|single| all || wanted.contains(&compared_by(&single.plan.device))).collect();
    if members.len() < 2 || (!all && members.len() < wanted.len()) {
        found.warnings.push(Warning::new(
            Code::Label,
            format!(
                "{}: not every one of these devices was also recorded by itself in this setting, so whether they add \
                 up can't be told.",
                printable(&entry.plan.device)
            ),
        ));
        return;
    }
    let singles: Vec<Contribution> = members.iter().map(|member| contribution(member)).collect();
    let together = balance(&singles, &contribution(entry));
    found.joint.push(JointResult {
        setting: entry.plan.setting.clone(),
        contrast: entry.plan.id.clone(),
        devices: members.iter().map(|member| member.plan.device.clone()).collect(),
        sum_db: together.sum.value,
        sum_ci_db: together.sum.ends(),
        joint_db: together.joint.value,
        joint_ci_db: together.joint.ends(),
        difference_db: together.difference.value,
        difference_ci_db: together.difference.ends(),
        balance: together.balance,
    });
}

fn contribution(entry: &Entry<'_>) -> Contribution {
    let figures = entry.figures;
    let gain_db = figures.gain_db();
    let carriers = figures.lines.added_power() / ratio_of_db(gain_db);
    Contribution {
        excess: figures.excess_db(),
        carriers: carriers / (figures.density().0 * figures.passband.width_hz()),
        carriers_sd_db: CARRIERS_SD_DB,
    }
}
