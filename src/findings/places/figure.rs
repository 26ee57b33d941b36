//! The figure of the places: a row each, the loudest first.

use crate::contrast::words::kind_word;
use crate::findings::picture::{FigureKind, Picture};
use crate::findings::places::result::PlaceResult;
use crate::findings::places::words::walks;
use crate::findings::ranking::figure::{RankingFigure, RankingRow};
use crate::text::{capital, label, number};

/// A figure for each walk.
pub(crate) fn figures(places: &[PlaceResult]) -> Vec<Picture> {
    walks(places).into_iter().enumerate().map(|(place, walk)| picture(place, walk)).collect()
}

fn picture(number: usize, walk: &[PlaceResult]) -> Picture {
    let quietest = walk.iter().filter_map(|place| place.level_db).fold(f64::INFINITY, f64::min);
    let noise = walk[0].device.as_deref().map_or_else(|| "The noise".to_owned(), |d| capital(&label(d)));
    let loudest = walk.iter().find(|place| place.level_db.is_some());
    let title = match loudest {
        Some(place) => format!("{}: loudest of {} places", capital(&label(&place.place)), walk.len()),
        None => format!("{noise}: shows at no place"),
    };
    let of = if walk.iter().all(|place| place.off.is_empty()) {
        "with all else there is to hear"
    } else {
        "on less off"
    };
    Picture {
        file: format!("places{}.png", number + 1),
        kind: FigureKind::Places,
        contrast: None,
        caption: format!("{noise} at {} places, the loudest first, each with its 95 % interval.", walk.len()),
        drawing: Box::new(RankingFigure {
            title,
            subtitle: format!("{noise}, {of} · one receiver, one gain"),
            axis: "Above the quietest place (dB)".to_owned(),
            kinds: ["the same noise, by its traits".to_owned(), "another noise, or can't be told".to_owned()],
            rows: walk.iter().enumerate().map(|(place, one)| row(one, place == 0, quietest)).collect(),
        }),
    }
}

fn row(place: &PlaceResult, is_loudest: bool, quietest: f64) -> RankingRow {
    let level = place.level_db.map(|level| {
        let [low, high] = place.level_ci_db.unwrap_or([f64::NAN; 2]);
        (level - quietest, low - quietest, high - quietest)
    });
    let doubtful = place.trust.is_doubtful();
    let doubt = if doubtful { ", doubtful" } else { "" };
    let alike = match place.likeness {
        _ if is_loudest => format!(", {}", kind_word(place.character)),
        Some(likeness) => format!(", alike {}", number(likeness, 2)),
        None => String::new(),
    };
    RankingRow {
        label: capital(&label(&place.place)),
        note: match (place.level_db, place.below_db) {
            (Some(level), _) => format!("{} dBFS{alike}{doubt}", number(level, 1)),
            (None, Some(below)) => format!("not heard (below {} dBFS)", number(below, 1)),
            (None, None) => "no level".to_owned(),
        },
        added: level,
        is_added: is_loudest || place.same == Some(true),
        with_lines: false,
        limit_db: None,
        doubtful,
        is_hidden: false,
    }
}
