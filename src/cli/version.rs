//! What this program was built as, for a report of a fault.

/// Version, target, kind of build, features: what `--version` prints. `-V` prints the version alone.
pub fn long() -> &'static str {
    concat!(
        env!("CARGO_PKG_VERSION"),
        "\ntarget: ",
        env!("NOISETALLY_TARGET"),
        "\nbuild: ",
        env!("NOISETALLY_PROFILE"),
        "\nfeatures: ",
        env!("NOISETALLY_FEATURES"),
    )
}
