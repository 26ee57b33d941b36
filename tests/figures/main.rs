//! Every figure, drawn from realistic and from hostile data: a sound PNG of the promised size and weight, always
//! the same bytes. What the eye must judge (overlaps, cut words) can be looked at: set `NOISETALLY_FIGURES` to a
//! folder.

mod hostile;
mod measured;
mod picture;

use measured::*;
use noisetally::plot::Drawing;
use picture::check;

#[test]
fn spectra_show_both_states_in_their_colours() {
    let drawn = check("spectra", (1200, 700), |file| spectra().draw(file));
    assert!(drawn.colours() > 100, "{}", drawn.colours());
    assert!((0.4..0.95).contains(&drawn.ground_share()), "{}", drawn.ground_share());
    let near = |want: [i32; 3]| {
        drawn.pixels.iter().filter(|p| p.iter().zip(want).all(|(a, b)| (i32::from(*a) - b).abs() < 60)).count()
    };
    assert!(near([213, 94, 0]) > 3000 && near([0, 114, 178]) > 3000);
}

#[test]
fn excess_by_band() {
    assert!(check("excess", (1200, 700), |file| excess().draw(file)).colours() > 50);
    check("excess-lines", (1200, 700), |file| excess_of_lines().draw(file));
}

#[test]
fn spectrogram_uses_the_whole_scale() {
    assert!(check("spectrogram", (1200, 800), |file| spectrogram().draw(file)).colours() > 150);
}

#[test]
fn envelope_with_its_peaks() {
    assert!(check("envelope", (1200, 700), |file| envelope().draw(file)).colours() > 50);
}

#[test]
fn single_clicks_are_seen() {
    let drawn = check("clicks", (1200, 800), |file| clicks().draw(file));
    // In the on half, a row through the middle goes from quiet to loud and back for each of 12 clicks.
    let row = &drawn.pixels[400 * 1200 + 600..400 * 1200 + 1060];
    let dark: Vec<bool> = row.iter().map(|p| p.iter().map(|v| u32::from(*v)).sum::<u32>() < 330).collect();
    let begins = dark.windows(2).filter(|pair| !pair[0] && pair[1]).count();
    assert!((10..=13).contains(&begins), "{begins}");
    assert!(check("intervals", (1200, 700), |file| intervals().draw(file)).colours() > 20);
}

#[test]
fn amplitudes_on_rayleigh_paper() {
    assert!(check("apd", (1200, 700), |file| amplitudes().draw(file)).colours() > 50);
}

#[test]
fn ladder_with_doubt_and_gaps() {
    assert!(check("ladder", (1200, 700), |file| ladder().draw(file)).colours() > 50);
}

#[test]
fn published_noise_with_the_station_on_it() {
    let drawn = check("man-made", (1200, 700), |file| man_made().draw(file));
    let near = |want: [i32; 3]| {
        drawn.pixels.iter().filter(|p| p.iter().zip(want).all(|(a, b)| (i32::from(*a) - b).abs() < 30)).count()
    };
    assert!(near([213, 94, 0]) > 300 && near([0, 114, 178]) > 300, "a level is missing");
}

#[test]
fn budget_with_its_shares() {
    assert!(check("budget", (1200, 500), |file| budget().draw(file)).colours() > 50);
}

#[test]
fn many_devices_in_their_order() {
    assert!(check("ranking", (1200, 330 + 42 * 12), |file| ranking().draw(file)).colours() > 50);
}

#[test]
fn a_device_over_the_dial() {
    assert!(check("bands", (1200, 640), |file| bands().draw(file)).colours() > 50);
}

#[test]
fn card_holds_everything() {
    assert!(check("card", (1600, 1360), |file| card().draw(file)).colours() > 150);
}

#[test]
fn a_family_of_carriers_over_the_dial() {
    check("switching-comb", (1200, 760), |file| switching_comb().draw(file));
}

#[test]
fn a_regular_noise_among_others_is_seen_at_a_glance() {
    let drawn = check("on-times", (1200, 698), |file| on_times().draw(file));
    let near = |want: [i32; 3]| {
        drawn.pixels.iter().filter(|p| p.iter().zip(want).all(|(a, b)| (i32::from(*a) - b).abs() < 30)).count()
    };
    assert!(near([213, 94, 0]) > 10_000 && near([0, 114, 178]) > 300, "bars or strokes are missing");
}

#[test]
fn two_nights_a_year_apart_say_their_days() {
    let (timeline, waterfall, on_times) = a_year_apart();
    check("year-timeline", (1200, 640), |file| timeline.draw(file));
    check("year-waterfall", (1200, 760), |file| waterfall.draw(file));
    check("year-on-times", (1200, 422), |file| on_times.draw(file));
}
