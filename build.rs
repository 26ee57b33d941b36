//! Facts of this build for `--version`: what it was built for. Asks nothing of the machine but what cargo tells.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    let fact = |name: &str| std::env::var(name).unwrap_or_else(|_| "unknown".to_owned());
    println!("cargo::rustc-env=NOISETALLY_TARGET={}", fact("TARGET"));
    println!("cargo::rustc-env=NOISETALLY_PROFILE={}", fact("PROFILE"));
    // Features show as CARGO_FEATURE_NAME; the order of the environment is not fixed.
    let mut features: Vec<String> = std::env::vars()
        .filter_map(|(name, _)| name.strip_prefix("CARGO_FEATURE_").map(str::to_lowercase))
        .map(|name| name.replace('_', "-"))
        .filter(|name| name != "default")
        .collect();
    features.sort();
    let features = if features.is_empty() { "none".to_owned() } else { features.join(", ") };
    println!("cargo::rustc-env=NOISETALLY_FEATURES={features}");
}
