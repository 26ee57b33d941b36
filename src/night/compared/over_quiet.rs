//! How many dB a noise lifts the quiet band by itself, whatever else was on where it was compared.
//!
//! On over off is r; the off side stands m times over the quiet band. Powers add, so by itself the noise adds
//! (r − 1)·m of the band's power. The level of the whole stretch tells the same (`joint`): the surer of the two
//! counts.

use super::Compared;
use crate::night::episodes::jumps::LEAST_SD_DB;
use crate::night::joint::{Joint, Ratio};
use crate::units::{Db, Estimate, SIGMAS_OF_95};

/// `None` where neither way tells it.
pub(super) fn over_quiet(joint: &Joint, place: usize, one: &Compared) -> Option<Estimate> {
    let (c, sides) = (&one.contrast, &one.sides);
    let compared = c.excess_db.zip(c.excess_ci_db).filter(|_| !c.is_void() && sides.unmatched.is_empty());
    let compared = compared.map(|(value, [low, high])| Estimate { value, ci95: (low, high) });
    let was_heard = !sides.off.is_empty() && !sides.on.is_empty();
    if one.spotted.jump_db.is_none() || was_heard && c.is_void() {
        return compared;
    }
    if !joint.has_others(place) && !c.is_too_wide() {
        return compared;
    }
    let mut stretches: Vec<(f64, f64)> = sides.off.iter().map(|piece| (piece.from_s, piece.to_s)).collect();
    if stretches.is_empty() {
        stretches.push((one.spotted.start_s, one.spotted.end_s));
    }
    let by_level = joint.own_over_quiet(place, &stretches).map(by_level);
    let by_parts = compared
        .and_then(|excess| Some(by_parts(excess, joint.level_over_quiet(place, &stretches, &sides.beside)?)));
    let width = |excess: &Estimate| excess.ci95.1 - excess.ci95.0;
    let surer = [by_level, by_parts].into_iter().flatten().min_by(|a, b| width(a).total_cmp(&width(b)));
    surer.or(compared.filter(|_| sides.beside.is_empty()))
}

fn by_level(own: Ratio) -> Estimate {
    let at = |sigmas: f64| Db::from_ratio(1.0 + own.value * (sigmas * own.sd_ln).exp()).0;
    let value = at(0.0);
    let reach = |sigmas: f64| (at(sigmas) - value).hypot(SIGMAS_OF_95 * LEAST_SD_DB);
    Estimate { value, ci95: (value - reach(-SIGMAS_OF_95), value + reach(SIGMAS_OF_95)) }
}

/// The two uncertainties are independent: their reaches add as squares.
fn by_parts(excess: Estimate, off_over_quiet: Ratio) -> Estimate {
    let at = |excess_db: f64, sigmas: f64| {
        let m = off_over_quiet.value * (sigmas * off_over_quiet.sd_ln).exp();
        let ratio = 1.0 + (Db(excess_db).ratio() - 1.0) * m;
        Db::from_ratio(ratio.max(f64::MIN_POSITIVE)).0
    };
    let value = at(excess.value, 0.0);
    let reach = |excess_db: f64, sigmas: f64| (at(excess_db, 0.0) - value).hypot(at(excess.value, sigmas) - value);
    let low = value - reach(excess.ci95.0, -SIGMAS_OF_95);
    Estimate { value, ci95: (low, value + reach(excess.ci95.1, SIGMAS_OF_95)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// By hand: a noise of 7 dB over the quiet band adds 10^0.7 − 1 = 4.0119 of its power. Beside one of 10 dB
    /// (level 10 times the band's) both make 14.0119, which is 1.4649 dB over the other alone.
    #[test]
    fn powers_add() {
        let excess = Estimate { value: 1.4649, ci95: (1.3649, 1.5649) };
        let found = by_parts(excess, Ratio { value: 10.0, sd_ln: 0.0 });
        assert_abs_diff_eq!(found.value, 7.0, epsilon = 1e-3);
        // 10·lg(1 + 10·(10^0.13649 − 1)) and the same of 0.15649.
        assert_abs_diff_eq!(found.ci95.0, 6.7143, epsilon = 1e-3);
        assert_abs_diff_eq!(found.ci95.1, 7.2738, epsilon = 1e-3);
        let alone = by_level(Ratio { value: 4.0119, sd_ln: 0.0 });
        assert_abs_diff_eq!(alone.value, 7.0, epsilon = 1e-3);
    }
}
