//! What each remedy left and what it bought against the step before.

use crate::contrast::comparison::ContrastResult;
use crate::contrast::words::{self, thing};
use crate::findings::ladder::result::{Ladder, LadderStep};
use crate::text::{Column, Table, Words, and, capital, count, db, hz, interval, label, number};

/// Steps named in the summary; a longer ladder is read in its table.
const STEPS_TOLD: usize = 6;

/// The excess one step took away: positive is better.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Bought {
    pub(crate) value: f64,
    /// 95 % interval; none where one of the two excesses has none.
    pub(crate) ci: Option<[f64; 2]>,
}

impl Bought {
    /// Between two steps; the errors of the two excesses are taken as independent, so their distances to the ends
    /// of the intervals add in quadrature.
    pub(crate) fn between(before: &LadderStep, after: &LadderStep) -> Option<Self> {
        let (a, b) = (before.excess_db?, after.excess_db?);
        let value = a - b;
        let ci = before.excess_ci_db.zip(after.excess_ci_db).map(|([a_low, a_high], [b_low, b_high])| {
            [value - (a - a_low).hypot(b_high - b), value + (a_high - a).hypot(b - b_low)]
        });
        Some(Self { value, ci })
    }

    /// As the contract has it; else from the two excesses.
    fn of(before: &LadderStep, after: &LadderStep, contrasts: &[ContrastResult]) -> Option<Self> {
        let void = |step: &LadderStep| contrast_of(step, contrasts).is_some_and(ContrastResult::is_void);
        match after.bought_db.filter(|_| !void(after)) {
            Some(value) => Some(Self { value, ci: after.bought_ci_db }),
            None if void(before) || void(after) => None,
            None => Self::between(before, after),
        }
    }

    /// Whether the interval lies above zero.
    fn is_gain(self) -> bool {
        self.ci.is_some_and(|[low, _]| low > 0.0)
    }

    /// Verb and object for a sentence: "took off", "3.4 dB".
    fn clause(self) -> (&'static str, String) {
        match self.ci {
            Some([_, high]) if high < 0.0 => ("made it worse by", db(-self.value)),
            Some([low, _]) if low <= 0.0 => ("took off", "nothing measurable".to_owned()),
            Some(_) | None => ("took off", db(self.value)),
        }
    }

    fn words(self) -> String {
        match self.ci {
            Some(ci) if ci[0] > 0.0 => format!("{} ({})", number(self.value, 1), interval(ci)),
            Some(ci) if ci[1] < 0.0 => {
                format!("worse by {} ({})", number(-self.value, 1), interval([-ci[1], -ci[0]]))
            }
            Some(ci) => format!("nothing measurable ({})", interval(ci)),
            None => format!("{} (interval not known)", number(self.value, 1)),
        }
    }
}

/// The ladder as a table; its steps need not add up, since a remedy may have been taken off again.
pub(crate) fn table(ladder: &Ladder, contrasts: &[ContrastResult]) -> Table {
    let mut table = Table::new([
        Column::number("Step"),
        Column::text("Remedy"),
        Column::number("Excess left, dB (95 %)"),
        Column::number("Took off, dB (95 %)"),
        Column::number("Device's own power down by, dB (95 %)"),
        Column::text("S value"),
        Column::text("Lines left"),
        Column::text("Trust"),
    ]);
    for (i, step) in ladder.steps.iter().enumerate() {
        let contrast = contrast_of(step, contrasts);
        let void = contrast.is_some_and(ContrastResult::is_void);
        table.row([
            i.to_string().into(),
            step.remedy.as_deref().map_or_else(|| "none yet".to_owned(), label).into(),
            if void { "–".into() } else { left(step).into() },
            if i == 0 { "–".into() } else { bought_words(&ladder.steps[i - 1], step, contrasts).into() },
            if void { Words::default() } else { own_power(step).into() },
            step.s_reading.as_deref().filter(|_| !void).map_or_else(String::new, label).into(),
            if void { "–".into() } else { lines_left(step).into() },
            contrast.map_or_else(Words::default, words::trust),
        ]);
    }
    table
}

