//! Whether what is told of simulated weeks is true.

use noisetally::report::weeks::Found;
use noisetally::report::weeks::result::{HabitKind, TurnKind, WeekSource, WeeksFacts};

use crate::month::{Month, Rule};

/// What came of one month.
#[derive(Debug, Default)]
pub struct Score {
    /// The truth was told: timer, weekend, rain, gone.
    pub right: [usize; 4],
    /// Of as many.
    pub of: [usize; 4],
    /// What was told and is not true, in words.
    pub wrong: Vec<String>,
    /// Of these, that a source came new or went for good.
    pub false_turns: usize,
    /// What was told in place of what is true.
    pub missed: Vec<String>,
    /// Sources of the truth that came apart or were joined.
    pub mismatched: usize,
    /// Chances of single tries that can't be true: habits, turns, pairs.
    pub quiet: Vec<f64>,
    /// Whether the trend's interval holds the truth, 0.
    pub trend_holds: bool,
}

fn rule(source: &WeekSource, month: &Month) -> Rule {
    let numbers = source.comings.iter().filter_map(|coming| coming.source.strip_prefix('n')?.parse::<usize>().ok());
    let numbers: Vec<usize> = numbers.collect();
    let count = |number: usize| numbers.iter().filter(|n| **n == number).count();
    let most = numbers.iter().copied().max_by_key(|n| count(*n)).unwrap_or(1);
    month.rules[most - 1]
}

/// Puts a month together.
pub fn found(month: &Month) -> Found {
    Found::of(month.read(), Some(&month.conditions()), Vec::new()).unwrap()
}

/// Nights that a source of this rule was heard in.
fn nights_with(month: &Month, wanted: Rule) -> usize {
    let id = month.rules.iter().position(|rule| *rule == wanted).map(|at| format!("n{}", at + 1));
    month.nights.iter().filter(|night| night.sources.iter().any(|source| Some(&source.id) == id.as_ref())).count()
}

/// Judges it.
pub fn judge(month: &Month, weeks: &WeeksFacts) -> Score {
    let mut score = Score { mismatched: mismatched(weeks), ..Score::default() };
    score.trend_holds = weeks.quiet_trend_ci_db_per_week.is_some_and(|[low, high]| low <= 0.0 && 0.0 <= high);
    for (at, wanted) in [Rule::Timer, Rule::Weekend, Rule::Rain, Rule::Gone].into_iter().enumerate() {
        if !month.rules.contains(&wanted) {
            continue;
        }
        // A month in which it hardly rained has nothing to tell.
        if wanted == Rule::Rain && nights_with(month, wanted) < 5 {
            continue;
        }
        score.of[at] = 1;
        let named =
            weeks.sources.iter().filter(|source| rule(source, month) == wanted).any(|source| match wanted {
                Rule::Timer => {
                    source.habits.iter().any(|h| h.kind == HabitKind::TimeOfDay && h.words == "18:00 to 22:00")
                }
                Rule::Weekend => {
                    source.habits.iter().any(|h| h.kind == HabitKind::DayOfWeek && h.words == "Saturday and Sunday")
                }
                Rule::Rain => {
                    source.conditions.iter().any(|pair| pair.told && pair.word == "rain" && pair.effect > 0.0)
                }
                _ => source.turns.iter().any(|turn| turn.kind == TurnKind::WentForGood),
            });
        score.right[at] = usize::from(named);
        if !named {
            let said = |s: &&WeekSource| rule(s, month) == wanted;
            score.missed.extend(weeks.sources.iter().filter(said).map(|s| {
                let chances: Vec<String> =
                    s.habits.iter().map(|h| format!("{} {:.4}", h.words, h.chance_alone)).collect();
                let pairs: Vec<String> = s
                    .conditions
                    .iter()
                    .map(|c| format!("{} {:.2} {:?} {:?}", c.word, c.effect, c.chance_alone, c.chance))
                    .collect();
                format!("{wanted:?}: {} days, {chances:?} {:?} {pairs:?}", s.days, s.turns)
            }));
        }
    }
    for source in &weeks.sources {
        let truth = rule(source, month);
        for habit in &source.habits {
            let is_true = match habit.kind {
                HabitKind::TimeOfDay => matches!(truth, Rule::Timer | Rule::Weekend),
                HabitKind::DayOfWeek => truth == Rule::Weekend,
            };
            if !is_true {
                score.wrong.push(format!("{truth:?} {:?} {} {:.4}", habit.kind, habit.words, habit.chance));
            }
        }
        for turn in &source.turns {
            if !(truth == Rule::Gone && turn.kind == TurnKind::WentForGood) {
                score.false_turns += 1;
                score.wrong.push(format!("{truth:?} {:?} {} {:.4}", turn.kind, turn.at, turn.chance));
            }
        }
        for pair in &source.conditions {
            if pair.told && !(truth == Rule::Rain && pair.word == "rain") {
                score.wrong.push(format!("{truth:?} {} {:.4}", pair.word, pair.chance.unwrap_or(1.0)));
            }
            if truth != Rule::Rain {
                score.quiet.extend(pair.chance_alone);
            }
        }
    }
    score
}

/// Night's sources that stand with another of the truth, or apart from their own.
fn mismatched(weeks: &WeeksFacts) -> usize {
    let mut seen: Vec<&str> = Vec::new();
    let mut wrong = 0;
    for source in &weeks.sources {
        let mut here: Vec<&str> = source.comings.iter().map(|coming| coming.source.as_str()).collect();
        here.sort_unstable();
        here.dedup();
        wrong += here.len() - 1;
        wrong += here.iter().filter(|id| seen.contains(id)).count();
        seen.extend(here);
    }
    wrong
}
