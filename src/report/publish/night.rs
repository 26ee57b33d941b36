//! Rounding of what a night tells, and its file names.

use super::{Digits, cut_file, cut_warnings, round, round_contrast, round_option};
use crate::report::contract::Report;

pub(crate) fn round_night(report: &mut Report, digits: Digits) {
    for episode in &mut report.episodes {
        episode.start_s = round(episode.start_s, digits.level);
        episode.end_s = round(episode.end_s, digits.level);
        round_option(&mut episode.jump_db, digits.level);
        for span in episode.heard_s.iter_mut().chain(&mut episode.quiet_s) {
            *span = span.map(|at| round(at, digits.level));
        }
        round_contrast(&mut episode.contrast, digits);
    }
    let Some(night) = &mut report.night else { return };
    let times = [&mut night.duration_s, &mut night.recorded_s, &mut night.searched_s, &mut night.noisy_s];
    for seconds in times {
        *seconds = round(*seconds, digits.level);
    }
    night.noise_dbfs =
        night.noise_dbfs.filter(|n| n.iter().all(|v| v.is_finite())).map(|n| n.map(|v| round(v, digits.level)));
    for recording in &mut night.recordings {
        recording.start_s = round(recording.start_s, digits.level);
        recording.duration_s = round(recording.duration_s, digits.level);
        recording.passband_hz = recording.passband_hz.map(|hz| round(hz, digits.level));
    }
    night.joins.iter_mut().for_each(|join| join.gap_s = round(join.gap_s, digits.level));
    for carrier in &mut night.carriers {
        for place in [&mut carrier.first_hz, &mut carrier.last_hz] {
            *place = round(*place, Some(0));
        }
        for time in [&mut carrier.first_s, &mut carrier.last_s, &mut carrier.stood_s] {
            *time = round(*time, digits.level);
        }
        carrier.level_dbfs = carrier.level_dbfs.map(|level| round(level, digits.level));
    }
    for pattern in &mut night.patterns {
        pattern.total_s = round(pattern.total_s, digits.level);
        pattern.duty = round(pattern.duty, digits.fine);
        let times =
            [&mut pattern.length_s, &mut pattern.length_sd_s, &mut pattern.period_s, &mut pattern.even_from_s];
        times.into_iter().for_each(|time| round_option(time, digits.level));
        pattern.period_ci_s = pattern.period_ci_s.map(|ends| ends.map(|end| round(end, digits.level)));
        round_option(&mut pattern.chance, Some(4));
    }
    if let Some(log) = &mut night.switch_log {
        round_option(&mut log.offset_s, digits.level);
        round_option(&mut log.rival_offset_s, digits.level);
        round_option(&mut log.chance, Some(4));
        log.matches.iter_mut().for_each(|one| one.rest_s = round(one.rest_s, digits.level));
    }
    night.minutes.retain(|m| [m.low_dbfs, m.median_dbfs, m.high_dbfs].iter().all(|level| level.is_finite()));
    for minute in &mut night.minutes {
        for level in [&mut minute.low_dbfs, &mut minute.median_dbfs, &mut minute.high_dbfs] {
            *level = round(*level, digits.level);
        }
        minute.busy_share = round(minute.busy_share, digits.fine);
        minute.hole_s = round(minute.hole_s, digits.level);
    }
}

pub(crate) fn cut_paths(report: &mut Report) {
    for recording in report.night.iter_mut().flat_map(|night| &mut night.recordings) {
        cut_file(&mut recording.file);
        cut_warnings(&mut recording.warnings);
    }
}
