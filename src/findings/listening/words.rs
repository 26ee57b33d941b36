//! Sentences on what the noise means to a listener, without markup: for the report, the post and the terminal alike.
//! Not here: tables and layout (`section`), the figures (`cost`).

use crate::contrast::comparison::ContrastResult;
use crate::findings::listening::result::ListeningCost;
use crate::text::{db, number};

/// What a comparison costs.
pub(crate) fn cost_of<'a>(costs: &'a [ListeningCost], contrast: &str) -> Option<&'a ListeningCost> {
    costs.iter().find(|cost| cost.contrast == contrast)
}

/// A power: "40 W", "4.1 W", "0.32 W", "25 mW".
pub(crate) fn watts(power_w: f64) -> String {
    let (value, unit) = if power_w < 0.1 { (power_w * 1000.0, "mW") } else { (power_w, "W") };
    format!("{} {unit}", figure(value))
}

/// "4.1 W (4.0 to 4.2)", its ends in the unit of the value.
pub(crate) fn watts_with_interval(power_w: f64, ci: Option<[f64; 2]>) -> String {
    let scale = if power_w < 0.1 { 1000.0 } else { 1.0 };
    let ends = ci
        .map_or_else(String::new, |[low, high]| format!(" ({} to {})", figure(low * scale), figure(high * scale)));
    format!("{}{ends}", watts(power_w))
}

/// Two figures that count.
fn figure(value: f64) -> String {
    number(
        value,
        if value >= 9.95 {
            0
        } else if value >= 0.995 {
            1
        } else {
            2
        },
    )
}

/// As what power others are heard with a device on, before and after its remedies; `None` where nothing sure is lost.
pub(crate) fn heard(contrasts: &[&ContrastResult], costs: &[ListeningCost]) -> Option<String> {
    let first = contrasts.first()?;
    let last = contrasts.iter().rfind(|c| c.setting == first.setting)?;
    let told = |c: &ContrastResult| {
        let cost = cost_of(costs, &c.id).filter(|_| c.is_sound())?;
        Some((watts_with_interval(cost.heard_100_w_as_w?, cost.heard_100_w_as_ci_w), cost))
    };
    let (power, cost) = told(first)?;
    let clicks = cost.between_clicks_db.map_or_else(String::new, |between| {
        format!(
            ", on average over the clicks and the quiet between (between them the noise is up by {})",
            db(between)
        )
    });
    let mut text =
        format!("To a listener it is as if every other station had turned 100 W down to {power}{clicks}");
    if last.id != first.id && last.is_sound() {
        text = text.replacen(" is as if", " was as if", 1);
        text += &match told(last) {
            Some((power, _)) => format!("; with the last remedy, to {power}"),
            None => "; with the last remedy no sure loss is left".to_owned(),
        };
    }
    Some(format!("{text}."))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn powers_as_people_say_them() {
        for (power, said) in
            [(63.1, "63 W"), (9.96, "10 W"), (4.07, "4.1 W"), (0.996, "1.0 W"), (0.32, "0.32 W"), (0.025, "25 mW")]
        {
            assert_eq!(watts(power), said);
        }
        assert_eq!(watts_with_interval(4.07, Some([3.98, 4.17])), "4.1 W (4.0 to 4.2)");
        assert_eq!(watts_with_interval(0.05, Some([0.04, 0.0632])), "50 mW (40 to 63)");
    }
}