/// What each step took off, in one sentence without its stop; of a long ladder, the steps that took most. The table
/// has the intervals.
pub(crate) fn in_short(ladder: &Ladder, contrasts: &[ContrastResult]) -> Option<String> {
    let mut steps: Vec<(String, Bought)> = Vec::new();
    let told = |step: &LadderStep| contrast_of(step, contrasts).is_none_or(|c| !c.is_too_wide());
    for pair in ladder.steps.windows(2).filter(|pair| pair.iter().all(told)) {
        let name = pair[1].remedy.as_deref().map_or_else(|| "taking the remedy off".to_owned(), thing);
        steps.extend(Bought::of(&pair[0], &pair[1], contrasts).map(|bought| (name, bought)));
    }
    if steps.is_empty() {
        return None;
    }
    if !steps.iter().any(|(_, bought)| bought.is_gain()) {
        return Some("No step took off anything that could be measured".to_owned());
    }
    let rest = steps.len().saturating_sub(STEPS_TOLD);
    if rest > 0 {
        steps.sort_by(|a, b| b.1.value.total_cmp(&a.1.value));
        steps.truncate(STEPS_TOLD);
    }
    let mut clauses: Vec<String> = Vec::new();
    let mut verb = "";
    for (name, bought) in &steps {
        let (next, what) = bought.clause();
        clauses.push(if next == verb { format!("{name} {what}") } else { format!("{name} {next} {what}") });
        verb = next;
    }
    let doubt = if any_doubtful(ladder, contrasts) { ", as far as doubtful recordings tell" } else { "" };
    let rest = match rest {
        0 => String::new(),
        n => format!("; {} took off less", count(n, "other step", "other steps")),
    };
    Some(capital(&format!("{}{doubt}{rest}", and(&clauses))))
}

fn any_doubtful(ladder: &Ladder, contrasts: &[ContrastResult]) -> bool {
    ladder.steps.iter().any(|step| contrast_of(step, contrasts).is_some_and(ContrastResult::is_doubtful))
}

fn contrast_of<'a>(step: &LadderStep, contrasts: &'a [ContrastResult]) -> Option<&'a ContrastResult> {
    contrasts.iter().find(|c| c.id == step.contrast)
}

fn left(step: &LadderStep) -> String {
    match (step.excess_db, step.excess_ci_db) {
        (Some(v), Some(ci)) => format!("{} ({})", number(v, 1), interval(ci)),
        (Some(v), None) => format!("{} (interval not known)", number(v, 1)),
        (None, _) => "not measurable".to_owned(),
    }
}

fn bought_words(before: &LadderStep, after: &LadderStep, contrasts: &[ContrastResult]) -> String {
    Bought::of(before, after, contrasts).map_or_else(|| "can't be told".to_owned(), Bought::words)
}

/// The fall of what the device itself adds, which a choke acts on: the excess flattens near the off level, this
/// does not.
fn own_power(step: &LadderStep) -> String {
    match (step.attenuation_db, step.attenuation_ci_db, step.attenuation_at_least_db) {
        (Some(value), Some(ci), _) => format!("{} ({})", number(value, 1), interval(ci)),
        (_, _, Some(least)) => format!("at least {}", number(least, 1)),
        _ => String::new(),
    }
}

fn lines_left(step: &LadderStep) -> String {
    match step.lines.iter().max_by(|a, b| a.level_db.total_cmp(&b.level_db)) {
        None => String::new(),
        Some(strongest) => format!(
            "{}, strongest {} at {}",
            count(step.lines.len(), "line", "lines"),
            db(strongest.level_db).replace("dB", "dBFS"),
            hz(strongest.freq_hz)
        ),
    }
}
